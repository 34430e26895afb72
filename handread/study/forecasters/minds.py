"""Posterior over what one person has in mind, followed through the decisions that it made.

What is hidden is drawn in one place only, the look at the plan: each look branches a mind into
those it may have become, each other decision weighs the minds by the probability that they would
have decided so.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.simulate import Player, Private, View
from handread.simulate.view import blank
from handread.study.forecasters.contract import Array, row_names
from handread.study.truth import rows_of_mind

#: Probability left to rows that no mind followed has, in equal parts.
UNFOLLOWED: Final = 0.002


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


class MindFilter:
    """The minds that one person may be of, with their probabilities.

    A look can lead to a hundred minds, so the likeliest are followed exactly and the rest are
    thinned without bias: a mind too unlikely to be kept is kept at the threshold's weight, with
    the chance that makes up for it (Fearnhead and Clifford 2003).

    Parameters
    ----------
    player
        The person.
    n_minds
        Minds to follow, at most.
    rng
        Source of the chance.
    """

    def __init__(self, player: Player, n_minds: int, rng: np.random.Generator) -> None:
        self.player, self.n_minds, self.rng = player, n_minds, rng
        self.minds: list[Private] = [blank(player.card.n_targets)]
        self.probs: Array = np.ones(1)
        self.thinned = False

    def decide(self, view: View, action: int) -> float:
        """Take in one decision, and return its log probability, nats; 0 for a look at the plan.

        What the person made of a look is hidden: its action is not read.
        """
        if view.decision == "plan":
            self._branch(view)
            return 0.0
        logs = np.array([self.player.log_prob(view, mind, action) for mind in self.minds])
        probs = self.probs * np.exp(logs)
        total = float(probs.sum())
        if not total > 0.0:
            return -np.inf
        alive = probs > 0.0
        self.minds = [m for m, kept in zip(self.minds, alive, strict=True) if kept]
        self.probs = probs[alive] / total
        return float(np.log(total))

    def rows(self, view: View) -> Array:
        """Probability of each family and unmodelled state.

        A mind that was thinned out may be the true one, so from then on ``UNFOLLOWED`` is left to
        rows that none of those followed has.
        """
        card = self.player.card.card
        shown = view.state.exposures[view.seat]
        out = np.zeros(len(row_names(card)))
        for mind, prob in zip(self.minds, self.probs, strict=True):
            out += prob * rows_of_mind(card, mind.mode, mind.plan, mind.weights, shown)
        left = UNFOLLOWED if self.thinned else 0.0
        return np.asarray((1.0 - left) * out / out.sum() + left / len(out))

    def _branch(self, view: View) -> None:
        """Each mind becomes one of those it may become."""
        joint = np.stack([np.exp(self.player.log_probs(view, mind)) for mind in self.minds])
        joint *= self.probs[:, None]
        where = np.argwhere(joint > 0.0)
        kept, probs = thin_out(joint[joint > 0.0], self.n_minds, rng=self.rng)
        self.thinned |= len(where) > self.n_minds
        found: dict[Any, int] = {}
        minds: list[Private] = []
        weight = np.zeros(len(kept))
        for place, prob in zip(kept, probs, strict=True):
            mind, action = where[place]
            new = self.player.transition(view, self.minds[mind], int(action))
            key = (new.plan, new.mode, new.wide.tobytes())
            if key not in found:
                found[key] = len(minds)
                minds.append(new)
            weight[found[key]] += prob
        self.minds, self.probs = minds, weight[: len(minds)] / weight.sum()
