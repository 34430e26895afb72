"""``handread count``: what has been seen of every kind, and what may still come."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def count(
    record: Annotated[Path, typer.Argument(help="A record: shorthand .txt, or JSON Lines .jsonl.")],
    from_seat: Annotated[
        str | None,
        typer.Option(help="Count for this seat (e, s, w, n), with its own rack as written down."),
    ] = None,
    at: Annotated[int | None, typer.Option(help="Stop after this many throws.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Count a table: thrown, exposed, own and unseen of every kind; jokers out; draws left."""
    from handread.table.counted import count_record

    counted = count_record(record, from_seat=from_seat, at=at)
    typer.echo(counted.to_json() if as_json else "\n".join(counted.lines()))
