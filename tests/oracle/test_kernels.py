"""Compiled kernels and the change of plan against plain loops over the same numbers."""

from __future__ import annotations

import numpy as np
import pytest

import handread as hr
from handread.card.compiled import CompiledCard
from handread.clues.codes import (
    N_CODES,
    N_UNMODELLED,
    claim_masks,
    claim_masks_plain,
    match_exposures,
    nearby_use,
    use_codes,
    use_codes_plain,
)
from handread.clues.kernels import (
    fill_redeems,
    fill_turned_up,
    gather_many,
    gather_pair,
    gather_throws,
)
from handread.clues.redeems import redeem_probs
from handread.clues.wants import codes_of, wants_of
from handread.reading.family_kernels import drift_families, pass_and_show, sum_families
from handread.reading.kernel import MaskedKernel, change_kernel, masked, near_halves
from handread.reading.kernels import FAR, gather_near, mass_near, nearest, turn_round
from handread.reading.model import Model, build_model
from handread.tiles import COPIES, N_KINDS
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
        wants, n_rows = wants_of(card, left, nearby), card.n_targets + N_UNMODELLED
        for row in (*rng.integers(0, n_rows, 20).tolist(), *range(n_rows - 4, n_rows)):
            own_codes, own_blocked = codes_of(wants, free, row)
            np.testing.assert_array_equal(own_codes, plain_codes[row])
            assert own_blocked == [*plain_blocked, 0, 0, 0][row]


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
    other = rng.exponential(size=(N_CODES, N_KINDS))
    pair = gather_pair(table, other, codes, kind)
    np.testing.assert_allclose(pair[0], throws, rtol=1e-13)
    np.testing.assert_array_equal(pair[1], gather_throws(other, codes, kind))


