"""A bar for each of the 36 kinds: probabilities, or copies expected in one place."""

from __future__ import annotations

import math
import numbers
from collections.abc import Iterable, Sequence
from typing import Final

from handread.errors import HandreadError
from handread.svg import given
from handread.svg.markup import Piece, beside, element, framed, label, moved, stacked
from handread.svg.palette import EDGE, FACE, HONOUR_GROUND, INK, MAT, QUIET, SPENT, SUIT_GROUND
from handread.svg.picture import Picture, finish
from handread.tiles import COPIES, KINDS, MOST_COPIES, N_KINDS, suit_of

WIDTH: Final = 58
HEIGHT: Final = 47
PER_ROW: Final = 9  # three suits of nine, then four winds, three dragons, flower, joker
HIGHEST: Final = 5
_ROWS: Final = {"Bams": 9, "Craks": 18, "Dots": 27, "Winds": 31, "Dragons": 34, "Flower, joker": 36}
_SLACK: Final = 1e-9


def probabilities(probs: Iterable[float], *, title: str | None = None) -> Picture:
    """Picture of one probability for each kind, such as that a seat needs it.

    Each kind has its word, its probability in per cent and a bar whose full length is 1. What
    is not above half a per cent stands on a grey ground. The probabilities need not sum to 1.

    Parameters
    ----------
    probs
        Probability of each kind, shape (36,).
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If there are not 36 numbers from 0 to 1; the message names the kind.

    Examples
    --------
    >>> probs = [0.0] * 36
    >>> probs[4], probs[31] = 0.5, 0.004
    >>> print(probabilities(probs, title="North needs").text)
    North needs
    Probability of each kind
    Highest: 5 bam 50 %, green under 1 %.
    Bams: 1 bam 0 %, 2 bam 0 %, 3 bam 0 %, 4 bam 0 %, 5 bam 50 %, 6 bam 0 %, 7 bam 0 %, 8 bam 0 %, 9 bam 0 %.
    Craks: 1 crak 0 %, 2 crak 0 %, 3 crak 0 %, 4 crak 0 %, 5 crak 0 %, 6 crak 0 %, 7 crak 0 %, 8 crak 0 %, 9 crak 0 %.
    Dots: 1 dot 0 %, 2 dot 0 %, 3 dot 0 %, 4 dot 0 %, 5 dot 0 %, 6 dot 0 %, 7 dot 0 %, 8 dot 0 %, 9 dot 0 %.
    Winds: east 0 %, south 0 %, west 0 %, north 0 %.
    Dragons: green under 1 %, red 0 %, white 0 %.
    Flower, joker: flower 0 %, joker 0 %.
    """  # noqa: E501  # the lines of a text alternative are as long as their facts
    shown = _values(probs, "probabilities", [1.0] * N_KINDS, "a probability")
    cells = [
        _cell(kind, _drawn_percent(prob), prob, 1, faint=100 * prob <= 0.5)
        for kind, prob in enumerate(shown)
    ]
    lines = _lines(shown, [_percent(prob) for prob in shown])
    heading = given.text(title, "probabilities, title")
    return finish(_grid(cells), "Probability of each kind", lines, title=heading)


def expected_copies(
    expected: Iterable[float],
    copies: Iterable[int] | None = None,
    *,
    title: str | None = None,
) -> Picture:
    """Picture of expected copies of each kind in one place, such as a seat's rack.

    Each kind has its word, the number and a bar with one part for each copy in the set. What
    is under a twentieth of a tile stands on a grey ground.

    Parameters
    ----------
    expected
        Expected copies of each kind, shape (36,).
    copies
        Tiles of each kind in the set, shape (36,), at most 16 each; None for the standard
        set of 152.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If there are not 36 numbers, or one is below 0 or above the copies of its kind.

    Examples
    --------
    >>> picture = expected_copies([0.25] * 35 + [1.5])
    >>> print(picture.text.splitlines()[1])
    Highest: joker 1.5 of 8, 1 bam 0.2 of 4, 2 bam 0.2 of 4, 3 bam 0.2 of 4, 4 bam 0.2 of 4.
    """
    held = given.counts(
        COPIES if copies is None else copies, "expected_copies, copies", MOST_COPIES
    )  # fmt: skip
    shown = _values(expected, "expected_copies", held, "a number of copies")
    numbers_ = [f"{value:.1f}" for value in shown]
    cells = [
        _cell(kind, numbers_[kind], value / held[kind] if held[kind] else 0.0, held[kind],
              faint=value < 0.05)
        for kind, value in enumerate(shown)
    ]  # fmt: skip
    said = [f"{number} of {most}" for number, most in zip(numbers_, held, strict=True)]
    heading = given.text(title, "expected_copies, title")
    return finish(_grid(cells), "Expected copies of each kind", _lines(shown, said), title=heading)


