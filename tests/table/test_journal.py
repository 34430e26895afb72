"""A record kept while the table plays: checked, saved at once, taken up again."""

from __future__ import annotations

import os

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from handread.errors import HandreadError, IllegalEvent, ParseError
from handread.table import Header, load_record, replay
from handread.table.events import Comment, Discard
from handread.table.journal import Journal, open_journal
from handread.table.shorthand import Draft, format_line, parse_record
from tests.support.random_play import random_record


def test_a_new_file_begins_with_its_header(tmp_path):
    Journal(tmp_path / "g.txt", Header(viewer="West", dealer=1))
    assert (tmp_path / "g.txt").read_text() == "card house\ndealer s\nviewer w\n"


def test_every_line_is_in_the_file_when_it_was_taken(tmp_path):
    path = tmp_path / "g.txt"
    journal = Journal(path)
    for n, line in enumerate(["e 5 b", "w k 1  # West at once", "fix 1 e 5 b", "undo"]):
        journal.write(line)
        assert path.read_text().split("\n")[n + 1] == line
        assert load_record(path) == journal.record()


def test_each_line_is_flushed_to_the_disk(tmp_path, monkeypatch):
    synced = []
    monkeypatch.setattr(os, "fsync", lambda descriptor: synced.append(descriptor))
    journal = Journal(tmp_path / "g.txt")
    begun = len(synced)
    journal.write("e 5 b")
    journal.write("s r")
    assert (begun, len(synced)) == (2, 4)  # the file and its folder, then each line


def test_what_cannot_be_changes_nothing_and_is_not_saved(tmp_path):
    path = tmp_path / "g.txt"
    journal = Journal(path)
    journal.write("e 5 b")
    before = path.read_bytes(), journal.events, journal.state
    for line, error in [
        ("s pnug", ParseError),
        ("e r x", ParseError),
        ("s p of 6 b", IllegalEvent),
        ("cut 4", ParseError),
        ("dealer s", ParseError),
        ("s r\ne g", ParseError),
    ]:
        with pytest.raises(error):
            journal.write(line)
        assert (path.read_bytes(), journal.events, journal.state) == before


def test_an_amendment_that_makes_a_later_event_impossible_is_refused(tmp_path):
    journal = Journal(tmp_path / "g.txt")
    for line in ("e 5 b", "w k 1", "w r", "n sw w 5 b"):
        journal.write(line)
    with pytest.raises(IllegalEvent, match=r"event 4, 'n redeem w 5 bam': no joker stands"):
        journal.write("fix 1 e 6 b")
    journal.write("fix 2 w p 1")
    assert journal.state.exposures[2][0].size == 3


def test_breaches_are_taken_and_flagged(tmp_path):
    journal = Journal(tmp_path / "g.txt")
    journal.write("e 5 b")
    journal.write("n r")
    assert journal.state.flags[0][0] == 2


def test_a_full_disk_takes_nothing(tmp_path, monkeypatch):
    journal = Journal(tmp_path / "g.txt")
    journal.write("e 5 b")

    def full(descriptor):
        raise OSError("no space left")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="no space"):
        journal.write("s r")
    assert len(journal.events) == 1


def test_a_file_is_taken_up_where_it_ends(tmp_path):
    path = tmp_path / "g.txt"
    first = Journal(path, Header(viewer="South"))
    for line in ("e 5 b", "drew r", "fix 1 e 6 b"):
        first.write(line)
    again = Journal(path)
    assert (again.events, again.state, again.header) == (first.events, first.state, first.header)
    again.write("s g")
    again.write("undo")
    again.write("undo")  # of the amendment made before
    assert again.events[0] == Discard(0, 4)


def test_an_unfinished_last_line_is_dropped_if_it_says_nothing(tmp_path):
    path = tmp_path / "g.txt"
    path.write_text("card house\ne 5 b\ns 6")
    journal = Journal(path)
    assert (journal.torn, len(journal.events)) == ("s 6", 1)
    journal.write("s r")
    assert path.read_text() == "card house\ne 5 b\ns r\n"


def test_an_unfinished_last_line_is_dropped_if_it_cannot_have_happened(tmp_path):
    path = tmp_path / "g.txt"
    path.write_text("card house\ne 5 b\ns p of r")
    journal = Journal(path)
    assert (journal.torn, path.read_text()) == ("s p of r", "card house\ne 5 b\n")


def test_a_last_line_without_its_end_is_kept_if_it_reads(tmp_path):
    path = tmp_path / "g.txt"
    path.write_text("card house\ne 5 b\ns 6 b")
    journal = Journal(path)
    assert (journal.torn, len(journal.events)) == (None, 2)
    journal.write("w r")
    assert path.read_text() == "card house\ne 5 b\ns 6 b\nw r\n"


