"""Forecasts of what everybody sees: who claims a throw, who wins on it.

They need no revealed hand, so they can be scored at real tables. Most of them are small
probabilities, where a reliability diagram shows nothing: these have bins of their own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import (
    Bools,
    Floats,
    Ints,
    bin_edges,
    bin_of,
    chances,
    sums_by,
)
from handread.study.clusters import GameIndex, game_index
from handread.study.intervals import LEVEL, RESAMPLES, Estimate, bootstrap_figures, column
from handread.values import ArrayValue

#: Bins of small probabilities, fixed once for every study.
SMALL_EDGES = (0.0, 0.01, 0.02, 0.05, 0.1, 0.15)


def _bits(prob: Floats, event: Floats) -> Floats:
    """Log score of yes-or-no forecasts in bits, shape (n_moments,)."""
    yes = np.zeros_like(prob)
    no = np.zeros_like(prob)
    with np.errstate(divide="ignore"):
        np.log2(prob, out=yes, where=event > 0.0)
        np.log2(1.0 - prob, out=no, where=event < 1.0)
    return np.asarray(event * yes + (1.0 - event) * no)


def _square(prob: Floats, event: Floats) -> Floats:
    return np.asarray(event * (1.0 - prob) ** 2 + (1.0 - event) * prob**2)


@dataclass(frozen=True)
class ObservableSkill:
    """Yes-or-no forecasts against a base.

    Attributes
    ----------
    log_gain
        Bits a moment over the base: how much shorter a record of what happened could be
        written. Above 0 the forecast is worth having.
    log_skill
        Share of the base's log loss that is saved: 1 is certainty, 0 the base, below 0 worse.
    brier_skill
        Share of the base's Brier loss that is saved, likewise.
    event_rate
        Share of moments at which it happened: what the skills must be read against.
    """

    log_gain: Estimate
    log_skill: Estimate
    brier_skill: Estimate
    event_rate: Estimate


def _log_skill(means: Floats) -> Floats:
    return np.asarray(1.0 - means[..., 1] / means[..., 2])


def _brier_skill(means: Floats) -> Floats:
    return np.asarray(1.0 - means[..., 3] / means[..., 4])


def observable_skill(
    prob: ArrayLike,
    base: ArrayLike,
    event: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> ObservableSkill:
    """Score forecasts of an observable event over a base.

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    base
        What one would state from availability alone, shape (n_moments,).
    event
        1 where it happened, 0 where not, shape (n_moments,).
    game
        Game of each moment, shape (n_moments,).
    rng
        Source of the resampling of games.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    ObservableSkill

    Raises
    ------
    HandreadError
        If the base calls impossible what happened.

    Examples
    --------
    >>> rng = np.random.default_rng(0)
    >>> told = observable_skill([0.5, 0.25], [0.25, 0.5], [1, 0], game=[1, 2], rng=rng)
    >>> round(told.log_gain.value, 4), round(told.brier_skill.value, 4)
    (0.7925, 0.6154)
    """
    stated = chances(prob, "prob")
    floor = chances(base, "base", len(stated))
    happened = chances(event, "event", len(stated))
    index = game_index(game, len(stated))
    of_base = _bits(floor, happened)
    if not np.isfinite(of_base).all():
        where = int(np.argmin(np.isfinite(of_base)))
        raise HandreadError(
            f"base is {float(floor[where])!r} and event {float(happened[where])!r} at moment "
            f"{where}; accepted: a base that never calls impossible what happens"
        )
    scored = _bits(stated, happened)
    per_moment = np.stack(
        [scored - of_base, -scored, -of_base, _square(stated, happened), _square(floor, happened),
         happened],
        axis=1,
    )  # fmt: skip
    told = bootstrap_figures(
        index.means(per_moment),
        [(column(0), "bits"), (_log_skill, "share"), (_brier_skill, "share"),
         (column(5), "probability")],
        rng=rng, n_moments=index.n_moments, level=level, resamples=resamples,
    )  # fmt: skip
    return ObservableSkill(*told)


@dataclass(frozen=True, eq=False)
class SmallCalibration(ArrayValue):
    """Calibration of small probabilities, where rare events decide.

    Attributes
    ----------
    edges
        Edges of the bins, shape (n_bins + 1,).
    stated, observed
        Mean probability and share of events of each bin, NaN in empty ones, shape (n_bins,).
    observed_low, observed_high
        Interval of `observed - stated` over games, added to `stated`; NaN where a bin has
        fewer than two games, shape (n_bins,).
    moments, events
        Moments, and events among them, in each bin, shape (n_bins,).
    observed_over_stated
        Events that happened over events that were announced, all bins together: 1 when
        calibrated, above 1 when dangers were called too small. None without an event.
    excess
        Observed less stated, probability.
    """

    edges: Floats
    stated: Floats
    observed: Floats
    observed_low: Floats
    observed_high: Floats
    moments: Ints
    events: Floats
    observed_over_stated: Estimate | None
    excess: Estimate


def _over(means: Floats) -> Floats:
    return np.asarray(means[..., 0] / means[..., 1])


def _excess(means: Floats) -> Floats:
    return np.asarray(means[..., 0] - means[..., 1])


def small_calibration(
    prob: ArrayLike,
    event: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    edges: ArrayLike = SMALL_EDGES,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> SmallCalibration:
    """Check forecasts of at most the last edge: did as many happen as were announced?

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    event
        1 where it happened, 0 where not, shape (n_moments,).
    game
        Game of each moment, shape (n_moments,).
    rng
        Source of the resampling of games.
    edges
        Edges of the bins, fixed before looking; moments above the last are left out.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    SmallCalibration
    """
    stated = chances(prob, "prob")
    happened = chances(event, "event", len(stated))
    index = game_index(game, len(stated))
    cuts = bin_edges(edges)
    code = bin_of(stated, cuts)
    kept = code >= 0
    if not kept.any():
        raise HandreadError(
            f"no moment has prob from {float(cuts[0])!r} to {float(cuts[-1])!r}; accepted: at "
            "least one"
        )
    part = game_index(index.label[index.code][kept])
    both = np.stack([happened[kept], stated[kept]], axis=1)
    over, excess = bootstrap_figures(
        part.means(both), [(_over, "observed / stated"), (_excess, "probability")],
        rng=rng, n_moments=part.n_moments, level=level, resamples=resamples,
    )  # fmt: skip
    n_bins = len(cuts) - 1
    table = np.full((4, n_bins), np.nan)
    for place in range(n_bins):
        table[:, place] = _bin(both, code[kept] == place, part, rng, level, resamples)
    return SmallCalibration(
        cuts, table[0], table[1], table[2], table[3],
        np.bincount(code[kept], minlength=n_bins).astype(np.int64),
        sums_by(code[kept], happened[kept], n_bins),
        over if happened[kept].any() else None, excess,
    )  # fmt: skip


def _bin(
    both: Floats,
    inside: Bools,
    index: GameIndex,
    rng: np.random.Generator,
    level: float,
    resamples: int,
) -> tuple[float, float, float, float]:
    """Stated, observed and the interval of one bin."""
    if not inside.any():
        return np.nan, np.nan, np.nan, np.nan
    part = game_index(index.label[index.code][inside])
    means = part.means(both[inside])
    observed, stated = (float(value) for value in means.mean(axis=0))
    if part.n_games < 2:
        return stated, observed, np.nan, np.nan
    (gap,) = bootstrap_figures(
        means, [(_excess, "probability")],
        rng=rng, n_moments=part.n_moments, level=level, resamples=resamples,
    )  # fmt: skip
    return stated, observed, stated + gap.low, stated + gap.high


def discrimination(prob: ArrayLike, event: ArrayLike) -> float:
    """Probability that a moment with the event was given more than one without (ties half).

    The area under the ROC curve. It sees order only; a reader who is ten times too high
    everywhere keeps it.

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    event
        1 where it happened, 0 where not, shape (n_moments,).

    Returns
    -------
    float
        From 0 to 1; 0.5 is no order at all.

    References
    ----------
    Mason, S. J. and Graham, N. E. (2002), Q. J. R. Meteorol. Soc. 128, 2145-2166.

    Examples
    --------
    >>> discrimination([0.1, 0.4, 0.4, 0.9], [0, 0, 1, 1])
    0.875
    """
    from scipy.stats import rankdata

    stated = chances(prob, "prob")
    happened = chances(event, "event", len(stated))
    yes = happened == 1.0
    no = happened == 0.0
    if not (yes.any() and no.any() and bool(np.all(yes | no))):
        raise HandreadError(
            f"event holds {np.unique(happened)[:5].tolist()!r}; accepted: 0 and 1, both of them"
        )
    ranks = rankdata(stated)
    n_yes, n_no = int(yes.sum()), int(no.sum())
    return float((ranks[yes].sum() - n_yes * (n_yes + 1) / 2.0) / (n_yes * n_no))
