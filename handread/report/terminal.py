"""A game's readings on a terminal of 80 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handread.reading import Reading
from handread.reading.tables import families_table, hands_table
from handread.report.game import GameReading

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table


_LEGEND = (
    "undecided: has not settled on a hand; defending: only throws what is safe; other: builds "
    "something that the card does not show, or erred. Copies left stand in brackets where some "
    "are gone."
)


def print_game(
    game: GameReading, console: Console, *, why: bool = False, n_hands: int = 4, n_telling: int = 3
) -> None:
    """Print a game's readings.

    Parameters
    ----------
    game
        What ``read_record`` returned.
    console
        Where to print.
    why
        Also list, for every event, how many bits each source moved the likeliest family.
    n_hands, n_telling
        Hands and telling events per seat.
    """
    state = game.reader.state
    title = game.record.header.title or "untitled record"
    console.print(f"[bold]{_plain(title)}[/bold]")
    over = "game over" if state.over else f"{state.wall} tiles left"
    console.print(f"[dim]{game.reader.card.name}; {len(state.floor)} throws; {over}[/dim]")
    for reading in game.seats:
        console.print()
        turns = state.turns[reading.belief.seat]
        dead = "" if state.live[reading.belief.seat] else ", dead"
        console.rule(
            f"[bold]{reading.seat}[/bold] after {turns} own turn{'s' * (turns != 1)}{dead}",
            align="left",
        )
        console.print(families_table(reading))
        if (reading.hands["prob"] >= 0.005).any():
            console.print(hands_table(reading, n_hands))
        print_telling(reading, console, n_telling)
        if why:
            console.print(why_table(reading))
    console.print()
    console.print(f"[dim]{_LEGEND}[/dim]")
    for note in game.notes:
        console.print(f"[dim]note: {_plain(note)}[/dim]")


def print_telling(reading: Reading, console: Console, n: int) -> None:
    """Print the most telling events in words; those under a twentieth of a bit are left out."""
    from rich.padding import Padding

    told = sum(entry.told >= 0.05 for entry in reading.ledger.most(n))
    console.print("[dim]most telling[/dim]" if told else "[dim]nothing telling yet[/dim]")
    for words in reading.ledger.telling(told):
        console.print(Padding(_plain(words), (0, 0, 0, 2)))


def why_table(reading: Reading) -> Table:
    """Every event of the ledger: bits claimed, and what moved the family likeliest now."""
    from rich.table import Table

    row = int(reading.families.to_numpy().argmax())
    name = reading.model.row_names[row]
    table = Table(box=None, header_style="dim", padding=(0, 1), title=f"bits for {name}")
    table.add_column("event", justify="right")
    table.add_column("what was seen")
    table.add_column("told", justify="right")
    table.add_column("of which")
    for entry in reading.ledger.entries:
        parts = [
            f"{part.source.replace('_', ' ')} {part.bits[row]:+.2f}"
            for part in entry.parts
            if abs(part.bits[row]) >= 0.005
        ]
        table.add_row(str(entry.number), entry.seen, f"{entry.told:.2f}", ", ".join(parts))
    return table


def _plain(text: str) -> str:
    from rich.markup import escape

    return escape(text)
