"""Records: as the viewer saw the table, never the truth unless asked, the same every time."""

import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import handread as hr
from handread.table import replay
from handread.table.events import SEATS, Drew, Rack, Reveal
from handread.table.picture import record_picture, table_picture
from tests.support.random_play import Habits, random_record
from tests.svg.drawn import SVG, faces, parts

SEALED = "the sealed truth"
#: Games that end after some fifty throws, with every tile written down.
HABITS = Habits(win=0.02, claim=0.6)


def game(seed, viewer="floor"):
    """A game with everything written down: racks, draws, comments, hands shown after the end."""
    record = random_record(np.random.default_rng(seed), habits=HABITS, hidden=True)
    header = msgspec.structs.replace(record.header, viewer=viewer, title="A game")
    events = [
        msgspec.structs.replace(event, hand=f"{SEALED} {event.seat}")
        if isinstance(event, Reveal)
        else event
        for event in record.events
    ]
    return hr.Record(header, (*events, hr.Comment(SEALED)))


def n_throws(record):
    return sum(isinstance(event, hr.Discard) for event in record.events)


def without_truth(record, viewer):
    """The record with everything taken out that the viewer could not see."""
    events = []
    for event in record.events:
        hidden = isinstance(event, Rack | Drew) and SEATS[event.seat] != viewer
        if isinstance(event, Reveal | hr.Comment) or (hidden and isinstance(event, Rack)):
            continue
        events.append(Drew(event.seat) if hidden else event)
    return hr.Record(record.header, tuple(events))


def pictures_of(html):
    """The SVG documents of a page."""
    return list(ET.fromstring(html).iter(f"{SVG}svg"))


@settings(max_examples=12)
@given(st.integers(0, 10**6), st.sampled_from(["floor", *SEATS]), st.data())
def test_a_record_never_shows_the_truth_by_itself(seed, viewer, data):
    record = game(seed, viewer)
    bare = without_truth(record, viewer)
    at = data.draw(st.none() | st.integers(0, n_throws(record)))
    assert record_picture(record, at) == record_picture(bare, at)
    for form in record._repr_mimebundle_().values():
        assert SEALED not in form
    own = 0 if viewer == "floor" else 1
    assert record_picture(record, at).text.count("tiles not seen") <= 4 - own
    (drawn,) = pictures_of(record._repr_html_())
    (alone,) = pictures_of(bare._repr_html_())
    assert ET.tostring(drawn) == ET.tostring(alone)


