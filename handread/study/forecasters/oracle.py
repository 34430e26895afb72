"""Oracles that see the racks: exact from what the players say of their own probabilities.

They know every rack and every decision, and not what anybody has in mind. One knows how each person
plays; the other knows only the population that the people come from, and weighs people drawn
from it by the probability that they would have played so.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate import (
    Person,
    PlayCard,
    Population,
    Private,
    SimulatedGame,
    View,
    default_population,
    play_card,
    play_game,
)
from handread.simulate.game.play import player_of
from handread.simulate.game.table import TableRules
from handread.simulate.manner import MANNERS
from handread.study.forecasters.contract import Array, row_names
from handread.study.forecasters.minds import MindFilter
from handread.table.events import AnyEvent
from handread.table.state import TableState

#: Minds followed for each person unless told otherwise.
MINDS = 48
#: People drawn for each seat whose person is not known, and minds followed for each of them.
PEOPLE = 48
MINDS_OF_MANY = 12
#: A person of less weight than this share of the heaviest is dropped.
_NEGLIGIBLE = 1e-9


@dataclass(frozen=True)
class RackOracle:
    """Sees all racks and decisions, not minds.

    Attributes
    ----------
    name
        How results call it.
    minds
        Minds followed for each person.
    rules
        How the tables played that it sees.
    people
        How many people to draw for each seat; 0 where every person's kind and style is known.
    population
        Where they are drawn from; None for the default population.

    References
    ----------
    Fearnhead, P. and Clifford, P. (2003), "On-line inference for hidden Markov models via
    particle filters", J. R. Stat. Soc. B 65, 887-899.
    """

    name: str = "rack oracle"
    minds: int = MINDS
    rules: TableRules = field(default_factory=TableRules)
    people: int = 0
    population: Population | None = None

    def open_sealed(self, card: CompiledCard, game: SimulatedGame) -> _Told:
        """Sit down at a table with its truth in hand.

        Raises
        ------
        HandreadError
            If the game cannot be played again to the same record.
        """
        followed = _Table(play_card(card), game, self)
        again = play_game(
            followed.card, game.truth.people, seed=game.truth.seed, rules=self.rules,
            card_name=game.record.header.card, population=game.truth.population,
            watch=followed.watch,
        )  # fmt: skip
        if again.record.events != game.record.events:
            raise HandreadError(
                f"the game of seed {game.truth.seed!r} comes out otherwise when played again; "
                "accepted: a game of this version, played by the rules given"
            )
        return _Told(len(row_names(card)), followed.told, followed.effective())


def style_free_oracle(
    *, people: int = PEOPLE, minds: int = MINDS_OF_MANY, population: Population | None = None
) -> RackOracle:
    """Oracle that sees the racks and does not know who plays how: styles are integrated out.

    Parameters
    ----------
    people
        People drawn for each seat.
    minds
        Minds followed for each.
    population
        Where people are drawn from; None for the default population.

    Notes
    -----
    The people left with weight at the end are few (see the watcher's ``effective``), so its score
    has Monte Carlo error; two oracles with other numbers of people show how much.
    """
    return RackOracle("rack oracle, style unknown", minds, people=people, population=population)


class _Seat:
    """One seat: people that may sit there, their weights, and what each may have in mind."""

    def __init__(self, seat: int, filters: list[MindFilter]) -> None:
        self.seat, self.filters = seat, filters
        self.logs = np.zeros(len(filters))

    def decide(self, view: View, action: int) -> None:
        self.logs += [each.decide(view, action) for each in self.filters]
        top = self.logs.max()
        if not np.isfinite(top):
            raise HandreadError(f"nobody drawn for seat {self.seat!r} decides so; draw more people")
        keep = np.flatnonzero(self.logs > top + np.log(_NEGLIGIBLE))
        self.filters = [self.filters[i] for i in keep]
        self.logs = self.logs[keep] - top

    @property
    def weights(self) -> Array:
        weights = np.exp(self.logs)
        return np.asarray(weights / weights.sum())

    def rows(self, view: View) -> Array:
        rows = np.stack([each.rows(view) for each in self.filters])
        return np.asarray(self.weights @ rows)


class _Table:
    """The four seats of a game that is played again."""

    def __init__(self, card: PlayCard, game: SimulatedGame, oracle: RackOracle) -> None:
        self.card = card
        self.told: dict[tuple[int, int], Array] = {}
        rng = np.random.default_rng([game.truth.seed, 3])
        population = oracle.population or default_population()
        self.seats: list[_Seat | None] = []
        for seat, person in enumerate(game.truth.people):
            drawn = [population.person(f"drawn {i}", rng=rng) for i in range(oracle.people)]
            sitting: list[Person | None] = [*drawn] if drawn else [person]
            players = [player_of(card, each) for each in sitting]
            filters = [MindFilter(each, oracle.minds, rng) for each in players if each is not None]
            self.seats.append(_Seat(seat, filters) if person is not None else None)

    def watch(
        self, view: View, mind: Private, log_probs: NDArray[np.float64], action: int
    ) -> None:  # fmt: skip
        """Take in one decision; the player's true mind and what it made of a look are not read."""
        seat = self.seats[view.seat]
        if seat is None or view.decision in MANNERS:
            return  # by the rack, bluff and slowness alone, which bear on nothing else
        seat.decide(view, action)
        if view.decision == "throw":
            self.told[view.state.n_events + 1, view.seat] = seat.rows(view)

    def effective(self) -> Array:
        """Effective number of people at each seat by their weights, shape (4,); 0 where empty."""
        found = [0.0 if s is None else 1.0 / float((s.weights**2).sum()) for s in self.seats]
        return np.array(found)


class _Told:
    """What the oracle says, looked up by event; the last throw of a seat holds until its next."""

    def __init__(
        self, n_rows: int, told: dict[tuple[int, int], Array], effective: Array
    ) -> None:  # fmt: skip
        self.told, self.effective, self.n_events = told, effective, 0
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
