"""Predictive checks of a population: throws drawn anew by people drawn anew, in units of play.

Every person of a club gets weights of its own, from the prior or from a draw of the posterior of
the population, and throws again in the contexts of the club's own games.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.fitting.posterior.choices import Linear
from handread.fitting.posterior.fit import PopulationFit
from handread.fitting.posterior.rough import SPREAD_WIDTH
from handread.fitting.posterior.units import Predicted, Units, held_against, thrown, units_of
from handread.fitting.priors import Priors
from handread.fitting.tables import ThrowTable

Array = NDArray[np.float64]


def throw_again_by_person(
    throws: ThrowTable, linear: Linear, weights: Array, *, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Draw a kind for each choice in its own context, under weights of each person.

    Parameters
    ----------
    throws
        The throws.
    linear
        How products become features.
    weights
        Weights by number of the person, shape (n_people, n_names).
    rng
        Source of the throws.
    """
    products = weights @ linear.factor.T + linear.constant
    n = len(throws.kind)
    choice = np.repeat(np.arange(len(throws)), np.diff(throws.first_alternative))
    person = throws.person[choice]
    alternative = np.repeat(np.arange(n), np.diff(throws.first_entry))
    score = weights[person, -1] * throws.log_reach + throws.constant
    score += np.bincount(
        alternative, weights=products[person[alternative], throws.feature] * throws.value,
        minlength=n,
    )  # fmt: skip
    # the largest of scores with Gumbel noise is a draw from their softmax
    noisy = score + rng.gumbel(size=n)
    best = np.maximum.reduceat(noisy, throws.first_alternative[:-1])
    places = np.flatnonzero(noisy == best[choice])
    return np.asarray(throws.kind[places].astype(np.int64))


def prior_people(
    priors: Priors, names: tuple[str, ...], varying: tuple[str, ...], n_people: int, *,
    rng: np.random.Generator,
) -> Array:  # fmt: skip
    """Weights of people of one population drawn from the prior, shape (n_people, n_names)."""
    centre = np.array([priors.value(name) for name in names])
    width = np.array([priors.width(name) for name in names])
    mean = centre + width * rng.standard_normal(len(names))
    varies = np.array([name in varying for name in names])
    spread = varies * SPREAD_WIDTH * np.abs(rng.standard_normal(len(names)))
    return np.asarray(mean + spread * rng.standard_normal((n_people, len(names))))


def population_units(
    throws: ThrowTable, n_people: int, linear: Linear, found: PopulationFit, priors: Priors, *,
    n_draws: int = 100, rng: np.random.Generator,
) -> list[Predicted]:  # fmt: skip
    """Hold what people drawn anew would throw against what was thrown.

    Parameters
    ----------
    throws
        Throws of whole games.
    n_people
        People, by whose numbers the throws go.
    linear
        How products become features.
    found
        The population.
    priors
        Its priors.
    n_draws
        Populations from each of prior and posterior.
    rng
        Source of people and throws.
    """
    names, varying = found.layout.names, found.layout.varying
    places = np.linspace(0, len(found.mean) - 1, n_draws).astype(int)
    told: dict[str, list[Units]] = {"prior": [], "posterior": []}
    for place in places:
        away = rng.standard_normal((n_people, len(names)))
        for who, weights in (
            ("prior", prior_people(priors, names, varying, n_people, rng=rng)),
            ("posterior", found.mean[place] + found.spread[place] * away),
        ):
            kinds = throw_again_by_person(throws, linear, weights, rng=rng)
            told[who].append(units_of(throws, kinds))
    return held_against(units_of(throws, thrown(throws)), told["prior"], told["posterior"])