@settings(max_examples=8)
@given(st.integers(0, 10**6))
def test_asked_for_the_truth_it_shows_all_of_it(seed):
    record = game(seed)
    picture = record_picture(record, reveal=True)
    state = replay(record.events, record.header)
    held = {event.seat: event.rack for event in record.events if isinstance(event, Reveal)}
    people = [f"{SEALED} {seat}" for seat in range(4)]
    plain = table_picture(state, people=people, racks={s: sorted(k) for s, k in held.items()})
    assert picture.text.startswith("A game: ")
    assert seats_and_throws(picture) == seats_and_throws(plain)
    assert "not seen" not in picture.text
    middle = record_picture(record, n_throws(record) // 2, reveal=True)
    assert "not seen" not in middle.text  # racks followed from the deal, draw by draw


def seats_and_throws(picture):
    lines = picture.text.splitlines()
    return lines[next(n for n, line in enumerate(lines) if line.startswith("East")) :]


@settings(max_examples=8)
@given(st.integers(0, 10**6), st.integers(1, 30))
def test_a_moment_does_not_depend_on_what_came_later(seed, at):
    record = game(seed, "South")
    throws = [n for n, event in enumerate(record.events) if isinstance(event, hr.Discard)]
    at = min(at, len(throws))
    cut = hr.Record(record.header, record.events[: throws[at - 1] + 1])
    assert record_picture(record, at) == record_picture(cut, at)
    assert f"Table after {at} throw" in record_picture(record, at).text


def test_the_viewers_own_rack_is_shown_on_the_lower_side():
    record = game(4, "West")  # 22 throws
    picture = record_picture(record, 10)
    assert picture.text.count("not seen") == 3
    state = replay(record.events[: _place_of_throw(record, 10) + 1], record.header)
    exposed = sum(group.size for groups in state.exposures for group in groups)
    assert len(faces(picture)) == 10 + exposed + state.concealed[2]
    assert _height_of(picture, "West") > max(_height_of(picture, s) for s in ("East", "North"))


def _place_of_throw(record, number):
    return [n for n, event in enumerate(record.events) if isinstance(event, hr.Discard)][number - 1]


def _height_of(picture, name):
    """Where the largest writing of a seat's name stands."""
    named = [p for p in parts(picture) if p.tag == "text" and p.node.text == name]
    return max(named, key=lambda p: float(p.node.get("font-size"))).point()[1]


def test_a_rack_written_down_in_part_stands_below_the_table():
    record = hr.parse_record("viewer s\ns rack 4 b 5 b red\ne 1 bam\nsouth 2 bam\n")
    assert "of South's 13 tiles 3 written down" in record_picture(record).text
    table, rack = pictures_of(record._repr_html_())
    assert rack.get("aria-label") == "South's rack"
    words = record._repr_mimebundle_()["text/plain"]
    assert "Concealed: 4 bam, 5 bam, red, 10 tiles not seen." in words
    assert "South. Concealed: 13 tiles not seen." in table.find(f"{SVG}desc").text


def test_titles_say_when():
    record = hr.parse_record("title Club\npeople a b c d\ne 5 bam\ns red\nw win claimed\n")
    assert record_picture(record).text.startswith("Club: West wins on red\n")
    assert record_picture(record, 1).text.startswith("Club: after throw 1\n")
    assert record_picture(record, 0).text.startswith("Club: before the first throw\n")
    assert "East (a)." in record_picture(record).text
    wall = hr.parse_record("e 5 bam\nmissed 98\nwall game\n")
    assert record_picture(wall).text.startswith("wall game; turns were not seen")
    drawn = hr.parse_record("e 5 bam\ns win drawn\n")
    assert record_picture(drawn).text.startswith("South wins on a draw\n")
    with pytest.raises(hr.HandreadError, match="no throw 3 in the record; accepted: 0 to 2"):
        record_picture(record, 3)


def test_a_record_says_how_long_it_is():
    record = hr.parse_record("title A <b>\nviewer e\ncard small\ne 5 bam\n")
    page = record._repr_html_()
    assert "1 event, seen from East; card small" in page
    assert "<b>" not in page
    assert record._repr_mimebundle_(include={"text/plain"}).keys() == {"text/plain"}
    assert record._repr_mimebundle_(exclude={"text/html"}).keys() == {"text/plain"}


def test_a_record_that_cannot_have_happened_says_so_and_does_not_fail():
    record = hr.parse_record("title <i>Odd\n" + "e 5 bam\ns 5 bam\nw 5 bam\nn 5 bam\ne 5 bam\n")
    page = ET.fromstring(record._repr_html_())
    words = "".join(page.itertext())
    assert "<i>Odd cannot be drawn: event 5, 'e 5 bam'" in words
    assert "5 events" in words
    assert "cannot be drawn" in record._repr_mimebundle_()["text/plain"]


def test_the_tile_set_is_that_of_the_card():
    header = hr.Header(card="club.toml")
    jokers = tuple(hr.Discard(n % 4, 35) for n in range(9))
    record = hr.Record(header, jokers)
    assert "cannot be drawn" in record._repr_html_()
    club = hr.load_card("small")
    copies = club.rules.copies.copy()
    copies[35] = 10
    card = replace(club, rules=replace(club.rules, copies=copies))
    assert record_picture(record, card=card).text.startswith("Table after 9 throws")


def test_shipped_records_show_themselves_in_few_bytes(checkout):
    for path in sorted((checkout / "data" / "records").glob("*.txt")):
        record = hr.load_record(path)
        page = record._repr_html_()
        assert len(page) < 130_000
        assert len(pictures_of(page)) == 1
        hands = {e.hand for e in record.events if isinstance(e, Reveal) and e.hand}
        assert hands
        for form in record._repr_mimebundle_().values():
            assert not any(hand in form for hand in hands)


def test_the_same_record_gives_the_same_bytes_in_another_process():
    code = (
        "import handread as hr; from handread.table.picture import record_picture\n"
        "print(record_picture(hr.parse_record('title T\\ne 5 bam\\ns red\\n')).svg)"
    )
    env = {"PYTHONHASHSEED": "11", "PYTHONPATH": ":".join(sys.path)}
    other = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env=env, check=True
    )
    here = record_picture(hr.parse_record("title T\ne 5 bam\ns red\n"))
    assert other.stdout.strip() == here.svg
