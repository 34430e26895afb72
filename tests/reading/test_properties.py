"""What must hold of every reading: probabilities, frozen values, no peeking, seats alike."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.reading import Belief, Evidence, Model, Reader, build_model, update
from handread.table import Record, TableState, apply, start
from handread.table.events import (
    Absent,
    AnyEvent,
    Correct,
    Dead,
    Discard,
    Expose,
    Header,
    Joined,
    Missed,
    Rack,
    Redeem,
    Reveal,
    Win,
)
from tests.oracle.toy import start_beliefs, toy_card, toy_model
from tests.reading.records import legal_records, unruly_records

CARD = toy_card()
Beliefs = tuple[Belief, ...]


def check_belief(model: Model, belief: Belief, live: bool) -> None:
    """Probabilities, on targets that the seat's groups allow, in arrays that cannot be written."""
    probs = belief.probs
    assert probs.shape == (model.n_rows,)
    assert np.isfinite(probs).all()
    assert probs.min() >= 0
    assert probs.sum() == pytest.approx(1.0, abs=1e-9)
    if live:
        assert probs[:-3][~belief.fits].sum() == 0, f"{belief.exposures} leave targets they forbid"
    assert not any(array.flags.writeable for array in arrays_of(belief))


def arrays_of(value: object, depth: int = 0) -> list[NDArray[np.generic]]:
    """Arrays within a value and the values that it holds."""
    if isinstance(value, np.ndarray):
        return [value]
    inner: list[object] = []
    if isinstance(value, tuple):
        inner = list(value)
    elif type(value).__module__.startswith("handread.reading") and depth < 6:
        inner = [getattr(value, name, None) for name in getattr(value, "__dict__", {})]
    return [array for part in inner for array in arrays_of(part, depth + 1)]


def check_evidence(evidence: Evidence) -> None:
    assert np.isfinite(evidence.log_prob)
    assert evidence.log_prob <= 1e-9
    for seat in evidence.seats:
        assert not any(array.flags.writeable for array in arrays_of(seat.observed))


def read(
    model: Model, header: Header, events: list[AnyEvent]
) -> list[tuple[TableState, Beliefs, Evidence]]:
    """Every moment of a game, each value checked as it comes, inputs held to their copies."""
    state, beliefs = start(header, model.card.rules), start_beliefs(model)
    moments = []
    for event in events:
        before = [belief.probs.tobytes() for belief in beliefs]
        after = apply(state, event, model.card)
        held, (beliefs, evidence) = beliefs, update(model, beliefs, event, state, after)
        assert [belief.probs.tobytes() for belief in held] == before
        for belief, exposures in zip(beliefs, after.exposures, strict=True):
            assert belief.exposures == exposures
            check_belief(model, belief, after.live[belief.seat])
        check_evidence(evidence)
        state = after
        moments.append((state, beliefs, evidence))
    return moments


@given(legal_records(CARD))
@settings(max_examples=20)
def test_legal_records_keep_probabilities(record: Record) -> None:
    read(toy_model(), record.header, list(record.events))


@given(legal_records(CARD))
@settings(max_examples=8)
def test_legal_records_keep_probabilities_under_the_lore(record: Record) -> None:
    read(build_model(CARD), record.header, list(record.events))


@given(unruly_records(CARD))
@settings(max_examples=60)
def test_unruly_records_keep_probabilities(given_: tuple[Header, list[AnyEvent]]) -> None:
    read(toy_model(), given_[0], given_[1])


