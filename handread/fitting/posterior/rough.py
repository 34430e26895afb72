"""What a population is like, roughly and in a second: where a sampler starts and how it steps.

Each person's log probability is taken as a square form around one point. What is left of means and
spreads, once people are integrated out, then has a formula. No part of the posterior: it says
what form is good, and the sampler says what is so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting.posterior.choices import ChoiceBlock
from handread.fitting.posterior.sparse import SparseBlock
from handread.fitting.priors import Priors
from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Choices with all their features, or with those that are not 0.
Block = ChoiceBlock | SparseBlock

#: Width of the half-normal prior of the spread between people, in nats.
SPREAD_WIDTH: Final = 0.5
#: Spreads that are tried, nats, and the one to start from.
TRIED: Final = (0.002, 2.0, 300)
FIRST_SPREAD: Final = 0.15
#: Turns in which means and spreads are found, each given the other.
TURNS: Final = 8
#: A spread's own width counts as at least this share of it.
LEAST_WIDTH: Final = 0.1


@dataclass(frozen=True, eq=False)
class Rough(ArrayValue):
    """A population, roughly.

    Attributes
    ----------
    varying
        Weights that differ between people.
    at
        Weights at which people's choices were looked at, shape (n_names,).
    score
        Gradient of each person's log probability there by the weights that differ, shape
        (n_people, n_varying).
    curvature
        Expected curvature of each person's loss there, by the weights that differ and by all, shape
        (n_people, n_varying, n_names).
    own_curvature
        The same by each weight that differs alone, shape (n_people, n_varying).
    mean
        About the mean of each weight, shape (n_names,).
    root
        Root of about the covariance of the means, given the spreads, shape (n_names, n_names).
    spread, width
        About the mean of each spread, and how far it is from its most probable value, nats, shape
        (n_varying,).
    """

    varying: tuple[str, ...]
    at: Array
    score: Array
    curvature: Array
    own_curvature: Array
    mean: Array
    root: Array
    spread: Array
    width: Array


def rough_population(
    block: Block, priors: Priors, varying: tuple[str, ...], at: Array
) -> Rough:  # fmt: skip
    """Look at a population roughly.

    Parameters
    ----------
    block
        The choices.
    priors
        Centres and widths of the means.
    varying
        Weights that differ between people.
    at
        Weights near which the means are, shape (n_names,).

    Notes
    -----
    With score `d` and curvature `j` of a person at the mean, a weight that is normal between people
    with spread `s` leaves the evidence exp(s^2 d^2 / (2 (1 + s^2 j))) / sqrt(1 + s^2 j), weights
    taken one at a time; of the means all are taken together.
    """
    score, curvature = block.score(at), block.curvatures(at)
    places = [block.names.index(name) for name in varying]
    own = curvature[:, places, places]
    centre = np.array([priors.value(name) for name in block.names])
    precision = np.array([priors.width(name) for name in block.names]) ** -2.0
    mean, spread, width = at, np.full(len(places), FIRST_SPREAD), np.zeros(0)
    for _ in range(TURNS):
        here = score - curvature @ (mean - at)
        left, pull = _without_people(here, curvature, places, spread)
        left += np.diag(precision)
        mean = mean + np.linalg.solve(left, pull + precision * (centre - mean))
        here = score - curvature @ (mean - at)
        spread, width = _spreads(here[:, places], own)
    return Rough(
        varying, at, score[:, places], curvature[:, places], own, mean,
        np.linalg.cholesky(np.linalg.inv(left)), spread, width,
    )  # fmt: skip


def _without_people(
    score: Array, curvature: Array, places: list[int], spread: Array
) -> tuple[Array, Array]:
    """Curvature and gradient of the means, people integrated out, given their spreads."""
    by_people = curvature[:, :, places] * spread
    inner = np.eye(len(places)) + spread[:, None] * by_people[:, places]
    told = np.linalg.solve(inner, by_people.transpose(0, 2, 1))
    left = curvature - by_people @ told
    pull = score - np.einsum("pvn,pv->pn", told, score[:, places] * spread)
    return left.sum(axis=0), pull.sum(axis=0)


def _spreads(score: Array, curvature: Array) -> tuple[Array, Array]:
    """Mean of each spread, and root mean square distance from its most probable value."""
    low, high, n = TRIED
    tried = np.geomspace(low, high, n)
    square = tried[:, None, None] ** 2
    known = 1.0 + square * curvature
    density = 0.5 * (square * score**2 / known - np.log(known)).sum(axis=1).T
    density -= 0.5 * (tried / SPREAD_WIDTH) ** 2
    best = density.argmax(axis=1)[:, None]
    mass = np.exp(density - np.take_along_axis(density, best, axis=1)) * tried  # even in logarithms
    mass /= mass.sum(axis=1, keepdims=True)
    spread, square = mass @ tried, (mass * (tried - tried[best]) ** 2).sum(axis=1)
    return spread, np.maximum(np.sqrt(square), LEAST_WIDTH * spread)
