"""Rack samples against every rack of a small pool written out."""

from itertools import product
from math import comb

import numpy as np
import pytest

import handread as hr
from handread.reading.racks import MOST_SPREAD, RackLaw, sample_racks

LAW = RackLaw(
    copies=np.array([3, 2, 4, 1]),
    odds=np.array([2.0, 1.0, 0.7, 3.0]),
    need=np.array([2, 0, 8, 1]),
    size=4,
)


def every_rack(power: bool) -> tuple[np.ndarray, np.ndarray]:
    """Racks of the pool and their probabilities: the law, or the proposal."""
    racks, mass = [], []
    for rack in product(*(range(c + 1) for c in LAW.copies)):
        if sum(rack) == LAW.size:
            weight = 1.0
            for n, c, odds, need in zip(rack, LAW.copies, LAW.odds, LAW.need, strict=True):
                weight *= comb(c, n) * odds ** (n if power else min(n, need))
            racks.append(rack)
            mass.append(weight)
    return np.array(racks), np.array(mass) / np.sum(mass)


def test_proposal_is_drawn_exactly() -> None:
    racks, probs = every_rack(power=True)
    drawn = LAW.propose(200_000, rng=np.random.default_rng(1))
    counts = np.array([(drawn == rack).all(axis=1).sum() for rack in racks])
    expected = probs * len(drawn)
    chi_square = ((counts - expected) ** 2 / expected).sum()
    assert chi_square < len(racks) + 4 * np.sqrt(2 * len(racks))


def test_weights_turn_the_proposal_into_the_law() -> None:
    racks, law = every_rack(power=False)
    _, proposal = every_rack(power=True)
    weighted = proposal * np.exp(LAW.log_weight(racks))
    np.testing.assert_allclose(weighted / weighted.sum(), law, atol=1e-12)


def test_swaps_leave_the_law_as_it_is_and_reach_it() -> None:
    racks, law = every_rack(power=False)
    begun = np.tile(racks[0], (40_000, 1))
    moved = LAW.swap(begun, 60, rng=np.random.default_rng(2))
    mean, spread = moved.mean(axis=0), moved.std(axis=0) / np.sqrt(len(moved))
    assert np.all(np.abs(mean - law @ racks) < 5 * spread + 1e-9)


def test_racks_of_a_seat_hold_what_is_there() -> None:
    reader = hr.Reader(hr.house_card())
    for kind in (4, 31, 26, 30, 11, 22, 12):
        reader.observe(hr.Discard(seat=reader.state.turn, kind=kind))
    belief = reader.beliefs[2]
    target = int(np.argmax(belief.probs[:-3]))
    found = sample_racks(
        reader.model, belief, reader.state, reader.around, target, rng=np.random.default_rng(3)
    )
    assert found.trusted == (found.spread <= MOST_SPREAD)
    assert found.expected.sum() == pytest.approx(13)
    if found.trusted:
        assert (found.racks <= reader.around.unseen).all()
        assert (found.racks.sum(axis=1) == 13).all()


def test_a_target_that_the_exposures_exclude_is_refused() -> None:
    reader = hr.Reader(hr.house_card())
    reader.observe(hr.Discard(seat=0, kind=32))
    reader.observe(hr.Expose(seat=2, size=4, jokers=0))
    excluded = int(np.flatnonzero(~reader.beliefs[2].fits)[0])
    with pytest.raises(hr.HandreadError, match="does not fit what the seat has shown"):
        sample_racks(
            reader.model, reader.beliefs[2], reader.state, reader.around, excluded,
            rng=np.random.default_rng(0),
        )  # fmt: skip
