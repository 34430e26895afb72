"""Frames in, summaries out; what they refuse, and that importing costs nothing."""

from __future__ import annotations

import json
import pickle
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from handread.errors import HandreadError
from handread.study import (
    MOMENT_COLUMNS,
    UPDATE_COLUMNS,
    MomentFrame,
    Moments,
    Summary,
    UpdateFrame,
    average,
    bits_claimed,
    bits_gain,
    bits_realised,
    calibration_power,
    common_moments,
    honesty,
    reliability_by_row,
    reliability_of_top,
    summarise,
    summary_from_json,
    tempered,
    top_label_error,
)
from tests.study.toys import ROWS, World, make_world


@pytest.fixture(scope="module")
def world() -> World:
    return make_world(rng=np.random.default_rng(31), games=120, turns=8)


@pytest.fixture(scope="module")
def table(world: World) -> MomentFrame:
    final = world.truth
    final[world.game % 2 == 1] = np.nan  # every other game was never revealed
    return MomentFrame.from_moments(
        {
            "base rates": world.moments(world.base),
            "exact": world.moments(world.exact),
            "sharpened": world.moments(tempered(world.exact, 2.0)),
        },
        final=final,
    )


def updates_of(world: World, readers: dict[str, np.ndarray]) -> UpdateFrame:
    parts = []
    for reader, after in readers.items():
        before = world.before(after)
        whole = pd.DataFrame(
            {
                "reader": reader, "game": world.game, "seat": world.seat, "event": world.turn * 4,
                "kind": np.where(world.turn % 3 == 0, "claim", "throw"), "clue": "all",
                "bits_claimed": bits_claimed(before, after),
                "bits_realised": bits_realised(before, after, world.truth),
            }
        )  # fmt: skip
        half = whole.assign(
            clue="trend", bits_claimed=whole["bits_claimed"] / 2,
            bits_realised=whole["bits_realised"] / 2,
        )  # fmt: skip
        parts += [whole, half]
    return UpdateFrame(pd.concat(parts))


@pytest.fixture(scope="module")
def summary(world: World, table: MomentFrame) -> Summary:
    updates = updates_of(world, {"exact": world.exact, "sharpened": tempered(world.exact, 2.0)})
    return summarise(
        table, base="base rates", versus="exact", updates=updates,
        rng=np.random.default_rng(1), resamples=400,
    )  # fmt: skip


def test_frame_goes_there_and_back(world: World, table: MomentFrame) -> None:
    assert table.readers == ("base rates", "exact", "sharpened")
    assert table.rows == ROWS
    told = table.moments("exact")
    assert told == world.moments(world.exact)
    final = table.moments("exact", truth="final")
    assert len(final) == len(told) // 2
    assert set(final.game) == set(range(0, 120, 2))


def test_columns_are_documented(table: MomentFrame) -> None:
    known = set(MOMENT_COLUMNS) | {p + row for p in ("prob:", "truth:", "final:") for row in ROWS}
    assert set(table.frame.columns) == known
    text = MomentFrame.__doc__ or ""
    assert all(name in text for name in MOMENT_COLUMNS)


def test_order_of_the_lines_does_not_matter(table: MomentFrame) -> None:
    shuffled = table.frame.sample(frac=1.0, random_state=3)
    assert MomentFrame(shuffled) == table


def test_frames_are_frozen(table: MomentFrame) -> None:
    before = table.frame
    copy = table.frame
    copy.loc[0, "own_turn"] = 99
    assert table.frame.equals(before)
    with pytest.raises(AttributeError, match="frozen"):
        table.rows = ("x",)
    with pytest.raises(TypeError, match="unhashable"):
        hash(table)


def test_frames_and_moments_travel_between_processes(world: World, table: MomentFrame) -> None:
    updates = updates_of(world, {"exact": world.exact})
    for value in (table, updates, table.moments("exact")):
        assert pickle.loads(pickle.dumps(value)) == value


def test_readers_must_have_the_same_moments(table: MomentFrame) -> None:
    frame = table.frame
    fewer = frame[~((frame["reader"] == "exact") & (frame["game"] == 3))]
    with pytest.raises(HandreadError, match=r"not the same; accepted: .* see common_moments"):
        MomentFrame(fewer)
    kept = MomentFrame(common_moments(fewer))
    assert 3 not in set(kept.moments("base rates").game)
    with pytest.raises(HandreadError, match="a moment appears twice"):
        MomentFrame(pd.concat([frame, frame.tail(1)]))