def test_a_file_that_cannot_be_read_is_left_alone(tmp_path):
    path = tmp_path / "g.txt"
    for data, error, words in [
        (b"card house\ne 5 q\ns r\ns", ParseError, "line 2, place 5"),
        (b"card house\ne 5 b\ns p of r\n", IllegalEvent, "event 2"),
        (b"card \xff\n", ParseError, "no UTF-8"),
    ]:
        path.write_bytes(data)
        with pytest.raises(error, match=words):
            Journal(path)
        assert path.read_bytes() == data
    with pytest.raises(ParseError, match=r"ends in '\.jsonl'"):
        Journal(tmp_path / "g.jsonl")


def test_header_lines_may_be_typed_before_the_first_event(tmp_path):
    journal = Journal(tmp_path / "g.txt")
    journal.write("title Thursday")
    journal.write("dealer n")
    assert (journal.header.title, journal.state.holder) == ("Thursday", 3)


def test_the_own_rack_is_followed(tmp_path):
    journal = Journal(tmp_path / "g.txt", Header(viewer="West"))
    for line in ("rack 5 b 5 b r", "e 5 b", "w p", "w r"):
        journal.write(line)
    rack = journal.own_rack()
    assert rack is not None
    assert (rack.tiles.sum(), rack.unknown) == (0, 10)
    assert Journal(tmp_path / "floor.txt").own_rack() is None


def test_opening_with_a_seat_and_a_card(tmp_path):
    path = tmp_path / "g.txt"
    journal = open_journal(path, from_seat="w", card="small")
    assert (journal.header.viewer, journal.header.card) == ("West", "small")
    assert open_journal(path).header == journal.header
    assert open_journal(path, from_seat="west", card="small").header == journal.header
    with pytest.raises(HandreadError, match="kept with seat 'West', not 'South'"):
        open_journal(path, from_seat="s")
    with pytest.raises(HandreadError, match="kept with card 'small', not 'house'"):
        open_journal(path, card="house")
    with pytest.raises(HandreadError, match="no viewer 'x'; accepted: floor, East"):
        open_journal(tmp_path / "h.txt", from_seat="x")
    with pytest.raises(HandreadError, match="huose"):
        open_journal(tmp_path / "h.txt", card="huose")
    assert not (tmp_path / "h.txt").exists()


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), data=st.data())
def test_a_kill_at_any_byte_loses_at_most_the_line_being_typed(seed, data, tmp_path_factory):
    path = tmp_path_factory.mktemp("kill") / "g.txt"
    record = random_record(np.random.default_rng(seed), n_events=25)
    journal = Journal(path, record.header)
    for event in record.events:
        journal.write(format_line(event, short=True))
    whole = path.read_bytes()
    start = whole.index(b"\n") + 1
    kept = whole[: data.draw(st.integers(start, len(whole)))]
    path.write_bytes(kept)
    n = max(kept.count(b"\n") - whole.count(b"\n") + len(record.events), 0)
    again = Journal(path)
    assert again.events[:n] == record.events[:n]
    assert len(again.events) <= n + 1


lines = st.sampled_from(
    ["e 5 b", "s r", "w g", "# note", "fix 1 e f", "fix s f", "cut", "cut 1", "add 0 n e",
     "add w wh # late", "undo", "n c # so"]
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(typed=st.lists(lines, max_size=12))
def test_undo_gives_the_record_without_the_last_line(typed):
    draft = Draft()
    history = [()]
    for line in typed:
        try:
            draft.take(line)
        except ParseError:
            continue
        if line == "undo":
            history.pop()
        else:
            history.append(tuple(draft.events))
        assert tuple(draft.events) == history[-1]
    for _ in range(len(history) - 1):
        draft.take("undo")
        history.pop()
        assert tuple(draft.events) == history[-1]
    with pytest.raises(ParseError, match="nothing to undo"):
        draft.take("undo")


def test_a_copy_of_a_draft_shares_nothing_that_changes():
    draft = Draft()
    draft.take("e 5 b")
    other = draft.copy()
    other.take("s r")
    other.take("undo")
    other.take("undo")
    assert draft.events == [Discard(0, 4)]
    assert other.events == []


def test_the_file_is_the_record(tmp_path):
    path = tmp_path / "g.txt"
    journal = Journal(path)
    for line in ("e 5 b", "# so", "fix e 6 b", "undo", "s r"):
        journal.write(line)
    record = parse_record(path.read_text())
    assert record.events == (Discard(0, 4), Comment("so"), Discard(1, 32))
    assert replay(record.events) == journal.state
