"""Figures of a study beyond ``summarise``: the second base, two exposures or more, open throws."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from handread.study._arrays import Bools
from handread.study.calibration import top_label_error
from handread.study.intervals import Estimate, estimate
from handread.study.moments import Moments, MomentTable, aligned
from handread.study.observable import observable_skill, small_calibration
from handread.study.scores import bits_gain, bits_log_score
from handread.study.summary import SummaryLine

if TYPE_CHECKING:
    import pandas as pd

#: Own turns of the figures.
OWN_TURNS = (4, 8, 12, 16)
MANY = "exposures 2 or more"


def study_parts(moments: Moments) -> Iterator[tuple[str, Bools]]:
    """Names and masks of the parts of the moments that have figures over the second base."""
    yield "all", np.ones(len(moments), dtype=np.bool_)
    for turn in OWN_TURNS:
        yield f"own turn {turn}", moments.own_turn == turn
    yield "exposures 0", moments.exposures == 0
    yield "exposures 1", moments.exposures == 1
    yield MANY, moments.exposures >= 2


def extra_lines(
    table: MomentTable,
    reader: str,
    *,
    floor: str,
    base: str,
    versus: str,
    resamples: int,
    seed: int,
) -> tuple[SummaryLine, ...]:
    """Figures of a reader over the second base, and with two exposures or more.

    Parameters
    ----------
    table
        Beliefs and truths.
    reader
        Whose figures.
    floor, base, versus
        Readers that gains are over.
    resamples
        Bootstrap sets of games.
    seed
        Seed of the resampling.

    Returns
    -------
    tuple of SummaryLine
    """
    lines: list[SummaryLine] = []
    moments = table.moments(reader)
    level = {
        name: aligned(moments if name == reader else table.moments(name), moments)
        for name in dict.fromkeys((floor, base, versus))
    }
    for place, (part, mask) in enumerate(study_parts(moments)):
        if len(np.unique(moments.game[mask])) < 2:
            continue
        kept = moments.where(mask)
        others = {floor: "gain over " + floor}
        if part == MANY:  # the parts of ``summarise`` hold no such part
            others |= {base: "gain"} | ({versus: f"gain over {versus}"} if versus else {})
        for other, measure in others.items():
            if other == reader and measure != "gain":
                continue
            gain = gain_of(kept, level[other].where(mask))
            found = estimate(
                gain, game=kept.index, unit="bits", resamples=resamples,
                rng=np.random.default_rng([seed, 12, place]),
            )  # fmt: skip
            lines.append(_line(reader, part, measure, found))
        if part == MANY:
            lines.append(error_line(reader, part, kept, [seed, 13, place], resamples))
    return tuple(lines)


def window_lines(windows: pd.DataFrame, *, resamples: int, seed: int) -> tuple[SummaryLine, ...]:
    """Figures of the forecasts of open throws.

    Parameters
    ----------
    windows
        Forecasts of claims and wins.
    resamples
        Bootstrap sets of games.
    seed
        Seed of the resampling.

    Returns
    -------
    tuple of SummaryLine
    """
    lines: list[SummaryLine] = []
    for name, frame in windows.groupby("reader", sort=True, observed=True):
        for what, told in frame.groupby("what", sort=True, observed=True):
            lines += _window_lines(str(name), str(what), told, [seed, 14], resamples)
    return tuple(lines)


def gain_of(moments: Moments, rival: Moments) -> Any:
    """Log score less that of another reader at the same moments, bits, shape (n_moments,)."""
    with np.errstate(invalid="ignore"):
        if (rival.prob > 0).all():
            return bits_gain(moments.prob, rival.prob, moments.truth)
        gap = bits_log_score(moments.prob, moments.truth) - bits_log_score(rival.prob, rival.truth)
    return np.nan_to_num(gap, nan=0.0, posinf=np.inf, neginf=-np.inf)


def _line(reader: str, part: str, measure: str, figure: Estimate) -> SummaryLine:
    return SummaryLine(reader, part, measure, **asdict(figure))


def error_line(
    reader: str, part: str, moments: Moments, seed: list[int], resamples: int
) -> SummaryLine:  # fmt: skip
    """Error of the likeliest row, with the one that a calibrated reader would show by chance."""
    error = top_label_error(
        moments.prob, moments.truth, game=moments.index, resamples=resamples,
        rng=np.random.default_rng(seed),
    )  # fmt: skip
    return SummaryLine(
        reader, part, "top-label error", error.error, 0.0, error.null_error, np.nan, error.level,
        "probability", error.n_games, error.n_moments,
    )  # fmt: skip


def _window_lines(
    reader: str, what: str, frame: pd.DataFrame, seed: list[int], resamples: int
) -> Iterator[SummaryLine]:
    prob, base, happened, game = (
        frame[name].to_numpy() for name in ("prob", "base", "happened", "game")
    )  # fmt: skip
    part = f"open throw: {what}"
    skill = observable_skill(
        prob, base, happened, game=game, rng=np.random.default_rng([*seed, 1]),
        resamples=resamples,
    )  # fmt: skip
    for measure, figure in (
        ("log gain over availability", skill.log_gain),
        ("log skill over availability", skill.log_skill),
        ("Brier skill over availability", skill.brier_skill),
        ("event rate", skill.event_rate),
    ):
        yield _line(reader, part, measure, figure)
    small = small_calibration(
        prob, happened, game=game, rng=np.random.default_rng([*seed, 2]), resamples=resamples
    )  # fmt: skip
    yield _line(reader, part, "small probabilities: observed less stated", small.excess)
    if small.observed_over_stated is not None:
        measure = "small probabilities: observed over stated"
        yield _line(reader, part, measure, small.observed_over_stated)