@pytest.mark.parametrize("seed", SEEDS)
def test_wants_are_the_groups_left_counted_by_kind(seed: int) -> None:
    card, rng = some_card(seed), np.random.default_rng(seed + 20)
    left = some_left(card, rng)
    wants = wants_of(card, left, np.zeros(card.demand.shape, dtype=np.uint8))
    for g in range(card.n_targets):
        groups = [
            (int(card.group_kind[g, j]), int(card.group_size[g, j]), bool(card.group_joker[g, j]))
            for j in np.flatnonzero(left[g])
        ]
        kinds = list(dict.fromkeys(kind for kind, _, _ in groups))
        bare = dict.fromkeys((kind for kind, _, joker in groups if not joker), 0)
        for kind, size, joker in groups:
            if not joker:
                bare[kind] += size
        with_jokers = [(kind, size) for kind, size, joker in groups if joker]
        n = left.shape[1]
        assert wants.kinds[g].tolist() == kinds + [N_KINDS] * (n - len(kinds))
        assert wants.bare[g].tolist() == [*bare.values()] + [0] * (n - len(bare))
        assert wants.bare_kinds[g][: len(bare)].tolist() == list(bare)
        sizes = [size for _, size in with_jokers]
        assert wants.open[g].tolist() == sizes + [0] * (n - len(sizes))
        assert wants.open_kinds[g][: len(sizes)].tolist() == [kind for kind, _ in with_jokers]


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
def test_near_targets_turned_round_are_the_same_numbers(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n, size = 20, 4
    near = np.array([rng.permutation(n)[:size] for _ in range(n)], dtype=np.int32)
    apart = rng.integers(0, 6, size=(n, size), dtype=np.uint8)
    apart[rng.random((n, size)) < 0.3] = FAR
    first, origin, turned = turn_round(near, apart)
    found = {
        (int(origin[i]), h): int(turned[i]) for h in range(n) for i in range(first[h], first[h + 1])
    }
    plain = {(g, int(near[g, j])): int(apart[g, j]) for g in range(n) for j in range(size)}
    assert found == {pair: each for pair, each in plain.items() if each < FAR}
    pull, value = rng.random(n), rng.random(n)
    weight = np.where(apart < FAR, 0.5**apart, 0.0) * pull[near]
    np.testing.assert_array_equal(near_halves(apart) * pull[near], weight)
    mean = [sum(weight[g, j] * value[near[g, j]] for j in range(size)) for g in range(n)]
    np.testing.assert_allclose(gather_near(near, weight, value), mean, rtol=1e-13)
    keep = rng.random(n) < 0.5
    kept = gather_near(near, weight, keep.astype(np.float64))
    np.testing.assert_allclose(mass_near(first, origin, turned, pull, keep), kept, rtol=1e-13)


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


@pytest.mark.parametrize("seed", range(12))
def test_the_drift_by_family_is_that_of_the_dense_matrix(seed: int) -> None:
    model, kernel = random_kernel(seed)
    rows = np.array(dense(kernel, dict(model.weights["destination"])))
    rng = np.random.default_rng(seed)
    probs, quiet, hazard = rng.random((3, model.n_rows))
    out = np.empty(len(model.row_names))
    drift_families(
        probs, quiet, hazard, kernel.to_family, kernel.prior_by_family, kernel.any_mass,
        kernel.destinations, model.family_rows, out,
    )  # fmt: skip
    held = quiet * probs / (quiet @ probs)
    told = model.by_family((1.0 - hazard) * held + (hazard * held) @ rows)
    np.testing.assert_allclose(out, told, rtol=0, atol=1e-13)


def test_four_seats_are_summed_by_family_to_the_bit() -> None:
    model = random_kernel(0)[0]
    probs = np.random.default_rng(0).random((4, model.n_rows))
    out = np.empty((4, len(model.row_names)))
    sum_families(*probs, model.family_rows, out)
    np.testing.assert_array_equal(out, [model.by_family(rows) for rows in probs])


def test_who_passes_and_who_shows_a_group_are_plain_sums() -> None:
    win, takes, probs = np.random.default_rng(0).random((3, 500))
    passes = (1.0 - win) * probs
    np.testing.assert_allclose(
        pass_and_show(win, takes, probs), (passes.sum(), takes @ passes), rtol=1e-13
    )


def test_a_card_of_one_target_has_a_kernel() -> None:
    card = toy_card()
    one = CompiledCard(
        "one", "one", card.families[:1], card.hands[:1], card.hand_of[:1], card.group_kind[:1],
        card.group_size[:1], card.group_joker[:1], card.demand[:1], card.rules,
    )  # fmt: skip
    model = build_model(one)
    kernel = masked(model.kernel, np.array([True]), np.full((4, 4), 0.25))
    assert kernel.forward(np.ones(4)).sum() == pytest.approx(4.0)


# --- copies that turn up elsewhere ---


@pytest.mark.parametrize("seed", SEEDS)
def test_copies_elsewhere_equal_plain_sums(seed: int) -> None:
    card, rng = some_card(seed), np.random.default_rng(seed + 90)
    prior, fits = rng.dirichlet(np.ones(card.n_targets)), rng.random(card.n_targets) < 0.6
    shown, kinds = rng.integers(0, 3, size=N_KINDS), rng.choice(N_KINDS, size=3, replace=False)
    nats = -rng.random(3)
    found = np.empty(card.n_targets)
    fill_turned_up(
        *card.wanted, shown, kinds, nats, prior, fits.astype(float), float(prior @ fits), found
    )
    wanted = np.maximum(card.demand[:, kinds].astype(np.int64) - shown[kinds], 0)
    ratio = np.exp(wanted @ nats)
    expected = ratio * (prior @ fits) / (prior * fits @ ratio)
    np.testing.assert_allclose(found, expected, rtol=1e-13)


# --- throws and redeems, row by row ---


def some_codes(rng: np.random.Generator, n_rows: int = 40) -> np.ndarray:
    return rng.integers(0, N_CODES, size=(n_rows, N_KINDS), dtype=np.uint8)


@pytest.mark.parametrize("seed", SEEDS)
def test_redeems_equal_their_plain_twin(seed: int) -> None:
    rng = np.random.default_rng(seed + 110)
    codes, kinds = some_codes(rng), rng.choice(N_KINDS, size=1 + seed % 3, replace=False)
    rates = rng.random((len(kinds), N_CODES)) * (rng.random((len(kinds), N_CODES)) < 0.7)
    each, none = np.empty((len(codes), len(kinds))), np.empty(len(codes))
    fill_redeems(rates, codes, kinds, each, none)
    by_row = np.stack([rates[i, codes[:, kind]] for i, kind in enumerate(kinds)], axis=1)
    plain_each, plain_none = redeem_probs(by_row)
    np.testing.assert_allclose(each, plain_each, rtol=1e-13, atol=1e-16)
    np.testing.assert_allclose(none, plain_none, rtol=1e-13)
