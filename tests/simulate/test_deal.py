"""Deals and draws against exact hypergeometric values, by chi-square.

The probabilities are computed here by counting; the table of the trade (152 tiles, 8 jokers and 8
flowers) is quoted beside them. Common practice for the tile set, no source.
"""

from __future__ import annotations

from math import comb

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import chisquare, hypergeom

from handread.card import Rules
from handread.errors import HandreadError
from handread.simulate.rules.deal import chairs, deal
from handread.tiles import COPIES, FLOWER, JOKER

Counts = NDArray[np.int64]


@pytest.fixture(scope="module", params=[8_000, pytest.param(200_000, marks=pytest.mark.slow)])
def deals(request: pytest.FixtureRequest) -> tuple[Counts, Counts]:
    """Counts of each kind in the four racks, and the first 25 tiles of the wall."""
    rng = np.random.default_rng(731_002)
    racks = np.zeros((request.param, 4, 36), dtype=np.int8)
    walls = np.zeros((request.param, 25), dtype=np.int8)
    rules = Rules()
    for i in range(request.param):
        dealt = deal(rules, rng=rng)
        for seat in range(4):
            racks[i, seat] = np.bincount(dealt.racks[seat], minlength=36)
        walls[i] = dealt.wall[:25]
    return racks.astype(np.int64), walls.astype(np.int64)


def holds(seen: Counts, exact: NDArray[np.float64]) -> None:
    """Chi-square of counts of values 0, 1, 2 ... against exact probabilities, tails pooled."""
    n = len(seen)
    counts = np.bincount(seen, minlength=len(exact)).astype(np.float64)
    assert len(counts) == len(exact)
    expected = n * exact
    while len(expected) > 2 and expected[-1] < 10:
        counts[-2] += counts[-1]
        expected[-2] += expected[-1]
        counts, expected = counts[:-1], expected[:-1]
    while len(expected) > 2 and expected[0] < 10:
        counts[1] += counts[0]
        expected[1] += expected[0]
        counts, expected = counts[1:], expected[1:]
    assert chisquare(counts, expected * counts.sum() / expected.sum()).pvalue > 1e-4


def of_kind(copies: int, drawn: int, most: int | None = None) -> NDArray[np.float64]:
    most = copies if most is None else most
    return np.array([hypergeom.pmf(i, 152, copies, drawn) for i in range(min(most, drawn) + 1)])


