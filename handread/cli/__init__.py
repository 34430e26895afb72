"""Commands: one thin module each, named like the command; each calls one library function."""

from __future__ import annotations

import sys
from pathlib import Path


def main() -> None:
    """Run the command line; a wrong input ends with one clear line and exit status 1."""
    from handread.cli.app import app
    from handread.errors import HandreadError

    try:
        app()
    except HandreadError as error:
        _end(str(error))
    except OSError as error:
        _end(_words(error))
    except KeyboardInterrupt:
        raise SystemExit(130) from None


def _end(words: str) -> None:
    print(f"handread: {words}", file=sys.stderr)
    raise SystemExit(1) from None


def _words(error: OSError) -> str:
    """What the system refused, in words; for a file that is not there, what lies beside it."""
    from handread.errors import closest

    if error.filename is None or error.strerror is None:
        return str(error)
    path = Path(str(error.filename))
    if not isinstance(error, FileNotFoundError) or not path.parent.is_dir():
        return f"{str(path)!r}: {error.strerror.lower()}"
    beside = sorted(each.name for each in path.parent.iterdir() if each.is_file())
    there = closest(path.name, beside) if beside else "the folder is empty"
    return f"no file {str(path)!r}; {there}"
