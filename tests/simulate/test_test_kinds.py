"""Kinds that are there to test readers: they do what they say, and no population has them."""

from __future__ import annotations

import numpy as np
import pytest

from handread.simulate import (
    PlayCard,
    SimulatedGame,
    Style,
    default_population,
    kind_named,
    kind_names,
    kinds,
    people_of,
    play_game,
)
from handread.simulate.actions import NO
from handread.simulate.choice import log_probabilities
from handread.simulate.contract import Met, meet_decisions
from handread.simulate.kernels import tile_use
from handread.simulate.kinds.decoy import MISLEADING, SORTS, pull_scores, sort_of
from handread.simulate.kinds.folder import FOLDS_AT
from handread.study.truth import truth_rows
from handread.table.events import Discard, Expose, Redeem
from handread.tiles import JOKER, N_KINDS, SUITS, WINDS

NAMES = ("decoy", "folder", "random")


@pytest.fixture(scope="module")
def met(small: PlayCard) -> dict[str, list[Met]]:
    return {
        name: meet_decisions(kind_named(name), small, seed=71, n_games=3) for name in NAMES
    }  # fmt: skip


def game_of(card: PlayCard, name: str, seed: int) -> SimulatedGame:
    rng = np.random.default_rng(seed)
    people = tuple(people_of(name).person(f"p{i}", rng=rng) for i in range(4))
    return play_game(card, people, seed=seed)


def test_they_are_marked_and_in_no_population() -> None:
    marked = {kind.name for kind in kinds() if getattr(kind, "for_tests", False)}
    assert marked == set(NAMES)
    assert set(kind_names()) >= marked
    assert not marked & {kind for kind, _ in default_population().shares}
    assert all(kind_named(name).version == 1 for name in NAMES)


# --- decoy ---


def test_sorts_of_tiles() -> None:
    counts = np.bincount([sort_of(kind) for kind in range(N_KINDS)])
    assert counts.tolist() == [9] * len(SUITS) + [len(WINDS), 3, 1, 1]


def test_a_decoy_sheds_spare_tiles_of_its_own_sorts_first(met: dict[str, list[Met]]) -> None:
    """Against the chaser at the same views: more of the plan's main sort, none that it needs."""
    n_main, chaser = 0, kind_named("chaser")
    for one in met["decoy"]:
        view, plan, card = one.view, one.private.plan, one.player.card
        if view.decision != "throw" or plan < 0:
            continue
        mine = np.exp(one.player.log_probs(view, one.private))
        plain = log_probabilities(
            chaser.scores(card, one.player.style, view, one.private), view.legal
        )
        if view.own_turns >= MISLEADING:
            assert np.array_equal(mine, np.exp(plain))
            continue
        groups = range(int(card.targets.n[plan]))
        tiles = np.zeros(7)
        for j in groups:
            tiles[sort_of(int(card.targets.kind[plan, j]))] += card.targets.size[plan, j]
        use, _ = tile_use(card.targets, one.private.weights, view.rack, view.shown, 1.0)
        main = np.array([tiles[sort_of(k)] == tiles.max() for k in range(N_KINDS)])
        spare = main & (use == 0) & view.legal
        junk = np.array([tiles[sort_of(k)] == 0 for k in range(N_KINDS)]) & view.legal
        junk[JOKER] = False
        if spare.any() and junk.any():
            n_main += 1
            # against any one tile of junk, each spare tile has gained e^(4 / temperature)
            gained = np.log(mine[spare]).min() - np.log(np.exp(plain)[spare]).min()
            lost = np.log(mine[junk]).min() - np.log(np.exp(plain)[junk]).min()
            assert gained - lost == pytest.approx(4.0 / one.player.style.temperature, abs=1e-4)
        needed = (use == 1) & view.legal
        if needed.any():  # what it needs has gained nothing against junk
            assert np.log(mine[needed]).max() <= np.log(np.exp(plain)[needed]).max() + 1e-6
    assert n_main > 5


