"""The typed shorthand: what each line means, and that lines and records go both ways."""

from __future__ import annotations

from pathlib import Path

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

from handread.errors import HandreadError, ParseError
from handread.table import Header, Record, replay
from handread.table.events import (
    SWITCHES,
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
)
from handread.table.shorthand import (
    EXAMPLES,
    SHORTHAND_HELP,
    Amendment,
    Heading,
    format_entry,
    format_line,
    format_record,
    keystrokes_per_event,
    parse_line,
    parse_record,
    read_line,
)
from handread.table.shorthand.words import AMENDMENTS, HEADINGS, TABLE_WORDS, VERBS
from tests.table.strategies import any_event, any_record

GAMES = sorted((Path(__file__).parent / "games").glob("*.txt"))

# East South West North winds 27 to 30, green 31, red 32, white 33, flower 34, joker 35
LINES = {
    "s 5 b": Discard(1, 4),
    "S 5 BAM": Discard(1, 4),
    "south 5 bamboo": Discard(1, 4),
    "s s": Discard(1, 28),
    "n n": Discard(3, 30),
    "e e": Discard(0, 27),
    "w we": Discard(2, 29),
    "w wh": Discard(2, 33),
    "w soap": Discard(2, 33),
    "n r": Discard(3, 32),
    "n re": Discard(3, 32),
    "s 5 d d": Discard(1, 22, True),
    "s d 5": None,
    "s 5 d h m p 2.5": Discard(1, 22, False, "middle", 2.5),
    "s f pause 4 end": Discard(1, 34, None, "end", 4.0),
    "w p": Expose(2, 3),
    "w pung": Expose(2, 3),
    "w k 2": Expose(2, 4, 2),
    "w k 2 j": Expose(2, 4, 2),
    "w q 1": Expose(2, 5, 1),
    "w se": Expose(2, 6),
    "w pa": Expose(2, 2),
    "w k 1 of 5 b": Expose(2, 4, 1, 4),
    "w p of r": Expose(2, 3, 0, 32),
    "w co k 1": Correct(2, 4, 1),
    "n c": Voiced(3),
    "n c w": Voiced(3, lost=False),
    "n c lost": Voiced(3),
    "s sw w 5 b": Redeem(1, 2, 4),
    "s redeem west 5 bam early": Redeem(1, 2, 4, early=True),
    "w de": Dead(2),
    "w de s": Dead(2, 1),
    "w dead s r": Dead(2, 1, returned=True),
    "w dead r": Dead(2, None, returned=True),
    "e er": WinInError(0),
    "e er h": WinInError(0, shown=False),
    "w m c": Win(2, claimed=True),
    "w wi d 5 b": Win(2, claimed=False, kind=4),
    "w ra 5 b r": Rack(2, (4, 32)),
    "w dr": Drew(2),
    "w dr 5 b": Drew(2, 4),
    "w had : ladder of 4": Reveal(2, "ladder of 4"),
    "w rev rack 5 b r : x": Reveal(2, "x", (4, 32)),
    "w rev rack": Reveal(2, None, ()),
    "pass r": Passed(step="right"),
    "pa l": Passed(step="left"),
    "pa la": Passed(step="last right"),
    "pa last right": Passed(step="last right"),
    "pa s a": Passed(step="second across"),
    "pa l b 0 1 0 0 ga 5 b r f go e": Passed(
        step="left", blind=(0, 1, 0, 0), given=(4, 32, 34), received=(27,)
    ),
    "pa c counts 1 2 1 2": Passed(step="courtesy", counts=(1, 2, 1, 2)),
    "stop": Stopped(),
    "stop w": Stopped(2),
    "missed": Missed(),
    "missed 3": Missed(3),
    "joined 44 floor 5 b r": Joined(44, (4, 32)),
    "wall": WallGame(),
    "wall game": WallGame(),
    "# so so": Comment("so so"),
    "#": Comment(""),
}


@pytest.mark.parametrize(("line", "event"), LINES.items())
def test_lines(line, event):
    if event is None:
        with pytest.raises(ParseError):
            parse_line(line)
    else:
        assert parse_line(line) == event


def test_seats_and_winds_are_never_confused():
    winds = {"e": 27, "s": 28, "we": 29, "n": 30}
    for seat, name in enumerate("eswn"):
        for wind, kind in winds.items():
            assert parse_line(f"{name} {wind}") == Discard(seat, kind)


def test_tiles_come_before_deeds_after_a_seat():
    from handread.table.shorthand.words import TILE_WORDS

    for name in TILE_WORDS:
        for length in range(1, len(name) + 1):
            prefix = name[:length]
            if prefix == "w":
                with pytest.raises(ParseError, match="west or white"):
                    parse_line("s w")
            else:
                assert isinstance(parse_line(f"s {prefix}"), Discard)


def test_the_viewer_may_leave_its_seat_out():
    record = parse_record("viewer w\nrack 5 b r\ndrew g\n")
    assert record.events == (Rack(2, (4, 32)), Drew(2, 31))
    with pytest.raises(ParseError, match="whose drew"):
        parse_record("drew g\n")


def test_header_lines():
    text = (
        "title The second game # of ours\ncard house\nhash 0123456789abcdef\ndealer s\n"
        "viewer n\npeople ann bo - d\nunit s\nrule no correction\nrule last exposure\nformat 1\n"
    )
    record = parse_record(text)
    assert record.header == Header(
        title="The second game",
        card_hash="0123456789abcdef",
        dealer=1,
        viewer="North",
        people=("ann", "bo", "", "d"),
        switches=("no correction", "last exposure"),
    )
    assert record.events == (Comment("of ours"),)


