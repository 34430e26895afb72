"""Which clues earn their place: leave-one-out by game, with and without each of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting.affine import Basis
from handread.fitting.mode.throws import ThrowFit, ThrowProblem, Throws, fit_throws, sums
from handread.fitting.posterior import shim
from handread.fitting.priors import Priors
from handread.values import FrozenMap

Array = NDArray[np.float64]

#: Draws around each mode.
DRAWS: Final = 200


@dataclass(frozen=True)
class Worth:
    """What a clue is worth to the prediction of throws.

    Attributes
    ----------
    name
        Of the clue that was left out; empty for none.
    elpd
        Expected log predictive density of all games, nats.
    difference, standard_error
        Of the whole set less this one, summed over games, nats.
    worst_k
        Largest Pareto shape; above ``shim.most_shape`` of the draws the figure is rough.
    """

    name: str
    elpd: float
    difference: float
    standard_error: float
    worst_k: float


def log_lik_by_game(
    problem: ThrowProblem, fit: ThrowFit, throws: Throws, *, n_draws: int,
    rng: np.random.Generator,
) -> Array:  # fmt: skip
    """Log likelihood of each game under draws around the mode, shape (n_draws, n_games).

    The draws are normal with the curvature's covariance; what is wrong with that, the Pareto
    smoothing weighs or reports.
    """
    root = np.linalg.cholesky(fit.covariance + 1e-12 * np.eye(len(fit.paths)))
    at = np.array([each.value for each in fit.estimates])
    some = at + rng.standard_normal((n_draws, len(at))) @ root.T
    out = []
    for draw in some:
        products, power = problem.products(draw)
        row = []
        for table in throws:
            each = sums(table, products, power)[1] * table.weight
            row.append(np.bincount(table.game, weights=each))
        out.append(np.concatenate(row))
    return np.array(out)


def worth_of_clues(
    basis: Basis, priors: Priors, throws: Throws, *, n_draws: int = DRAWS,
    rng: np.random.Generator,
) -> list[Worth]:  # fmt: skip
    """Leave each clue out in turn, fit the rest anew, and compare by games left out.

    Parameters
    ----------
    basis
        Products of weights of all clues.
    priors
        Centres and widths.
    throws
        The throws, by game.
    n_draws
        Draws around each mode.
    rng
        Source of the draws.
    """
    whole, found = None, []
    for name in ("", *(clue.name for clue in basis.clues)):
        products = [p for p in basis.products if p[0].split(".")[0] == name]
        if name and not products:
            continue
        held = _without(priors, basis, name)
        problem = ThrowProblem(basis, held)
        fit = fit_throws(basis, held, throws)
        drawn = log_lik_by_game(problem, fit, throws, n_draws=n_draws, rng=rng)
        told = shim.loo(drawn[None])
        whole = told.each if whole is None else whole
        away = whole - told.each
        error = float(np.sqrt(len(away) * away.var(ddof=1))) if len(away) > 1 else float("nan")
        worst = float(told.pareto_k.max())
        found.append(Worth(name, told.elpd, float(away.sum()), error, worst))
    return found


def _without(priors: Priors, basis: Basis, name: str) -> Priors:
    """Priors that hold all weights of a clue at 0."""
    if not name:
        return priors
    clue = next(each for each in basis.clues if each.name == name)
    changes = {f"{name}.{weight}": 0.0 for weight in clue.defaults}
    widths = {**priors.widths, **changes}
    return replace(priors, centre=priors.centre.replace(changes), widths=FrozenMap(widths))
