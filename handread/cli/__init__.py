"""Commands: one thin module each, named like the command; each calls one library function."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line; a wrong input ends with one clear line and exit status 1."""
    from handread.cli.app import app
    from handread.errors import HandreadError

    try:
        app()
    except (HandreadError, OSError) as error:
        print(f"handread: {error}", file=sys.stderr)
        raise SystemExit(1) from None
    except KeyboardInterrupt:
        raise SystemExit(130) from None
