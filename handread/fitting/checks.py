"""Checks of a fit in units of play: what the prior would have, what the fit has, what was so.

Also how far the weights hang on the priors, and what each clue is worth to the prediction of
throws. Which clues and powers a reading should use is not decided here but on held-out targets.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit

from handread.clues.weights import Weights
from handread.fitting.affine import find_basis
from handread.fitting.gathering import Gathered
from handread.fitting.mode import Estimate, ModeFit, fit_mode
from handread.fitting.mode.search import EDGE
from handread.fitting.posterior.units import (
    Predicted,
    groups_shown,
    held_against,
    predicted_units,
    thrown,
    units_of,
)
from handread.fitting.priors import Priors
from handread.reading import Model

Array = NDArray[np.float64]


#: Lower, middle and upper end of an interval that holds 90 per cent.
LEVELS: Final = (0.05, 0.5, 0.95)


def unit_ranges(
    model: Model, gathered: Gathered, fit: ModeFit, priors: Priors, *, n_draws: int = 40,
    rng: np.random.Generator,
) -> list[Predicted]:  # fmt: skip
    """Predict the throws and claims of the games anew, from prior and fit.

    Parameters
    ----------
    model
        The model of the reading.
    gathered
        The games.
    fit
        The fit.
    priors
        Its priors.
    n_draws
        Sets of weights from each.
    rng
        Source of weights and throws.
    """
    tables, basis = gathered.whole(), find_basis(model.clues)
    throws, claims = tables.throws, tables.columns["claims"]
    seen = units_of(throws, thrown(throws), groups_shown(claims, tables.n_games))
    prior, posterior = (
        predicted_units(
            throws, claims, tables.n_games, basis, [each.blocks for each in sets], rng=rng
        )
        for sets in (
            [prior_draw(priors, rng=rng) for _ in range(n_draws)],
            [fitted_draw(fit, rng=rng) for _ in range(n_draws)],
        )
    )
    return held_against(seen, prior, posterior, levels=LEVELS)


def prior_draw(priors: Priors, *, rng: np.random.Generator) -> Weights:
    """Weights drawn from their priors; those that are held stay."""
    changes = {}
    for block, held in priors.centre.blocks.items():
        for name, value in held.items():
            path = f"{block}.{name}"
            away = priors.width(path) * float(rng.standard_normal())
            probability = block in ("claims", "redeems", "passes", "start")
            changes[path] = _moved(value, away) if probability else value + away
    return priors.centre.replace(changes)


def fitted_draw(fit: ModeFit, *, rng: np.random.Generator) -> Weights:
    """Weights drawn around the fitted ones: throws jointly, everything else one by one."""
    root = np.linalg.cholesky(fit.throws.covariance + 1e-12 * np.eye(len(fit.throws.paths)))
    joint = root @ rng.standard_normal(len(fit.throws.paths))
    at = {each.path: each.value for each in fit.estimates}
    changes = {
        path: at[path] + float(away) for path, away in zip(fit.throws.paths, joint, strict=True)
    }
    for each in fit.estimates:
        if each.path in changes or not np.isfinite(each.sd):
            continue
        block = each.path.split(".")[0]
        if block in ("claims", "redeems", "passes", "start"):
            slope = max(each.value * (1.0 - each.value), EDGE)
            away = each.sd / slope * float(rng.standard_normal())
            changes[each.path] = _moved(each.value, away)
    return fit.weights.replace(changes)


def _moved(probability: float, away: float) -> float:
    return float(expit(logit(np.clip(probability, EDGE, 1.0 - EDGE)) + away))


@dataclass(frozen=True)
class Shift:
    """How far a weight moves with priors of other widths.

    Attributes
    ----------
    path
        ``block.weight``.
    value, then
        As fitted, and with the other priors.
    shift
        The difference in standard deviations of the fit.
    """

    path: str
    value: float
    then: float
    shift: float


def prior_shifts(
    model: Model, gathered: Gathered, fit: ModeFit, priors: Priors, *, factor: float = 2.0
) -> list[Shift]:
    """Fit again with priors of other widths; weights that move most come first.

    Parameters
    ----------
    model, gathered, fit, priors
        As they were fitted.
    factor
        Multiplies the width of every prior: below 1 for narrower ones.
    """
    again = fit_mode(model, gathered, priors=replace(priors, factor=priors.factor * factor))
    other: Mapping[str, Estimate] = {each.path: each for each in again.estimates}
    found = [
        Shift(each.path, each.value, other[each.path].value,
              (other[each.path].value - each.value) / max(each.sd, 1e-12))
        for each in fit.estimates
    ]  # fmt: skip
    return sorted(found, key=lambda shift: -abs(shift.shift))
