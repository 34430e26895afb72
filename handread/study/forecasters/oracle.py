"""The oracle that sees the racks: exact from what the players say of their own probabilities.

It knows every rack, every decision and who plays how, and not what anybody has in mind. What is
hidden is then drawn in one place only, the look at the plan, so the posterior over minds is a
filter: each look branches a mind into those it may have become, each other decision weighs the
minds by the probability that they would have decided so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate import PlayCard, Player, Private, SimulatedGame, View, play_card, play_game
from handread.simulate.game.play import player_of
from handread.simulate.game.table import TableRules
from handread.simulate.view import blank
from handread.study.forecasters.contract import Array, row_names
from handread.study.truth import rows_of_mind
from handread.table.events import AnyEvent
from handread.table.state import TableState

#: Minds followed for each seat unless told otherwise.
MINDS = 48


@dataclass(frozen=True)
class RackOracle:
    """Sees all racks and decisions, knows every person's kind and style, not their minds.

    A look can lead to a hundred minds, so the likeliest are followed exactly and the rest are
    thinned without bias: a mind too unlikely to be kept is kept at the threshold's weight, with
    the chance that makes up for it (Fearnhead and Clifford 2003).

    Attributes
    ----------
    name
        How results call it.
    minds
        Minds followed for each seat.
    rules
        How the tables played that it sees.

    References
    ----------
    Fearnhead, P. and Clifford, P. (2003), "On-line inference for hidden Markov models via
    particle filters", J. R. Stat. Soc. B 65, 887-899.
    """

    name: str = "rack oracle"
    minds: int = MINDS
    rules: TableRules = field(default_factory=TableRules)

    def open_sealed(self, card: CompiledCard, game: SimulatedGame) -> _Told:
        """Sit down at a table with its truth in hand.

        Raises
        ------
        HandreadError
            If the game cannot be played again to the same record.
        """
        filters = _Minds(play_card(card), game, self.minds)
        again = play_game(
            filters.card, game.truth.people, seed=game.truth.seed, rules=self.rules,
            card_name=game.record.header.card, population=game.truth.population,
            watch=filters.watch,
        )  # fmt: skip
        if again.record.events != game.record.events:
            raise HandreadError(
                f"the game of seed {game.truth.seed!r} comes out otherwise when played again; "
                "accepted: a game of this version, played by the rules given"
            )
        return _Told(len(row_names(card)), filters.told)


def thin_out(probs: Array, n: int, *, rng: np.random.Generator) -> tuple[NDArray[np.int64], Array]:
    """Keep at most `n` of many weighted things so that every weight keeps its expectation.

    Parameters
    ----------
    probs
        Weights, above 0, shape (n_things,).
    n
        How many to keep.
    rng
        Source of the chance.

    Returns
    -------
    kept, weights
        Places and new weights, which sum to the old sum.

    Examples
    --------
    >>> kept, weights = thin_out(np.array([0.9, 0.05, 0.05]), 2, rng=np.random.default_rng(1))
    >>> len(kept), weights.round(3).tolist()
    (2, [0.9, 0.1])
    """
    if len(probs) <= n:
        return np.arange(len(probs)), probs
    ordered = np.sort(probs)[::-1]
    tails = np.cumsum(ordered[::-1])[::-1]
    for n_exact in range(n):
        cut = float(tails[n_exact]) / (n - n_exact)
        if ordered[n_exact] < cut:
            break
    exact = np.flatnonzero(probs >= cut)
    light = np.flatnonzero(probs < cut)
    places = np.cumsum(probs[light]) / cut
    ticks = rng.random() + np.arange(n - len(exact))
    drawn = light[np.minimum(np.searchsorted(places, ticks), len(light) - 1)]
    kept = np.concatenate([exact, drawn])
    return kept, np.concatenate([probs[exact], np.full(len(drawn), cut)])


class _Minds:
    """Posterior over the minds of the four seats, followed through a game played again."""

    def __init__(self, card: PlayCard, game: SimulatedGame, n_minds: int) -> None:
        self.card, self.n_minds = card, n_minds
        self.players = [player_of(card, person) for person in game.truth.people]
        self.rng = np.random.default_rng([game.truth.seed, 3])
        self.minds: list[list[Private]] = [[blank(card.n_targets)] for _ in range(4)]
        self.probs: list[Array] = [np.ones(1) for _ in range(4)]
        self.told: dict[tuple[int, int], Array] = {}

    def watch(
        self, view: View, mind: Private, log_probs: NDArray[np.float64], action: int
    ) -> None:  # fmt: skip
        """Take in one decision; the player's true mind and what it made of a look are not read."""
        player = self.players[view.seat]
        if player is None:
            return
        if view.decision == "plan":
            self._branch(player, view)
        else:
            self._weigh(player, view, action)
        if view.decision == "throw":
            self.told[view.state.n_events + 1, view.seat] = self._rows(view)

    def _branch(self, player: Player, view: View) -> None:
        """A look at the plan: each mind becomes one of those it may become."""
        held = self.minds[view.seat]
        joint = np.stack([np.exp(player.log_probs(view, mind)) for mind in held])
        joint *= self.probs[view.seat][:, None]
        where = np.argwhere(joint > 0.0)
        kept, probs = thin_out(joint[joint > 0.0], self.n_minds, rng=self.rng)
        found: dict[Any, int] = {}
        minds: list[Private] = []
        weight = np.zeros(len(kept))
        for place, prob in zip(kept, probs, strict=True):
            mind, action = where[place]
            new = player.transition(view, held[mind], int(action))
            key = (new.plan, new.mode, new.wide.tobytes())
            if key not in found:
                found[key] = len(minds)
                minds.append(new)
            weight[found[key]] += prob
        self._keep(view.seat, minds, weight[: len(minds)])

    def _weigh(self, player: Player, view: View, action: int) -> None:
        """Any other decision: each mind weighs as it would have decided so."""
        logs = [player.log_prob(view, mind, action) for mind in self.minds[view.seat]]
        probs = self.probs[view.seat] * np.exp(np.array(logs))
        alive = probs > 0.0
        minds = [m for m, kept in zip(self.minds[view.seat], alive, strict=True) if kept]
        self._keep(view.seat, minds, probs[alive])

    def _keep(self, seat: int, minds: list[Private], probs: Array) -> None:
        if not probs.sum() > 0:
            raise HandreadError(f"no mind of seat {seat!r} decides so; accepted: at least one")
        self.minds[seat], self.probs[seat] = minds, probs / probs.sum()

    def _rows(self, view: View) -> Array:
        shown = view.state.exposures[view.seat]
        card = self.card.card
        out = np.zeros(len(row_names(card)))
        for mind, prob in zip(self.minds[view.seat], self.probs[view.seat], strict=True):
            out += prob * rows_of_mind(card, mind.mode, mind.plan, mind.weights, shown)
        return np.asarray(out / out.sum())


class _Told:
    """What the oracle says, looked up by event; the last throw of a seat holds until its next."""

    def __init__(self, n_rows: int, told: dict[tuple[int, int], Array]) -> None:
        self.told, self.n_events = told, 0
        self.now = np.full((4, n_rows), 1.0 / n_rows)

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.n_events = state.n_events
        for seat in range(4):
            row = self.told.get((self.n_events, seat))
            if row is not None:
                self.now[seat] = row

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat after its last throw."""
        return np.asarray(self.now[seat])
