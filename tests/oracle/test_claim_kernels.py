"""Compiled kernels of claims against the same numbers reckoned plainly."""

from __future__ import annotations

import numpy as np
import pytest

from handread.clues.claim_kernels import (
    answer,
    fill_answers,
    fill_claim_table,
    fill_copies,
    fill_held,
    fill_shown,
)
from handread.clues.claims import ANEW, N_MASKS, OPEN_TO, SHAPES, can_make, tilted
from handread.clues.codes import N_UNMODELLED, claim_masks_plain
from handread.clues.holding import prob_copies
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


def some_counts(rng: np.random.Generator, seed: int) -> tuple[int, int, int, int, int, int, float]:
    """As ``claims.counts`` gives them: copies, jokers, pool, unknown, turn, known, within."""
    copies, jokers = int(rng.integers(9)), int(rng.integers(9))
    pool = copies + jokers + int(rng.integers(60))
    unknown = int(rng.integers(min(pool, 13) + 1))
    return copies, jokers, pool, unknown, 3 * seed, seed % 3, float(rng.exponential())


def plain_held(
    copies: int, jokers: int, pool: int, unknown: int, turn: int, known: int, within: float
) -> Array:
    """What a seat may hold, from the plain chances."""
    blind = copies * unknown / max(pool, 1)
    ratio = within / blind if blind > 0 else 1.0
    out = np.empty((3, 17))
    for row, chances in enumerate((
        prob_copies(copies, pool + turn, unknown + turn), prob_copies(copies, pool, unknown),
    )):  # fmt: skip
        odds = np.array([float(chances[n]) * ratio**n for n in range(17)])
        out[row] = odds / odds.sum()
    wild = prob_copies(jokers, pool + turn, unknown + turn)
    out[2] = [wild[(n - known) % 17] for n in range(17)]
    return out


@pytest.mark.parametrize("seed", range(40))
def test_copies_are_held_by_the_same_chances(seed: int) -> None:
    rng, out = np.random.default_rng(seed), np.empty(17)
    pool = int(rng.integers(1, 160))
    copies, reach = int(rng.integers(min(pool, 16) + 1)), int(rng.integers(pool + 1))
    fill_copies(copies, pool, reach, out)
    np.testing.assert_allclose(out, prob_copies(copies, pool, reach), rtol=1e-13)


@pytest.mark.parametrize("seed", range(12))
def test_holdings_are_tilted_and_known_jokers_come_on_top(seed: int) -> None:
    numbers, out = some_counts(np.random.default_rng(seed), seed), np.empty((3, 17))
    fill_held(*numbers, out)
    np.testing.assert_allclose(out, plain_held(*numbers), rtol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_table_of_claims_is_what_can_be_made_by_who_is_willing(seed: int) -> None:
    rng = np.random.default_rng(seed + 10)
    held, rate = np.array([some_chances(rng) for _ in range(3)]), rng.random(len(SHAPES))
    copies, more_jokers = (0.0, 0.0) if seed == 0 else rng.normal(size=2).tolist()
    anew, loose = float(rng.random()), rng.random(N_UNMODELLED + 1)
    table = np.empty((ANEW + 1, len(SHAPES)))
    fill_claim_table(held, copies, more_jokers, rate, anew, loose, table)
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
        answers = np.empty((3, n_rows))
        fill_answers(
            card.group_kind, card.group_size, card.group_joker, card.concealed, left, fits, finish,
            np.flatnonzero(card.demand[:, kind]), kind, 15, 0.01, 0.3, table, 1.0 - right, answers,
        )  # fmt: skip
        win, takes, refuses = answers
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
        fill_shown(masks, fits, probs, table, misplay, shown)
        np.testing.assert_allclose(shown, probs @ by_row, rtol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_one_call_gives_table_and_answers_together(seed: int) -> None:
    card, rng = some_card(seed), np.random.default_rng(seed + 30)
    groups = (card.group_kind, card.group_size, card.group_joker, card.concealed)
    left, fits, finish = (
        some_left(card, rng),
        rng.random(card.n_targets) < 0.8,
        rng.random(card.n_targets),
    )
    willing, loose = rng.random(len(SHAPES)), rng.random(N_UNMODELLED + 1)
    kind, numbers = int(rng.integers(35)), some_counts(rng, seed)
    for possible in (rng.random(len(SHAPES)) < 0.7, np.zeros(len(SHAPES), dtype=np.bool_)):
        table, answers = np.full((ANEW + 1, len(SHAPES)), 7.0), np.empty((3, len(fits) + 3))
        wrong = answer(
            *numbers, 0.4, -0.2, willing, possible, 0.1, loose, *groups, left, fits, finish,
            card.wanting[kind], kind, 15, 0.01, 0.3, 0.02, table, answers,
        )  # fmt: skip
        assert wrong == (0.02 if possible.any() else 0.0)
        expected, plain = np.zeros_like(table), np.empty_like(answers)
        fill_claim_table(
            plain_held(*numbers), 0.4, -0.2, willing * possible, 0.1, loose, expected
        )  # fmt: skip
        np.testing.assert_allclose(table, expected, rtol=1e-12, atol=1e-16)
        fill_answers(
            *groups, left, fits, finish, card.wanting[kind], kind, 15, 0.01, 0.3, expected, wrong,
            plain,
        )  # fmt: skip
        np.testing.assert_allclose(answers, plain, rtol=1e-12)
