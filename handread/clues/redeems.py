"""Redeems: who gives a natural for an exposed joker, and who lets it lie."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES, NEEDED, Use
from handread.clues.context import Context
from handread.clues.holding import prob_copies

VERSION: Final = 1
SENTENCES: Final = ("{family} can spare {tile} for a joker", "{family} would rather keep {tile}")
Array = NDArray[np.float64]


def redeem_rates(context: Context, kind: int, weights: Mapping[str, float]) -> Array:
    """Probability that a seat gives `kind` for a joker now, by use code, shape (16,)."""
    held = 1.0 - prob_copies(int(context.unseen[kind]), context.pool, context.unknown)[0]
    rates = [weights["spare"]] * N_CODES
    for code in NEEDED:
        rates[code] = weights["needed"]
    rates[Use.EXPOSED], rates[Use.DEFENDING] = weights["own"], weights["defending"]
    return np.asarray(held * np.array(rates), dtype=np.float64)


def redeem_probs(rates: Array) -> tuple[Array, Array]:
    """Probability of each single redeem and of none, from the rates of the kinds on offer.

    The plain twin of ``kernels.fill_redeems``.

    Parameters
    ----------
    rates
        Shape (n_rows, n_kinds_on_offer).

    Returns
    -------
    each
        Shape (n_rows, n_kinds_on_offer).
    none
        Shape (n_rows,); with `each` it sums to 1.
    """
    none = np.prod(1.0 - rates, axis=1)
    total = rates.sum(axis=1)
    share = rates / np.where(total > 0, total, 1.0)[:, None]
    return share * (1.0 - none)[:, None], none
