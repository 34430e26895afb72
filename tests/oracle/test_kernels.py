"""Compiled kernels and the change of plan against plain loops over the same numbers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binom

import handread as hr
from handread.card.compiled import CompiledCard
from handread.clues.codes import (
    N_CODES,
    claim_masks,
    claim_masks_plain,
    match_exposures,
    nearby_use,
    use_codes,
    use_codes_plain,
)
from handread.clues.holding import binomial_tails
from handread.clues.kernels import gather_many, gather_throws
from handread.reading.kernel import MaskedKernel, change_kernel, masked
from handread.reading.kernels import (
    fill_finish,
    fill_needs,
    fill_tails,
    gather_near,
    nearest,
    scatter_near,
)
from handread.reading.model import Model, build_model
from handread.tiles import COPIES, JOKER, N_KINDS
from tests.oracle.toy import toy_card, toy_model

SEEDS = range(6)


def some_card(seed: int) -> CompiledCard:
    return toy_card() if seed % 2 else hr.house_card()


def some_left(card: CompiledCard, rng: np.random.Generator) -> np.ndarray:
    """Groups left to make, some shown at random."""
    return (card.group_size > 0) & (rng.random(card.group_size.shape) < 0.7)


def some_free(rng: np.random.Generator) -> np.ndarray:
    return np.minimum(rng.integers(0, 9, size=N_KINDS), COPIES)


# --- use codes and claims ---


@pytest.mark.parametrize("seed", SEEDS)
def test_use_codes_equal_their_plain_twin(seed: int) -> None:
    card, rng = some_card(seed), np.random.default_rng(seed)
    nearby = nearby_use(card.demand, rng.random(card.demand.shape))
    for _ in range(3):
        left, free = some_left(card, rng), some_free(rng)
        codes, blocked = use_codes(card, left, free, nearby)
        plain_codes, plain_blocked = use_codes_plain(card, left, free, nearby)
        np.testing.assert_array_equal(codes, plain_codes)
        np.testing.assert_array_equal(blocked, plain_blocked)
        assert codes.max() < N_CODES


@pytest.mark.parametrize("seed", SEEDS)
def test_claim_masks_equal_their_plain_twin(seed: int) -> None:
    card, rng = some_card(seed), np.random.default_rng(seed + 10)
    left = some_left(card, rng)
    for kind in range(N_KINDS):
        masks, share = claim_masks(card, left, kind)
        plain_masks, plain_share = claim_masks_plain(card, left, kind)
        np.testing.assert_array_equal(masks, plain_masks)
        np.testing.assert_allclose(share, plain_share, rtol=1e-15)


def test_masks_of_a_target_with_two_sizes_of_one_kind() -> None:
    card = toy_card()
    hand = next(h for h, each in enumerate(card.hands) if each.name == "Two of threes")
    target = int(np.flatnonzero(card.hand_of == hand)[0])
    _, left = match_exposures(card, ())
    assert claim_masks(card, left, 2)[0][:, target].tolist() == [0b0011, 0b0011]
    assert claim_masks(card, left, 2)[1][target] == pytest.approx(7 / 14)


@pytest.mark.parametrize("seed", SEEDS)
def test_gathers_are_sums_over_kinds(seed: int) -> None:
    rng = np.random.default_rng(seed)
    table = rng.exponential(size=(N_CODES, N_KINDS))
    table[:, rng.integers(N_KINDS)] = 0.0
    codes = rng.integers(0, N_CODES, size=(30, N_KINDS)).astype(np.uint8)
    kind = int(rng.integers(N_KINDS))
    sums = [sum(table[code][k] for k, code in enumerate(row)) for row in codes.tolist()]
    throws = [table[row[kind]][kind] / total for row, total in zip(codes, sums, strict=True)]
    np.testing.assert_allclose(gather_many(table[None], codes)[0], sums, rtol=1e-13)
    np.testing.assert_allclose(gather_throws(table, codes, kind), throws, rtol=1e-13)


# --- near targets ---


@pytest.mark.parametrize("size", [0, 1, 3, 7, 13])
def test_the_nearest_are_those_that_share_most(size: int) -> None:
    demand = toy_card().demand
    near, shared = nearest(np.ascontiguousarray(demand), size)
    for g in range(len(demand)):
        common = {
            h: int(np.minimum(demand[g], demand[h]).sum()) for h in range(len(demand)) if h != g
        }
        expected = sorted(common, key=lambda h: (-common[h], h))[:size]
        assert near[g].tolist() == expected
        assert shared[g].tolist() == [common[h] for h in expected]


@pytest.mark.parametrize("seed", SEEDS)
def test_scatter_and_gather_are_plain_sums_and_transposes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n, size = 20, 4
    near = np.array([rng.permutation(n)[:size] for _ in range(n)], dtype=np.int32)
    weight, mass, value = rng.random((n, size)), rng.random(n), rng.random(n)
    mass[rng.integers(n, size=5)] = 0.0
    arrived, mean = [0.0] * n, [0.0] * n
    for g in range(n):
        for j in range(size):
            arrived[near[g, j]] += mass[g] * weight[g, j]
            mean[g] += weight[g, j] * value[near[g, j]]
    np.testing.assert_allclose(scatter_near(near, weight, mass, n), arrived, rtol=1e-13)
    np.testing.assert_allclose(gather_near(near, weight, value), mean, rtol=1e-13)
    assert arrived @ value == pytest.approx(mass @ np.array(mean))


# --- where a seat goes that leaves its plan ---


def random_kernel(seed: int) -> tuple[Model, MaskedKernel]:
    rng = np.random.default_rng(seed)
    model = toy_model()
    n = model.card.n_targets
    kernel = change_kernel(model.card, model.prior, model.weights["destination"], n_near=4)
    fits = rng.random(n) < (0.0, 0.15, 0.5, 1.0, 0.3, 0.7)[seed % 6]
    return model, masked(kernel, fits, rng.dirichlet(np.ones(4), size=4))


def dense(kernel: MaskedKernel, weights: dict[str, float]) -> list[list[float]]:
    """The kernel row by row: shares renormalised over what fits, the rest in proportion."""
    base, where = kernel.base, kernel.destinations.tolist()
    n = len(kernel.fits)
    fitting = [h for h in range(n) if kernel.fits[h] > 0]
    rows = []
    for g in range(n + 3):
        origin = 0 if g < n else g - n + 1
        row = [0.0] * n + where[origin][1:]
        near = dict(zip(base.near[g].tolist(), base.near_weight[g], strict=True)) if g < n else {}
        same = [("hand", base.hand_of), ("family", base.family_of)] if g < n else []
        parts = [(weights["near"], {h: near[h] for h in near if h in fitting})] if g < n else []
        for name, label in same:
            alike = {h: base.prior[h] for h in fitting if label[h] == label[g] and h != g}
            parts.append((weights[name], alike))
        parts.append((weights["anywhere"], {h: base.prior[h] for h in fitting if h != g}))
        parts = [(share, part) for share, part in parts if sum(part.values()) > 0]
        total = sum(share for share, _ in parts)
        for share, part in parts:
            for h, weight in part.items():
                row[h] += where[origin][0] * share / total * weight / sum(part.values())
        if not parts:  # back to where it was, if that is allowed
            row[g if g in fitting else -1] += where[origin][0]
        rows.append(row)
    return rows


@pytest.mark.parametrize("seed", range(12))
def test_the_kernel_is_its_dense_matrix(seed: int) -> None:
    model, kernel = random_kernel(seed)
    rows = np.array(dense(kernel, dict(model.weights["destination"])))
    rng = np.random.default_rng(seed)
    leaving, message = rng.random(model.n_rows), rng.random(model.n_rows)
    np.testing.assert_allclose(rows.sum(axis=1), 1.0, rtol=1e-13)
    np.testing.assert_allclose(kernel.forward(leaving), leaving @ rows, rtol=0, atol=1e-13)
    np.testing.assert_allclose(kernel.backward(message), rows @ message, rtol=0, atol=1e-13)
    assert kernel.forward(leaving).sum() == pytest.approx(leaving.sum(), abs=1e-12)
    assert not kernel.forward(leaving)[:-3][kernel.fits == 0].any()


def test_a_card_of_one_target_has_a_kernel() -> None:
    card = toy_card()
    one = CompiledCard(
        "one", "one", card.families[:1], card.hands[:1], card.hand_of[:1], card.group_kind[:1],
        card.group_size[:1], card.group_joker[:1], card.demand[:1], card.rules,
    )  # fmt: skip
    model = build_model(one)
    kernel = masked(model.kernel, np.array([True]), np.full((4, 4), 0.25))
    assert kernel.forward(np.ones(4)).sum() == pytest.approx(4.0)


# --- finishing ---


@pytest.mark.parametrize("seed", SEEDS)
def test_needs_and_finish_equal_plain_loops(seed: int) -> None:
    card, rng = some_card(seed), np.random.default_rng(seed)
    left, free = some_left(card, rng), some_free(rng).astype(np.int64)
    plan = rng.random(card.n_targets) * (rng.random(card.n_targets) < 0.8)
    enough = np.sort(rng.random((N_KINDS, 15)), axis=1)[:, ::-1].copy()
    mends = np.sort(rng.random(15))[::-1].copy()
    fits = rng.random(card.n_targets) < 0.8
    needs, finish = np.zeros(N_KINDS), np.zeros(card.n_targets)
    fill_needs(card.group_kind, left, plan, needs)
    fill_finish(
        card.group_kind, card.group_size, card.group_joker, left, fits, free, enough, mends, finish
    )
    expected_needs, expected = [0.0] * N_KINDS, []
    for g in range(card.n_targets):
        groups = [
            (int(card.group_kind[g, j]), int(card.group_size[g, j]), bool(card.group_joker[g, j]))
            for j in np.flatnonzero(left[g])
        ]
        for kind in {kind for kind, _, _ in groups}:
            expected_needs[kind] += plan[g]
        prob, short = 1.0, sum(max(0, size - free[k]) for k, size, joker in groups if joker)
        for kind in {kind for kind, _, joker in groups if not joker}:
            prob *= enough[kind][sum(s for k, s, joker in groups if k == kind and not joker)]
        expected.append(prob * mends[min(short, 14)] if fits[g] else 0.0)
    np.testing.assert_allclose(needs, expected_needs, rtol=1e-12)
    np.testing.assert_allclose(finish, expected, rtol=1e-12)
    assert needs[JOKER] == 0


def test_tails_are_those_of_the_binomial() -> None:
    rng = np.random.default_rng(8)
    trials, prob = rng.integers(0, 17, 40), rng.random(40)
    prob[:2] = 0.0, 1.0
    out = np.empty((40, 15))
    fill_tails(trials, prob, out)
    np.testing.assert_allclose(out, binomial_tails(trials, prob, 14), atol=1e-13)
    published = binom.sf(np.arange(15) - 1, trials[:, None], prob[:, None])
    np.testing.assert_allclose(out, published, atol=1e-12)
