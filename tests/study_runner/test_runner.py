"""A study gives the same bytes whatever breaks it off, and never mixes training with test."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import handread as hr
from handread.cli.app import app
from handread.errors import HandreadError, ParseError
from handread.simulate import simulate_games
from handread.study import MOMENT_COLUMNS, UPDATE_COLUMNS
from handread.study.running import (
    STUDY_COLUMNS,
    WINDOW_COLUMNS,
    PackedMoments,
    StudyPlan,
    StudyResult,
    figures,
    load_plan,
    play_seed,
    read_result,
    run_study,
    study_lines,
    study_seeds,
)
from handread.study.running.bench import stored_readers
from handread.study.running.store import pack_arrays, unpack_arrays
from handread.study.summary import SummaryLine
from handread.study.truth import final_row, rows_of_mind, truth_rows
from handread.table.events import SEATS, Dead, Discard, Expose
from handread.table.state import Exposure

PLAN = StudyPlan(
    name="tiny", seed=31, card="small", training=3, test=4, resamples=100, shares=("lore",),
    readers=("uniform", "base rates", "floor", "elimination", "lore"),
)  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("studies") / "whole"


@pytest.fixture(scope="module")
def whole(folder: Path) -> StudyResult:
    return run_study(PLAN, out=folder)


def content(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


class Broken(Exception):
    pass


def test_a_run_broken_off_goes_on_to_the_same_bytes(
    whole: StudyResult, folder: Path, tmp_path: Path
) -> None:
    out = tmp_path / "broken"
    heard: list[tuple[str, int, int]] = []

    def breaks(what: str, done: int, total: int) -> None:
        heard.append((what, done, total))
        if (what, done) in (("training", 2), ("test", 2)) and heard.count(heard[-1]) == 1:
            raise Broken

    for _ in range(2):
        with pytest.raises(Broken):
            run_study(PLAN, out=out, progress=breaks)
    first = (out / "test" / "000000.bin").stat().st_mtime_ns
    again = run_study(PLAN, out=out, progress=breaks)
    assert (out / "test" / "000000.bin").stat().st_mtime_ns == first, "it was played again"
    assert content(out) == content(folder)
    assert again == whole


@pytest.mark.slow
def test_processes_change_no_byte(
    whole: StudyResult, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(figures, "LEAST_GAMES", 2)
    run_study(PLAN, out=tmp_path / "two", n_workers=2)
    assert content(tmp_path / "two") == content(folder)


def test_figures_keep_their_order_whichever_is_done_first(
    whole: StudyResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    @contextlib.contextmanager
    def backwards(
        packed: PackedMoments, plan: StudyPlan, blocks: list[figures.Block], n_workers: int
    ) -> Iterator[Iterator[tuple[figures.Block, tuple[SummaryLine, ...]]]]:
        yield (figures.block_lines(packed.folder, plan, block) for block in blocks[::-1])

    monkeypatch.setattr(figures, "_begun", backwards)
    again = figures.study_summary(whole.plan, whole.packed, whole.updates, whole.windows)
    assert again.to_json() == whole.summary.to_json()


def test_a_folder_of_another_study_is_refused(whole: StudyResult, folder: Path) -> None:
    with pytest.raises(HandreadError, match="differs in plan, seeds"):
        run_study(replace(PLAN, seed=32), out=folder)
    with pytest.raises(HandreadError, match=r"no study\.json"):
        read_result(folder / "test")


def test_a_simulator_that_plays_otherwise_is_noticed(
    whole: StudyResult, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Even where nobody raised a version: one game is played again and compared."""
    other = play_seed(PLAN, 12)
    monkeypatch.setattr("handread.study.running.runner.play_seed", lambda plan, seed: other)
    with pytest.raises(HandreadError, match="differs in made_with"):
        run_study(PLAN, out=folder)


def test_results_are_read_back_as_they_were(whole: StudyResult, folder: Path) -> None:
    assert read_result(folder) == whole
    assert read_result(folder).to_json() == whole.to_json()


def test_columns_are_the_documented_ones(whole: StudyResult) -> None:
    rows = whole.moments.rows
    wanted = [*MOMENT_COLUMNS, *(c for c in STUDY_COLUMNS if "<row>" not in c)]
    wanted += [f"{p}:{row}" for p in ("prob", "truth", "leaning", "final") for row in rows]
    assert set(whole.moments.frame.columns) == set(wanted)
    assert list(whole.windows.columns) == list(WINDOW_COLUMNS)
    assert whole.updates is not None
    assert list(whole.updates.frame.columns) == list(UPDATE_COLUMNS)


