"""Oracles that see the racks: the filter over minds against every path, and styles unknown."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import handread as hr
from handread.card.compiled import CompiledCard
from handread.simulate import (
    PlayCard,
    Player,
    Population,
    Private,
    SimulatedGame,
    View,
    play_card,
    play_game,
    simulate_games,
)
from handread.simulate.game.play import player_of
from handread.simulate.population import Spread
from handread.simulate.view import blank
from handread.study import bits_log_score
from handread.study.forecasters import (
    MindFilter,
    RackOracle,
    empty_training,
    forecaster_named,
    row_names,
    style_free_oracle,
    thin_out,
)
from handread.study.running import count_game, watch_game
from handread.study.truth import rows_of_mind

Decisions = list[tuple[View, int]]


@pytest.fixture(scope="module")
def card() -> CompiledCard:
    return hr.load_card("small")


@pytest.fixture(scope="module")
def games(card: CompiledCard) -> list[SimulatedGame]:
    return list(simulate_games(card, n_games=3, seed=91))


def test_thinning_keeps_every_weight_on_average() -> None:
    probs = np.array([0.5, 0.2, 0.1, 0.08, 0.06, 0.04, 0.02])
    total = np.zeros(7)
    rng = np.random.default_rng(8)
    for _ in range(4000):
        kept, weights = thin_out(probs, 4, rng=rng)
        assert len(kept) == len(set(kept.tolist())) == 4
        assert weights.sum() == pytest.approx(1.0)
        np.add.at(total, kept, weights)
    np.testing.assert_allclose(total / 4000, probs, atol=0.008)


# --- the filter over minds ---


def decisions_of(card: PlayCard, game: SimulatedGame, seat: int) -> Decisions:
    found: Decisions = []

    def watch(view: View, mind: Private, log_probs: object, action: int) -> None:
        if view.seat == seat:
            found.append((view, action))

    play_game(
        card, game.truth.people, seed=game.truth.seed, card_name=game.record.header.card,
        population=game.truth.population, watch=watch,
    )  # fmt: skip
    return found


def every_path(player: Player, decisions: Decisions) -> tuple[float, np.ndarray]:
    """Probability of the decisions and the rows at the last of them, by recursion over minds."""
    card = player.card.card
    last = decisions[-1][0]
    rows = np.zeros(len(row_names(card)))

    def walk(n: int, mind: Private, weight: float) -> None:
        if n == len(decisions):
            shown = last.state.exposures[last.seat]
            rows[:] += weight * rows_of_mind(card, mind.mode, mind.plan, mind.weights, shown)
            return
        view, action = decisions[n]
        if view.decision != "plan":
            walk(n + 1, mind, weight * float(np.exp(player.log_prob(view, mind, action))))
            return
        for choice, prob in enumerate(np.exp(player.log_probs(view, mind))):
            if prob > 0.0:
                walk(n + 1, player.transition(view, mind, choice), weight * float(prob))

    walk(0, blank(card.n_targets), 1.0)
    return float(rows.sum()), rows / rows.sum()


@pytest.mark.parametrize("seat", range(4))
def test_the_filter_over_minds_is_the_sum_over_all_paths(
    card: CompiledCard, games: list[SimulatedGame], seat: int
) -> None:
    found = play_card(card)
    decisions = decisions_of(found, games[0], seat)
    looks = [n for n, (view, _) in enumerate(decisions) if view.decision == "plan"]
    decisions = decisions[: looks[2]]
    player = player_of(found, games[0].truth.people[seat])
    assert player is not None
    total, rows = every_path(player, decisions)
    followed = MindFilter(player, 10**6, np.random.default_rng(1))
    log_prob = sum(followed.decide(view, action) for view, action in decisions)
    assert log_prob == pytest.approx(np.log(total), abs=1e-9)
    np.testing.assert_allclose(followed.rows(decisions[-1][0]), rows, atol=1e-12)


def test_the_filter_does_not_read_what_a_person_made_of_a_look(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    found = play_card(card)
    player = player_of(found, games[0].truth.people[1])
    assert player is not None
    one, other = (MindFilter(player, 48, np.random.default_rng(1)) for _ in range(2))
    for view, action in decisions_of(found, games[0], 1)[:40]:
        hidden = -1 if view.decision == "plan" else action
        assert one.decide(view, action) == other.decide(view, hidden)


# --- the oracles ---


def score_of(card: CompiledCard, game: SimulatedGame, oracle: RackOracle) -> float:
    lines = watch_game(card, game, {"oracle": oracle}, number=0)
    truth = np.array([moment["truth"] for moment in lines.moments])
    return float(bits_log_score(np.array(lines.beliefs["oracle"]), truth).mean())


def test_the_oracle_is_nearer_to_the_truth_than_any_reader(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    training = empty_training(card)
    for game in games[1:]:
        training = training.plus(count_game(card, game))
    readers = {name: forecaster_named(name, card, training) for name in ("base rates", "lore")}
    lines = watch_game(card, games[0], {**readers, "oracle": RackOracle(minds=24)}, number=0)
    truth = np.array([moment["truth"] for moment in lines.moments])
    score = {
        name: float(bits_log_score(np.array(said), truth).mean())
        for name, said in lines.beliefs.items()
    }
    assert score["oracle"] > max(score["lore"], score["base rates"]) + 0.3


def alike(kind: str) -> Population:
    """People who all play in one way."""
    return Population(f"alike {kind}", ((kind, 1.0),))


def test_where_all_play_alike_nothing_is_lost_by_not_knowing_who(card: CompiledCard) -> None:
    population = alike("chaser")
    game = next(simulate_games(card, n_games=1, seed=5, population=population))
    known = score_of(card, game, RackOracle(minds=10**6))
    drawn = replace(style_free_oracle(people=2, minds=10**6), population=population)
    assert score_of(card, game, drawn) == pytest.approx(known, abs=1e-9)


def test_manner_weighs_nobody(card: CompiledCard) -> None:
    """Who bluffs and who is slow bears on no hand: nobody drawn is dropped for it."""
    spreads = (("bluff", Spread(0.2, 2.0)), ("slowness", Spread(1.0, 1.5)))
    population = replace(alike("chaser"), styles=spreads)
    game = next(simulate_games(card, n_games=1, seed=5, population=population))
    drawn = replace(style_free_oracle(people=3, minds=10**6), population=population)
    assert drawn.open_sealed(card, game).effective == pytest.approx(np.full(4, 3.0))


def test_it_finds_out_who_plays(card: CompiledCard, games: list[SimulatedGame]) -> None:
    """Most of the people drawn are of no weight any more after a game."""
    watcher = style_free_oracle(people=16, minds=4).open_sealed(card, games[0])
    assert (watcher.effective >= 1.0 - 1e-9).all()
    assert (watcher.effective < 12.0).all()
