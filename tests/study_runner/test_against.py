"""One reader against another: shortfalls by hand, telling moments by brute force, records read."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import handread as hr
from handread.errors import HandreadError
from handread.simulate.view import STATES
from handread.study.against import (
    SHORTFALL_COLUMNS,
    TELLING_COLUMNS,
    SeatRecord,
    TellingMoment,
    seat_record,
    shortfalls,
    telling_frame,
    telling_moments,
)
from handread.study.running import PackedMoments, StudyPlan, StudyResult, play_seed, run_study
from handread.table.events import (
    SEATS,
    AnyEvent,
    Discard,
    Expose,
    Passed,
    Redeem,
    Stopped,
    Voiced,
)
from handread.tiles import KINDS, parse_kind

PLAN = StudyPlan(
    name="tiny", seed=33, card="small", training=3, test=4, resamples=100, windows=(), moves=(),
    readers=("base rates", "floor", "elimination"), versus="floor",
)  # fmt: skip
BAM, DOT, RED = parse_kind("5 bam"), parse_kind("3 dot"), parse_kind("red")


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> StudyResult:
    return run_study(PLAN, out=tmp_path_factory.mktemp("against") / "study")


@pytest.fixture(scope="module")
def found(result: StudyResult) -> tuple[TellingMoment, ...]:
    return telling_moments(result, "floor", "elimination", n=9, last=0)


def by_hand(folder: Path) -> PackedMoments:
    """Two games of two and one moments; the truth is the first row, probabilities are halves."""
    place = folder / "packed"
    place.mkdir()
    columns = {
        "game": [0, 0, 1], "seat": [2, 2, 1], "event": [5, 9, 4], "own_turn": [1, 7, 2],
        "turns_to_end": [1, 0, 0], "exposures": [0, 1, 0], "kind": [0, 0, 1],
        "state": [STATES.index(word) for word in ("building", "building", "folded")],
    }  # fmt: skip
    for name, numbers in columns.items():
        (place / name).write_bytes(np.array(numbers, dtype=np.int32).tobytes())
    truth = np.array([[1.0, 0.0]] * 3)
    for name in ("truth", "leaning", "final"):
        (place / name).write_bytes(truth.tobytes())
    (place / "reader.0").write_bytes(
        np.array([[1 / 8, 7 / 8], [1 / 2, 1 / 2], [1 / 4, 3 / 4]]).tobytes()
    )
    (place / "reader.1").write_bytes(
        np.array([[1 / 2, 1 / 2], [1 / 4, 3 / 4], [1 / 8, 7 / 8]]).tobytes()
    )
    told = {"kinds": ["quiet", "novice"], "lengths": {"one": 3, "two": 3}}
    (place / "columns.json").write_text(json.dumps(told), encoding="utf-8")
    return PackedMoments(folder, ("one", "two"), ("hit", "miss"))


def test_shortfalls_are_those_worked_out_by_hand(tmp_path: Path) -> None:
    # log scores: one -3, -1 | -2; two -1, -2 | -3. Differences -2, +1 | +1; games -0.5 | +1.
    packed = by_hand(tmp_path)
    table = shortfalls(packed, "one", "two", rng=np.random.default_rng(1), resamples=50)
    assert list(table.columns) == list(SHORTFALL_COLUMNS)
    said = {(by, part): rest for by, part, *rest in table.itertuples(index=False)}
    value, low, high, better, games, moments = said["all", "all"]
    assert (value, better, games, moments) == (0.25, 0.5, 2, 3)
    assert (low, high) == (-0.5, 1.0), "two games: each resample is one of -0.5, 0.25, 1"
    value, _, _, better, games, moments = said["own turn", "1-3"]  # -2 | +1
    assert (value, better, games, moments) == (-0.5, 0.5, 2, 2)
    assert said["groups shown", "none"][0] == -0.5
    assert said["stage", "own turns 1-5, groups none"][0] == -0.5
    single = {("kind", "novice"), ("state", "folded"), ("groups shown", "one")}
    assert not single & set(said), "one game has no interval"
    assert packed.states("one").tolist() == ["building", "building", "folded"]
    turned = shortfalls(packed, "two", "one", rng=np.random.default_rng(1), resamples=50)
    assert turned["difference"].tolist() == (-table["difference"]).tolist()


def test_shortfalls_add_up_over_the_parts_of_a_study(result: StudyResult) -> None:
    table = shortfalls(
        result.packed, "elimination", "base rates", rng=np.random.default_rng(2), resamples=50
    )
    whole = table.loc[table["by"] == "all", "moments"].item()
    assert whole == result.packed.length("elimination")
    for by in ("own turn", "groups shown", "kind", "state"):
        part = table[table["by"] == by]
        left_out = whole - part["moments"].sum()  # parts of one game
        assert 0 <= left_out < whole / 2
    line = result.summary.find("elimination", "gain")
    assert table["difference"].iloc[0] == pytest.approx(line.value, abs=1e-12)


def test_telling_moments_are_the_best_of_each_seat(
    result: StudyResult, found: tuple[TellingMoment, ...]
) -> None:
    frame = result.moments.frame
    one, two = (
        frame[frame["reader"] == name].set_index(["game", "seat", "event"]).sort_index()
        for name in ("floor", "elimination")
    )
    best: dict[tuple[int, str], tuple[float, int]] = {}
    for place in one.index:
        bits = sum(
            one.loc[place, f"truth:{row}"]
            * np.log2(two.loc[place, f"prob:{row}"] / one.loc[place, f"prob:{row}"])
            for row in result.moments.rows
            if one.loc[place, f"truth:{row}"] > 0
        )
        game, seat, event = place
        if bits > best.get((game, seat), (0.0, 0))[0] + 1e-12:
            best[game, seat] = (bits, event)
    wanted = sorted(best.items(), key=lambda item: -item[1][0])[:9]
    assert [each.bits for each in found] == pytest.approx([bits for _, (bits, _) in wanted])
    for each in found:
        assert best[each.game, each.seat][0] == pytest.approx(each.bits)
        told = one.loc[each.game, each.seat, each.event]
        assert (each.own_turn, each.exposures) == (told["own_turn"], told["exposures"])
        assert (each.kind, each.state) == (told["kind"], told["state"])
        assert each.reader_prob < each.rival_prob
        assert each.reader_first_prob == max(told[f"prob:{row}"] for row in result.moments.rows)
        assert each.truth.split(" ")[0] in result.moments.rows


def test_what_is_told_of_a_moment_is_in_its_game(
    result: StudyResult, found: tuple[TellingMoment, ...]
) -> None:
    for each in found:
        assert each.seed == result.seeds["seeds"]["test"][each.game]
        game = play_seed(PLAN, each.seed)
        seat = SEATS.index(each.seat)
        events = tuple(game.record.public("floor"))[: each.event]
        mine = [e for e in events if isinstance(e, Discard) and e.seat == seat]
        assert len(mine) == each.own_turn
        words = each.record.throws.split(", ")
        assert [word.split(" (")[0] for word in words] == [KINDS[e.kind] for e in mine]
        groups = each.record.groups.split("; ") if each.record.groups else []
        assert len(groups) == each.exposures
        assert bool(each.plan) == (each.state in ("building", "waiting"))
        person = game.truth.people[seat]
        assert person is not None
        assert person.kind == each.kind
    frame = telling_frame(found)
    assert list(frame.columns) == [*TELLING_COLUMNS, *SeatRecord.__dataclass_fields__]
    assert frame["throws"].tolist() == [each.record.throws for each in found]
    assert telling_frame(()).empty


def test_a_game_that_is_not_the_studied_one_is_refused(result: StudyResult) -> None:
    seeds = result.seeds["seeds"]
    other = dict(result.seeds) | {"seeds": seeds | {"test": [seed + 7 for seed in seeds["test"]]}}
    with pytest.raises(HandreadError, match="is another at event"):
        telling_moments(replace(result, seeds=other), "floor", "elimination", n=9)


def test_readers_and_numbers_are_checked(result: StudyResult) -> None:
    with pytest.raises(HandreadError, match="both 'floor'; accepted: two readers"):
        telling_moments(result, "floor", "floor")
    with pytest.raises(HandreadError, match="did you mean 'floor'"):
        shortfalls(result.packed, "flor", "base rates", rng=np.random.default_rng(1))
    with pytest.raises(HandreadError, match="n=0; accepted: 1 or more"):
        telling_moments(result, "floor", "elimination", n=0)


def test_the_record_of_a_seat_in_words() -> None:
    events: tuple[AnyEvent, ...] = (
        Passed(step="right", blind=(0, 0, 0, 0)),
        Passed(step="left", blind=(0, 2, 1, 0)),
        Stopped(2),
        Discard(0, BAM, drawn=False),
        Expose(seat=2, size=3, jokers=1),
        Discard(2, RED, drawn=False),
        Discard(3, DOT, drawn=True),
        Voiced(2, lost=True),
        Expose(seat=1, size=3),
        Discard(1, RED),
        Redeem(seat=2, owner=2, kind=BAM),
        Discard(2, DOT, drawn=True),
    )
    card = hr.house_card()
    west = seat_record(card, hr.Header(), events, 2)
    assert west.throws == "red (held), 3 dot (drawn)"
    assert west.groups == "after 0 own turns a pung of 5 bam from East"
    assert west.claims == "after 1 own turns a claim lost for 3 dot; " \
        "after 1 own turns a joker of West for 5 bam"  # fmt: skip
    assert west.passes == "left: 1 unseen; stopped the second round"
    assert west.others == "South pung of 3 dot"
    before = seat_record(card, hr.Header(), events[:6], 2, last=1)
    assert before.throws == "red (held)"
    assert before.groups == "after 0 own turns a pung of 5 bam with 1 joker from East"
    north = seat_record(card, hr.Header(), events, 3)
    assert (north.groups, north.claims, north.passes, north.wall) == ("", "", "", west.wall)
    assert seat_record(card, hr.Header(), (), 0).throws == ""
