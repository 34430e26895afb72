"""Products of weights make the very scores of the clues; other terms are asked as they are."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from handread.clues import load_weights, registry
from handread.clues.claims import (
    ANEW,
    N_MASKS,
    OPEN_TO,
    SHAPES,
    claim_table,
    holdings,
    possible_shapes,
)
from handread.clues.codes import N_UNMODELLED
from handread.clues.hazard import prob_leaving
from handread.clues.redeems import redeem_rates
from handread.errors import HandreadError
from handread.fitting.affine import find_basis, made_up_context
from handread.fitting.asking import affine, leaving_odds, note_odds, redeem_offers
from handread.fitting.mode.claims import HELD, ClaimRows, claim_probs
from handread.table.events import Discard

LORE = load_weights()


@pytest.mark.parametrize("side", ["keep", "change"])
def test_products_make_the_scores_of_all_clues(side: str) -> None:
    basis, rng = find_basis(registry()), np.random.default_rng(7)
    for _ in range(20):
        context = made_up_context(rng=rng)
        blocks = {
            clue.name: {name: float(rng.normal()) for name in clue.defaults} for clue in registry()
        }
        constant, tables = basis.tables(context, side)
        made = constant + np.tensordot(basis.values(blocks), tables, axes=1)
        told = sum(getattr(clue, side)(context, blocks[clue.name]) for clue in registry())
        assert made == pytest.approx(told, abs=1e-9)


def test_a_clue_that_is_no_polynomial_is_named() -> None:
    use = next(clue for clue in registry() if clue.name == "use")

    def squared(context: object, weights: dict[str, float]) -> np.ndarray:
        return np.full((16, 36), weights["pair"] ** 2)

    with pytest.raises(HandreadError, match="'use' is no sum of products"):
        find_basis((replace(use, keep=squared),))


def test_products_do_not_hang_on_the_probes() -> None:
    assert find_basis(registry()) == find_basis(registry(), seed=99)


def test_notes_are_asked_of_their_clue() -> None:
    clue = next(clue for clue in registry() if clue.name == "drawn_or_held")
    rng = np.random.default_rng(5)
    for _ in range(8):
        context = made_up_context(rng=rng)
        found = note_odds(clue, context)
        assert found is not None
        weights = {name: float(rng.normal()) for name in clue.defaults}
        odds = found.constant + found.slopes @ np.array(list(weights.values()))
        marks = clue.mark(context, Discard(context.seat, 0, drawn=True), weights)
        assert marks is not None
        assert np.exp(marks) == pytest.approx(1 / (1 + np.exp(-odds)))
    pause = next(clue for clue in registry() if clue.name == "pause")
    assert note_odds(pause, made_up_context(rng=rng)) is None


def test_rates_of_leaving_are_asked_of_the_hazard() -> None:
    names, rng = tuple(LORE["hazard"]), np.random.default_rng(6)
    for _ in range(6):
        context, blocked = made_up_context(rng=rng), rng.integers(0, 4, 5)
        found = leaving_odds(context, blocked, names)
        weights = {name: float(rng.uniform(0.05, 0.9)) for name in names}
        values = np.array(list(weights.values()))
        told = prob_leaving(context, blocked, weights)
        prob = 1 / (1 + np.exp(-(found.constant + found.slopes @ values)))
        assert told[:-N_UNMODELLED] == pytest.approx(prob)
        assert told[-N_UNMODELLED:] == pytest.approx(values[found.rate])


def test_redeems_are_asked_of_their_rates() -> None:
    names, rng = tuple(LORE["redeems"]), np.random.default_rng(8)
    context, kinds = made_up_context(rng=rng), (3, 9, 20, 30)
    held, which = redeem_offers(context, kinds, names)
    weights = {name: float(rng.random()) for name in names}
    rates = np.array([weights[name] for name in names])[which]
    for i, kind in enumerate(kinds):
        assert held[i] * rates[i] == pytest.approx(redeem_rates(context, kind, weights))


def test_claims_are_what_the_tiles_allow_times_the_rates() -> None:
    rng = np.random.default_rng(9)
    for _ in range(20):
        weights = {name: float(rng.uniform(0.1, 1.0)) for name in LORE["claims"]}
        context = replace(made_up_context(rng=rng), concealed=13, may_show=True)
        possible, held = possible_shapes(context, 5, (3, 4, 5, 6)), holdings(context, 5)
        told = claim_table(context, 5, possible, weights)
        n = N_MASKS + N_UNMODELLED
        columns = {name: np.tile(getattr(held, name), (n, 1)) for name in HELD}
        columns |= {
            "loose": np.array([0] * N_MASKS + [1, 2, 3]), "turn": np.full(n, context.turn),
            "open": np.concatenate([OPEN_TO, np.ones((3, len(SHAPES)))]) * possible,
            "possible": np.tile(possible, (n, 1)),
        }  # fmt: skip
        planned, anew = claim_probs(columns, weights)
        assert planned == pytest.approx(told[:n], abs=1e-12)
        assert anew[:N_MASKS] == pytest.approx(np.tile(told[ANEW], (N_MASKS, 1)), abs=1e-12)
        assert not anew[N_MASKS:].any()
        outcome = rng.integers(-1, len(SHAPES), n)
        columns |= {"outcome": outcome, "anew": rng.random(n) < 0.3}
        others = [weights | {name: float(rng.uniform(0.1, 1.0))} for name in weights]
        many = ClaimRows(columns).log_probs([weights, *others])
        for one, setting in zip(many, [weights, *others], strict=True):
            assert np.array_equal(one, ClaimRows(columns).log_probs([setting])[0])
        told = many[0]
        for i in range(n):
            shown = (anew if columns["anew"][i] else planned)[i, outcome[i]]
            prob = shown if outcome[i] >= 0 else 1.0 - planned[i].sum() - anew[i].sum()
            assert told[i] == pytest.approx(np.log(max(prob, 1e-300)), rel=1e-9)


def test_log_odds_that_bend_are_refused() -> None:
    with pytest.raises(HandreadError, match="not affine"):
        affine(lambda w: np.array([w["a"] ** 2 + w["b"]]), ("a", "b"))
