"""The contract that every kind of player keeps; run it over a kind of your own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate.choice import pick
from handread.simulate.game.play import play_game
from handread.simulate.playcard import PlayCard, play_card
from handread.simulate.player import Kind, Player, Style
from handread.simulate.truth import Person
from handread.simulate.view import STATES, Private, View
from handread.values import ArrayValue


@dataclass(frozen=True, eq=False)
class Met(ArrayValue):
    """A decision that a player met in a game.

    Attributes
    ----------
    player
        Who decided.
    view
        What it saw.
    private
        Its mind.
    """

    player: Player
    view: View
    private: Private


class Broken(HandreadError, AssertionError):
    """A kind of player does not keep the contract."""


def meet_decisions(
    kind: Kind, card: PlayCard, *, seed: int, n_games: int = 1, n_seats: int = 4
) -> list[Met]:  # fmt: skip
    """Every decision that players of a kind meet in some games, of styles that differ.

    Parameters
    ----------
    kind
        The kind; it need not be registered.
    card
        The card.
    seed
        Seed of styles and games.
    n_games
        Games to play.
    n_seats
        Players at a table, 2 to 4.
    """
    from handread.simulate.rules.deal import chairs

    rng = np.random.default_rng(seed)
    met: list[Met] = []
    for game in range(n_games):
        styles = [Style(*(round(float(x), 3) for x in _style(rng))) for _ in range(4)]
        people = tuple(
            Person(f"p{s}", kind.name, kind.version, styles[s]) if s in chairs(n_seats) else None
            for s in range(4)
        )
        players = {s: Player(kind, styles[s], card) for s in range(4)}

        def watch(
            view: View, private: Private, log_probs: NDArray[np.float64], action: int,
            players: dict[int, Player] = players,
        ) -> None:  # fmt: skip
            met.append(Met(players[view.seat], view, private))

        play_game(
            card, people, seed=seed + game, watch=watch, kinds={kind.name: kind}
        )  # fmt: skip
    return met


def _style(rng: np.random.Generator) -> Iterator[float]:
    yield float(np.exp(rng.normal(0, 0.5)))
    for _ in range(6):
        yield float(rng.uniform(0.05, 0.95))
    yield float(rng.uniform(0.001, 0.3))
    yield float(rng.uniform(0.0, 0.5))
    yield float(np.exp(rng.normal(0, 0.4)))


def check_player(
    kind: Kind, card: CompiledCard, *, seed: int = 0, n_games: int = 1, n_draws: int = 2_000
) -> int:  # fmt: skip
    """Hold a kind of player to the contract, over every decision of some games.

    For each decision: log probabilities have the shape of the actions, are not NaN, sum to 1
    and bar what is not legal; asking twice gives the same; asking changes nothing; the mind
    after a plan is a proper one. For a sample of decisions of every sort, `n_draws` actions
    are drawn at even quantiles and their shares held to the stated probabilities.

    Parameters
    ----------
    kind
        The kind; it need not be registered.
    card
        The card to play with.
    seed
        Seed of styles and games.
    n_games
        Games to play.
    n_draws
        Quantiles at which actions are drawn.

    Returns
    -------
    int
        How many decisions were checked.

    Raises
    ------
    Broken
        At the first breach, with the decision and what is wrong.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.simulate import kind_named
    >>> check_player(kind_named("chaser"), hr.house_card(), n_draws=200) > 100
    True
    """
    for name in ("name", "about", "weights_mean"):
        if not isinstance(getattr(kind, name), str) or not getattr(kind, name):
            raise Broken(f"{kind!r} has no {name}; accepted: a few words")
    if not kind.habits:
        raise Broken(f"kind {kind.name!r} documents no habits; accepted: one Habit or more")
    met = meet_decisions(kind, play_card(card), seed=seed, n_games=n_games)
    drawn: dict[str, int] = {}
    for one in met:
        _check(one)
        decision = one.view.decision
        if drawn.get(decision, 0) < 3:
            drawn[decision] = drawn.get(decision, 0) + 1
            _check_draws(one, n_draws)
    return len(met)


def _fail(one: Met, words: str) -> None:
    where = f"kind {one.player.kind.name!r}, decision {one.view.decision!r}"
    raise Broken(f"{where}, seat {one.view.seat}: {words}")


def _check(one: Met) -> None:
    player, view, private = one.player, one.view, one.private
    before = _copy(private)
    log_probs = player.log_probs(view, private)
    if log_probs.shape != view.legal.shape:
        _fail(one, f"{log_probs.shape} log probabilities for {view.legal.shape} actions")
    if np.isnan(log_probs).any() or np.isfinite(log_probs[~view.legal]).any():
        _fail(one, "NaN, or probability on an action that is not legal")
    if abs(np.exp(log_probs).sum() - 1) > 1e-9:
        _fail(one, f"probabilities sum to {np.exp(log_probs).sum()!r}")
    if not np.array_equal(log_probs, player.log_probs(view, private)):
        _fail(one, "asked twice, it states two distributions")
    action = int(np.argmax(log_probs))
    after = player.transition(view, private, action)
    if before != private:
        _fail(one, "asking it changed its mind")
    if view.decision != "plan":
        if after is not private:
            _fail(one, "its mind changed though no plan was decided")
        return
    _check_mind(one, after)
    if after != player.transition(view, private, action):
        _fail(one, "one action leads to two minds")


def _check_mind(one: Met, mind: Private) -> None:
    n = one.player.card.n_targets
    if mind.weights.shape != (n,) or mind.wide.shape != (n,):
        _fail(one, f"weights of shape {mind.weights.shape}; accepted: ({n},)")
    if (mind.weights < 0).any() or abs(mind.weights.sum() - 1) > 1e-9:
        _fail(one, f"weights sum to {mind.weights.sum()!r}; accepted: 1, none negative")
    if mind.plan >= 0 and mind.weights[mind.plan] != 1:
        _fail(one, "committed, but its weights are not one-hot")
    if mind.mode not in STATES[:-1]:
        _fail(one, f"mode {mind.mode!r}; accepted: {', '.join(STATES[:-1])}")
    if (mind.remembered < 0).any() or (mind.remembered > mind.noticed).any():
        _fail(one, "it remembers tiles that do not lie on the floor")


def _check_draws(one: Met, n_draws: int) -> None:
    """Shares of actions at even quantiles are within one draw of the probabilities."""
    log_probs = one.player.log_probs(one.view, one.private)
    quantiles = (np.arange(n_draws) + 0.5) / n_draws
    actions = np.array([pick(log_probs, float(u)) for u in quantiles])
    share = np.bincount(actions, minlength=len(log_probs)) / n_draws
    if np.abs(share - np.exp(log_probs)).max() > 1.0 / n_draws + 1e-9:
        _fail(one, "drawn actions do not follow the stated probabilities")
    u = float(quantiles[n_draws // 3])
    if one.player.act(one.view, one.private, u) != pick(log_probs, u):
        _fail(one, "it does not act by inverse CDF in the order of the actions")


def _copy(private: Private) -> Any:
    return Private(
        private.weights.copy(), private.wide.copy(), private.plan, private.mode,
        private.remembered.copy(), private.noticed.copy(),
    )  # fmt: skip
