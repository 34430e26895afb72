"""The most probable weights where sums over observations know their slopes.

The sums are taken by a few numbers that the weights make up, such as the rate of each group; what
the weights do to these is worked out by differences, which cost nothing beside the sums.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting.mode.newton import Look, descend
from handread.fitting.mode.search import Estimate, Unknown, spread

Array = NDArray[np.float64]

#: How far weights are moved for differences, on the free scale.
_STEP: Final = 1e-3
#: Where there are many observations, one of so many is looked at first.
FIRST: Final = 16
#: And so many are many.
MANY: Final = 20_000

#: Weights by their names without the block, to the numbers that sums are taken by, shape (m,).
Numbers = Callable[[Mapping[str, float]], Array]
#: These numbers to a log likelihood, its slope (m,) and minus its curvature (m, m) by them, and the
#: sum of the squares of the slopes of each observation (m, m), or None.
Sums = Callable[[Array], tuple[float, Array, Array, Array | None]]


def climb(
    numbers: Numbers, taken: Callable[[slice], Sums], wanted: Sequence[Unknown], *, n_rows: int,
    counts: Mapping[str, float], by_squares: bool = False,
) -> list[Estimate]:  # fmt: skip
    """Find the weights that make a log likelihood and their priors most probable.

    Parameters
    ----------
    numbers
        See ``Numbers``.
    taken
        Gives the sums over some of the observations, see ``Sums``.
    wanted
        The weights.
    n_rows
        Observations. Of many, some are looked at first: all of them then need few looks.
    counts
        Observations that bear on each weight, by path.
    by_squares
        Whether standard deviations are by the squares of the slopes (Berndt, Hall, Hall and
        Hausman) or by the curvature.
    """
    if not wanted:
        return []
    centre = np.array([each.centre for each in wanted])
    precision = np.array([each.width for each in wanted]) ** -2.0

    def at(free: Array) -> Array:
        return numbers({
            each.path.split(".")[1]: each.value(x) for each, x in zip(wanted, free, strict=True)
        })  # fmt: skip

    def look(free: Array, sums: Sums) -> Look:
        total, pull, bend, squares = sums(at(free))
        moved, bent = differences(at, free, pull=pull)
        away, prior = free - centre, np.diag(precision)
        return Look(
            float(0.5 * precision @ away**2) - total, precision * away - moved @ pull,
            moved @ bend @ moved.T - bent + prior,
            moved @ (bend if squares is None else squares) @ moved.T + prior,
        )  # fmt: skip

    free, low, high = centre, centre - 12.0, centre + 12.0
    for step in [FIRST] * (n_rows > MANY) + [1]:
        sums = taken(slice(None, None, step))
        free, there = descend(partial(look, sums=sums), free, low=low, high=high)
    sd = spread(there.safe if by_squares else there.curvature)
    return [
        Estimate(each.path, each.value(x), float(s) * each.slope(x), each.value(each.centre),
                 float(counts.get(each.path, np.nan)))
        for each, x, s in zip(wanted, free, sd, strict=True)
    ]  # fmt: skip


def differences(at: Callable[[Array], Array], free: Array, *, pull: Array) -> tuple[Array, Array]:
    """How numbers move with the weights, and how that bends along a direction.

    Parameters
    ----------
    at
        Takes the free weights, gives the numbers, shape (m,).
    free
        Where, shape (n,).
    pull
        The direction, shape (m,).

    Returns
    -------
    first
        Shape (n, m), to the fourth order of the step.
    second
        Of the numbers times `pull`, shape (n, n).

    Examples
    --------
    >>> first, second = differences(lambda x: x**3, np.array([2.0]), pull=np.ones(1))
    >>> first.round(9).tolist(), second.round(6).tolist()
    ([[12.0]], [[12.0]])
    """
    n = len(free)
    steps = _STEP * np.eye(n)
    near = np.array([at(free + step) - at(free - step) for step in steps])
    far = np.array([at(free + 2 * step) - at(free - 2 * step) for step in steps])
    first = (8.0 * near - far) / (12.0 * _STEP)
    second = np.zeros((n, n))
    here = float(at(free) @ pull)
    for i in range(n):
        for j in range(i + 1):
            both, apart = steps[i] + steps[j], steps[i] - steps[j]
            rise = float((at(free + both) + at(free - both)) @ pull)
            fall = float((at(free + apart) + at(free - apart)) @ pull) if i != j else 2.0 * here
            second[i, j] = second[j, i] = (rise - fall) / (4.0 * _STEP**2)
    return first, second
