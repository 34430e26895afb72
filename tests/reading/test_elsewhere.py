"""Copies that turn up elsewhere: what another seat throws or shows, this one cannot have got."""

from __future__ import annotations

import numpy as np
import pytest

import handread as hr
from handread.clues import load_weights
from handread.clues.codes import N_UNMODELLED
from handread.clues.elsewhere import HALF, log_shares
from handread.reading import Model, Reader, build_model, start_belief, update
from handread.reading.belief import show
from handread.reading.elsewhere import turned_up_ratio
from handread.reading.evidence import Evidence, SeatEvidence
from handread.table import apply, start
from handread.table.state import Exposure
from handread.tiles import JOKER, parse_kind

RED = parse_kind("red")
POWER = 0.4


def model(power: float = POWER) -> Model:
    return build_model(
        hr.load_card("small"), weights=load_weights().replace({"elsewhere.power": power})
    )


def after_a_throw(power: float) -> tuple[Model, Evidence]:
    held = model(power)
    beliefs = tuple(start_belief(held, seat) for seat in range(4))
    state, event = start(None, held.card.rules), hr.Discard(seat=0, kind=RED)
    return held, update(held, beliefs, event, state, apply(state, event))[1]


def test_a_copy_thrown_by_east_speaks_against_others_who_need_it() -> None:
    held, evidence = after_a_throw(POWER)
    assert [seat.seat for seat in evidence.seats] == [0, 1, 2, 3]
    assert all(one.what != "elsewhere" for one in evidence.seats[0].observed)
    for seat in evidence.seats[1:]:
        before, after = (belief.probs[:-N_UNMODELLED] for belief in (seat.before, seat.after))
        wanted = held.card.demand[:, RED].astype(float)
        share = ((3 + HALF) / (4 + HALF)) ** (POWER * wanted)
        expected = before * share / (held.prior @ share)
        np.testing.assert_allclose(after, expected / (expected.sum() + before_loose(seat)))
        assert seat.log_prob == 0.0, "East's throw is no act of the others"
        assert [one.what for one in seat.observed] == ["elsewhere"]


def before_loose(seat: SeatEvidence) -> float:
    return float(seat.before.probs[-N_UNMODELLED:].sum())


def test_copies_one_after_the_other_count_as_copies_at_once() -> None:
    at_once = log_shares(np.full(36, 4), np.full(36, 1))
    steps = [log_shares(np.full(36, n), np.full(36, n - 1)) for n in (4, 3, 2)]
    np.testing.assert_allclose(at_once, sum(steps))
    assert log_shares(np.full(36, 4), np.full(36, 1))[JOKER] == 0.0
    assert np.isfinite(log_shares(np.full(36, 1), np.full(36, -1))).all()


def test_a_group_shown_already_needs_no_copies() -> None:
    held = model()
    belief = start_belief(held, 1)
    shown = Exposure(RED, int(held.card.demand[:, RED].max()), 0)
    kinds, shares = np.array([RED]), np.array([-0.25])
    assert np.ptp(turned_up_ratio(held, belief, kinds, shares)) > 0.01
    after = show(held, belief, (shown,))
    np.testing.assert_allclose(turned_up_ratio(held, after, kinds, shares)[after_rows(after)], 1.0)


def after_rows(belief: hr.Belief) -> np.ndarray:
    return np.flatnonzero(belief.fits)


def test_power_zero_says_nothing_and_the_ledger_tells_of_it_otherwise() -> None:
    assert {seat.seat for seat in after_a_throw(0.0)[1].seats} == {0}
    reader = Reader(hr.load_card("small"), model=model())
    reader.observe(hr.Discard(seat=0, kind=RED))
    entries = reader.reading("South").ledger.entries
    assert [part.source for entry in entries for part in entry.parts] == ["elsewhere"]
    assert entries[0].words.startswith("red turns up elsewhere (")
    assert pytest.approx(1.0) == float(reader.reading("South").families.sum())


def test_a_seat_counts_its_own_draw_once() -> None:
    """The viewer's draw speaks of the others when it is drawn, its throw no second time."""
    reader = Reader(hr.load_card("small"), model=model(), viewer="South")
    reader.observe(hr.Discard(seat=0, kind=parse_kind("5 bam")))
    drawn = reader.observe(hr.Drew(seat=1, kind=RED))
    thrown = reader.observe(hr.Discard(seat=1, kind=RED))
    told = [
        {s.seat for s in e.seats for one in s.observed if one.what == "elsewhere"}
        for e in (drawn, thrown)
    ]
    assert told == [{0, 2, 3}, set()]
