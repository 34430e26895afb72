"""A throw as a step against its parts, each worked out for all rows and multiplied."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

import handread as hr
from handread.clues import load_weights
from handread.clues.codes import use_codes_plain
from handread.clues.hazard import destinations, prob_leaving
from handread.clues.redeems import redeem_probs, redeem_rates
from handread.clues.wants import wants_of
from handread.clues.wins import prob_win_drawn
from handread.reading import start_belief
from handread.reading.belief import show
from handread.reading.kernel import masked
from handread.reading.likelihood import leaving, quiet_turn, throw_step, throw_tables
from handread.reading.looking import Seen
from handread.reading.model import Model, build_model
from handread.reading.step import Step
from handread.reading.throwing import throw_marks, throw_scores
from handread.table.events import Discard
from handread.table.state import Exposure
from handread.testing import random_context
from handread.tiles import COPIES, JOKER, N_KINDS
from tests.oracle.toy import toy_model

SEEDS = range(12)
#: Weights at which what a plan needs is all but never thrown, as far as clues may go.
STEEP = {
    "use.single": -6.0, "use.pair": -6.0, "use.pung": -6.0, "use.kong": -6.0,
    "repeats.needed": -3.0, "pause.weight": 1.0, "rack_position.weight": 1.0,
}  # fmt: skip


@lru_cache(maxsize=4)
def model_of(which: int) -> Model:
    if which == 0:
        return toy_model()
    if which == 1:
        return hr.build_model(hr.house_card())
    if which == 2:
        return build_model(hr.load_card("harbour"), weights=load_weights().replace(STEEP))
    clues = tuple(
        replace(clue, looks_at=None, counts=None, counts_beside=(), mark_reads=None)
        for clue in toy_model().clues
    )
    return replace(toy_model(), clues=clues)


def some_seen(seed: int) -> tuple[Seen, Discard, tuple[int, ...]]:
    """A moment of a seat, with copies and groups left at random, and its throw."""
    rng, model = np.random.default_rng(seed), model_of(seed % 4)
    reach = rng.random(N_KINDS) * (rng.random(N_KINDS) < (0.9, 0.3, 0.1)[seed % 3])
    kind = int(rng.integers(N_KINDS))
    reach[kind] = 0.3
    context = replace(random_context(rng), within_reach=reach)
    belief = start_belief(model, 1)
    if seed % 3 == 1:
        left = (model.card.group_size > 0) & (rng.random(model.card.group_size.shape) < 0.7)
        fits = rng.random(model.card.n_targets) < 0.6
        wants = wants_of(model.card, left, model.nearby)
        kernel = masked(model.kernel, fits, np.eye(4))
        belief = replace(belief, fits=fits, left=left, wants=wants, kernel=kernel)
    free = np.minimum(rng.integers(0, 2 + seed % 8, size=N_KINDS), COPIES).astype(np.int64)
    event = Discard(
        1, kind, drawn=(None, True, False)[seed % 3],
        position=(None, "end", "middle")[seed // 3 % 3], pause=(None, 3.0, 40.0)[seed // 2 % 3],
    )  # fmt: skip
    offers = tuple(sorted(rng.choice(N_KINDS, size=seed % 3, replace=False).tolist()))
    return Seen(model, belief, context, free, rng.random(model.card.n_targets)), event, offers


def plain_step(seen: Seen, event: Discard, offers: tuple[int, ...]) -> Step:
    """Slow twin of ``throw_step``: every part for every row."""
    model, context, weights = seen.model, seen.context, seen.model.weights
    codes, blocked = use_codes_plain(model.card, seen.belief.left, seen.free, model.nearby)
    base, keep, change = throw_scores(seen)
    column, throws = codes[:, event.kind], []
    for scores, marks in zip((keep, change), throw_marks(seen, event), strict=True):
        table = np.exp(base + scores.sum(axis=0))
        odds = table[column, event.kind] / table[codes, np.arange(N_KINDS)].sum(axis=1)
        throws.append(odds * np.exp(marks.sum(axis=0))[column])
    none = np.ones(model.n_rows)
    if offers:
        rates = [redeem_rates(context, kind, weights["redeems"])[codes[:, kind]] for kind in offers]
        none = redeem_probs(np.stack(rates, axis=1))[1]
    quiet = none * (1.0 - prob_win_drawn(seen.finish, context, weights["wins"]))
    leaves = prob_leaving(context, blocked, weights["hazard"])
    where = destinations(context, weights["destination"])
    kernel = seen.belief.kernel.with_destinations(where)
    return Step(quiet * (1.0 - leaves) * throws[0], quiet * leaves * throws[1], kernel)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_throw_is_the_product_of_its_parts(seed: int) -> None:
    seen, event, offers = some_seen(seed)
    rng, n = np.random.default_rng(seed), seen.model.n_rows
    step, plain = throw_step(seen, event, offers), plain_step(seen, event, offers)
    few = rng.random(n) * (rng.random(n) < 0.1)
    for belief in (rng.random(n), few, np.eye(n)[-1]):
        np.testing.assert_allclose(step.forward(belief), plain.forward(belief), rtol=1e-13)
    assert plain.move is not None
    assert step.move is not None
    np.testing.assert_allclose(step.keep, plain.keep, rtol=1e-13)
    np.testing.assert_allclose(step.move, plain.move, rtol=1e-13)
    message = rng.random(n)
    np.testing.assert_allclose(step.backward(message), plain.backward(message), rtol=1e-13)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_odds_of_a_throw_are_its_scores_summed(seed: int) -> None:
    seen, event, offers = some_seen(seed)
    base, keep, change = throw_scores(seen)
    for found, scores in zip(throw_tables(seen), (keep, change), strict=True):
        np.testing.assert_allclose(found, np.exp(base + scores.sum(axis=0)), rtol=1e-13)
    codes, blocked = use_codes_plain(
        seen.model.card, seen.belief.left, seen.free, seen.model.nearby
    )
    np.testing.assert_array_equal(seen.codes, codes)
    weights = seen.model.weights["hazard"]
    np.testing.assert_array_equal(leaving(seen), prob_leaving(seen.context, blocked, weights))
    assert quiet_turn(seen, offers).shape == (seen.model.n_rows,)
    assert event.kind < N_KINDS


def test_two_groups_of_one_kind_lack_tiles_each_on_its_own() -> None:
    """No card that comes with the library has two such groups with jokers; a user's may."""
    card = hr.load_card("small")
    kinds, demand = card.group_kind.copy(), card.demand.copy()
    doubled = 0
    for g in range(card.n_targets):
        one, two = np.append(np.flatnonzero(card.group_joker[g]), [-1, -1])[:2]
        if two >= 0:
            demand[g, kinds[g, two]] -= card.group_size[g, two]
            kinds[g, two] = kinds[g, one]
            demand[g, kinds[g, one]] += card.group_size[g, two]
            doubled += 1
    assert doubled > 10
    model = hr.build_model(replace(card, group_kind=kinds, demand=demand))
    seen, event, offers = some_seen(3)
    rng, n = np.random.default_rng(3), model.card.n_targets
    belief, reach = start_belief(model, 1), 0.1 + rng.random(N_KINDS)
    context = replace(seen.context, within_reach=reach)
    for copies in range(5):
        free = np.full(N_KINDS, copies, dtype=np.int64)
        seen = Seen(model, belief, context, free, rng.random(n))
        found, plain = (make(seen, event, offers) for make in (throw_step, plain_step))
        np.testing.assert_allclose(found.keep, plain.keep, rtol=1e-12)
        assert plain.move is not None
        assert found.move is not None
        np.testing.assert_allclose(found.move, plain.move, rtol=1e-12)