def test_amendments():
    lines = ["e 5 b", "s r", "w g"]
    texts = [
        (["fix w f"], ["e 5 b", "s r", "w f"]),
        (["fix 2 s f"], ["e 5 b", "s f", "w g"]),
        (["cut"], ["e 5 b", "s r"]),
        (["cut 1"], ["s r", "w g"]),
        (["add n f"], ["e 5 b", "s r", "w g", "n f"]),
        (["add 1 w p", "add 2 w 9 d"], ["e 5 b", "w p", "w 9 d", "s r", "w g"]),
        (["add 0 pass right"], ["pass right", "e 5 b", "s r", "w g"]),
        (["# note", "fix w f"], ["e 5 b", "s r", "w f", "# note"]),
        (["cut", "cut", "fix e 6 b"], ["e 6 b"]),
        (["undo"], ["e 5 b", "s r"]),
        (["cut 1", "undo"], ["e 5 b", "s r", "w g"]),
        (["fix 2 s f", "add 0 n e", "undo", "undo", "undo"], ["e 5 b", "s r"]),
        (["add 3 # a note"], None),
    ]
    for amendments, meant in texts:
        if meant is None:
            with pytest.raises(ParseError):
                parse_record("\n".join(lines + amendments))
        else:
            amended = parse_record("\n".join(lines + amendments))
            assert amended == parse_record("\n".join(meant))


def test_amendments_replay_like_the_record_they_mean():
    amended = parse_record("e 5 b\ns r\nw pung\nfix 2 s g\ncut\nadd w k 1")
    plain = parse_record("e 5 b\ns g\nw k 1")
    assert replay(amended.events) == replay(plain.events)


@given(event=any_event(), short=st.booleans())
@settings(max_examples=400, deadline=None)
def test_lines_go_both_ways(event, short):
    assert parse_line(format_line(event, short=short)) == event


@given(record=any_record(), short=st.booleans())
@settings(max_examples=200, deadline=None)
def test_records_go_both_ways(record, short):
    assert parse_record(format_record(record, short=short)) == record


@given(
    entry=st.builds(
        Amendment,
        st.sampled_from(["fix", "add"]),
        st.none() | st.integers(0, 999),
        any_event().filter(lambda event: not isinstance(event, Comment)),
    )
    | st.builds(Amendment, st.just("cut"), st.none() | st.integers(0, 999))
    | st.just(Amendment("undo"))
    | st.builds(Heading, st.sampled_from(["card", "title", "card_hash", "pause_unit"]), st.text())
    | st.builds(Heading, st.just("dealer"), st.integers(0, 3))
    | st.builds(Heading, st.just("people"), st.tuples(*[st.text()] * 4)),
    short=st.booleans(),
)
@settings(max_examples=200, deadline=None)
def test_entries_go_both_ways(entry, short):
    assert read_line(format_entry(entry, short=short)) == (entry,)


def test_the_formatter_refuses_what_has_no_words():
    for event, words in [
        (Expose(2, 7), "no word for a group of 7"),
        (Discard(4, 3), "no seat 4"),
        (Discard(0, 36), "no kind 36"),
        (Expose(2, "pung"), "no word for a group of 'pung'"),
        (Discard("East", 3), "no seat 'East'; accepted: 0 to 3, East first"),
        (Discard(0, "5 bam"), "no kind '5 bam'"),
        (Passed(step="right", blind=(1,)), "four numbers"),
        ("s 5 b", "is no event"),
    ]:
        with pytest.raises(ParseError, match=words):
            format_line(event)
    with pytest.raises(ParseError, match="four keys"):
        format_record(Record(Header(people=("a",)), ()))


def test_the_help_holds_every_word_and_its_lines_parse():
    examples, grammar = SHORTHAND_HELP.split("```")[1::2]
    entries = [read_line(line) for line in examples.strip().split("\n") if line]
    assert all(entries)
    said = {type(entry).__name__ for line in entries for entry in line}
    assert said >= {type(event).__name__ for event in LINES.values() if event is not None}
    words = set(grammar.replace("(", " ").split())
    assert words >= {*HEADINGS, *AMENDMENTS, *TABLE_WORDS, *VERBS}
    for switch, default in SWITCHES.items():
        assert f"`{'no ' if default else ''}{switch}`" in SHORTHAND_HELP


def test_the_parts_of_the_examples_are_all_of_them():
    parts = ["\n".join(lines) for _, lines in EXAMPLES.values()]
    assert "\n\n".join(parts) == SHORTHAND_HELP.split("```")[1].strip("\n")
    assert EXAMPLES["mend"][1][-1].startswith("undo")


@pytest.mark.parametrize("game", GAMES, ids=lambda path: path.stem)
def test_nine_keystrokes_an_event_or_fewer(game):
    """Three whole games of random play, written with the fewest letters."""
    text = game.read_text(encoding="utf-8")
    record = parse_record(text)
    state = replay(record.events, record.header)
    assert state.over
    assert not state.flags
    assert len(record.events) >= 40
    assert keystrokes_per_event(text) <= 9


def test_keystrokes_are_counted_by_hand():
    # "e 5 b" and Enter 6, "w p" 4, "fix w k 1" 10, "w wh" 5: 25 over 3 events
    text = "card house\n# note\ne 5 b\nw p # loud\nfix w k 1\nw wh\ne had : x\n"
    assert keystrokes_per_event(text) == pytest.approx(25 / 3)
    with pytest.raises(HandreadError, match="tells no event"):
        keystrokes_per_event("# nothing\n")


def test_there_are_three_sample_games():
    assert len(GAMES) == 3
