"""The few places where ArviZ 0.23 with PyMC 5 and ArviZ 1 with PyMC 6 differ."""

from __future__ import annotations

import warnings
from collections.abc import Mapping
from math import log10
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]


class Loo(NamedTuple):
    """Leave-one-out: expected log predictive density of all units and of each, nats; shapes.

    A Pareto shape above ``most_shape`` says that the figure of its unit is not to be trusted.
    """

    elpd: float
    each: NDArray[np.float64]
    pareto_k: NDArray[np.float64]


def _arviz() -> Any:
    """ArviZ, imported when first asked for; only partly typed."""
    import arviz

    return arviz


def major() -> int:
    """First number of the version of ArviZ."""
    return int(_arviz().__version__.split(".")[0])


def inference_data(
    posterior: Mapping[str, Array], log_likelihood: Mapping[str, Array] | None = None
) -> Any:
    """Arrays of shape (n_chains, n_draws, ...) as ArviZ wants them."""
    groups = {"posterior": dict(posterior)}
    if log_likelihood is not None:
        groups["log_likelihood"] = dict(log_likelihood)
    return _arviz().from_dict(groups) if major() >= 1 else _arviz().from_dict(**groups)


def rhat(values: Array) -> Array:
    """R-hat of each number, ranks split; shape of the numbers."""
    with np.errstate(invalid="ignore", divide="ignore"):  # chains that do not move: nan
        return np.asarray(_arviz().rhat(_alone(values))["x"].values)


def ess(values: Array, method: str) -> Array:
    """Effective sample size of each number, ``"bulk"`` or ``"tail"``; shape of the numbers."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(_arviz().ess(_alone(values), method=method)["x"].values)


def loo(log_likelihood: Array) -> Loo:
    """Pareto-smoothed leave-one-out of log likelihoods, shape (n_chains, n_draws, n_units)."""
    data = inference_data({"x": np.zeros(log_likelihood.shape[:2])}, {"y": log_likelihood})
    with warnings.catch_warnings():  # the shapes are returned, so nothing is hidden
        warnings.filterwarnings("ignore", message="Estimated shape parameter of Pareto")
        found = _arviz().loo(data, pointwise=True)
    new = hasattr(found, "elpd")
    each = np.asarray((found.elpd_i if new else found.loo_i).values, dtype=np.float64)
    shapes = np.asarray(found.pareto_k.values, dtype=np.float64)
    return Loo(float(found.elpd if new else found.elpd_loo), each, shapes)


def most_shape(n_draws: int) -> float:
    """Pareto shape up to which a smoothed figure of so many draws is to be trusted.

    Vehtari et al., Pareto smoothed importance sampling, JMLR 25, 2024, from memory.

    >>> round(most_shape(200), 3), most_shape(5000)
    (0.565, 0.7)
    """
    return min(1.0 - 1.0 / log10(n_draws), 0.7)


def _alone(values: Array) -> Any:
    data = inference_data({"x": values})
    return data["posterior"]