def test_every_own_turn_of_every_live_seat_is_scored_once(whole: StudyResult) -> None:
    frame = whole.moments.frame.query("reader == 'lore'")
    seeds = study_seeds(PLAN.seed, training=3, validation=0, test=4)
    for number, seed in enumerate(seeds.test):
        game = play_seed(PLAN, seed)
        dead = {
            (event.seat, place)
            for place, event in enumerate(game.record.events, start=1)
            if isinstance(event, Dead)
        }
        throws = [
            (SEATS[event.seat], place)
            for place, event in enumerate(game.record.events, start=1)
            if isinstance(event, Discard)
            and not any(seat == event.seat and at < place for seat, at in dead)
        ]
        found = frame[frame["game"] == number]
        scored = list(zip(found["seat"], found["event"], strict=True))
        assert sorted(scored) == sorted(throws)
    last = frame.groupby(["game", "seat"])["turns_to_end"].min()
    assert (last >= 0).all()
    assert (frame["own_turn"] >= 1).all()


def test_parts_of_an_update_add_up_to_it(whole: StudyResult) -> None:
    assert whole.updates is not None
    frame = whole.updates.frame
    keys = ["game", "seat", "event"]
    split = frame[frame["clue"] != "all"]
    assert split["clue"].nunique() > 5
    bits = ["bits_claimed", "bits_realised"]
    parts = split.groupby(keys)[bits].sum()
    all_ = frame[frame["clue"] == "all"].set_index(keys)[bits].loc[parts.index]
    np.testing.assert_allclose(parts.to_numpy(), all_.to_numpy(), atol=1e-9)


def test_open_throws_hold_what_happened(whole: StudyResult) -> None:
    frame = whole.windows
    per_throw = frame.groupby(["game", "event"])["happened"].sum()
    assert per_throw.isin([0.0, 1.0]).all()
    taken = 0
    for seed in study_seeds(PLAN.seed, training=3, validation=0, test=4).test:
        game = play_seed(PLAN, seed)
        tiles = [e for e in game.record.events if isinstance(e, (Discard, Expose))]
        taken += sum(isinstance(e, Expose) for e in tiles)
        # a win over a new exposure, or out of one's own, is on a throw that is counted already
        taken += game.truth.ending.thrower is not None and isinstance(tiles[-1], Discard)
    assert per_throw.sum() == taken
    assert frame["prob"].between(0, 1).all()
    joint = frame.groupby(["game", "event"])["prob"].sum()
    assert joint.max() <= 1.0 + 1e-9, "at most one seat gets a throw"


def test_the_summary_says_all_that_it_should(whole: StudyResult) -> None:
    summary = whole.summary
    for measure in ("gain", "gain over floor", "top-label error", "truth called impossible"):
        assert summary.find("lore", measure).n_games == 4
    assert summary.find("lore", "gain", "exposures 2 or more").n_moments > 0
    assert summary.find("floor", "gain over lore").unit == "bits"
    assert summary.find("lore", "log gain over availability", "open throw: claim").n_games == 4
    assert summary.find("base rates", "gain").value == 0.0
    said = json.loads(whole.to_json())
    assert said["seeds"]["test"] == list(study_seeds(31, training=3, validation=0, test=4).test)
    assert any("lore" in line for line in study_lines(whole))


# --- seeds ---


def test_each_kind_of_player_has_its_own_figures(whole: StudyResult) -> None:
    frame = whole.moments.frame
    rows = [f"prob:{row}" for row in whole.moments.rows]
    truth = frame[[f"truth:{row}" for row in whole.moments.rows]].to_numpy()
    score = np.where(truth > 0, truth * np.log2(np.maximum(frame[rows].to_numpy(), 1e-300)), 0.0)
    frame = frame.assign(score=score.sum(axis=1))
    keys = ["game", "seat", "event"]
    both = frame[frame.reader == "lore"].merge(
        frame[frame.reader == PLAN.base], on=keys, suffixes=("", "_base")
    )
    gains = [line for line in whole.summary.lines if line.measure == "gain"]
    said = {x.part: x for x in gains if x.reader == "lore" and x.part.startswith("kind ")}
    assert said
    for part, line in said.items():
        here = both[both.kind == part.removeprefix("kind ")]
        by_game = (here.score - here.score_base).groupby(here.game).mean()
        assert line.value == pytest.approx(by_game.mean(), abs=1e-9)
        assert line.n_moments == len(here)


def test_seeds_cannot_meet_across_purposes_and_studies() -> None:
    purposes: dict[str, set[int]] = {"training": set(), "validation": set(), "test": set()}
    for seed in range(40):
        seeds = study_seeds(seed, training=50, validation=50, test=50)
        for name, found in purposes.items():
            found.update(getattr(seeds, name))
            assert len(set(getattr(seeds, name))) == 50
    names = list(purposes)
    for i, one in enumerate(names):
        for other in names[i + 1 :]:
            assert not purposes[one] & purposes[other]
    assert max(max(found) for found in purposes.values()) < 2**53


# --- truth ---


