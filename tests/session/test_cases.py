"""Cases in which a reading could go astray, each with the belief before and after.

``python -m tests.session.test_cases`` prints them as a table.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import handread as hr
from handread.reading import Reader
from handread.table.events import Dead, Missed
from handread.tiles import parse_kind

QUIET = "5 bam, north, 9 dot, 2 crak, 7 dot, west, 1 bam, 8 dot"


def thrown(reader: Reader, names: str) -> None:
    """Throw one tile after another, each by the seat on turn."""
    for name in names.split(","):
        turn = reader.state.turn
        assert turn is not None
        reader.observe(hr.Discard(seat=turn, kind=parse_kind(name)))


def start_reader() -> Reader:
    card = hr.house_card()
    return Reader(card, model=hr.build_model(card))


def entropy(probs: np.ndarray) -> float:
    there = probs[probs > 0]
    return float(-(there * np.log2(there)).sum())


def fits_nothing() -> tuple[float, float]:
    """West shows six reds, four of them jokers: no hand has that group; P(other)."""
    reader = start_reader()
    thrown(reader, "red")
    before = reader.reading("West").families["other"]
    evidence = reader.observe(hr.Expose(seat=2, size=6, jokers=4))
    assert "no hand of the card has these groups" in evidence.notes[0]
    assert reader.state.flags
    return before, reader.reading("West").families["other"]


def decoys() -> tuple[float, float]:
    """West throws dots for eight turns, then shows a kong of 8 dot: P(targets with that kong)."""
    reader = start_reader()
    fillers = iter([f"{n} {suit}" for n in range(1, 10) for suit in ("bam", "crak")] * 2)
    thrown(reader, "east, west")
    for number in (1, 2, 3, 4, 5, 6, 7, 9):
        thrown(reader, f"{number} dot")
        if number < 9:
            thrown(reader, ",".join(next(fillers) for _ in range(3)))
    thrown(reader, "8 dot")
    card = reader.card
    kong = (card.group_kind == parse_kind("8 dot")) & (card.group_size == 4)
    has_kong = kong.any(axis=1) & ~card.concealed
    before = float(reader.beliefs[2].probs[:-3][has_kong].sum())
    reader.observe(hr.Expose(seat=2, size=4, jokers=1))
    return before, float(reader.beliefs[2].probs[:-3][has_kong].sum())


def dead_seat() -> tuple[float, float]:
    """North is called dead and the game goes on: largest change of its belief since."""
    reader = start_reader()
    thrown(reader, QUIET)
    reader.observe(Dead(seat=3, caller=0))
    before = reader.beliefs[3].probs
    thrown(reader, "3 bam, 4 crak, 6 dot, 7 crak, 1 dot")
    return 0.0, float(np.abs(reader.beliefs[3].probs - before).max())


def folding() -> tuple[float, float]:
    """West shows two groups; from then on South throws only what lies there twice: P(defending)."""
    reader = start_reader()
    thrown(reader, "red")
    reader.observe(hr.Expose(seat=2, size=4, jokers=0))
    thrown(reader, "9 bam, 9 bam, 1 crak, 5 dot, 1 crak, north, north, 9 crak, 9 crak")
    thrown(reader, "2 bam, 2 bam, east, 2 crak")
    reader.observe(hr.Expose(seat=2, size=4, jokers=0))
    thrown(reader, "east, 1 dot, 1 dot")
    before = reader.reading("South").families["defending"]
    for safe in ("9 bam", "1 crak", "north", "9 crak", "2 bam", "east"):
        thrown(reader, f"{safe}, 3 bam" if safe == "9 bam" else safe)
        while reader.state.turn != 1:
            fresh = int(np.argmax(reader.around.unseen[:27]))
            reader.observe(hr.Discard(seat=reader.state.turn, kind=fresh))
    return before, reader.reading("South").families["defending"]


def missed() -> tuple[float, float]:
    """Four turns go unseen: entropy over the families of West, bits."""
    reader = start_reader()
    thrown(reader, QUIET)
    before = entropy(reader.reading("West").families.to_numpy())
    reader.observe(Missed(turns=4))
    return before, entropy(reader.reading("West").families.to_numpy())


CASES: dict[Callable[[], tuple[float, float]], Callable[[float, float], bool]] = {
    fits_nothing: lambda before, after: before < 0.05 and after > 0.9,
    decoys: lambda before, after: before < 0.1 and after > 0.8,
    dead_seat: lambda before, after: after == 0.0,
    folding: lambda before, after: after > 5 * before,
    missed: lambda before, after: after > before,
}


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.__name__)
def test_case(case: Callable[[], tuple[float, float]]) -> None:
    before, after = case()
    assert CASES[case](before, after), (before, after)


def test_after_missed_turns_the_belief_is_wider_for_every_seat() -> None:
    rng = np.random.default_rng(11)
    reader = start_reader()
    for n in range(40):
        options = hr.next_observations(reader.model, reader.beliefs, reader.state)
        weights = np.array([prob for _, prob in options]) ** 0.6
        event = options[rng.choice(len(options), p=weights / weights.sum())][0]
        if isinstance(event, hr.Win | hr.WallGame):
            continue
        reader.observe(event)
        if n % 8 == 7:
            wider = reader.branch()
            wider.observe(Missed(turns=1))
            for old, new in zip(reader.beliefs, wider.beliefs, strict=True):
                rise = entropy(reader.model.by_family(new.probs))
                assert rise >= entropy(reader.model.by_family(old.probs)) - 1e-12


if __name__ == "__main__":
    for case in CASES:
        print(f"{case.__doc__}  before {case()[0]:.3f}, after {case()[1]:.3f}")
