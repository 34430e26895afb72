"""How far sampled means hang on their priors, from the draws themselves.

Draws under one prior are draws under another once each is weighted by the ratio of the two. Where
few draws would carry the weight, the means are taken as jointly normal instead, and the prior is
exchanged in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.fitting.posterior.fit import PopulationFit
from handread.fitting.posterior.rough import SPREAD_WIDTH
from handread.fitting.priors import Priors
from handread.values import ArrayValue

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Exchanged(ArrayValue):
    """Means and spreads under priors of another width.

    Attributes
    ----------
    factor
        What every width was multiplied by, of means and of spreads.
    names
        Weights.
    weighted
        Move of each mean by weighted draws, in standard deviations of it, shape (n_names,).
    normal
        The same with the means taken as jointly normal and the prior of the spreads left as it
        is, shape (n_names,).
    spread
        Move of each spread by weighted draws, in standard deviations of it, 0 for weights that do
        not vary, shape (n_names,).
    effective
        Draws that carry the weight: square of the sum over the sum of squares.
    """

    factor: float
    names: tuple[str, ...]
    weighted: Array
    normal: Array
    spread: Array
    effective: float


def exchange_prior(found: PopulationFit, priors: Priors, factor: float) -> Exchanged:
    """Means and spreads as they would be with all priors wider or narrower.

    Parameters
    ----------
    found
        The population.
    priors
        The priors that it was sampled with.
    factor
        Multiplies every width.

    Raises
    ------
    HandreadError
        If the factor is not above 0.
    """
    if not factor > 0:
        raise HandreadError(f"factor={factor!r}; accepted: above 0")
    names = found.layout.names
    centre = np.array([priors.value(name) for name in names])
    width = np.array([priors.width(name) for name in names])
    change = 0.5 * (1.0 - factor**-2.0)
    log_ratio = change * (((found.mean - centre) / width) ** 2).sum(axis=1)
    log_ratio += change * ((found.spread / SPREAD_WIDTH) ** 2).sum(axis=1)
    share = np.exp(log_ratio - log_ratio.max())
    share /= share.sum()
    sd = found.mean.std(axis=0, ddof=1)
    spread_sd = np.maximum(found.spread.std(axis=0, ddof=1), 1e-12)
    precision = np.linalg.inv(np.cov(found.mean, rowvar=False))
    old, new = np.diag(width**-2.0), np.diag((factor * width) ** -2.0)
    middle = found.mean.mean(axis=0)
    told = precision @ middle + (new - old) @ centre
    moved = np.linalg.solve(precision - old + new, told)
    return Exchanged(
        factor=factor,
        names=names,
        weighted=(share @ found.mean - middle) / sd,
        normal=(moved - middle) / sd,
        spread=(share @ found.spread - found.spread.mean(axis=0)) / spread_sd,
        effective=float(1.0 / (share**2).sum()),
    )