def test_a_throw_equals_the_step_of_its_fields() -> None:
    step = throw_step(*some_seen(1))
    same = Step(step.keep, step.move, step.kernel)
    assert step == same
    assert same == step
    assert step == throw_step(*some_seen(1))
    assert step != throw_step(*some_seen(5))
    assert not step.keep.flags.writeable
    assert "leak=None" in repr(step)
    with pytest.raises(AttributeError):
        step.leak = np.ones(1)  # type: ignore[misc]


def test_a_seat_whose_groups_no_hand_allows_throws_by_no_plan() -> None:
    model = model_of(1)
    belief = show(model, start_belief(model, 0), (Exposure(4, 5, 0), Exposure(13, 5, 0)))
    assert not belief.fits.any()
    seen, event, offers = some_seen(1)
    seen = replace(seen, belief=belief)
    probs = np.concatenate([np.zeros(model.card.n_targets), [0.0, 0.3, 0.7]])
    found = throw_step(seen, event, offers).forward(probs)
    np.testing.assert_allclose(found, plain_step(seen, event, offers).forward(probs), rtol=1e-13)


@pytest.mark.parametrize("target", [0, 400, 1100])
def test_a_throw_of_what_is_all_but_never_thrown_keeps_its_digits(target: int) -> None:
    """All that is within reach is wanted by one target: its odds are little beside the others'."""
    (seen, _, _), model = some_seen(2), model_of(2)
    wanted = np.flatnonzero(model.card.demand[target, :JOKER])
    reach, own = np.zeros(N_KINDS), np.full(N_KINDS, 2)
    reach[wanted] = 1.0
    context = replace(seen.context, within_reach=reach, own_thrown=own)
    seen = replace(seen, context=context, free=COPIES.astype(np.int64))
    event = Discard(1, int(wanted[0]))
    probs = np.full(model.n_rows, 1.0 / model.n_rows)
    found, plain = (make(seen, event, ()) for make in (throw_step, plain_step))
    assert plain.keep[target] > 0
    np.testing.assert_allclose(found.keep, plain.keep, rtol=1e-13)
    np.testing.assert_allclose(found.forward(probs), plain.forward(probs), rtol=1e-13)
