"""Murphy's decomposition of the Brier score on bins that were fixed beforehand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Floats, Ints, bin_edges, bin_of, chances, sums_by
from handread.study.clusters import GameIndex, game_index
from handread.values import ArrayValue


@dataclass(frozen=True, eq=False)
class Murphy(ArrayValue):
    """The Brier score of yes-or-no forecasts in parts.

    brier = reliability - resolution + uncertainty + within_bins, exactly.

    Attributes
    ----------
    brier
        Mean of (prob - event)^2.
    reliability
        Mean squared distance of stated from observed over bins; 0 is calibrated.
    resolution
        Mean squared distance of observed in the bin from observed over all; larger is better.
    uncertainty
        base_rate (1 - base_rate).
    within_bins
        What is left because forecasts within a bin differ; 0 when bins are single values.
    skill
        1 - brier / uncertainty: share of the base rate's loss that is saved.
    base_rate
        Share of the moments with the event.
    stated, observed
        Mean probability and share of events of each bin, NaN in empty ones, shape (n_bins,).
    weight
        Share of the moments in each bin, games counting alike, shape (n_bins,).
    moments
        Moments in each bin, shape (n_bins,).
    n_games
        Games in all; 0 if no game key was given.
    """

    brier: float
    reliability: float
    resolution: float
    uncertainty: float
    within_bins: float
    skill: float
    base_rate: float
    stated: Floats
    observed: Floats
    weight: Floats
    moments: Ints
    n_games: int


def murphy(
    prob: ArrayLike,
    event: ArrayLike,
    *,
    edges: ArrayLike | None = None,
    game: ArrayLike | GameIndex | None = None,
) -> Murphy:
    """Split the Brier score of yes-or-no forecasts by bins.

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    event
        1 where it happened, 0 where not, shape (n_moments,).
    edges
        Edges of the bins, to be fixed before looking; a bin holds its lower edge, the last
        one both. Without them every distinct probability is a bin of its own.
    game
        Game of each moment; games then count alike. Without it moments do.

    Returns
    -------
    Murphy

    References
    ----------
    Murphy, A. H. (1973), J. Appl. Meteorol. 12, 595-600. Within-bin terms: Stephenson,
    D. B., Coelho, C. A. S. and Jolliffe, I. T. (2008), Weather Forecast. 23, 752-757 (from
    memory).

    Examples
    --------
    >>> parts = murphy([0.0, 0.0, 0.5, 0.5], [0, 0, 0, 1])
    >>> parts.brier, parts.reliability, parts.resolution, parts.uncertainty
    (0.125, 0.0, 0.0625, 0.1875)
    """
    stated = chances(prob, "prob")
    happened = chances(event, "event", len(stated))
    if game is None:
        share, n_games = np.full(len(stated), 1.0 / len(stated)), 0
    else:
        index = game_index(game, len(stated))
        share, n_games = index.weight, index.n_games
    if edges is None:
        values, code = np.unique(stated, return_inverse=True)
        n_bins = len(values)
    else:
        cuts = bin_edges(edges)
        code, n_bins = bin_of(stated, cuts), len(cuts) - 1
        if code.min() < 0:
            where = int(np.argmin(code))
            raise HandreadError(
                f"prob is {float(stated[where])!r} at moment {where}, outside the edges; "
                f"accepted: {float(cuts[0])!r} to {float(cuts[-1])!r}"
            )

    def mean(values: Floats) -> Floats:
        with np.errstate(invalid="ignore"):
            return sums_by(code, share * values, n_bins) / weight

    weight = sums_by(code, share, n_bins)
    moments = np.bincount(code, minlength=n_bins).astype(np.int64)
    said, seen = mean(stated), mean(happened)
    rate = float(share @ happened)
    brier = float(share @ (happened * (1.0 - stated) ** 2 + (1.0 - happened) * stated**2))
    uneven = float(np.nansum(weight * (said - seen) ** 2))
    told = float(np.nansum(weight * (seen - rate) ** 2))
    unsure = rate * (1.0 - rate)
    skill = 1.0 - brier / unsure if unsure > 0.0 else np.nan
    return Murphy(
        brier, uneven, told, unsure, brier - (uneven - told + unsure), skill, rate,
        said, seen, weight, moments, n_games,
    )  # fmt: skip
