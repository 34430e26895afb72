"""``handread watch``: write a record while the table plays, and see what it says."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from handread.card.compiled import CompiledCard
    from handread.reading import Reader
    from handread.table.journal import Journal

_TOP = 3


def watch(
    file: Annotated[Path, typer.Argument(help="Shorthand .txt; taken up if it is there.")],
    from_seat: Annotated[
        str | None, typer.Option(help="The seat that writes (e, s, w, n), for a new file.")
    ] = None,
    card: Annotated[
        str | None, typer.Option(help="A card by name or file, for a new file; house if not said.")
    ] = None,
    reading: Annotated[bool, typer.Option(help="Show each seat's top families.")] = True,
) -> None:
    """Type what happens, line by line; see the count, breaches and top families after each."""
    from importlib.util import find_spec

    from handread.table.journal import open_journal
    from handread.table.watching import watch_table

    if find_spec("readline"):
        import readline  # noqa: F401  # lines can be edited and called back
    journal = open_journal(file, from_seat=from_seat, card=card)
    families = _Families(journal.card) if reading and journal.card is not None else None
    watch_table(journal, input, typer.echo, families=families)


class _Families:
    """Top families of each seat; a reader that follows a journal, amendments too."""

    def __init__(self, card: CompiledCard) -> None:
        self.card = card
        self.reader: Reader | None = None

    def __call__(self, journal: Journal) -> list[list[tuple[str, float]]]:
        from handread.cli.waiting import told_of_compiling

        with told_of_compiling():
            return self._tops(journal)

    def _tops(self, journal: Journal) -> list[list[tuple[str, float]]]:
        from handread.reading import Reader

        record = journal.record()
        viewer = record.header.viewer
        reader = self.reader
        if reader is None or reader.header != record.header:
            reader = self.reader = Reader(self.card, header=record.header, viewer=viewer)
        events = list(record.public(viewer))
        same = 0
        for old, new in zip(reader.events, events, strict=False):
            if old != new:
                break
            same += 1
        reader.undo(len(reader.events) - same)
        for event in events[same:]:
            reader.observe(event)
        tops = []
        for seat in range(4):
            families = reader.reading(seat).families.sort_values(ascending=False)
            tops.append([(str(name), float(p)) for name, p in families.head(_TOP).items()])
        return tops