def test_states_become_rows_as_documented() -> None:
    card = hr.load_card("small")
    n = card.n_targets
    spread = np.full(n, 1.0 / n)
    families = np.bincount(card.family_of, minlength=4) / n
    loose = [0.0, 0.0, 0.0]
    undecided = [0.0] * 4 + [1.0, 0.0, 0.0]
    assert rows_of_mind(card, "searching", -1, spread, ()).tolist() == undecided
    leaning = rows_of_mind(card, "searching", -1, spread, (), leaning=True)
    np.testing.assert_allclose(leaning, [*families, *loose])
    waiting = rows_of_mind(card, "waiting", -1, spread, ())
    np.testing.assert_allclose(waiting, [*families, *loose])
    folded = rows_of_mind(card, "folded", -1, spread, ())
    assert folded.tolist() == [0.0] * 4 + [0.0, 1.0, 0.0]
    one = rows_of_mind(card, "building", 5, np.eye(n)[5], ())
    assert one.tolist() == np.eye(7)[card.family_of[5]].tolist()
    misfit = (Exposure(kind=int(card.group_kind[5, 0]), size=6, jokers=5),)
    ruled_out = rows_of_mind(card, "building", 5, np.eye(n)[5], misfit)
    assert ruled_out.tolist() == [0.0] * 6 + [1.0]
    with pytest.raises(HandreadError, match="state is 'dead'"):
        rows_of_mind(card, "dead", -1, spread, ())


def test_truth_and_final_hand_follow_the_sealed_game() -> None:
    card = hr.load_card("small")
    for game in simulate_games(card, n_games=4, seed=12):
        ending = game.truth.ending
        if ending.winner is not None and ending.target is not None:
            family = int(card.family_of[ending.target])
            assert final_row(card, game, ending.winner)[family] == 1.0
        truth, leaning, state = truth_rows(card, game, 0, 0, ())
        row = game.truth.moments.row(0, 0)
        assert state == game.truth.moments.state_words(row)
        plan = int(game.truth.moments.plan[row])
        if plan >= 0:
            assert truth[card.family_of[plan]] == leaning[card.family_of[plan]] == 1.0


# --- plans and files ---


def test_plans_that_ship_are_sound() -> None:
    quick, standard, ladder = (load_plan(name) for name in ("quick", "standard", "ladder"))
    assert (quick.test, standard.test) == (200, 2000)
    assert len({quick.seed, standard.seed, ladder.seed}) == 3
    from handread.study.forecasters import empty_training, forecaster_named

    card = hr.load_card(standard.card)
    for plan in (quick, standard, ladder):
        shelf = {each.name: each for each in stored_readers(plan)}
        for name in plan.readers:
            found = forecaster_named(name, card, empty_training(card), stored=shelf)
            assert found.name == name


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("name = 'x'\nsed = 1", "no key 'sed'; did you mean 'seed'"),
        ("name = 'x'\nseed = 'one'", "seed is 'one'; accepted: a whole number"),
        ("name = 'x'", "seed is missing"),
        ("name =", "is no TOML"),
        ("name = 'x'\nseed = 1\nbase = 'lor'", "base is 'lor'; did you mean 'lore'"),
        ("name = 'x'\nseed = 1\ntest = 1", "test=1"),
        ("name = 'x'\nseed = 1\nmoves = ['ann']", "moves has 'ann'"),
    ],
)
def test_a_wrong_plan_is_refused_in_words(text: str, match: str, tmp_path: Path) -> None:
    file = tmp_path / "plan.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match=match):
        load_plan(file)
    with pytest.raises(HandreadError, match="no study plan 'quik'"):
        load_plan("quik")


def test_a_folder_does_not_hide_a_plan_that_ships(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "quick").mkdir()
    monkeypatch.chdir(tmp_path)
    assert load_plan("quick").name == "quick"


def test_packed_arrays_come_back() -> None:
    held = {"a": np.arange(6, dtype=np.int32).reshape(2, 3), "b": np.array([0.1, np.nan]),
            "c": ["x", "y"]}  # fmt: skip
    back = unpack_arrays(pack_arrays(held), "here")
    assert back["a"].dtype == np.int32
    np.testing.assert_array_equal(back["a"], held["a"])
    np.testing.assert_array_equal(back["b"], held["b"])
    assert back["c"] == ["x", "y"]
    with pytest.raises(HandreadError, match="here holds no game"):
        unpack_arrays(b"\xc1", "here")


def test_the_command_says_the_figures(whole: StudyResult, folder: Path, tmp_path: Path) -> None:
    lists = ("readers", "windows", "moves", "shares")
    lines = [f'{k} = "{v}"' for k, v in vars(PLAN).items() if isinstance(v, str)]
    lines += [f"{k} = {v}" for k, v in vars(PLAN).items() if isinstance(v, int)]
    lines += [f"{k} = {list(getattr(PLAN, k))}" for k in lists]
    file = tmp_path / "tiny.toml"
    file.write_text("\n".join(lines), encoding="utf-8")
    assert load_plan(file) == PLAN
    done = CliRunner().invoke(app, ["study", str(file), "--out", str(folder), "--json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout) == json.loads(whole.to_json())
    file.write_text("name = 'x'\nseed = 1\nraeders = []", encoding="utf-8")
    with pytest.raises(ParseError, match="no key"):
        CliRunner().invoke(app, ["study", str(file)], catch_exceptions=False)
