"""Change of plan: how likely a seat leaves its plan, from what was known before the throw."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from handread.clues.codes import N_UNMODELLED
from handread.clues.context import PHASES, Context

VERSION: Final = 2
SENTENCES: Final = (
    "plans that the table saw fail are left for {family}",
    "the table could see that {family} was getting harder to finish",
)
#: What ``prob_leaving`` looks at in the context.
LOOKS_AT: Final = ("phase", "n_exposed")
Array = NDArray[np.float64]


def prob_leaving(
    context: Context, blocked: NDArray[np.integer], weights: Mapping[str, float]
) -> Array:
    """Probability that each row leaves its plan on this turn.

    Parameters
    ----------
    context
        The seat's, before its throw.
    blocked
        Kinds of each target that the table can see to be gone, shape (n_targets,).
    weights
        Block ``hazard``.

    Returns
    -------
    Array
        Shape (n_targets + 3,).
    """
    phase = PHASES[context.phase]
    x = weights["base"] + weights[phase] + weights["per_exposure"] * context.n_exposed
    out = np.empty(len(blocked) + N_UNMODELLED)
    rates = expit(x + weights["per_blocked"] * np.arange(3))
    out[:-3] = rates[np.minimum(blocked, 2)]
    out[-3] = weights[f"undecided_{phase}"]
    out[-2] = weights["defending"]
    out[-1] = weights["other"]
    return out


def destinations(context: Context, weights: Mapping[str, float]) -> Array:
    """Where a seat goes that leaves: probabilities by origin and destination.

    Parameters
    ----------
    context
        The seat's, before its throw.
    weights
        Block ``destination``.

    Returns
    -------
    Array
        Shape (4, 4): origins target, undecided, defending, other; destinations a target,
        undecided, defending, other. Rows sum to 1.
    """
    danger = weights["defending"] + weights["per_threat"] * max(context.threat - 1, 0)
    danger += weights["short_wall"] * (context.wall < 25)
    loose, off_card = weights["undecided"], weights["other"]
    fold = float(expit(danger)) * (1.0 - loose - off_card)
    rows = np.array(
        [
            [0.0, loose, fold, off_card],
            [0.0, 0.0, fold, off_card],
            [0.0, loose, 0.0, 0.0],
            [0.0, loose, fold, 0.0],
        ]
    )
    rows[:, 0] = 1.0 - rows.sum(axis=1)
    return rows