_D, _E = Discard, Expose
UNRULY = {
    "a group of two": [_D(0, 4), _E(1, 2, 0)],
    "a group of seven": [_D(0, 34), _E(1, 7, 0)],
    "a group of one": [_D(0, 4), _E(1, 1, 0), _D(1, 5)],
    "a group that lay there": [Joined(), _E(1, 3, 0, 25), _D(2, 5)],
    "a group shown in a missed turn": [_D(0, 5), Missed(1), _E(2, 4, 1, 4), _D(1, 3)],
    "a group shown in a missed turn, a throw open": [
        Missed(1), _D(0, 5), _E(2, 4, 1, 4), _D(1, 3),
    ],
    "an own throw taken back": [_D(0, 4), _E(0, 3, 0), _D(0, 5)],
    "a redeem out of turn": [
        _D(0, 26), _E(1, 3, 1), _D(1, 5), Redeem(3, 1, 26), _D(2, 5),
    ],
    "a redeem before the draw": [
        _D(0, 26), _E(1, 3, 1), _D(1, 5), Redeem(2, 1, 26, early=True), _D(2, 5),
    ],
    "a group mended too late": [_D(0, 4), _E(1, 3, 0), _D(1, 9), Correct(1, 4, 1), _D(2, 9)],
    "a group gone back": [
        _D(0, 4), _E(1, 3, 0), Dead(1, None, True), _D(2, 4), _E(3, 3, 2), _D(3, 9),
    ],
    "a claim by the dead": [_D(0, 4), Dead(2), _E(2, 4, 0), _D(2, 8)],
    "nobody else is left": [Absent(0), Absent(3), Dead(1), _D(2, 0), Discard(2, 1)],
    "the last throw of the wall shown": [
        *[_D(i % 4, i // 4) for i in range(99)], _D(3, 34), _E(0, 3, 0), _D(0, 34),
    ],
}  # fmt: skip


@pytest.mark.parametrize("name", UNRULY)
def test_breaches_of_the_rules_never_break_a_reading(name: str) -> None:
    read(toy_model(), Header(), UNRULY[name])


@pytest.mark.parametrize("early", [True, False])
def test_a_breach_does_not_count_refusals_twice(early: bool) -> None:
    """Whoever redeems before its turn leaves the throw open: it is let pass once."""
    seat = 2 if early else 3
    events = [_D(0, 26), _E(1, 3, 1), _D(1, 5), Redeem(seat, 1, 26, early=early), _D(2, 5)]
    moments = read(toy_model(), Header(), events)
    refused = [
        (observed.seat, observed.kind)
        for _, _, evidence in moments[3:]
        for about in evidence.seats
        for observed in about.observed
        if observed.what == "refuse"
    ]
    assert len(refused) == len(set(refused)) == 3


def test_a_group_from_an_unseen_throw_is_not_taken_from_the_open_one() -> None:
    """West shows 5 bams of a throw that nobody wrote down: East's 6 bam stays open."""
    moments = read(toy_model(), Header(), [Missed(1), _D(0, 5), _E(2, 4, 1, 4)])
    about = {part.seat: {o.what for o in part.observed} for part in moments[-1][2].seats}
    assert all(about[seat] <= {"elsewhere"} for seat in about.keys() - {2})
    assert "refuse" not in about.get(2, set())


def test_more_throws_than_the_wall_holds() -> None:
    """Turns were missed, so the record may go on for longer than a wall lasts."""
    tiles = [kind for kind in range(36) for _ in range(int(CARD.rules.copies[kind]))]
    events: list[AnyEvent] = [Missed(1)]
    events += [Discard(i % 4, kind) for i, kind in enumerate(tiles)]
    read(toy_model(), Header(), events)


def test_a_group_that_no_target_has_goes_to_other_and_is_reported() -> None:
    model = toy_model()
    moments = read(model, Header(), [Discard(0, 26), Expose(2, 3, 0)])
    _, beliefs, evidence = moments[-1]
    assert not beliefs[2].fits.any()
    assert beliefs[2].probs[:-3].sum() == 0
    assert beliefs[2].probs[-1] > model.start[-1]
    assert any("West" in note for note in evidence.notes)


# --- no peeking, nothing sealed ---


def as_bytes(beliefs: Beliefs) -> list[bytes]:
    return [belief.probs.tobytes() for belief in beliefs]


@given(legal_records(CARD), st.data())
@settings(max_examples=12)
def test_what_comes_later_changes_nothing(record: Record, data: st.DataObject) -> None:
    until = data.draw(st.integers(0, len(record.events)))
    model = toy_model()
    whole, part = Reader(CARD, model=model, header=record.header), None
    for n, event in enumerate(record.events):
        if n == until:
            part = as_bytes(whole.beliefs)
            seen = [whole.reading(seat).families.to_numpy().tobytes() for seat in range(4)]
        whole.observe(event)
    alone = Reader(CARD, model=model, header=record.header)
    for event in record.events[:until]:
        alone.observe(event)
    if part is not None:
        assert as_bytes(alone.beliefs) == part
        again = [alone.reading(seat).families.to_numpy().tobytes() for seat in range(4)]
        assert again == seen


@given(legal_records(CARD))
@settings(max_examples=10)
def test_what_is_sealed_changes_nothing(record: Record) -> None:
    """A record with racks and reveals is read as the same record without them."""
    model = toy_model()
    plain = read(model, record.header, list(record.events))
    opened: list[AnyEvent] = []
    for n, event in enumerate(record.events):
        state = plain[n - 1][0] if n else start(record.header, CARD.rules)
        for seat in (seat for seat in range(4) if state.seated[seat] and not state.over):
            opened.append(Rack(seat, ()))
        opened.append(event)
    if plain and not plain[-1][0].over:
        opened.append(Win(plain[-1][0].live.index(True), False))
    state, beliefs = start(record.header, CARD.rules), start_beliefs(model)
    for event in opened:
        after = apply(state, event, CARD)
        if isinstance(event, Rack):
            same, _ = update(model, beliefs, event, state, after)
            assert as_bytes(same) == as_bytes(beliefs)
        else:
            beliefs, _ = update(model, beliefs, event, state, after)
        state = after
    if len(record.events) and plain[-1][0].over:
        assert as_bytes(beliefs) == as_bytes(plain[-1][1])
    for seat in (seat for seat in range(4) if state.seated[seat]):
        reveal = Reveal(seat, CARD.hands[0].name, (4,) * state.concealed[seat])
        same, evidence = update(model, beliefs, reveal, state, state)
        assert as_bytes(same) == as_bytes(beliefs)
        assert evidence.seats == ()


def test_the_house_card_keeps_probabilities() -> None:
    """One game of the house card; the toy card bears the load of the random tests."""
    import handread as hr
    from tests.support.random_play import random_record

    card: CompiledCard = hr.house_card()
    record = random_record(np.random.default_rng(11), card)
    read(build_model(card), record.header, list(record.events))
