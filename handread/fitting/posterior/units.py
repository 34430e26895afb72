"""Predictive checks in units of play: what people know of throws, not log likelihoods.

Throws are drawn anew in the very contexts of the games, under weights of a prior or a posterior,
and told as a player would: how many winds and dragons are thrown at each turn, when the first
flower goes, how many groups are shown in a game.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting.affine import Basis
from handread.fitting.mode.claims import claim_probs
from handread.fitting.tables import Columns, ThrowTable
from handread.tiles import FIRST_WIND, FLOWER, JOKER
from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Own turns that have a share of their own; later ones count with the last.
TURNS: Final = 16


@dataclass(frozen=True, eq=False)
class Units(ArrayValue):
    """What throws and claims look like to players.

    Attributes
    ----------
    winds_and_dragons
        Share of winds and dragons among the throws of each own turn, shape (16,).
    flowers, jokers
        Share of flowers, and of jokers, among all throws.
    first_flower
        Own turn of a seat's first flower, mean over seats that throw one, counted from 1.
    no_flower
        Share of seats that throw none.
    groups
        Groups shown in a game; nan where claims were not asked for.
    """

    winds_and_dragons: Array
    flowers: float
    jokers: float
    first_flower: float
    no_flower: float
    groups: float


@dataclass(frozen=True)
class Predicted:
    """One figure of play as it was, and as prior and posterior would have it.

    Attributes
    ----------
    name
        What it is.
    seen
        As it was in the games.
    prior, posterior
        Predictions at each of `levels`: lower end, middle and upper end.
    levels
        Shares of the predictions that lie below these, 95 per cent between the ends if not said.

    Examples
    --------
    >>> Predicted("flowers", 0.05, (0.0, 0.1, 0.2), (0.04, 0.05, 0.06)).inside
    True
    """

    name: str
    seen: float
    prior: tuple[float, float, float]
    posterior: tuple[float, float, float]
    levels: tuple[float, float, float] = (0.025, 0.5, 0.975)

    @property
    def inside(self) -> bool:
        """Whether what was seen lies between the ends that the posterior predicts."""
        return self.posterior[0] <= self.seen <= self.posterior[2]


def held_against(
    seen: Units, prior: Sequence[Units], posterior: Sequence[Units], *,
    levels: tuple[float, float, float] = Predicted.levels,
) -> list[Predicted]:  # fmt: skip
    """Hold what was seen against predictions, figure by figure.

    Parameters
    ----------
    seen
        Units of the games.
    prior, posterior
        Units predicted, one of each draw. Draws in which a figure says nothing are left out of
        it: nobody threw a flower.
    levels
        Shares of the predictions below lower end, middle and upper end.
    """
    told = [[_figures(units) for units in side] for side in (prior, posterior)]
    found = []
    for name, value in _figures(seen).items():
        ends = [_ends([units[name] for units in side], levels) for side in told]
        found.append(Predicted(name, value, ends[0], ends[1], levels))
    return found


def _ends(
    values: list[float], levels: tuple[float, float, float]
) -> tuple[float, float, float]:  # fmt: skip
    low, middle, high = np.nanquantile(np.array(values), levels)
    return float(low), float(middle), float(high)


def _figures(units: Units) -> dict[str, float]:
    """Figures by name; groups only where claims were asked for."""
    out: dict[str, float] = {}
    for each in fields(Units):
        value, words = getattr(units, each.name), each.name.replace("_", " ")
        if isinstance(value, np.ndarray):
            out |= {f"{words}, own turn {i + 1}": float(v) for i, v in enumerate(value)}
        elif each.name != "groups" or not np.isnan(value):
            out[words] = float(value)
    return out


def units_of(throws: ThrowTable, kinds: NDArray[np.integer], groups: float = np.nan) -> Units:
    """Put throws into units of play.

    Parameters
    ----------
    throws
        The throws.
    kinds
        Kind thrown in each choice, shape (n_choices,).
    groups
        Groups shown in a game.
    """
    turn, weight = np.minimum(throws.turn, TURNS - 1), throws.weight.astype(np.float64)
    honours = (kinds >= FIRST_WIND) & (kinds < FLOWER)
    mass = np.bincount(turn, weights=weight, minlength=TURNS)
    shown = np.bincount(turn, weights=weight * honours, minlength=TURNS)
    seats = throws.game.astype(np.int64) * 4 + throws.seat
    names, seat = np.unique(seats, return_inverse=True)
    first = np.full(len(names), np.inf)
    np.minimum.at(first, seat, np.where(kinds == FLOWER, throws.turn + 1.0, np.inf))
    threw = np.isfinite(first)
    total = max(float(weight.sum()), 1e-9)
    return Units(
        shown / np.maximum(mass, 1e-9),
        float(weight @ (kinds == FLOWER)) / total,
        float(weight @ (kinds == JOKER)) / total,
        float(first[threw].mean()) if threw.any() else float("nan"),
        float(1.0 - threw.mean()) if len(names) else float("nan"),
        groups,
    )


def thrown(throws: ThrowTable) -> NDArray[np.int64]:
    """Kind that was thrown in each choice."""
    kinds: NDArray[np.int64] = throws.kind.astype(np.int64)
    return np.asarray(kinds[throws.first_alternative[:-1] + throws.chosen])


def throw_again(
    throws: ThrowTable, basis: Basis, weights: Mapping[str, Mapping[str, float]], *,
    rng: np.random.Generator,
) -> NDArray[np.int64]:  # fmt: skip
    """Draw a kind for each choice in its own context.

    Choices of one throw among which a seat's mind was divided get kinds of their own.
    """
    products, power = basis.values(weights), weights["availability"]["power"]
    n = len(throws.kind)
    alternative = np.repeat(np.arange(n), np.diff(throws.first_entry))
    score = power * throws.log_reach.astype(np.float64) + throws.constant
    score += np.bincount(alternative, weights=products[throws.feature] * throws.value, minlength=n)
    # the largest of scores with Gumbel noise is a draw from their softmax
    noisy = score + rng.gumbel(size=n)
    choice = np.repeat(np.arange(len(throws)), np.diff(throws.first_alternative))
    order = np.lexsort((-noisy, choice))
    kinds: NDArray[np.int64] = throws.kind.astype(np.int64)
    return kinds[order[throws.first_alternative[:-1]]]


def groups_shown(claims: Columns, n_games: int) -> float:
    """Groups that were shown in a game."""
    happened = claims["outcome"] >= 0
    return float(claims["weight"][happened].sum()) / n_games


def show_again(
    claims: Columns, weights: Mapping[str, float], n_games: int, *, rng: np.random.Generator
) -> float:
    """Groups shown in a game, drawn anew window by window."""
    planned, anew = claim_probs(claims, weights)
    happened = rng.random(len(planned)) < (planned + anew).sum(axis=1)
    return float(claims["weight"] @ happened) / n_games


def predicted_units(
    throws: ThrowTable, claims: Columns, n_games: int, basis: Basis,
    some: list[Mapping[str, Mapping[str, float]]], *, rng: np.random.Generator,
) -> list[Units]:  # fmt: skip
    """Units of play under several sets of weights: draws of a prior, or of a posterior."""
    return [
        units_of(
            throws, throw_again(throws, basis, weights, rng=rng),
            show_again(claims, weights["claims"], n_games, rng=rng),
        )
        for weights in some
    ]  # fmt: skip
