"""A player: a kind of policy with a style, which states the probability of all it may do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.simulate.actions import action_words
from handread.simulate.choice import Scores, log_probabilities, pick
from handread.simulate.manner import MANNERS, manner_scores
from handread.simulate.playcard import PlayCard
from handread.simulate.view import Private, View


@dataclass(frozen=True)
class Style:
    """How a person plays whatever kind it is; continuous, drawn once for a person.

    Attributes
    ----------
    temperature
        How loosely it picks among what it finds nearly equal, above 0; 1 is usual.
    flexibility
        How readily it leaves a plan for a better one, 0 to 1.
    eagerness
        How readily it claims for an exposure, 0 to 1.
    caution
        How early it defends, and how much it pays for safety, 0 to 1.
    thrift
        How much it minds laying jokers into exposures, 0 to 1.
    taste
        How much it goes for points, 0 to 1.
    memory
        Share of the floor that it still knows one own turn later, 0 to 1.
    carelessness
        Share of its decisions in which it can err that go wrong, 0 to 1.
    bluff
        Share of its throws at which it shows the opposite of what its manner would tell, 0 to 1;
        at 0.5 its manner tells nothing.
    slowness
        How long it thinks, as a factor above 0; 1 is usual.
    """

    temperature: float = 1.0
    flexibility: float = 0.5
    eagerness: float = 0.5
    caution: float = 0.5
    thrift: float = 0.5
    taste: float = 0.5
    memory: float = 0.95
    carelessness: float = 0.01
    bluff: float = 0.1
    slowness: float = 1.0


@dataclass(frozen=True)
class Habit:
    """One thing that a kind of player does.

    Attributes
    ----------
    name
        A few words.
    origin
        ``"scripted"``: written in, from lore. ``"emergent"``: follows from what it aims at.
    about
        What it does, and for a scripted habit where the rule comes from.
    """

    name: str
    origin: str
    about: str

    def __post_init__(self) -> None:
        if self.origin not in ("scripted", "emergent"):
            accepted = "accepted: 'scripted' or 'emergent'"
            raise HandreadError(f"habit {self.name!r} has origin {self.origin!r}; {accepted}")


class Kind(Protocol):
    """What a kind of player provides; one module of ``handread.simulate.kinds`` each.

    Attributes
    ----------
    name
        Unique.
    version
        Goes up with every change of behaviour; stored with every game.
    about
        One line.
    weights_mean
        What a weight in ``Private.weights`` means for this kind.
    habits
        All that it does, scripted or emergent.
    """

    @property
    def name(self) -> str:
        """Unique name."""
        ...

    @property
    def version(self) -> int:
        """Version of its behaviour."""
        ...

    @property
    def about(self) -> str:
        """What it is, one line."""
        ...

    @property
    def weights_mean(self) -> str:
        """What its weights mean."""
        ...

    @property
    def habits(self) -> tuple[Habit, ...]:
        """All that it does."""
        ...

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Scores of the actions of a decision, nats up to a constant; none of ``MANNERS``."""
        ...

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        """Mind after a "plan" decision; no other decision changes it."""
        ...


@dataclass(frozen=True, eq=False)
class Player:
    """A person at the table.

    Acting is one draw from ``exp(log_probs(view, private))`` and nothing else.

    Attributes
    ----------
    kind
        The policy.
    style
        The person's own way.
    card
        The card it plays.
    """

    kind: Kind
    style: Style
    card: PlayCard

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Player):
            return NotImplemented
        mine = (self.kind.name, self.kind.version, self.style, self.card)
        return mine == (other.kind.name, other.kind.version, other.style, other.card)

    __hash__ = None  # type: ignore[assignment]  # holds a card

    def log_probs(self, view: View, private: Private) -> NDArray[np.float64]:
        """Log probability of every action, nats; ``-inf`` for what is not legal or never done."""
        if view.decision in MANNERS:  # the same for every kind
            return log_probabilities(manner_scores(self.style, view), view.legal)
        scores = self.kind.scores(self.card, self.style, view, private)
        return log_probabilities(scores, view.legal)

    def log_prob(self, view: View, private: Private, action: int) -> float:
        """Log probability of one action, nats.

        Raises
        ------
        HandreadError
            If the action is not legal here.
        """
        if not (0 <= action < len(view.legal) and view.legal[action]):
            legal = [action_words(view.decision, int(a)) for a in np.flatnonzero(view.legal)[:8]]
            accepted = f"accepted: {', '.join(legal)}"
            raise HandreadError(f"action {action!r} at decision {view.decision!r}; {accepted}")
        return float(self.log_probs(view, private)[action])

    def act(self, view: View, private: Private, u: float) -> int:
        """Action at quantile `u`, a uniform draw in [0, 1)."""
        return pick(self.log_probs(view, private), u)

    def transition(self, view: View, private: Private, action: int) -> Private:
        """Mind after an action; the same one unless a plan was decided."""
        if view.decision != "plan":
            return private
        return self.kind.settle(self.card, self.style, view, private, action)