def test_columns_must_be_there(table: MomentFrame) -> None:
    frame = table.frame
    with pytest.raises(HandreadError, match=r"lacks \['own_turn'\]"):
        MomentFrame(frame.drop(columns="own_turn"))
    with pytest.raises(HandreadError, match="for the same rows"):
        MomentFrame(frame.drop(columns="truth:odds"))
    with pytest.raises(HandreadError, match="did you mean 'exact'"):
        table.moments("exakt")
    with pytest.raises(HandreadError, match=r"lacks \['clue'\]"):
        UpdateFrame(pd.DataFrame({name: [0] for name in UPDATE_COLUMNS if name != "clue"}))


def test_moments_copy_what_they_are_given(world: World) -> None:
    prob = world.exact
    moments = world.moments(prob)
    prob[0] = 0.0
    assert moments == world.moments(world.exact)
    with pytest.raises(ValueError, match="read-only"):
        moments.prob[0, 0] = 1.0


def test_moments_refuse_what_does_not_fit() -> None:
    good = dict(
        rows=("a", "b"), prob=[[0.5, 0.5]], truth=[[1, 0]], game=[1], seat=["East"], event=[1],
        own_turn=[1], turns_to_end=[0], exposures=[0],
    )  # fmt: skip
    Moments(**good)  # type: ignore[arg-type]
    for change, message in (
        ({"rows": ("a", "a")}, "2 different names"),
        ({"own_turn": [0.5]}, "accepted: whole numbers"),
        ({"game": [1, 2]}, r"accepted: \(1,\), one a moment"),
    ):
        with pytest.raises(HandreadError, match=message):
            Moments(**(good | change))  # type: ignore[arg-type]


# --- summary ---


def test_summary_holds_the_figures_of_the_functions(
    world: World, table: MomentFrame, summary: Summary
) -> None:
    sharp = table.moments("sharpened")
    gain = average(bits_gain(sharp.prob, world.base, sharp.truth), game=sharp.game, unit="bits")
    line = summary.find("sharpened", "gain")
    assert line.value == pytest.approx(gain.value, abs=1e-12)
    assert (line.unit, line.n_games, line.n_moments) == ("bits", 120, 120 * 16)
    late = sharp.where(sharp.own_turn == 8)
    part = average(bits_gain(late.prob, world.base[0], late.truth), game=late.game, unit="bits")
    assert summary.find("sharpened", "gain", "own turn 8").value == pytest.approx(part.value)
    power = calibration_power(
        sharp.prob, sharp.truth, game=sharp.game, rng=np.random.default_rng(0)
    )  # fmt: skip
    assert summary.find("sharpened", "power").value == pytest.approx(power.power.value, rel=1e-9)
    error = top_label_error(sharp.prob, sharp.truth, game=sharp.game, rng=np.random.default_rng(0))
    assert summary.find("sharpened", "top-label error").value == pytest.approx(error.error)
    ratio = summary.find("sharpened", "true-state ratio").value
    assert np.log2(ratio) == pytest.approx(gain.value, abs=1e-9)


def test_summary_gives_the_verdicts(summary: Summary) -> None:
    assert summary.find("sharpened", "power").high < 1.0
    assert summary.find("sharpened", "bits claimed less realised").low > 0.0
    assert summary.find("sharpened", "gain over exact").high < 0.0
    exact = summary.find("exact", "honesty ratio")
    assert exact.low < 1.0 < exact.high
    assert summary.find("exact", "gain").low > 0.0
    assert summary.find("base rates", "gain").value == 0.0
    assert summary.find("exact", "truth called impossible").value == 0.0
    wrong = summary.find("sharpened", "top-label error")
    assert wrong.value > wrong.high  # outside the null band


def test_summary_gives_the_corp_parts(table: MomentFrame, summary: Summary) -> None:
    sharp = table.moments("sharpened")
    top = reliability_of_top(sharp.prob, sharp.truth, game=sharp.game)
    for name, parts in (("Brier", top.brier), ("log", top.log)):
        for part in ("miscalibration", "discrimination", "uncertainty"):
            line = summary.find("sharpened", f"{part} of top ({name})")
            assert line.value == pytest.approx(getattr(parts, part), abs=1e-12)
            assert line.unit == parts.unit
    exact = summary.find("exact", "miscalibration of top (Brier)")
    assert exact.value < exact.high
    assert summary.find("sharpened", "miscalibration of top (Brier)").value > exact.value
    rows = reliability_by_row(sharp.prob, sharp.truth, game=sharp.game)
    line = summary.find("sharpened", "miscalibration (Brier)", "row winds")
    assert line.value == pytest.approx(rows[2].brier.miscalibration, abs=1e-12)