def multiples(drawn: int, least: int, *, flowers: bool) -> NDArray[np.float64]:
    """Exact distribution of the number of kinds held `least` times or more, by counting."""
    kinds = [4] * 34 + ([8] if flowers else [])
    ways = {(0, 0): 1}  # (tiles drawn, kinds with enough of them) -> ways
    for copies in kinds:
        new: dict[tuple[int, int], int] = {}
        for (tiles, enough), n in ways.items():
            for i in range(min(copies, drawn - tiles) + 1):
                key = (tiles + i, enough + (i >= least))
                new[key] = new.get(key, 0) + n * comb(copies, i)
        ways = new
    rest = 152 - sum(kinds)
    total = comb(152, drawn)
    out = np.zeros(drawn // least + 1)
    for (tiles, enough), n in ways.items():
        out[enough] += n * comb(rest, drawn - tiles) / total
    return out


def test_the_exact_values_are_those_of_the_trades_table() -> None:
    assert of_kind(8, 13)[:4] == pytest.approx([0.480418, 0.378511, 0.119530, 0.019624], abs=5e-7)
    assert of_kind(8, 14)[:4] == pytest.approx([0.452768, 0.387100, 0.133432, 0.024078], abs=5e-7)
    assert of_kind(4, 13) == pytest.approx([0.6967, 0.2664, 0.0350, 0.0019, 0.0], abs=6e-5)
    assert multiples(13, 2, flowers=False)[:5] == pytest.approx(
        [0.2107, 0.4211, 0.2811, 0.0778, 0.0090], abs=6e-5
    )
    assert multiples(14, 2, flowers=True)[:5] == pytest.approx(
        [0.1211, 0.3543, 0.3493, 0.1464, 0.0269], abs=6e-5
    )
    assert 1 - multiples(13, 3, flowers=True)[0] == pytest.approx(0.0843, abs=6e-5)
    assert of_kind(36, 13)[0] == pytest.approx(0.0251, abs=6e-5)  # none of one suit
    assert of_kind(28, 13)[:3] == pytest.approx([0.063, 0.204, 0.292], abs=6e-4)  # honours
    assert of_kind(8, 38)[0] == pytest.approx(0.094, abs=6e-4)  # no joker to the last tile


@pytest.mark.parametrize("kind", [JOKER, FLOWER])
@pytest.mark.parametrize("seat", [0, 1])
def test_jokers_and_flowers_in_a_rack(deals: tuple[Counts, Counts], kind: int, seat: int) -> None:
    holds(deals[0][:, seat, kind], of_kind(8, 14 if seat == 0 else 13))


@pytest.mark.parametrize("kind", [0, 13, 26, 27, 33])
def test_copies_of_a_kind(deals: tuple[Counts, Counts], kind: int) -> None:
    holds(deals[0][:, 2, kind], of_kind(4, 13))


@pytest.mark.parametrize("flowers", [False, True])
def test_kinds_held_twice_and_three_times(deals: tuple[Counts, Counts], flowers: bool) -> None:
    kinds = deals[0][:, :, : 35 if flowers else 34]
    for least in (2, 3):
        for seat, drawn in ((0, 14), (3, 13)):
            exact = multiples(drawn, least, flowers=flowers)
            holds((kinds[:, seat] >= least).sum(axis=1), exact)


def test_suits_winds_and_dragons(deals: tuple[Counts, Counts]) -> None:
    for first in (0, 9, 18):
        holds(deals[0][:, 1, first : first + 9].sum(axis=1), of_kind(36, 13, 13))
    holds(deals[0][:, 1, 27:34].sum(axis=1), of_kind(28, 13, 13))


def test_seats_with_a_joker(deals: tuple[Counts, Counts]) -> None:
    """0.029, 0.214, 0.428, 0.279, 0.050 for none to four seats."""
    sizes = (14, 13, 13, 13)
    none_of = {}
    for mask in range(16):
        held = sum(size for seat, size in enumerate(sizes) if mask >> seat & 1)
        none_of[mask] = comb(152 - held, 8) / comb(152, 8)
    exact = np.zeros(5)
    for mask in range(16):  # exactly these seats without: inclusion and exclusion
        others = [m for m in range(16) if m & mask == mask]
        exactly = sum((-1) ** (bin(m ^ mask).count("1")) * none_of[m] for m in others)
        exact[4 - bin(mask).count("1")] += exactly
    assert exact == pytest.approx([0.029, 0.214, 0.428, 0.279, 0.050], abs=6e-4)
    holds((deals[0][:, :, JOKER] > 0).sum(axis=1), exact)


def test_draws_are_a_random_run_of_the_wall(deals: tuple[Counts, Counts]) -> None:
    """A seat's own deal and its draws so far hold jokers as so many tiles of the set do."""
    racks, walls = deals
    holds((walls == JOKER).sum(axis=1), of_kind(8, 25))
    for draws in (5, 12):  # North draws every fourth tile from the third on
        own = walls[:, 2 : 2 + 4 * draws : 4]
        jokers = racks[:, 3, JOKER] + (own == JOKER).sum(axis=1)
        holds(jokers, of_kind(8, 13 + own.shape[1]))
    for place in (0, 11, 24):
        counts = np.bincount(walls[:, place], minlength=36)
        assert chisquare(counts, len(walls) * COPIES.astype(np.float64) / 152).pvalue > 1e-4


def test_every_tile_is_dealt_once() -> None:
    for seats in (2, 3, 4):
        taken = chairs(seats)
        for dealer in range(4):
            rng = np.random.default_rng(seats + dealer)
            dealt = deal(Rules(), rng=rng, seats=taken, dealer=dealer)
            every = [*dealt.wall, *(tile for rack in dealt.racks for tile in rack)]
            assert np.array_equal(np.bincount(every, minlength=36), COPIES)
            opens = next(s % 4 for s in range(dealer, dealer + 4) if s % 4 in taken)
            sizes = [len(rack) for rack in dealt.racks]
            assert sizes == [14 if s == opens else 13 if s in taken else 0 for s in range(4)]


def test_another_hand_size() -> None:
    rules = Rules(hand_size=11)
    dealt = deal(rules, rng=np.random.default_rng(1))
    assert [len(rack) for rack in dealt.racks] == [11, 10, 10, 10]


def test_no_table_of_five() -> None:
    with pytest.raises(HandreadError, match="n_seats=5; accepted: 2, 3, 4"):
        chairs(5)
