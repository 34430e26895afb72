"""Any text gives a value or an error that names line, place, word and what would do."""

from __future__ import annotations

import re

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from handread.errors import ParseError
from handread.table import Record
from handread.table.events import Event
from handread.table.shorthand import parse_line, parse_record, read_line
from handread.table.shorthand.words import HEADINGS, TABLE_WORDS, VERBS

words = st.sampled_from(
    [*"eswn", *"123456789", "b", "c", "d", "w", "fix", "cut", "add", ":", "#", "x", "5b", "jokers",
     "drawn", "held", "p", "k", "blind", "got", "rack", "12", "0", "99999999999", "early", "floor",
     *HEADINGS, *TABLE_WORDS, *VERBS]
)  # fmt: skip
wordy = st.lists(words, max_size=8).map(" ".join)
texts = st.lists(wordy | st.text(max_size=30), max_size=6).map("\n".join)


def outcome(read, text):
    """What reading gives: a value, or the words of our own error."""
    try:
        return read(text)
    except ParseError as error:
        return str(error)


@given(text=texts)
@settings(max_examples=500, deadline=None)
def test_any_text_gives_a_record_or_a_parse_error(text):
    got = outcome(parse_record, text)
    assert isinstance(got, Record) or re.match(r"line \d+, place \d+, ", got)


@given(line=wordy | st.text(max_size=40))
@settings(max_examples=500, deadline=None)
def test_any_line_gives_an_event_or_a_parse_error(line):
    got = outcome(parse_line, line)
    assert isinstance(got, Event) or got.startswith("line 1, place ")


CASES = {
    "s pnug": "line 7, place 3, 'pnug': .*did you mean 'pung'",
    "s 5b": "line 7, place 3, '5b': .*a number and a suit",
    "s 5 q": "place 5, 'q': no suit 'q'.*accepted: bam, crak, dot",
    "s 5": "place 3, '5': 5 needs a suit after it; accepted: bam, crak, dot",
    "s 12 b": "place 3, '12': .*1 to 9",
    "s w": "place 3, 'w': .*west or white; write one letter more",
    "s": "place 2, the end: what did the seat do",
    "x r": "place 1, 'x': a line begins with a seat",
    "bam 5": "place 1, 'bam': a line begins with a seat",
    "p r": "place 1, 'p': could be pass or people",
    "s d": "place 3, 'd': could be dead or drew; write one letter more",
    "s 5 b 3": "place 7, '3': accepted: drawn, held, end, middle, pause",
    "s 5 b d h": "place 9, 'h': a second mark of one sort",
    "s r pause": "place 10, the end: .*accepted: how long",
    "s r pause x": "place 11, 'x': no number; accepted: how long",
    "s r pause 1e999": "place 11, '1e999': no number",
    "w k x": "place 5, 'x': not understood here; accepted: nothing more",
    "w k 1 of": "place 9, the end: .*accepted: a tile",
    "s sw 5 b": "place 6, '5': no seat; accepted: e, s, w, n",
    "w m": "place 4, the end: .*accepted: claimed, drawn",
    "w had ladder": "place 7, 'ladder': accepted: 'rack' and the concealed tiles",
    "w co": "place 5, the end: .*accepted: single, pair, pung",
    "pass": "place 5, the end: .*accepted: right, across, left",
    "pass up": "place 6, 'up': accepted: right, across",
    "pass right blind 1 2": "the end: .*accepted: four numbers, East first",
    "pass right blind x": "'x': no number; accepted: four numbers",
    "pass right gave r gave g": "'gave': gave was said already",
    "stop x": "place 6, 'x': no seat",
    "rule no corection": "place 6, 'no corection': did you mean 'correction'",
    "viewer us": "place 8, 'us': .*accepted: floor",
    "people a b": "2 people; accepted: four keys",
    "dealer": "the end: no seat",
    "card": "the end: .*accepted: the words of the header line",
    "format x": "'x': no number; accepted: the version",
    "fix": "the end: a line begins with a seat",
    "fix 3": "the end: a line begins with a seat",
    "fix title x": "place 5, 'title': a line begins with a seat",
    "drew r": "place 1, 'drew': whose drew",
    "add 5": "the end: a line begins with a seat",
}


@pytest.mark.parametrize(("line", "words"), CASES.items())
def test_errors_name_line_place_word_and_what_would_do(line, words):
    with pytest.raises(ParseError, match=words):
        read_line(line, 7)


def test_errors_of_records_name_the_line():
    for text, words in {
        "e r\n\ns pnug": "line 3, place 3, 'pnug'",
        "e r\ncard house": "line 2, place 1, 'card': header lines stand before",
        "e r\nfix 4 s r": "line 2, place 1, 'fix': no event 4; accepted: 1 to 1",
        "e r\nadd 4 s r": "line 2, place 1, 'add': no event 4; accepted: 0 to 1",
        "cut": "line 1, place 1, 'cut': there is no event yet to cut",
    }.items():
        with pytest.raises(ParseError, match=words):
            parse_record(text)


def test_one_event_is_one_event():
    for line in ("", "card house", "cut", "e r # so"):
        with pytest.raises(ParseError, match="one event was expected"):
            parse_line(line)