def test_lead_stands_beside_its_false_alarms(summary: Summary) -> None:
    lead = summary.find("exact", "lead above 0.5")
    wrong = summary.find("exact", "games with a wrong row above 0.5")
    assert lead.low < lead.value < lead.high
    assert wrong.low < wrong.value < wrong.high
    assert summary.find("exact", "lead above 0.8").value < lead.value
    # above one half a row is the likeliest, and squaring gives the likeliest more: overconfidence
    # buys lead and pays in false alarms
    for cut in ("0.5", "0.8"):
        for measure in (f"lead above {cut}", f"games with a wrong row above {cut}"):
            assert summary.find("sharpened", measure).value > summary.find("exact", measure).value


def test_honesty_comes_by_kind_and_by_clue(world: World, summary: Summary) -> None:
    before = world.before(world.exact)
    told = honesty(
        bits_claimed(before, world.exact), bits_realised(before, world.exact, world.truth),
        game=world.game, rng=np.random.default_rng(0),
    )  # fmt: skip
    whole = summary.find("exact", "bits claimed").value
    assert whole == pytest.approx(told.claimed.value)
    kinds = [summary.find("exact", "bits claimed", f"event {k}").value for k in ("claim", "throw")]
    assert sum(kinds) == pytest.approx(whole)
    assert summary.find("exact", "bits claimed", "clue trend").value == pytest.approx(whole / 2)


def test_a_reader_keeps_his_figures_in_other_company(table: MomentFrame) -> None:
    frame = table.frame
    company, alone = (
        summarise(
            MomentFrame(part), base="base rates", versus="base rates", turns=(4,), from_end=(),
            rng=np.random.default_rng(1), resamples=100,
        )
        for part in (frame, frame[frame["reader"] != "exact"])
    )  # fmt: skip
    of_sharpened = [line for line in company.lines if line.reader == "sharpened"]
    assert repr(of_sharpened) == repr([x for x in alone.lines if x.reader == "sharpened"])
    assert any(line.measure == "gain over base rates" for line in of_sharpened)


def test_summary_as_frame_and_as_json(summary: Summary) -> None:
    frame = summary.to_frame()
    assert len(frame) == len(summary.lines)
    assert (frame["n_games"] >= 2).all()
    assert not frame.duplicated(["reader", "part", "measure"]).any()
    told = json.loads(summary.to_json())
    assert told["base"] == "base rates"
    assert told["lines"][0]["measure"] == "gain"
    with pytest.raises(HandreadError, match="did you mean 'exact / gain / all'"):
        summary.find("exact", "gains")


def test_an_impossible_truth_shows_and_spoils_nothing_else() -> None:
    world = make_world(rng=np.random.default_rng(32), games=20, turns=4)
    prob = world.exact
    row = int(np.argmax(world.truth[5]))
    prob[5] = np.where(np.arange(5) == row, 0.0, 0.25)
    table = MomentFrame.from_moments(
        {"base rates": world.moments(world.base), "blind": world.moments(prob)}
    )
    told = summarise(table, base="base rates", rng=np.random.default_rng(0), resamples=100)
    assert told.find("blind", "truth called impossible").value == pytest.approx(1 / 8 / 20)
    assert told.find("blind", "gain").value == -np.inf
    assert np.isfinite(told.find("blind", "Brier score").low)
    assert not any(line.measure == "power" and line.reader == "blind" and line.part == "all"
                   for line in told.lines)  # fmt: skip
    lines = json.loads(told.to_json())["lines"]
    values = [x["value"] for x in lines if (x["reader"], x["measure"]) == ("blind", "gain")]
    assert values[0] == "-inf"
    back = summary_from_json(told.to_json())
    assert back.to_json() == told.to_json()
    assert back.find("blind", "gain").value == -np.inf
    assert np.isnan(back.find("blind", "gain").low)
    with pytest.raises(HandreadError, match="no summary of a study"):
        summary_from_json('{"lines": [1]}')


def test_importing_loads_no_heavy_package() -> None:
    code = (
        "import sys, handread.study; "
        "print([m for m in ('pandas', 'scipy', 'numba', 'matplotlib', 'pymc') if m in sys.modules])"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
