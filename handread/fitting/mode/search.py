"""Search for the most probable value of a few weights, with the width of what is left open."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import expit, logit

from handread.errors import HandreadError, closest
from handread.fitting.priors import Priors

Array = NDArray[np.float64]

#: Probabilities are kept this far from 0 and 1 when they become log odds.
EDGE: Final = 1e-5
LINKS: Final = ("plain", "logit")


@dataclass(frozen=True)
class Unknown:
    """One weight to be found.

    Attributes
    ----------
    path
        ``block.weight``.
    link
        ``"plain"``, or ``"logit"`` for a probability: the scale on which it is free.
    centre, width
        Of its normal prior on that scale; an infinite width is a flat prior.
    """

    path: str
    link: str
    centre: float
    width: float

    def __post_init__(self) -> None:
        if self.link not in LINKS:
            raise HandreadError(f"link is {self.link!r}; {closest(self.link, LINKS)}")
        if not self.width > 0:
            raise HandreadError(f"{self.path}: width {self.width!r}; accepted: above 0")

    def value(self, free: float) -> float:
        """Weight at a place on the free scale."""
        return float(expit(free)) if self.link == "logit" else float(free)

    def slope(self, free: float) -> float:
        """How fast the weight moves there."""
        held = self.value(free)
        return held * (1.0 - held) if self.link == "logit" else 1.0


@dataclass(frozen=True)
class Estimate:
    """A weight found.

    Attributes
    ----------
    path
        ``block.weight``.
    value
        Most probable value.
    sd
        Standard deviation by the curvature there, on the scale of the value.
    start
        Centre of the prior, on the scale of the value.
    n
        Observations that bear on it, in seats' minds.
    """

    path: str
    value: float
    sd: float
    start: float
    n: float


def unknowns(priors: Priors, block: str, *, probabilities: Sequence[str] = ()) -> list[Unknown]:
    """Weights of a block that are to be found.

    Parameters
    ----------
    priors
        Centres and widths.
    block
        The block.
    probabilities
        Names of the weights that are probabilities.
    """
    found = []
    for path in priors.free(block):
        centre = priors.value(path)
        link = "logit" if path.split(".")[1] in probabilities else "plain"
        if link == "logit":
            centre = float(logit(np.clip(centre, EDGE, 1.0 - EDGE)))
            centre = float(np.clip(centre, -9.0, 4.0))  # a rate of 1 is a guess, too
        found.append(Unknown(path, link, centre, priors.width(path)))
    return found


def search(
    log_lik: Callable[[Mapping[str, float]], float],
    wanted: Sequence[Unknown],
    *,
    counts: Mapping[str, float] | None = None,
) -> list[Estimate]:
    """Find the weights that make a log likelihood and their priors most probable.

    Parameters
    ----------
    log_lik
        Takes the weights by their names without the block, gives nats.
    wanted
        The weights.
    counts
        Observations that bear on each weight, by path.

    Notes
    -----
    Gradients are central differences: for a dozen weights over columns, not for throws.
    """
    if not wanted:
        return []
    centre = np.array([each.centre for each in wanted])
    width = np.array([each.width for each in wanted])

    def loss(free: Array) -> float:
        held = {
            each.path.split(".")[1]: each.value(x) for each, x in zip(wanted, free, strict=True)
        }
        return 0.5 * float((((free - centre) / width) ** 2).sum()) - log_lik(held)

    def both(free: Array) -> tuple[float, Array]:
        return loss(free), gradient(loss, free)

    found = minimize(
        both, centre, jac=True, method="L-BFGS-B", options={"maxiter": 500, "ftol": 1e-11},
        bounds=[(c - 12.0, c + 12.0) for c in centre.tolist()],
    )  # fmt: skip
    sd = spread(hessian(loss, found.x))
    seen = counts or {}
    return [
        Estimate(each.path, each.value(x), float(s) * each.slope(x), each.value(each.centre),
                 float(seen.get(each.path, np.nan)))
        for each, x, s in zip(wanted, found.x, sd, strict=True)
    ]  # fmt: skip


def gradient(loss: Callable[[Array], float], at: Array, step: float = 1e-5) -> Array:
    """Central differences, shape (n,)."""
    out = np.empty(len(at))
    for i in range(len(at)):
        up, down = at.copy(), at.copy()
        up[i] += step
        down[i] -= step
        out[i] = (loss(up) - loss(down)) / (2.0 * step)
    return out


def hessian(loss: Callable[[Array], float], at: Array, step: float = 1e-3) -> Array:
    """Central differences of the gradient, symmetric, shape (n, n)."""
    rows = []
    for i in range(len(at)):
        up, down = at.copy(), at.copy()
        up[i] += step
        down[i] -= step
        rows.append((gradient(loss, up) - gradient(loss, down)) / (2.0 * step))
    out = np.array(rows)
    return np.asarray((out + out.T) / 2.0)


def spread(curvature: Array) -> Array:
    """Standard deviations by a curvature, nan where it shows none, shape (n,)."""
    with np.errstate(invalid="ignore"):
        try:
            return np.asarray(np.sqrt(np.diag(np.linalg.inv(curvature))))
        except np.linalg.LinAlgError:
            return np.full(len(curvature), np.nan)
