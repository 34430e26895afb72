"""Where seats go that change their plan, part by part: near, hand, family, anywhere."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.reading import Model
from handread.reading.kernel import near_halves

Array = NDArray[np.float64]

#: Parts of the kernel, in the order of its shares; names of weights of the block ``destination``.
PARTS: Final = ("near", "hand", "family", "anywhere")
#: Mass below which a part has nowhere to go, as for ``reading.kernel.masked``.
_NOTHING: Final = 1e-15


class Arrivals:
    """The kernel of a model with its parts taken apart.

    Parameters
    ----------
    model
        The model.
    """

    def __init__(self, model: Model) -> None:
        self._kernel = model.kernel

    def parts(self, fits: NDArray[np.bool_], old: int, new: int) -> Array:
        """Probability of a new target by each part alone; -1 where a part has nowhere to go.

        What ``reading.kernel.masked`` gives a kernel that has one part alone, for one old target.

        Parameters
        ----------
        fits
            Targets that the seat's exposures allow, shape (n_targets,).
        old, new
            Targets, not the same.

        Returns
        -------
        Array
            Shape (4,).
        """
        kernel = self._kernel
        hand, family = (
            kernel.hand_of == kernel.hand_of[old],
            kernel.family_of == kernel.family_of[old],
        )
        weighted = fits * kernel.prior
        own, near, pulls = weighted[old], kernel.near[old], near_halves(kernel.apart[old])
        order = np.argsort(near)  # summed in the order of the targets
        reached = (pulls * kernel.pull[near] * fits[near])[order]
        mass = np.array([
            kernel.whole[old] * _sum(reached), _sum(weighted[hand]) - own,
            _sum(weighted[family]) - own, weighted.sum() - own,
        ])  # fmt: skip
        shares = np.divide(1.0, mass, out=np.zeros(4), where=mass > _NOTHING)
        close = float(pulls[near == new].sum())
        arriving = np.array([
            close * (shares[0] * kernel.whole[old]) * kernel.pull[new],
            shares[1] * hand[new] * kernel.prior[new], shares[2] * family[new] * kernel.prior[new],
            shares[3] * kernel.prior[new],
        ])  # fmt: skip
        return np.where(mass > _NOTHING, arriving * fits[new], -1.0)

    def returning(self, fits: NDArray[np.bool_], target: int) -> float:
        """Probability that a seat which leaves a target arrives at the same again.

        Such a turn looks like one that kept the plan: 1 where the seat's exposures allow no other
        target, else 0.
        """
        return float(fits[target] and np.count_nonzero(fits) == 1)


def _sum(values: Array) -> float:
    """Sum from first to last, as loops add."""
    return float(values.cumsum()[-1]) if len(values) else 0.0
