"""A summary as lines of text, 80 columns wide."""

from __future__ import annotations

from handread.simulate.summary.entries import Entry, Summary


def summary_lines(summary: Summary) -> list[str]:
    """Lines for a terminal.

    Parameters
    ----------
    summary
        What ``summarise_games`` returns.

    Examples
    --------
    >>> from handread.simulate.summary import Entry, Summary
    >>> one = Entry("wall games", 0.15, 0.12, 0.18, "share", 500, (0.1, 0.25), "guess")
    >>> for line in summary_lines(Summary("C", "0" * 16, "draft", "1" * 16, 7, 500, (one,))):
    ...     print(line)
    500 games, seed 7, population 'draft' (1111111111111111)
    card 'C' (0000000000000000)
    <BLANKLINE>
    wall games                          15.0 % [12.0, 18.0]     10 to 25 %  holds
        band: guess
    """
    lines = [
        f"{summary.n_games:,} games, seed {summary.seed}, population "
        f"{summary.population!r} ({summary.population_hash})",
        f"card {summary.card!r} ({summary.card_hash})",
        "",
    ]
    for entry in summary.entries:
        lines += _entry_lines(entry)
    return lines


def _entry_lines(entry: Entry) -> list[str]:
    scale, unit = (100.0, " %") if entry.unit == "share" else (1.0, "")
    digits = 1 if entry.unit == "share" else 2
    value, low, high = (f"{scale * x:.{digits}f}" for x in (entry.value, entry.low, entry.high))
    name, rest = _folded(entry.name)
    line = f"{name:35} {f'{value}{unit} [{low}, {high}]':23}"
    if entry.band is not None:
        ends = [f"{scale * end:g}" for end in entry.band]
        span = f"above {ends[0]}{unit}" if ends[1] == "inf" else f"{ends[0]} to {ends[1]}{unit}"
        line += f" {span:11} {'holds' if entry.holds else 'MISSED'}"
    lines = [line, f"  {rest}"] if rest else [line]
    if entry.band is not None:
        unclear = "" if entry.clear else "; the interval crosses its edge"
        lines.append(f"    band: {entry.source}{unclear}")
    return [each.rstrip() for each in lines]


def _folded(name: str) -> tuple[str, str]:
    """First line of a name that fits, and what is left of it."""
    if len(name) <= 35:
        return name, ""
    head = name[:35].rsplit(" ", 1)[0]
    return head, name[len(head) + 1 :]
