"""Conditions on the numbers of a hand: reading them, and finding every choice that keeps them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.notation import Compare, Condition, Number, Parity, Range, ZeroIsWhite
from handread.card.tokens import Tokens
from handread.values import ArrayValue

_COMPARE: Final[dict[str, np.ufunc]] = {
    "is": np.equal, "is above": np.greater, "is below": np.less,
    "is at least": np.greater_equal, "is at most": np.less_equal,
}  # fmt: skip


def parse_condition(tokens: Tokens) -> Condition:
    """Read one condition after ``where``; see ``handread.card.grammar`` for the form."""
    if not tokens.at_number:
        raise tokens.error(
            "begins no condition", ("n from 1 to 7", "n is odd", "n is not 5", "0 is white")
        )
    left = tokens.number()
    if tokens.take("from"):
        return _range(tokens, left)
    if not tokens.take("is"):
        raise tokens.error("cannot follow a number here", ("from", "is"))
    if tokens.word in ("odd", "even"):
        return Parity(left, tokens.step() == "odd")
    if left == Number(0) and tokens.take("white"):
        return ZeroIsWhite()
    relation = "is"
    if tokens.word in ("not", "above", "below"):
        relation = f"is {tokens.step()}"
    elif tokens.take("at"):
        if tokens.word not in ("least", "most"):
            raise tokens.error("cannot follow at", ("least", "most"))
        relation = f"is at {tokens.step()}"
    elif not tokens.at_number:
        accepted = ("a number", "not", "odd", "even", "above", "below", "at least", "at most")
        raise tokens.error("cannot follow is", accepted)
    right = [tokens.number()]
    while tokens.take("or"):
        right.append(tokens.number())
    return Compare(left, relation, tuple(right))


def _range(tokens: Tokens, left: Number) -> Range:
    if left.constant or [factor for _, factor in left.terms] != [1]:
        raise tokens.error("begins a range, and a range is for one letter", ("n from 1 to 7",))
    low = tokens.count()
    tokens.need("to", "follows the low end of a range")
    high = tokens.count()
    step = 1
    if tokens.take("by"):
        place = tokens.at
        step = tokens.count()
        if step == 0:
            raise tokens.error("is no step", ("1", "2", "3"), at=place)
    without: list[int] = []
    if tokens.take("but"):
        tokens.need("not", "follows but")
        without.append(tokens.count())
        while tokens.take("or"):
            without.append(tokens.count())
    return Range(left.variables[0], low, high, step, tuple(without))


@dataclass(frozen=True, eq=False)
class NumberChoices(ArrayValue):
    """Choices of the number variables of a hand.

    Attributes
    ----------
    letters
        The variables that stand on tiles.
    values
        Their values, shape (n_choices, n_letters).
    looked_at
        How many choices, complete or not, were looked at to find these.
    """

    letters: tuple[str, ...]
    values: NDArray[np.int16]
    looked_at: int


def number_choices(
    numbers: Sequence[Number], where: Sequence[Condition], most: int
) -> NumberChoices | None:
    """Every choice of the number variables that keeps the conditions and stays on the tiles.

    Letters are taken one after another; a choice is dropped as soon as a condition whose
    letters are all chosen fails, so that relations keep the work small.

    Parameters
    ----------
    numbers
        The numbers that stand on tiles.
    where
        The conditions.
    most
        How many choices may be looked at.

    Returns
    -------
    NumberChoices or None
        None if more than `most` choices would have to be looked at.
    """
    low = 0 if ZeroIsWhite() in where else 1
    on_tiles: list[Condition] = [
        Compare(number, "is at least", (Number(low),)) for number in numbers if number.terms
    ]
    on_tiles += [Compare(number, "is at most", (Number(9),)) for number in numbers if number.terms]
    tests = [*where, *on_tiles]
    letters = tuple(dict.fromkeys(name for number in numbers for name in number.variables))
    domains = {letter: _domain(letter, where, low) for letter in letters}
    looked_at = 0
    rows: NDArray[np.int16] = np.zeros((1, 0), dtype=np.int16)
    pending = [test for test in tests if not isinstance(test, Range | ZeroIsWhite)]
    for place in range(len(letters) + 1):
        known = {letter: rows[:, index] for index, letter in enumerate(letters[:place])}
        ready = [test for test in pending if set(_letters(test)) <= set(known)]
        pending = [test for test in pending if test not in ready]
        kept = np.ones(len(rows), dtype=np.bool_)
        for test in ready:
            kept &= _holds(test, known, len(rows))
        rows = rows[kept]
        if place == len(letters):
            break
        domain = domains[letters[place]]
        looked_at += len(rows) * len(domain)
        if looked_at > most:
            return None
        rows = np.hstack(
            [np.repeat(rows, len(domain), axis=0), np.tile(domain, len(rows))[:, None]]
        )
    return NumberChoices(letters, rows, looked_at)


def _domain(letter: str, where: Sequence[Condition], low: int) -> NDArray[np.int16]:
    values = set(range(low, 10))
    ranges = [part for part in where if isinstance(part, Range) and part.variable == letter]
    if ranges:
        values = set(range(100))
    for part in ranges:
        values &= set(range(part.low, part.high + 1, part.step)) - set(part.without)
    return np.array(sorted(values), dtype=np.int16)


def _letters(test: Condition) -> tuple[str, ...]:
    if isinstance(test, Parity):
        return test.left.variables
    if isinstance(test, Compare):
        return tuple(name for part in (test.left, *test.right) for name in part.variables)
    return ()


def evaluate(number: Number, known: dict[str, NDArray[np.int16]], size: int) -> NDArray[np.int64]:
    """Value of a number for each choice of its letters, shape (size,)."""
    total = np.full(size, number.constant, dtype=np.int64)
    for name, factor in number.terms:
        total += factor * known[name].astype(np.int64)
    return total


def _holds(test: Condition, known: dict[str, NDArray[np.int16]], size: int) -> NDArray[np.bool_]:
    held = np.ones(size, dtype=np.bool_)
    if isinstance(test, Parity):
        held &= (evaluate(test.left, known, size) % 2 == 1) == test.odd
    elif isinstance(test, Compare) and test.relation == "is not":
        for part in test.right:
            held &= evaluate(test.left, known, size) != evaluate(part, known, size)
    elif isinstance(test, Compare):
        left = evaluate(test.left, known, size)
        held[:] = False
        for part in test.right:
            held |= _COMPARE[test.relation](left, evaluate(part, known, size))
    return held