def test_the_pull_by_hand_and_uncompiled() -> None:
    """A plan of 6 bams, 4 craks and 4 winds pulls them as 1, 2/3 and 2/3."""
    kinds_of, sizes = np.array([0, 4, 9, 27], np.int8), np.array([3, 3, 4, 4], np.uint8)
    use = np.zeros(N_KINDS)
    use[0] = 1.0
    found = pull_scores(use, kinds_of, sizes, SORTS, 2.0)
    expected = np.array([2.0] * 9 + [4 / 3] * 9 + [0.0] * 9 + [4 / 3] * 4 + [0.0] * 5)
    expected[0] = 0.0
    assert found == pytest.approx(expected)
    assert np.array_equal(found, pull_scores.py_func(use, kinds_of, sizes, SORTS, 2.0))


# --- folder ---


def test_a_folder_folds_for_good(small: PlayCard, met: dict[str, list[Met]]) -> None:
    for one in met["folder"]:
        if one.view.decision != "plan":
            continue
        probs = np.exp(one.player.log_probs(one.view, one.private))
        shown = any(one.view.state.exposures)
        if one.private.mode == "folded" or shown or one.view.own_turns + 1 >= FOLDS_AT:
            assert probs[-1] == 1.0
        else:
            assert probs[-1] == 0.0
    for seed in range(5):
        game = game_of(small, "folder", seed)
        moments = game.truth.moments
        for seat in range(4):
            states = [moments.state_words(int(r)) for r in np.flatnonzero(moments.seat == seat)]
            first = states.index("folded") if "folded" in states else len(states)
            assert set(states[first:]) <= {"folded", "dead"}


def test_a_folder_shows_nothing_and_throws_what_is_safe(
    small: PlayCard, met: dict[str, list[Met]]
) -> None:
    for one in met["folder"]:
        if one.view.decision == "claim":
            log_probs = one.player.log_probs(one.view, one.private)
            assert not np.isfinite(log_probs[2:]).any()
    guarded = kind_named("guarded")
    folded = [m for m in met["folder"] if m.view.decision == "throw" and m.private.mode == "folded"]
    assert len(folded) > 20
    for one in folded:
        player = one.player
        expected = guarded.scores(player.card, player.style, one.view, one.private)
        found = player.kind.scores(player.card, player.style, one.view, one.private)
        np.testing.assert_array_equal(found, expected)
    for seed in range(5):
        game = game_of(small, "folder", seed)
        assert not any(isinstance(event, Expose) for event in game.record.events)


# --- random ---


def test_a_random_thrower_throws_every_kind_alike_but_jokers(met: dict[str, list[Met]]) -> None:
    throws = [one for one in met["random"] if one.view.decision == "throw"]
    assert len(throws) > 50
    for one in throws:
        probs = np.exp(one.player.log_probs(one.view, one.private))
        there = one.view.legal.copy()
        there[JOKER] = False
        assert probs[there] == pytest.approx(1.0 / there.sum())
        assert probs[JOKER] < 1e-15


def test_a_random_thrower_with_jokers_alone_throws_one(met: dict[str, list[Met]]) -> None:
    one = next(one for one in met["random"] if one.view.decision == "throw")
    legal = np.arange(N_KINDS) == JOKER
    scores = one.player.kind.scores(one.player.card, Style(), one.view, one.private)
    assert log_probabilities(scores, legal)[JOKER] == 0.0


def test_a_random_thrower_claims_nothing_and_is_undecided(
    small: PlayCard, met: dict[str, list[Met]]
) -> None:
    for one in met["random"]:
        if one.view.decision in ("claim", "redeem") and one.view.distance > 0:
            assert one.player.log_prob(one.view, one.private, NO) == 0.0
        assert one.private.plan == -1
        assert one.private.mode == "searching"
    for seed in range(3):
        game = game_of(small, "random", seed)
        assert not any(
            isinstance(event, (Expose, Redeem)) and not getattr(event, "early", False)
            for event in game.record.events
        )
        assert not game.truth.changes
        n = len(game.record.events) - 1
        assert isinstance(game.record.events[-2], Discard)
        for seat in range(4):
            row, leaning, state = truth_rows(small.card, game, seat, n, ())
            assert (row[-3], state) == (1.0, "searching")
            assert leaning[:-3] == pytest.approx(
                np.bincount(small.card.family_of) / small.n_targets
            )
