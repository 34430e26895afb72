"""Records in files, their formats for ever, and what a viewer may know of them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import given, settings

from handread.errors import ParseError
from handread.table import Header, Record, load_record, parse_record, save_record
from handread.table.events import (
    Absent,
    Comment,
    Correct,
    Dead,
    Discard,
    Drew,
    Expose,
    Joined,
    Missed,
    Passed,
    Rack,
    Redeem,
    Reveal,
    Stopped,
    Voiced,
    WallGame,
    Win,
    WinInError,
    viewer_name,
    viewer_seat,
)
from handread.table.records import FORMAT, from_json_lines, to_json_lines
from handread.table.schema import record_schema
from handread.table.shorthand import format_record
from tests.support.random_play import random_record
from tests.table.strategies import any_record

GOLDEN = Path(__file__).parent / "golden"
HEADER = {
    1: Header(
        card_hash="0123456789abcdef",
        dealer=1,
        people=("ann", "bo", "", "dee"),
        viewer="West",
        title="every kind of line",
        switches=("no correction",),
    )
}
EVENTS = {
    1: (
        Passed(step="right"),
        Passed(step="across", given=(4, 32, 34), received=(27, 0, 26)),
        Passed(step="left", blind=(0, 1, 0, 2)),
        Stopped(2),
        Stopped(),
        Passed(step="courtesy", counts=(1, 2, 1, 2)),
        Rack(2, (0, 0, 13, 35)),
        Joined(60, (4, 4, 31)),
        Joined(),
        Absent(3),
        Drew(2, 33),
        Drew(0),
        Discard(1, 4),
        Discard(2, 35, True, "end", 2.5),
        Voiced(0),
        Voiced(0, lost=False),
        Expose(2, 3),
        Expose(2, 4, 2, 32),
        Correct(2, 4, 1),
        Redeem(1, 2, 4),
        Redeem(1, 2, 4, early=True),
        Dead(0),
        Dead(0, 1, returned=True),
        WinInError(0),
        WinInError(0, shown=False),
        Missed(),
        Missed(3),
        Win(2, claimed=True),
        Win(2, claimed=False, kind=30),
        WallGame(),
        Reveal(0, "a ladder"),
        Reveal(1, None, (1, 2, 3)),
        Comment("two\nlines"),
    )
}


@pytest.mark.parametrize("version", range(1, FORMAT + 1))
@pytest.mark.parametrize("suffix", [".txt", ".jsonl"])
def test_every_version_loads_for_ever(version, suffix):
    record = load_record(GOLDEN / f"format-{version}{suffix}")
    assert record == Record(HEADER[version], EVENTS[version])


def test_the_golden_record_has_every_kind_of_event():
    from handread.table.events import AnyEvent

    assert {type(event) for event in EVENTS[FORMAT]} == set(AnyEvent.__args__)


@given(record=any_record())
@settings(max_examples=200, deadline=None)
def test_json_lines_go_both_ways(record):
    assert from_json_lines(to_json_lines(record)) == record


@pytest.mark.parametrize("suffix", [".txt", ".jsonl"])
def test_files_go_both_ways(tmp_path, suffix):
    record = random_record(np.random.default_rng(3), hidden=True)
    save_record(record, tmp_path / f"game{suffix}")
    assert load_record(tmp_path / f"game{suffix}") == record


def test_the_first_line_is_the_header_and_each_other_one_an_event():
    lines = to_json_lines(Record(HEADER[1], EVENTS[1])).decode().splitlines()
    assert json.loads(lines[0])["format"] == 1
    assert [json.loads(line)["event"] for line in lines[1:4]] == ["passed"] * 3


def test_shorthand_files_may_have_a_mark_and_windows_lines(tmp_path):
    path = tmp_path / "game.txt"
    path.write_bytes("\ufeffcard house\r\ne 5 b\r\n# ok\r\n".encode())
    assert load_record(path).events == (Discard(0, 4), Comment("ok"))


BAD = {
    b"": "line 1, '', is no header",
    b"[]": "line 1, '\\[\\]', is no header",
    b'{"format":1,"dealr":2}': "line 1, .*unknown field `dealr`",
    b'{"format":2}': "format 2 is not known here; accepted: 1 to 1",
    b'{"dealer":4}': "line 1, .*<= 3",
    b'{}\n{"event":"discrd","seat":0,"kind":1}': "line 2, .*did you mean 'discard'",
    b'{}\n\n{"event":"discard","seat":4,"kind":1}': "line 3, .*<= 3 - at `\\$.seat`",
    b'{}\n{"event":"discard","seat":0,"kind":36}': "line 2, .*<= 35",
    b'{}\n{"event":"discard","seat":0}': "line 2, .*missing required field `kind`",
    b'{}\n{"event":"expose","seat":0,"size":3,"joker":1}': "line 2, .*unknown field `joker`",
    b'{}\n{"event":"discard","seat":0,"kind":1,"position":"left"}': "line 2, .*end\\|middle",
    b'{}\n{"event":"passed","step":"up"}': "line 2, .*right\\|across",
    b'{}\n{"event":"passed","step":"left","blind":[1,0]}': "line 2, .*length >= 4",
    b'{"people":["a"]}': "line 1, .*length >= 4",
    b'{}\n{"event":"missed","turns":1000000000}': "line 2, .*<= 999999999",
    b'{}\n{"event"': "line 2, ",
    b"{}\n\xff": "line 2, ",
    b'{}\n{"event":"comment","text":"\xff"}': "line 2, ",
}


@pytest.mark.parametrize(("data", "words"), BAD.items())
def test_lines_that_cannot_be_read_are_named(data, words):
    with pytest.raises(ParseError, match=words):
        from_json_lines(data)


def test_files_of_another_ending_or_coding_are_refused(tmp_path):
    with pytest.raises(ParseError, match=r"ends in '\.csv'; accepted endings: \.txt"):
        load_record(tmp_path / "game.csv")
    with pytest.raises(ParseError, match=r"ends in ''"):
        save_record(Record(Header(), ()), tmp_path / "game")
    (tmp_path / "game.txt").write_bytes(b"card house\n\xff\n")
    with pytest.raises(ParseError, match="no UTF-8 text"):
        load_record(tmp_path / "game.txt")
    (tmp_path / "new.txt").write_text("format 2\ncard house\n")
    with pytest.raises(ParseError, match="format 2 is not known"):
        load_record(tmp_path / "new.txt")
    with pytest.raises(FileNotFoundError):
        load_record(tmp_path / "none.txt")


# --- the schema ---


def test_the_schema_takes_every_line_of_the_golden_record():
    schema = record_schema()
    validator = jsonschema.Draft202012Validator(schema)
    jsonschema.Draft202012Validator.check_schema(schema)
    for line in (GOLDEN / "format-1.jsonl").read_text().splitlines():
        validator.validate(json.loads(line))


def test_the_schema_says_the_draft_and_survives_json():
    schema = json.loads(json.dumps(record_schema()))
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    with pytest.raises(ParseError, match="no schema for format 2"):
        record_schema(2)


def test_the_schema_refuses_what_the_reader_refuses():
    validator = jsonschema.Draft202012Validator(record_schema())
    for data in BAD:
        for line in data.split(b"\n"):
            try:
                value = json.loads(line)
            except ValueError:
                continue
            accepted = _reads(line)
            assert validator.is_valid(value) == accepted, value


def _reads(line: bytes) -> bool:
    """Whether the line is a header or an event to the reader, versions aside."""
    for data in (line, b"{}\n" + line):
        try:
            from_json_lines(data)
        except ParseError as error:
            if re.match("format 2", str(error)):
                return True
        else:
            return True
    return False


@given(record=any_record())
@settings(max_examples=60, deadline=None)
def test_the_schema_takes_whatever_is_written(record):
    validator = jsonschema.Draft202012Validator(record_schema())
    for line in to_json_lines(record).decode().split("\n")[:-1]:
        assert validator.is_valid(json.loads(line))


# --- what a viewer may know ---


def test_the_floor_knows_no_racks_no_drawn_tiles_and_no_truth():
    events = list(Record(HEADER[1], EVENTS[1]).public("floor"))
    assert not any(isinstance(event, Rack | Reveal) for event in events)
    assert [event for event in events if isinstance(event, Drew)] == [Drew(2), Drew(0)]
    passes = [event for event in events if isinstance(event, Passed)]
    assert len(passes) == 4
    assert all(event.given is None and event.received is None for event in passes)


def test_the_recorder_knows_its_own_tiles():
    events = list(Record(HEADER[1], EVENTS[1]).public("West"))
    assert Rack(2, (0, 0, 13, 35)) in events
    assert Drew(2, 33) in events
    assert Passed(step="across", given=(4, 32, 34), received=(27, 0, 26)) in events


def test_another_seat_knows_only_its_own():
    events = list(Record(HEADER[1], EVENTS[1]).public("East"))
    assert not any(isinstance(event, Rack) for event in events)
    assert Drew(2) in events
    assert all(e.given is None for e in events if isinstance(e, Passed))


def test_there_is_no_other_viewer():
    with pytest.raises(ParseError, match=r"no viewer 'x'; accepted: floor, East, .* or 0 to 3"):
        list(Record(Header(), ()).public("x"))
    for none in ("", 4, -1, True, None):
        with pytest.raises(ParseError, match=f"no viewer {none!r}; accepted: floor, East"):
            list(Record(Header(), ()).public(none))
    with pytest.raises(ParseError, match="did you mean 'floor'"):
        viewer_seat("flor")


@pytest.mark.parametrize("viewer", ["west", "w", "WEST", 2, np.int64(2)])
def test_a_viewer_is_named_in_every_way(viewer):
    record = Record(HEADER[1], EVENTS[1])
    assert list(record.public(viewer)) == list(record.public("West"))
    assert viewer_seat(viewer) == 2
    assert viewer_name(viewer) == "West"


def test_a_long_record_is_read_in_time():
    """Twenty thousand lines each way; the million of the stated bound is in the slow tests."""
    lines = [f"{'eswn'[n % 4]} {n % 9 + 1} {'bcd'[n % 3]}" for n in range(20_000)]
    record = parse_record("\n".join(lines))
    assert len(record.events) == 20_000
    assert parse_record(format_record(record)) == record
    assert from_json_lines(to_json_lines(record)) == record
