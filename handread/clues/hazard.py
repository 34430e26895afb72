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
#: What ``destinations`` looks at in the context.
DESTINATIONS_LOOK_AT: Final = ("threat", "short_wall")
#: Kinds gone beyond which more make no difference.
MOST_BLOCKED: Final = 2
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
    return by_blocked(leaving_rates(context, weights), blocked)


def by_blocked(rates: Array, blocked: NDArray[np.integer]) -> Array:
    """Give each row its rate of ``leaving_rates``, shape (n_targets + 3,)."""
    out = np.empty(len(blocked) + N_UNMODELLED)
    out[:-N_UNMODELLED] = rates[np.minimum(blocked, MOST_BLOCKED)]
    out[-N_UNMODELLED:] = rates[-N_UNMODELLED:]
    return out


def leaving_rates(context: Context, weights: Mapping[str, float]) -> Array:
    """Probability of leaving a plan on this turn, by what the plan is.

    Returns
    -------
    Array
        A target with 0, 1, and 2 or more kinds gone; undecided, defending, other; shape (6,).
    """
    phase = PHASES[context.phase]
    x = weights["base"] + weights[phase] + weights["per_exposure"] * context.n_exposed
    rates = expit(x + weights["per_blocked"] * np.arange(MOST_BLOCKED + 1))
    loose = (weights[f"undecided_{phase}"], weights["defending"], weights["other"])
    return np.concatenate([rates, loose])


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
    danger += weights["short_wall"] * context.short_wall
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
