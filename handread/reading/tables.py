"""A reading on a terminal: families with bars, hands with what they need."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np
from numpy.typing import NDArray

from handread.reading.needs import together
from handread.reading.words import percent
from handread.tiles import parse_kind, suit_of

if TYPE_CHECKING:
    from rich.console import Group
    from rich.table import Table

    from handread.reading.view import Reading

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

    table = Table(box=None, show_header=True, header_style="dim", padding=(0, 1))
    table.add_column("hand", width=16)
    table.add_column("chance", justify="right", no_wrap=True)
    table.add_column("likeliest groups", width=29)
    table.add_column("still needs (left)", width=22)
    rows = cast("list[dict[str, Any]]", reading.hands.head(n).to_dict(orient="records"))
    for row in rows:
        if row["prob"] < 0.005:
            continue
        live = wanted(row["live"], reading.state.rules.copies)
        if row["prob_can_finish"] < 0.5 and not reading.state.over:
            live += "; can hardly be finished"
        table.add_row(
            row["hand"], percent(row["prob"]), folded(row["groups"], 28), folded(live, 22)
        )
    return table


def folded(words: str, width: int) -> str:
    r"""Break a list into lines of at most `width` characters, after its commas only.

    >>> folded("pair of 5 bam, kong of red", 20)
    'pair of 5 bam,\nkong of red'
    """
    lines: list[str] = []
    for item in words.replace("; ", ";, ").split(", "):
        if lines and len(lines[-1]) + len(item) + 2 < width:
            lines[-1] += f", {item}"
        else:
            lines.append(item)
    return ",\n".join(lines).replace(";,", ";")


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


def reading_tables(reading: Reading, n_hands: int = 4) -> Group:
    """Families and likeliest hands, one under the other, as ``rich`` prints them."""
    from rich.console import Group

    return Group(families_table(reading), hands_table(reading, n_hands))
