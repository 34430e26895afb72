"""``handread read``: a record in, a reading of each seat out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer


def read(
    record: Annotated[Path, typer.Argument(help="A record in shorthand or JSON Lines.")],
    at: Annotated[int | None, typer.Option(help="Stop after this many throws.")] = None,
    seat: Annotated[
        list[str] | None, typer.Option(help="Only this seat; may be given again.")
    ] = None,
    from_seat: Annotated[
        str, typer.Option("--from-seat", help="Read as this seat, with its rack as written down.")
    ] = "floor",
    why: Annotated[bool, typer.Option("--why", help="Every event with its bits.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Say, seat by seat, which families and hands are likely, and why."""
    from handread.cli.waiting import told_of_compiling
    from handread.report import print_game, read_record

    with told_of_compiling():
        game = read_record(record, at=at, seats=seat, viewer=from_seat)
    if as_json:
        typer.echo(json.dumps(game.to_dict(), allow_nan=False, indent=1))
        return
    from rich.console import Console

    print_game(game, Console(highlight=False), why=why)
