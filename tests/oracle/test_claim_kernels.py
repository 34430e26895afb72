"""Compiled kernels of claims against the same numbers reckoned plainly."""

from __future__ import annotations

import numpy as np
import pytest

from handread.clues.claim_kernels import fill_answers, fill_claim_table, fill_held, fill_shown
from handread.clues.claims import (
    ANEW,
    N_JOKERS,
    N_MASKS,
    OPEN_TO,
    SHAPES,
    SIZES,
    can_make,
    tilted,
)
from handread.clues.codes import N_UNMODELLED, claim_masks_plain
from handread.tiles import N_KINDS
from tests.oracle.test_kernels import some_card, some_left

SEEDS = range(6)
Array = np.ndarray


def some_chances(rng: np.random.Generator) -> Array:
    return rng.dirichlet(np.ones(17))


def some_table(rng: np.random.Generator) -> Array:
    table = rng.random((ANEW + 1, len(SHAPES))) / 40
    table[:N_MASKS] *= OPEN_TO
    return table


@pytest.mark.parametrize("seed", SEEDS)
def test_holdings_are_tilted_and_known_jokers_come_on_top(seed: int) -> None:
    rng = np.random.default_rng(seed)
    kept, loose, jokers = (some_chances(rng) for _ in range(3))
    ratio, known, out = float(rng.exponential()), seed % 3, np.empty((3, 17))
    fill_held(kept, loose, jokers, ratio, known, out)
    for found, chances in zip(out, (kept, loose), strict=False):
        odds = [float(chances[n]) * ratio**n for n in range(17)]
        np.testing.assert_allclose(found, np.array(odds) / sum(odds), rtol=1e-12)
    np.testing.assert_array_equal(out[2], [jokers[(n - known) % 17] for n in range(17)])


@pytest.mark.parametrize("seed", SEEDS)
def test_the_table_of_claims_is_what_can_be_made_by_who_is_willing(seed: int) -> None:
    rng = np.random.default_rng(seed + 10)
    held, rate = np.array([some_chances(rng) for _ in range(3)]), rng.random(len(SHAPES))
    copies, more_jokers = (0.0, 0.0) if seed == 0 else rng.normal(size=2).tolist()
    anew, loose = float(rng.random()), rng.random(N_UNMODELLED + 1)
    table = np.empty((ANEW + 1, len(SHAPES)))
    fill_claim_table(held, copies, more_jokers, rate, OPEN_TO, anew, loose, SIZES, N_JOKERS, table)
    jokers = tilted(held[2], more_jokers)
    planned = OPEN_TO * (can_make(tilted(held[0], copies), jokers) * rate) * (1.0 - anew)
    any_plan = np.outer(loose, can_make(held[1], jokers) * rate)
    np.testing.assert_allclose(table, np.vstack([planned, any_plan]), rtol=1e-12, atol=1e-16)


@pytest.mark.parametrize("seed", SEEDS)
def test_answers_and_groups_shown_equal_plain_loops(seed: int) -> None:
    card, rng = some_card(seed), np.random.default_rng(seed + 20)
    left, fits = some_left(card, rng), rng.random(card.n_targets) < 0.8
    finish, table = rng.random(card.n_targets), some_table(rng)
    n_rows = card.n_targets + N_UNMODELLED
    probs = rng.dirichlet(np.ones(n_rows)) * 0.9
    misplay = rng.random(len(SHAPES)) / 100
    right = 1.0 - float(misplay.sum())
    for kind in rng.permutation(N_KINDS)[:5].tolist():
        masks, share = claim_masks_plain(card, left, kind)
        win, takes, refuses = np.empty((3, n_rows))
        fill_answers(
            card.group_kind, card.group_size, card.group_joker, card.demand_by_kind,
            card.concealed, left, fits, finish, kind, 15, 0.01, 0.3, table, N_JOKERS, 1.0 - right,
            win, takes, refuses,
        )  # fmt: skip
        by_row = np.zeros((n_rows, len(SHAPES)))
        for row in range(n_rows):
            target = row < card.n_targets
            for s, (_, jokers) in enumerate(SHAPES):
                if not target:
                    by_row[row, s] = right * table[N_MASKS + row - card.n_targets, s]
                    continue
                mask = int(masks[min(jokers, 1), row]) if fits[row] else 0
                n_open = max(int(masks[0, row]).bit_count(), 1)
                by_row[row, s] = right * (table[mask, s] / n_open + table[ANEW, s])
            by_row[row] += misplay
        wins = [*(0.01 + 0.3 * finish * share), *[0.01] * N_UNMODELLED]
        np.testing.assert_allclose(win, wins, rtol=1e-13)
        np.testing.assert_allclose(takes, by_row.sum(axis=1), rtol=1e-12)
        np.testing.assert_allclose(refuses, (1.0 - win) * (1.0 - takes), rtol=1e-15)
        shown = np.empty(len(SHAPES))
        fill_shown(masks, fits, probs, table, N_JOKERS, misplay, shown)
        np.testing.assert_allclose(shown, probs @ by_row, rtol=1e-12)
