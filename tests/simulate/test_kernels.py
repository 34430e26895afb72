"""Compiled kernels against plain twins that try every way to lay the tiles."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from numpy.typing import NDArray

from handread.simulate import PlayCard
from handread.simulate import kernels as k
from handread.table.rules.fit import fitting_targets
from handread.table.state import Exposure
from handread.tiles import JOKER
from tests.simulate.plain import Shown, groups_of, left_after, short_of


def rack_near(card: PlayCard, rng: np.random.Generator, size: int = 13) -> NDArray[np.uint8]:
    """Random tiles, half of them from one target, so that distances are short and vary."""
    target = int(rng.integers(card.n_targets))
    near = np.repeat(np.arange(36), card.card.demand[target])
    wall = np.repeat(np.arange(36), card.targets.copies)
    tiles = np.concatenate([rng.permutation(near)[: size // 2 + 2], rng.permutation(wall)])
    rack = np.zeros(36, dtype=np.uint8)
    for kind in tiles:
        if rack.sum() < size and rack[kind] < card.targets.copies[kind]:
            rack[kind] += 1
    return rack


def shown_of(card: PlayCard, rng: np.random.Generator, n: int) -> Shown:
    """Exposures that some target allows, at random; sometimes ones that none allows."""
    target = int(rng.integers(card.n_targets))
    groups = [group for group in groups_of(card.card, target) if group[1] >= 3]
    chosen = rng.permutation(len(groups))[:n]
    return [
        (groups[i][0], groups[i][1], int(rng.integers(0, 2)) if groups[i][2] else 0) for i in chosen
    ]


def rows(shown: Shown) -> NDArray[np.int64]:
    ordered = sorted(shown, key=lambda group: group[2] == 0)
    return np.array(ordered, dtype=np.int64).reshape(-1, 3)


@pytest.fixture(params=["small", "harbour"])
def card(request: pytest.FixtureRequest) -> PlayCard:
    found: PlayCard = request.getfixturevalue(request.param)
    return found


@pytest.mark.parametrize("n_shown", [0, 1, 2])
def test_shortfall_is_the_fewest_tiles_over_every_way_to_lay_them(
    card: PlayCard, n_shown: int
) -> None:
    rng = np.random.default_rng(n_shown)
    for _ in range(6):
        shown = shown_of(card, rng, n_shown)
        rack = rack_near(card, rng, 13 - sum(size for _, size, _ in shown))
        held = Counter(dict(enumerate(rack.tolist())))
        found = k.shortfall(card.targets, rack, rows(shown))
        for target in rng.choice(card.n_targets, 60, replace=False):
            plain = short_of(card.card, int(target), held, shown)
            assert found[target] == (k.FAR if plain is None else plain)


def test_what_fits_is_what_the_table_says_fits(card: PlayCard) -> None:
    rng = np.random.default_rng(5)
    seen = set()
    for _ in range(40):
        shown = shown_of(card, rng, int(rng.integers(1, 4)))
        fits, _ = k.keep_left(card.targets, rows(shown))
        exposures = tuple(Exposure(*group) for group in shown)
        assert np.array_equal(fits, fitting_targets(card.card, exposures))
        seen.add(bool(fits.any()))
    assert True in seen


def test_measure_agrees_with_shortfall_and_with_what_is_left(card: PlayCard) -> None:
    rng = np.random.default_rng(6)
    for _ in range(6):
        rack = rack_near(card, rng)
        gone = np.minimum(card.targets.copies - rack, rng.integers(0, 4, size=36))
        live = (card.targets.copies - rack - gone).astype(np.float64)
        shown = np.zeros((0, 3), dtype=np.int64)
        short, bare, cost_bare, cost_open, thirst, blocked = k.measure(
            card.targets, rack, shown, live
        )  # fmt: skip
        assert np.array_equal(short, k.shortfall(card.targets, rack, shown))
        assert ((cost_bare > 0) == (bare > 0)).all()
        assert ((cost_open > 0) == (short > bare)).all()
        held = Counter({i: int(n) for i, n in enumerate(rack) if i != JOKER})
        possible = Counter({i: int(rack[i] + live[i]) for i in range(JOKER)})
        jokers = int(rack[JOKER] + live[JOKER])
        many = Counter({JOKER: 99})
        for target in map(int, rng.choice(card.n_targets, 60, replace=False)):
            assert bare[target] == short_of(card.card, target, held + many, [])
            dead = short_of(card.card, target, possible + many, []) != 0
            needed = short_of(card.card, target, possible, [])
            assert needed is not None
            assert blocked[target] == (dead or needed > jokers)
            if not dead:
                assert thirst[target] == max(0, needed - int(rack[JOKER]))


def test_use_is_what_giving_one_tile_away_costs(card: PlayCard) -> None:
    rng = np.random.default_rng(7)
    for n_shown in (0, 1):
        for _ in range(4):
            shown = rows(shown_of(card, rng, n_shown))
            rack = rack_near(card, rng, 13 - int(shown[:, 1].sum()))
            weights = rng.random(card.n_targets) * (rng.random(card.n_targets) < 0.1)
            weights /= weights.sum()
            before = k.shortfall(card.targets, rack, shown)
            fits = before < k.FAR
            use, spare = k.tile_use(card.targets, weights, rack, shown, 1.0)
            for kind in range(36):
                if not rack[kind]:
                    assert use[kind] == 0
                    continue
                less = rack.copy()
                less[kind] -= 1
                after = k.shortfall(card.targets, less, shown)
                lost = float((weights[fits] * (after - before)[fits]).sum())
                assert use[kind] == pytest.approx(lost)
            assert 0 <= spare <= rack[:JOKER].sum()


def test_spare_tiles_are_those_that_no_group_takes(card: PlayCard) -> None:
    rng = np.random.default_rng(8)
    for _ in range(5):
        rack = rack_near(card, rng)
        target = int(rng.integers(card.n_targets))
        _, spare = k.tile_use(
            card.targets, np.eye(card.n_targets)[target], rack, np.zeros((0, 3), np.int64), 1.0
        )
        wanted = card.card.demand[target]
        assert spare == np.maximum(rack.astype(int) - wanted, 0)[:JOKER].sum()


def test_groups_that_can_be_shown_weigh_what_their_targets_do(card: PlayCard) -> None:
    rng = np.random.default_rng(9)
    weights = rng.random(card.n_targets)
    for n_shown in (0, 1):
        shown = shown_of(card, rng, n_shown)
        kind = int(rng.integers(35))
        found = k.group_mass(card.targets, weights, rows(shown), kind)
        plain = np.zeros(7)
        for target in range(card.n_targets):
            left = left_after(card.card, target, shown)
            if left is None or card.card.concealed[target]:
                continue
            for size in {size for of, size, _ in left if of == kind}:
                plain[size] += weights[target]
        assert found == pytest.approx(plain)


def test_what_a_seat_may_want(card: PlayCard) -> None:
    """A target is possible when every way is not: naturals free, jokers for the rest."""
    rng = np.random.default_rng(10)
    for n_shown in (0, 1, 2):
        shown = shown_of(card, rng, n_shown)
        free = np.minimum(card.targets.copies, rng.integers(0, 5, size=36))
        wanted, n_possible = k.wanted_by(card.targets, rows(shown), free)
        held = Counter(dict(enumerate(free.tolist())))
        plain, number = np.zeros(36), 0
        for target in range(card.n_targets):
            left = left_after(card.card, target, shown)
            if left is None or short_of(card.card, target, held, shown) != 0:
                continue
            number += 1
            plain[list({kind for kind, _, _ in left})] += 1
        assert n_possible == number
        assert wanted == pytest.approx(plain / max(number, 1))


def test_compiled_and_plain_are_the_same(small: PlayCard) -> None:
    """The functions uncompiled give the same arrays to the bit."""
    rng = np.random.default_rng(11)
    rack, live = rack_near(small, rng), rng.integers(0, 5, size=36).astype(np.float64)
    shown = rows(shown_of(small, rng, 1))
    weights = rng.random(small.n_targets) * (rng.random(small.n_targets) < 0.5)
    free = rng.integers(0, 5, size=36)
    calls = [
        (k.keep_left, (small.targets, shown)),
        (k.shortfall, (small.targets, rack, shown)),
        (k.tile_costs, (live,)),
        (k.measure, (small.targets, rack, shown, live)),
        (k.tile_use, (small.targets, weights, rack, shown, 1.3)),
        (k.group_mass, (small.targets, weights, shown, int(shown[0, 0]))),
        (k.wanted_by, (small.targets, shown, free)),
    ]
    for kernel, given in calls:
        fast, slow = kernel(*given), kernel.py_func(*given)
        for one, two in zip(_parts(fast), _parts(slow), strict=True):
            assert np.array_equal(one, two), kernel.__name__


def _parts(found: object) -> tuple[object, ...]:
    return found if isinstance(found, tuple) else (found,)