def _values(values: object, where: str, limits: Sequence[float], what: str) -> list[float]:
    """A number for each kind, from 0 to its limit; an excess by rounding is cut off."""
    taken = given.items(values, where, f"{what} for each kind", N_KINDS)
    return [
        _real(value, f"{where}, {name}", what, float(limit))
        for name, value, limit in zip(KINDS, taken, limits, strict=True)
    ]


def _real(value: object, where: str, what: str, limit: float) -> float:
    accepted = f"{what} here is a number from 0 to {limit:g}"
    if not isinstance(value, numbers.Real) or isinstance(value, bool):
        raise HandreadError(f"{where}: got {given.shown(value)}; {accepted}")
    number = float(value)
    if not math.isfinite(number) or not -_SLACK <= number <= limit + _SLACK:
        raise HandreadError(f"{where}: got {given.shown(value)}; {accepted}")
    return min(max(number, 0.0), limit)


def _percent(prob: float) -> str:
    """Whole per cents; none is said only of what is none, all only of what is all."""
    whole = f"{100 * prob:.0f} %"
    if prob > 0 and whole == "0 %":
        return "under 1 %"
    if prob < 1 and whole == "100 %":
        return "over 99 %"
    return whole


def _drawn_percent(prob: float) -> str:
    """The same, short: the words would not fit into a cell."""
    return _percent(prob).replace("under ", "<").replace("over ", ">")


def _lines(values: Sequence[float], said: Sequence[str]) -> list[str]:
    """Every number in words, after the highest few."""
    order = sorted(range(N_KINDS), key=lambda kind: (-values[kind], kind))
    top = [f"{KINDS[kind]} {said[kind]}" for kind in order[:HIGHEST] if values[kind] > 0]
    lines = [f"Highest: {', '.join(top) or 'none'}."]
    start = 0
    for name, end in _ROWS.items():
        row = (f"{KINDS[kind]} {said[kind]}" for kind in range(start, end))
        lines.append(f"{name}: {', '.join(row)}.")
        start = end
    return lines


def _grid(cells: Sequence[Piece]) -> Piece:
    rows = [beside(cells[at : at + PER_ROW], 5) for at in range(0, N_KINDS, PER_ROW)]
    return stacked(rows, 5)


def _cell(kind: int, number: str, share: float, parts: int, *, faint: bool) -> Piece:
    """A kind's word on the ground of its suit, its number, its bar in `parts` parts."""
    suit = suit_of(kind)
    strip = HONOUR_GROUND if suit is None else SUIT_GROUND[suit]
    band = element("rect", x=0, y=0, width=WIDTH, height=16, rx=3, fill=strip)
    word = label(WIDTH / 2, 12, KINDS[kind], 12)
    figure = label(
        WIDTH / 2, 33, number, 15, fill=QUIET if faint else INK, bold=not faint
    )  # fmt: skip
    body = band + word + figure + moved(_bar(share, parts), 0, 39)
    fill, stroke = (MAT, SPENT) if faint else (FACE, EDGE)
    return framed(
        Piece(WIDTH, HEIGHT, body), pad=3, fill=fill, stroke=stroke, line=1, round_=5
    )  # fmt: skip


def _bar(share: float, parts: int) -> str:
    """A track, filled from the left; lines divide it where it counts more than one copy."""
    track = element(
        "rect", x=0.5, y=0.5, width=WIDTH - 1, height=7, rx=1.5, fill=FACE, stroke=QUIET,
        stroke_width=1,
    )  # fmt: skip
    filled = (WIDTH - 1) * share
    fill = element("rect", x=0.5, y=0.5, width=filled, height=7, rx=1.5, fill=INK)
    lines = [
        element(
            "line", x1=WIDTH * n / parts, y1=1, x2=WIDTH * n / parts, y2=7, stroke=EDGE,
            stroke_width=1,
        )
        for n in range(1, parts)
    ]  # fmt: skip
    return track + (fill if filled >= 0.25 else "") + "".join(lines)
