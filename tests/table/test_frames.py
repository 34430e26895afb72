"""Records as pandas tables and back."""

from __future__ import annotations

import io
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings

from handread.errors import ParseError
from handread.table import Header, Record
from handread.table.events import Discard, Passed, Voiced, WallGame
from handread.table.frames import COLUMNS, from_frame, to_frame
from tests.support.random_play import random_record
from tests.table.strategies import any_record
from tests.table.test_records import EVENTS, HEADER


@given(record=any_record())
@settings(max_examples=50, deadline=None)
def test_tables_go_both_ways(record):
    assert from_frame(to_frame(record)) == record


def test_every_field_of_every_event_has_a_column():
    fields = {name for event in EVENTS[1] for name in type(event).__struct_fields__}
    assert fields | {"event"} == set(COLUMNS)


def test_tables_go_through_a_file():
    record = Record(HEADER[1], EVENTS[1])
    text = to_frame(record).to_csv(index=False)
    again = from_frame(pd.read_csv(io.StringIO(text)), record.header)
    assert again == record


def test_truth_in_words_is_read():
    for word, lost in [("False", False), ("true", True), (0.0, False), (True, True)]:
        frame = pd.DataFrame({"event": ["voiced"], "seat": ["East"], "lost": [word]})
        assert from_frame(frame).events == (Voiced(0, lost),)


def test_words_to_filter_by():
    record = Record(
        Header(), (Passed(step="left", blind=(0, 1, 0, 2), given=(4, 32)), Discard(2, 4))
    )
    frame = to_frame(record)
    assert frame.loc[0, "blind"] == "0 1 0 2"
    assert frame.loc[0, "given"] == "5 bam, red"
    assert frame.loc[1, ["seat", "kind"]].tolist() == ["West", "5 bam"]
    assert frame.attrs["header"] == {}
    assert from_frame(frame, Header(dealer=2)).header.dealer == 2


def test_an_empty_record_and_missing_columns():
    assert from_frame(to_frame(Record(Header(), ()))) == Record(Header(), ())
    frame = pd.DataFrame({"event": ["wall game"]})
    assert from_frame(frame).events == (WallGame(),)


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"evnt": ["discard"]}, "no column 'evnt'; did you mean 'event'"),
        ({"seat": ["East"]}, "needs a column 'event'"),
        ({"event": ["discard"], "seat": ["Est"]}, "row 0, column 'seat', 'Est': .*accepted: East"),
        ({"event": ["discard"], "seat": ["East"], "kind": ["5 bm"]}, "column 'kind', '5 bm'"),
        ({"event": ["discard"], "seat": ["East"]}, "row 0, .*missing required field `kind`"),
        ({"event": ["discrd"]}, "row 0, .*discrd"),
        ({"event": ["missed"], "turns": ["many"]}, "column 'turns', 'many'"),
        ({"event": ["missed"], "turns": [1.5]}, "column 'turns', 1.5: accepted: a whole number"),
        ({"event": ["voiced"], "seat": ["East"], "lost": ["no"]}, "'lost', 'no': .*accepted: true"),
    ],
)
def test_tables_that_cannot_be_read(columns, words):
    with pytest.raises(ParseError, match=words):
        from_frame(pd.DataFrame(columns))


def test_a_game_in_a_table():
    record = random_record(np.random.default_rng(1), hidden=True)
    frame = to_frame(record)
    assert len(frame) == len(record.events)
    assert from_frame(frame) == record


def test_tables_load_no_pandas_until_they_are_made():
    code = "import handread.table, handread.table.frames, sys; print('pandas' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
