"""A game's readings on a terminal of 80 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from handread.reading import Reading
from handread.reading.needs import together
from handread.reading.words import percent
from handread.report.game import GameReading
from handread.tiles import parse_kind, suit_of

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

#: Width of the longest bar, in characters.
BAR = 24
_EIGHTHS = " ▏▎▍▌▋▊▉█"


def bar(prob: float, width: int = BAR) -> str:
    """Draw a probability as a bar.

    >>> bar(0.5, width=4)
    '██  '
    """
    eighths = round(max(0.0, min(prob, 1.0)) * width * 8)
    full, rest = divmod(eighths, 8)
    return ("█" * full + (_EIGHTHS[rest] if rest else "")).ljust(width)


def families_table(reading: Reading) -> Table:
    """Families with bars, most likely first, the unmodelled states last."""
    from rich.table import Table

    table = Table(box=None, show_header=False, padding=(0, 1))
    n_families = len(reading.model.card.families)
    known = reading.families.iloc[:n_families].sort_values(ascending=False, kind="stable")
    for name, prob in [*known.items(), *reading.families.iloc[n_families:].items()]:
        style = "" if name in known.index else "dim"
        table.add_row(str(name), bar(float(prob)), percent(float(prob)), style=style)
    return table


def hands_table(reading: Reading, n: int) -> Table:
    """Likeliest hands with their groups and the live tiles that they need."""
    from rich.table import Table

    table = Table(box=None, show_header=True, header_style="dim", padding=(0, 1), expand=True)
    table.add_column("hand", ratio=3)
    table.add_column("prob", justify="right", no_wrap=True)
    table.add_column("likeliest groups", ratio=5)
    table.add_column("needs (copies left, if not all)", ratio=4)
    rows: list[dict[str, Any]] = reading.hands.head(n).to_dict(orient="records")  # type: ignore[assignment]
    for row in rows:
        if row["prob"] < 0.005:
            continue
        live = wanted(row["live"], reading.state.rules.copies)
        if row["prob_can_finish"] < 0.5:
            live += "; can hardly be finished"
        table.add_row(row["hand"], percent(row["prob"]), row["groups"], live)
    return table


def wanted(live: dict[str, int], copies: NDArray[np.integer]) -> str:
    """Kinds still needed, those of one suit together, with copies left where some are gone.

    >>> from handread.tiles import COPIES
    >>> wanted({"5 bam": 4, "6 bam": 4, "7 bam": 1, "red": 2}, COPIES)
    '5 6 bam, 7 bam (1), red (2)'
    """
    words: list[str] = []
    whole: list[int] = []
    for name, left in [*live.items(), ("joker", -1)]:
        kind = parse_kind(name)
        untouched = left == copies[kind] and suit_of(kind) is not None
        if whole and not (untouched and suit_of(kind) == suit_of(whole[0])):
            words.append(together(whole))
            whole = []
        if untouched:
            whole.append(kind)
        elif left >= 0:
            words.append(name if left == copies[kind] else f"{name} ({left})")
    return ", ".join(words)


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
        console.print(hands_table(reading, n_hands))
        print_telling(reading, console, n_telling)
        if why:
            console.print(why_table(reading))
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
