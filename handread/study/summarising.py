"""Moments in, a summary out: every score of every reader, in all and by part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from handread.study._arrays import Bools, Floats
from handread.study.bands import null_band
from handread.study.calibration import top_label_error
from handread.study.clusters import GameIndex
from handread.study.coverage import set_coverage
from handread.study.frames import UpdateFrame
from handread.study.information import Honesty, honesty_by
from handread.study.intervals import (
    LEVEL,
    RESAMPLES,
    Estimate,
    bootstrap_figures,
    column,
    paired_difference,
)
from handread.study.lead import lead_curve
from handread.study.moments import Moments, MomentTable, aligned
from handread.study.power import calibration_power, power_matters
from handread.study.proportions import share_of_games
from handread.study.reliability import reliability_by_row, reliability_curve, stated_top
from handread.study.scores import (
    bits_gain,
    bits_log_score,
    brier_score,
    rank_of_truth,
    top_k_hit,
    truth_called_impossible,
)
from handread.study.summary import Summary, SummaryLine

#: Sets of signs behind the null of a miscalibration.
NULL_RESAMPLES = 200

#: Scores given in every part of the moments, with their units.
SCORES = (
    ("gain", "bits"), ("log score", "bits"), ("Brier score", "squared probability"),
    ("rank of truth", "place"), ("top 1", "probability"), ("top 3", "probability"),
    ("top 5", "probability"), ("truth called impossible", "probability"),
    ("true-state ratio", "ratio"),
)  # fmt: skip


@dataclass(frozen=True)
class _Options:
    """What every figure of a summary shares: resamples are the same for every reader."""

    seed: int
    level: float
    resamples: int

    def rng(self, *place: int) -> np.random.Generator:
        return np.random.default_rng([self.seed, *place])


def _line(reader: str, part: str, measure: str, figure: Estimate) -> SummaryLine:
    return SummaryLine(reader, part, measure, **asdict(figure))


def _parts(
    moments: Moments, turns: tuple[int, ...], from_end: tuple[int, ...]
) -> Iterator[tuple[str, Bools]]:
    """Names and masks of the parts of the moments that hold at least two games."""
    yield "all", np.ones(len(moments), dtype=np.bool_)
    for turn in turns:
        yield f"own turn {turn}", moments.own_turn == turn
    for turn in from_end:
        yield f"turns to end {turn}", moments.turns_to_end == turn
    for exposed in range(3):
        yield f"exposures {exposed}", moments.exposures == exposed
    yield "exposures 3 or more", moments.exposures >= 3


def _score_table(moments: Moments, base: Floats) -> Floats:
    """Scores of each moment in the order of `SCORES`, shape (n_moments, 8)."""
    prob, truth = moments.prob, moments.truth
    columns = [
        bits_gain(prob, base, truth), bits_log_score(prob, truth), brier_score(prob, truth),
        rank_of_truth(prob, truth), *(top_k_hit(prob, truth, k) for k in (1, 3, 5)),
        truth_called_impossible(prob, truth),
    ]  # fmt: skip
    return np.stack(columns, axis=1)


def _ratio(means: Floats) -> Floats:
    return np.asarray(2.0 ** means[..., 0])


def _scores(
    reader: str, part: str, table: Floats, index: GameIndex, options: _Options, rng: Any
) -> Iterator[SummaryLine]:
    figures = [column(place) for place in range(len(SCORES) - 1)] + [_ratio]
    per_game = index.means(table)
    finite = np.asarray(np.isfinite(per_game).all(axis=0))
    # an infinite score must not take the intervals of the others with it
    safe = np.where(finite, per_game, 0.0)
    told = bootstrap_figures(
        safe, list(zip(figures, (unit for _, unit in SCORES), strict=True)),
        rng=rng, n_moments=index.n_moments, level=options.level, resamples=options.resamples,
    )  # fmt: skip
    for place, ((measure, unit), figure) in enumerate(zip(SCORES, told, strict=True)):
        source = 0 if measure == "true-state ratio" else place
        if finite[source]:
            yield _line(reader, part, measure, figure)
        else:
            value = float(figures[place](per_game.mean(axis=0)))
            none = Estimate(
                value, np.nan, np.nan, np.nan, options.level, unit, index.n_games, index.n_moments
            )
            yield _line(reader, part, measure, none)


def _calibration(
    reader: str, part: str, moments: Moments, options: _Options, place: int
) -> Iterator[SummaryLine]:
    """Top-label error with its null band, and power, of one part."""
    shared: dict[str, Any] = {
        "game": moments.index, "level": options.level, "resamples": options.resamples,
    }  # fmt: skip
    error = top_label_error(moments.prob, moments.truth, rng=options.rng(place, 1), **shared)
    counts = (error.n_games, error.n_moments)
    yield SummaryLine(
        reader, part, "top-label error", error.error, 0.0, error.null_error, np.nan,
        options.level, "probability", *counts,
    )  # fmt: skip
    yield SummaryLine(
        reader, part, "top-label error p-value", error.p_value, np.nan, np.nan, np.nan,
        options.level, "probability", *counts,
    )  # fmt: skip
    if (
        power_matters(moments.prob)
        and not truth_called_impossible(moments.prob, moments.truth).any()
    ):  # otherwise no power is defined, and the scores say why
        power = calibration_power(
            moments.prob, moments.truth, rng=options.rng(place, 2),
            folds=min(5, error.n_games), **shared,
        )  # fmt: skip
        yield _line(reader, part, "power", power.power)
        yield _line(reader, part, "gain of best power, held out", power.held_out_gain)


def _sets(reader: str, moments: Moments, options: _Options) -> Iterator[SummaryLine]:
    """Coverage and size of credible sets."""
    told = set_coverage(
        moments.prob, moments.truth, game=moments.index, rng=options.rng(1000, 1),
        confidence=options.level, resamples=options.resamples,
    )  # fmt: skip
    for sets in told:
        name = f"{100 * sets.level:g} % set"
        yield _line(reader, "all", f"{name}: covered less stated", sets.excess)
        yield _line(reader, "all", f"{name}: size", sets.size)
        yield _line(reader, "all", f"{name}: randomised covered", sets.randomised_covered)
        yield _line(reader, "all", f"{name}: randomised size", sets.randomised_size)


def _corp(reader: str, moments: Moments, options: _Options) -> Iterator[SummaryLine]:
    """CORP parts of the row named first, with the null of its miscalibration, and of each row."""
    game = moments.index

    def line(
        part: str, measure: str, value: float, unit: str, high: float = np.nan
    ) -> SummaryLine:  # fmt: skip
        low = np.nan if np.isnan(high) else 0.0
        return SummaryLine(
            reader, part, measure, value, low, high, np.nan, options.level, unit,
            game.n_games, len(moments),
        )  # fmt: skip

    stated, right = stated_top(moments.prob, moments.truth)
    null = null_band(
        stated, right, game=game, rng=options.rng(1000, 2), level=options.level,
        resamples=min(options.resamples, NULL_RESAMPLES),
    )  # fmt: skip
    top = reliability_curve(stated, right, game=game)
    for name, parts in (("Brier", top.brier), ("log", top.log)):
        high = null.null_miscalibration if name == "Brier" else np.nan
        miscalibrated = f"miscalibration of top ({name})"
        yield line("all", miscalibrated, parts.miscalibration, parts.unit, high)
        yield line("all", f"discrimination of top ({name})", parts.discrimination, parts.unit)
        yield line("all", f"uncertainty of top ({name})", parts.uncertainty, parts.unit)
    curves = reliability_by_row(moments.prob, moments.truth, game=game)
    for row, curve in zip(moments.rows, curves, strict=True):
        parts = curve.brier
        yield line(f"row {row}", "miscalibration (Brier)", parts.miscalibration, parts.unit)
        yield line(f"row {row}", "discrimination (Brier)", parts.discrimination, parts.unit)


def _lead(reader: str, moments: Moments, options: _Options) -> Iterator[SummaryLine]:
    """Lead at two thresholds, each beside its false alarms."""
    early = lead_curve(
        moments.prob, moments.truth, game=moments.index, seat=moments.seat,
        own_turn=moments.own_turn, rng=options.rng(1000, 3), thresholds=(0.5, 0.8),
        level=options.level, resamples=options.resamples,
    )  # fmt: skip
    counts = (early.n_games, len(moments))
    for place, cut in enumerate(early.threshold):
        yield SummaryLine(
            reader, "all", f"lead above {cut:g}", float(early.lead[place]),
            float(early.lead_low[place]), float(early.lead_high[place]), np.nan,
            options.level, "own turns", *counts,
        )  # fmt: skip
        wrong = float(early.wrong_game[place])
        low, high = share_of_games(
            round(wrong * early.n_games), early.n_games, level=options.level
        )  # fmt: skip
        yield SummaryLine(
            reader, "all", f"games with a wrong row above {cut:g}", wrong, low, high, np.nan,
            options.level, "probability", *counts,
        )  # fmt: skip


def _honest(updates: UpdateFrame, reader: str, options: _Options) -> Iterator[SummaryLine]:
    """Claimed and realised bits by kind of event and by clue."""
    frame = updates.frame
    frame = frame[frame["reader"] == reader]
    whole = frame[frame["clue"] == "all"]
    groups = [
        ("all", whole, np.full(len(whole), "all")),
        ("event ", whole, whole["kind"].to_numpy(dtype=np.str_)),
        ("clue ", frame, frame["clue"].to_numpy(dtype=np.str_)),
    ]
    for prefix, lines, labels in groups:
        if not len(lines):
            continue
        told = honesty_by(
            lines["bits_claimed"].to_numpy(), lines["bits_realised"].to_numpy(), labels,
            game=lines["game"].to_numpy(), rng=options.rng(2000),
            level=options.level, resamples=options.resamples,
        )  # fmt: skip
        for label, found in told.items():
            if prefix == "clue " and label == "all":
                continue
            yield from _honest_lines(
                reader, label if prefix == "all" else prefix + label, found
            )  # fmt: skip


def _honest_lines(reader: str, part: str, found: Honesty) -> Iterator[SummaryLine]:
    yield _line(reader, part, "bits claimed", found.claimed)
    yield _line(reader, part, "bits realised", found.realised)
    yield _line(reader, part, "bits claimed less realised", found.difference)
    if found.ratio is not None:
        yield _line(reader, part, "honesty ratio", found.ratio)


def honest_lines(
    updates: UpdateFrame,
    reader: str,
    *,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> tuple[SummaryLine, ...]:
    """Claimed and realised bits of a reader, as ``summarise`` gives them after its other figures.

    Parameters
    ----------
    updates
        Claimed and realised bits.
    reader
        Whose.
    rng, level, resamples
        As in ``summarise``.
    """
    return tuple(_honest(updates, reader, _Options(int(rng.integers(2**63)), level, resamples)))


def summarise(
    table: MomentTable,
    *,
    base: str,
    rng: np.random.Generator,
    versus: str | None = None,
    updates: UpdateFrame | None = None,
    truth: str = "moment",
    readers: Sequence[str] | None = None,
    turns: tuple[int, ...] = (4, 8, 12, 16),
    from_end: tuple[int, ...] = (0, 4, 8),
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> Summary:
    """Score every reader of a moment table.

    Parameters
    ----------
    table
        Forecasts and truths, such as a ``MomentFrame``; a reader that watched some of the games
        alone is compared on these.
    base
        The reader over which gain is measured, one of `table.readers`.
    rng
        Source of all resampling. Every reader gets the same resamples, so that a reader's
        figures do not depend on which others are in the frame.
    versus
        A reader with which all others are compared, paired by game.
    updates
        Claimed and realised bits, for the honesty ratio.
    truth
        "moment" or "final", as in `MomentFrame.moments`.
    readers
        Readers that get figures, in this order; None for all of the table.
    turns, from_end
        Own turns, and own turns to the end, at which figures are given; exposures always.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    Summary
        Parts of the moments with fewer than two games are left out.
    """
    options = _Options(int(rng.integers(2**63)), level, resamples)
    floor = table.moments(base, truth=truth)
    rival = None if versus is None else table.moments(versus, truth=truth)
    lines: list[SummaryLine] = []
    for reader in table.readers if readers is None else readers:
        moments = table.moments(reader, truth=truth)
        scores = _score_table(moments, aligned(floor, moments).prob)
        other = rival and aligned(rival, moments)
        for place, (part, mask) in enumerate(_parts(moments, turns, from_end)):
            if len(np.unique(moments.game[mask])) < 2:
                continue
            kept = moments.where(mask)
            index = kept.index
            lines += _scores(reader, part, scores[mask], index, options, options.rng(place, 0))
            lines += _calibration(reader, part, kept, options, place)
            if other is not None and reader != versus:
                gap = paired_difference(
                    scores[mask, 1], bits_log_score(other.prob[mask], other.truth[mask]),
                    game=index, rng=options.rng(place, 3), unit="bits",
                    level=level, resamples=resamples,
                )  # fmt: skip
                lines.append(_line(reader, part, f"gain over {versus}", gap.difference))
        lines += _sets(reader, moments, options)
        lines += _corp(reader, moments, options)
        lines += _lead(reader, moments, options)
        if updates is not None and reader in updates.readers:
            lines += _honest(updates, reader, options)
    return Summary(base, tuple(lines))
