"""The matrix: trained on the row alone, scored over both bases, the same bytes after a break."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

import handread as hr
from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate import default_population
from handread.study.forecasters import BaseRates, Forecaster, row_names
from handread.study.forecasters.guesses import Uniform
from handread.study.matrix import (
    MatrixPlan,
    MatrixResult,
    TrainingGames,
    load_matrix_plan,
    matrix_lines,
    read_matrix,
    reader_name,
    run_matrix,
)
from handread.study.matrix.plan import knows
from handread.study.running import population_named

PLAN = MatrixPlan(
    "tiny", 33, card="small", kinds=("chaser", "guarded"), training=3, prior_games=4, test=3,
    trainers=("elimination", "sure"), rows=("weigher", "all but guarded"), resamples=100,
)  # fmt: skip


@dataclass(frozen=True)
class Sure:
    """States the row that was most often true in training."""

    row: int
    name: str = "sure"

    def open(self, card: CompiledCard, header: hr.Header) -> object:
        watcher = Uniform().open(card, header)
        n = len(row_names(card))
        watcher.beliefs = np.full((4, n), 0.1 / (n - 1))
        watcher.beliefs[:, self.row] = 0.9
        return watcher


ASKED: list[TrainingGames] = []


def sure(games: TrainingGames) -> Forecaster:
    ASKED.append(games)
    return Sure(int(games.counts.rows.sum(axis=0).argmax()))  # type: ignore[return-value]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("matrix") / "whole"


@pytest.fixture(scope="module")
def whole(folder: Path) -> MatrixResult:
    ASKED.clear()
    return run_matrix(PLAN, out=folder, trainers={"sure": sure})


def test_rows_are_trained_on_games_of_their_own(whole: MatrixResult) -> None:
    assert [games.row for games in ASKED] == ["chaser", "guarded", "weigher", "all but guarded"]
    for games in ASKED:
        assert len(games.seeds) == 3
        assert {seed % 4 for seed in games.seeds} == {0}, "a seed that is none for training"
        kinds = {kind for kind, share in games.population.shares if share > 0}
        everybody = {kind for kind, _ in default_population().shares}
        assert kinds == ({games.row} if "all" not in games.row else everybody - {"guarded"})
        assert games.counts.rows.sum() > 50
        assert games.prior.shape == (games.card.n_targets,)
    priors = [games.prior.tobytes() for games in ASKED]
    assert priors[0] not in priors[1:]


def test_gains_and_regrets_fit_together(whole: MatrixResult) -> None:
    assert len(whole.cells) == 3 * 4 * 2
    for cell in whole.cells:
        shift = cell.gain.value - cell.gain_own_base.value
        assert cell.prior_shift.value == pytest.approx(shift)
        own = whole.cell(cell.trainer, cell.kind, cell.kind)
        assert cell.regret.value == pytest.approx(
            own.gain_own_base.value - cell.gain_own_base.value
        )
        assert cell.regret.low <= cell.regret.value <= cell.regret.high
        if cell.row == cell.kind:
            assert cell.regret.value == cell.prior_shift.value == 0.0
        if cell.trainer == "base rates":
            assert cell.gain.value == 0.0
    assert whole.cell("sure", "chaser", "guarded").gain_own_base.value != 0.0


def test_headlines_are_over_kinds_not_met(whole: MatrixResult) -> None:
    for line in whole.headlines:
        pairs = {
            "one kind": [("chaser", "guarded"), ("guarded", "chaser")],
            "all but the kind": [("all but guarded", "guarded")],
            "all": [("chaser", "guarded"), ("guarded", "chaser"), ("weigher", "chaser"),
                    ("weigher", "guarded"), ("all but guarded", "guarded")],
        }[line.rows]  # fmt: skip
        regrets = [whole.cell(line.trainer, row, kind).regret.value for row, kind in pairs]
        assert line.mean.value == pytest.approx(np.mean(regrets))
        assert line.worst.value == pytest.approx(max(regrets))
        assert whole.cell(line.trainer, *line.worst_pair).regret.value == pytest.approx(
            line.worst.value
        )
    assert {(line.trainer, line.rows) for line in whole.headlines} == {
        (trainer, rows)
        for trainer in ("base rates", "elimination", "sure")
        for rows in ("one kind", "all but the kind", "all")
    }
    assert any("worst" in line for line in matrix_lines(whole))


class Broken(Exception):
    pass


def test_a_broken_matrix_goes_on_to_the_same_bytes(
    whole: MatrixResult, folder: Path, tmp_path: Path
) -> None:
    out, heard = tmp_path / "broken", set()

    def breaks(what: str, done: int, total: int) -> None:
        if done == 2 and what not in heard:
            heard.add(what)
            raise Broken

    for _ in range(20):
        try:
            run_matrix(PLAN, out=out, trainers={"sure": sure}, progress=breaks)
        except Broken:
            continue
        break
    assert len(heard) >= 6

    def content(place: Path) -> dict[str, bytes]:
        files = [path for path in place.rglob("*") if path.is_file()]
        return {str(path.relative_to(place)): path.read_bytes() for path in files}

    assert content(out) == content(folder)
    assert read_matrix(out) == whole


def test_a_folder_of_another_matrix_is_refused(whole: MatrixResult, folder: Path) -> None:
    with pytest.raises(HandreadError, match="a matrix of another plan"):
        run_matrix(replace(PLAN, seed=34), out=folder, trainers={"sure": sure})
    with pytest.raises(HandreadError, match="no trainer 'sure'"):
        run_matrix(PLAN, out=folder)
    with pytest.raises(HandreadError, match=r"no matrix\.json"):
        read_matrix(folder / "rows")


def test_plans_of_matrices() -> None:
    plan = load_matrix_plan("matrix")
    assert "fitted" in plan.trainers
    own = set(plan.columns)
    assert own <= set(plan.populations)
    for kind in plan.columns:
        assert f"all but {kind}" in plan.populations
        assert not knows(f"all but {kind}", kind)
        assert knows("default", kind)
        left = population_named(f"all but {kind}")
        assert sum(share for _, share in left.shares) == pytest.approx(1.0)
    assert reader_name("fitted", "chaser") in plan.readers
    with pytest.raises(HandreadError, match="kinds has 'chasre'; did you mean 'chaser'"):
        replace(plan, kinds=("chasre",))
    with pytest.raises(HandreadError, match="no population 'all but nobody'"):
        population_named("all but nobody")


def test_the_prior_of_a_reader_can_be_given() -> None:
    from handread.study.forecasters import Elimination, StructuralFloor, empty_training

    card = hr.load_card("small")
    counts = empty_training(card)
    counts = replace(counts, rows=counts.rows + 1.0)
    prior = np.where(card.family_of == 1, 1.0, 1e-9)
    prior /= prior.sum()
    base = BaseRates(counts).open(card, hr.Header()).belief(0)
    said = Elimination(counts, prior=prior).open(card, hr.Header()).belief(0)
    assert said[1] > 3 * base[1]
    even = StructuralFloor(counts, prior=prior).open(card, hr.Header()).belief(0)
    np.testing.assert_allclose(even, base)  # nothing is gone yet, whatever the prior
