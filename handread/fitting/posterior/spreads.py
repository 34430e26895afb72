"""About how far people differ, found in seconds: where a sampler starts, and how it writes people.

Each person's weights are found at their most probable values with a normal curvature, around means
and spreads that are then found anew from the people: expectation and maximisation by turns. No
part of the posterior: it says what form is good, and the sampler says what is so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting.posterior.sparse import PARTS, SparseBlock
from handread.values import ArrayValue

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Array = NDArray[np.float64]

#: Turns of expectation and maximisation, and Newton's steps within the first and the others.
TURNS: Final = 12
STEPS: Final = (4, 1)
#: Spreads do not go below this, nats; at 0 they would stay there.
LEAST_SPREAD: Final = 0.02


@dataclass(frozen=True, eq=False)
class Spreads(ArrayValue):
    """People of a block, roughly.

    Attributes
    ----------
    names
        Weights that differ between people.
    mean, spread
        Of these weights between people, shape (n_names,).
    known
        Share of a person's place that its own choices tell, the rest being told by the others:
        0 for nothing, 1 for all; median over people, shape (n_names,).
    """

    names: tuple[str, ...]
    mean: Array
    spread: Array
    known: Array


def likely_spreads(
    block: SparseBlock, at: Array, names: tuple[str, ...], *, spread: float = 0.3
) -> Spreads:
    """Find about how far people differ.

    Parameters
    ----------
    block
        The choices.
    at
        Weights to start from, shape (n_names,); weights that do not differ stay there.
    names
        Weights that differ between people.
    spread
        Between people, to start from, nats.
    """
    from handread.fitting.posterior.kernels import choices_log_prob

    places = np.array([block.names.index(name) for name in names])
    parts = [getattr(block, part) for part in PARTS]
    features = block.features()
    own = np.tile(at, (len(block.people), 1))
    mean, spreads = own[0, places].copy(), np.full(len(places), spread)
    for turn in range(TURNS):
        for _ in range(STEPS[turn > 0]):
            gradient = choices_log_prob(own, *parts)[1][:, places]
            gradient -= (own[:, places] - mean) / spreads**2
            curved = _curvatures(block, features, own, places) + np.diag(spreads**-2.0)
            own[:, places] += np.linalg.solve(curved, gradient[..., None])[..., 0]
        left = np.einsum("pii->pi", np.linalg.inv(curved))
        mean = own[:, places].mean(axis=0)
        square = ((own[:, places] - mean) ** 2 + left).mean(axis=0)
        spreads = np.maximum(np.sqrt(square), LEAST_SPREAD)
    return Spreads(names, mean, spreads, np.median(1.0 - left / spreads**2, axis=0))


def _curvatures(
    block: SparseBlock, features: csr_array, own: Array, places: NDArray[np.int64]
) -> Array:
    """Curvature of each person's log loss by its own weights, shape (n_people, n, n)."""
    prob = np.exp(block.log_probs(own, features))
    begins = block.first_alternative[block.first_choice]
    out = np.empty((len(block.people), len(places), len(places)))
    own_features = features[:, places]
    for person in range(len(block.people)):
        choices = slice(block.first_choice[person], block.first_choice[person + 1])
        here = slice(begins[person], begins[person + 1])
        dense = own_features[here].toarray()
        first = block.first_alternative[choices] - begins[person]
        weighted = dense * prob[here, None]
        mean = np.add.reduceat(weighted, first, axis=0)
        weight = block.weight[choices]
        sizes = np.diff(block.first_alternative[choices.start : choices.stop + 1])
        out[person] = (weighted * np.repeat(weight, sizes)[:, None]).T @ dense
        out[person] -= (mean * weight[:, None]).T @ mean
    return out
