"""What a matrix found: gains over two bases, regrets, each with its interval over games."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from handread.errors import HandreadError
from handread.study._arrays import Floats
from handread.study.intervals import Estimate, bootstrap_figures, column
from handread.study.matrix.plan import BASE, MatrixPlan, knows, reader_name
from handread.study.running.packed import PackedMoments
from handread.study.scores import bits_log_score


@dataclass(frozen=True)
class Cell:
    """One reader on one kind.

    Attributes
    ----------
    trainer, row, kind
        What was trained, on whom, and who is read.
    knows
        Whether games of the kind were among those trained on.
    gain
        Over the base rates of the training games: what the reader makes of the table, bits.
    gain_own_base
        Over the base rates of the kind's own games, bits.
    prior_shift
        What the base rates of the training games lose to the kind's own, bits: the difference
        of the two gains.
    regret
        What the reader loses to the same trainer's reader of the kind's own games, bits.
    """

    trainer: str
    row: str
    kind: str
    knows: bool
    gain: Estimate
    gain_own_base: Estimate
    prior_shift: Estimate
    regret: Estimate


@dataclass(frozen=True)
class Headline:
    """Regret of one trainer over the kinds that its rows do not know.

    Attributes
    ----------
    trainer
        What was trained.
    rows
        ``"one kind"``, ``"all but the kind"`` or ``"all"``.
    mean, worst
        Over rows and kinds, bits. The worst of several figures is read off the same games, so
        chance makes it a little high.
    worst_pair
        Row and kind of the worst.
    """

    trainer: str
    rows: str
    mean: Estimate
    worst: Estimate
    worst_pair: tuple[str, str]


@dataclass(frozen=True, eq=False)
class MatrixResult:
    """A finished matrix.

    Attributes
    ----------
    plan
        What was done.
    scores
        For each kind the log score of each reader, mean over the moments of each game, bits,
        shape (n_games,).
    n_moments
        Moments of each kind.
    """

    plan: MatrixPlan
    scores: Mapping[str, Mapping[str, Floats]]
    n_moments: Mapping[str, int]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, MatrixResult) and self.to_json() == other.to_json()

    __hash__ = None  # type: ignore[assignment]  # holds arrays

    @cached_property
    def cells(self) -> tuple[Cell, ...]:
        """Every reader but the bases on every kind."""
        return tuple(_cells(self))

    @cached_property
    def headlines(self) -> tuple[Headline, ...]:
        """Mean and worst regret of each trainer."""
        return tuple(_headlines(self))

    def cell(self, trainer: str, row: str, kind: str) -> Cell:
        """Return one cell.

        Raises
        ------
        HandreadError
            If there is none.
        """
        for found in self.cells:
            if (found.trainer, found.row, found.kind) == (trainer, row, kind):
                return found
        raise HandreadError(
            f"no cell of {trainer!r}, {row!r}, {kind!r}; accepted: trainers "
            f"{self.plan.trainers}, rows {self.plan.populations}, kinds {self.plan.columns}"
        )

    def to_json(self) -> str:
        """Return plan and every figure as JSON."""
        said: dict[str, Any] = {
            "plan": asdict(self.plan),
            "cells": [asdict(each) for each in self.cells],
            "headlines": [asdict(each) for each in self.headlines],
        }
        return json.dumps(_finite(said), allow_nan=False)


def _finite(value: Any) -> Any:
    if isinstance(value, float) and not np.isfinite(value):
        return None if np.isnan(value) else str(value)
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    return [_finite(each) for each in value] if isinstance(value, list | tuple) else value


def read_matrix(folder: str | Path) -> MatrixResult:
    """Read a finished matrix.

    Parameters
    ----------
    folder
        Folder of the results.

    Raises
    ------
    HandreadError
        If it holds no matrix, or one that is not finished.
    """
    file = Path(folder) / "matrix.json"
    if not file.exists():
        raise HandreadError(f"{str(folder)!r} holds no matrix.json; accepted: folder of a matrix")
    said = json.loads(file.read_text(encoding="utf-8"))["matrix"]
    lists: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in said.items()}
    plan = MatrixPlan(**lists)
    return score_matrix(
        plan,
        {
            kind: PackedMoments.of(Path(folder) / "columns" / kind, plan.column_plan(kind))
            for kind in plan.columns
        },
    )


def score_matrix(plan: MatrixPlan, columns: Mapping[str, PackedMoments]) -> MatrixResult:
    """Score what the readers said.

    Parameters
    ----------
    plan
        What was done.
    columns
        Moments of all readers for each kind.
    """
    scores: dict[str, dict[str, Floats]] = {}
    counts: dict[str, int] = {}
    for kind, packed in columns.items():
        scores[kind] = {}
        for reader in plan.readers:
            moments = packed.moments(reader)
            if moments.index.n_games != plan.test:
                raise HandreadError(
                    f"{moments.index.n_games} of {plan.test} games of {kind!r} have moments; "
                    "accepted: all, so score earlier turns"
                )
            scores[kind][reader] = moments.index.means(bits_log_score(moments.prob, moments.truth))
            counts[kind] = len(moments)
    return MatrixResult(plan, scores, counts)


def _estimate(result: MatrixResult, gaps: Floats, n_moments: int, place: int) -> Estimate:
    rng = np.random.default_rng([result.plan.seed, 31, place])
    return bootstrap_figures(
        gaps[:, None], [(column(0), "bits")], rng=rng, n_moments=n_moments,
        resamples=result.plan.resamples,
    )[0]  # fmt: skip


def _cells(result: MatrixResult) -> Iterator[Cell]:
    plan = result.plan
    for place, kind in enumerate(plan.columns):
        held, n = result.scores[kind], result.n_moments[kind]
        own_base = held[reader_name(BASE, kind)]
        for row in plan.populations:
            base = held[reader_name(BASE, row)]
            for trainer in plan.all_trainers:
                said = held[reader_name(trainer, row)]
                own = held[reader_name(trainer, kind)]
                gaps = (said - base, said - own_base, own_base - base, own - said)
                told = [_estimate(result, gap, n, place) for gap in gaps]
                yield Cell(trainer, row, kind, knows(row, kind), *told)


def _headlines(result: MatrixResult) -> Iterator[Headline]:
    plan = result.plan
    groups = {
        "one kind": [row for row in plan.populations if row in plan.columns],
        "all but the kind": [row for row in plan.populations if row.startswith("all but ")],
        "all": list(plan.populations),
    }
    for trainer in plan.all_trainers:
        for name, rows in groups.items():
            pairs = [(r, k) for r in rows for k in plan.columns if not knows(r, k)]
            if name == "all but the kind":
                pairs = [(r, k) for r, k in pairs if r == f"all but {k}"]
            if pairs:
                yield _headline(result, trainer, name, pairs)


def _headline(
    result: MatrixResult, trainer: str, name: str, pairs: list[tuple[str, str]]
) -> Headline:  # fmt: skip
    gaps = np.stack(
        [
            result.scores[kind][reader_name(trainer, kind)]
            - result.scores[kind][reader_name(trainer, row)]
            for row, kind in pairs
        ],
        axis=1,
    )
    figures = [
        (lambda means: np.asarray(means.mean(axis=-1)), "bits"),
        (lambda means: np.asarray(means.max(axis=-1)), "bits"),
    ]
    n_moments = sum(result.n_moments[kind] for kind in {kind for _, kind in pairs})
    mean, worst = bootstrap_figures(
        gaps, figures, rng=np.random.default_rng([result.plan.seed, 32]), n_moments=n_moments,
        resamples=result.plan.resamples,
    )  # fmt: skip
    return Headline(trainer, name, mean, worst, pairs[int(gaps.mean(axis=0).argmax())])
