"""Where seats go that change their plan, part by part: near, hand, family, anywhere."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.reading import Model
from handread.reading.kernel import MaskedKernel, masked

Array = NDArray[np.float64]

#: Parts of the kernel, in the order of its shares; names of weights of the block ``destination``.
PARTS: Final = ("near", "hand", "family", "anywhere")


class Arrivals:
    """The kernel of a model with its parts taken apart.

    Parameters
    ----------
    model
        The model.
    """

    def __init__(self, model: Model) -> None:
        self._kernels = [
            replace(model.kernel, shares=shares)
            for shares in (
                (1.0, 0.0, 0.0, 0.0),
                (0.0, 1.0, 0.0, 0.0),
                (0.0, 0.0, 1.0, 0.0),
                (0.0, 0.0, 0.0, 1.0),
            )
        ]
        self._masked = lru_cache(maxsize=64)(self._mask)
        self._n_rows = model.n_rows

    def _mask(self, packed: bytes, n: int) -> tuple[MaskedKernel, ...]:
        fits = np.unpackbits(np.frombuffer(packed, dtype=np.uint8), count=n).astype(np.bool_)
        to_targets = np.eye(4)
        return tuple(masked(kernel, fits, to_targets) for kernel in self._kernels)

    def parts(self, fits: NDArray[np.bool_], old: int, new: int) -> Array:
        """Probability of a new target by each part alone; -1 where a part has nowhere to go.

        Parameters
        ----------
        fits
            Targets that the seat's exposures allow, shape (n_targets,).
        old, new
            Targets.

        Returns
        -------
        Array
            Shape (4,).
        """
        out = np.zeros(4)
        start = np.zeros(self._n_rows)
        start[old] = 1.0
        kernels = self._masked(np.packbits(fits).tobytes(), len(fits))
        for part, kernel in enumerate(kernels):
            arriving = kernel.forward(start)
            nowhere = kernel.stuck[old] > 0 or not arriving[: len(fits)].any()
            out[part] = -1.0 if nowhere else arriving[new]
        return out

    def returning(self, fits: NDArray[np.bool_], target: int) -> float:
        """Probability that a seat which leaves a target arrives at the same again.

        Such a turn looks like one that kept the plan: 1 where the seat's exposures allow no other
        target, else 0.
        """
        return float(fits[target] and fits.sum() == 1)

    def __getstate__(self) -> tuple[object, ...]:
        return (self._kernels, self._n_rows)

    def __setstate__(self, state: tuple[Any, Any]) -> None:
        self._kernels, self._n_rows = state
        self._masked = lru_cache(maxsize=64)(self._mask)
