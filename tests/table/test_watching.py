"""What a person at the keyboard is told after each line."""

from __future__ import annotations

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from handread.errors import HandreadError
from handread.table import Header, OwnRack, live
from handread.table.journal import Journal
from handread.table.screen import WIDTH, count_lines, seat_lines, table_lines
from handread.table.shorthand import EXAMPLES
from handread.table.watching import COMMANDS, status_lines, watch_table
from tests.support.random_play import Habits, RandomGame
from tests.table.at_table import after, rounds


class Keyboard:
    """Types given lines, notes prompts and what is said."""

    def __init__(self, *lines: str | type[BaseException]) -> None:
        self.lines = list(lines)
        self.prompts: list[str] = []
        self.said: list[str] = []

    def ask(self, prompt: str) -> str:
        self.prompts.append(prompt)
        self.said.append(f"> {prompt}")
        line = self.lines.pop(0) if self.lines else EOFError
        if not isinstance(line, str):
            raise line
        return line

    def last(self) -> str:
        """What was said after the last line typed."""
        places = [n for n, line in enumerate(self.said) if line.startswith("> ")]
        return "\n".join(self.said[places[-2] + 1 : places[-1]])


def watched(path, *lines, header=None, families=None):
    keyboard = Keyboard(*lines)
    journal = Journal(path / "g.txt", header)
    watch_table(journal, keyboard.ask, keyboard.said.append, families=families)
    return keyboard, journal


def test_the_prompt_says_the_number_and_the_seat(tmp_path):
    keyboard, _ = watched(tmp_path, "e 5 b", "w p", "missed", "s r", "e m d")
    assert keyboard.prompts == [
        "1 East> ",
        "2 South> ",
        "3 West> ",
        "4 anybody> ",
        "5 West> ",
        "6 over> ",
    ]


def test_a_line_says_the_event_the_count_and_the_seats(tmp_path):
    keyboard, _ = watched(tmp_path, "e 5 b", "w k 1")
    said = keyboard.last()
    assert "event 2: w kong 1\n" in said
    assert "wall 99, jokers out 1 of 8, West to throw" in said
    assert "\nbam       4  4  4  4  1  4  4  4  4    east 4" in said
    assert "draws left  East 25  South 25  West 24  North 25" in said
    assert "West   kong of 5 bam with 1 joker; 0 throws" in said


def test_a_breach_is_said_once(tmp_path):
    keyboard, _ = watched(tmp_path, "e 5 b", "n r", "e g")
    text = "\n".join(keyboard.said)
    assert text.count("! event 2: North throws out of turn") == 1


def test_a_typo_is_not_taken_and_says_what_would_do(tmp_path):
    keyboard, journal = watched(tmp_path, "e 5 b", "s pnug")
    assert keyboard.prompts[1] == "2 South> "  # events are counted, not lines of the file
    assert keyboard.last().startswith("not taken: place 3, 'pnug': ")
    assert "did you mean 'pung'" in " ".join(keyboard.last().split())
    assert len(journal.events) == 1
    keyboard, _ = watched(tmp_path, "s p of r")
    assert "not taken: event 2, 's pung of red'" in keyboard.last()


def test_undo_and_amendments_are_told(tmp_path):
    keyboard, journal = watched(tmp_path, "e 5 b", "s r", "w g", "fix 2 s we")
    assert "amended from event 2 on; there are 3 now\nevent 2: s west\n" in keyboard.last()
    keyboard, journal = watched(tmp_path, "undo")
    assert "event 2: s red" in keyboard.last()
    keyboard, journal = watched(tmp_path, "cut")
    assert "amended from event 3 on; there are 2 now\nwall 98" in keyboard.last()
    assert len(journal.events) == 2


def test_comments_and_empty_lines(tmp_path):
    keyboard, journal = watched(tmp_path, "", "   ")
    assert keyboard.last().strip() == ""
    keyboard, journal = watched(tmp_path, "e 5 b # loud", "# more")
    assert "event 3: # more" in keyboard.last()
    assert len(journal.events) == 3


def test_a_line_given_up_is_not_taken(tmp_path):
    keyboard, journal = watched(tmp_path, "e 5 b", KeyboardInterrupt, "s r")
    assert len(journal.events) == 2
    assert any("given up" in line for line in keyboard.said)


def test_the_commands(tmp_path):
    keyboard, _ = watched(tmp_path, "list")
    assert keyboard.last().strip() == "no events yet"
    keyboard, _ = watched(tmp_path, *rounds(25), "list")
    lines = keyboard.last().strip("\n").split("\n")
    assert len(lines) == 20
    assert lines[0] == "   6 s 6 bam"
    keyboard, _ = watched(tmp_path, "count")
    assert "floor shown left" in keyboard.last()
    keyboard, _ = watched(tmp_path, "help")
    assert "# West takes it and shows a pung" in keyboard.last()
    assert all(name in keyboard.last() for name in COMMANDS)
    keyboard, _ = watched(tmp_path, "help mend")
    assert keyboard.last().startswith("fix w r ")
    keyboard, _ = watched(tmp_path, "help mned")
    assert keyboard.last().startswith("not taken: no help on 'mned'; did you mean 'mend'")
    keyboard, _ = watched(tmp_path, "help me now")
    assert keyboard.last().startswith("not taken: place 1, 'help'")
    keyboard, _ = watched(tmp_path, "quit", "s r")
    assert keyboard.lines == ["s r"]


def test_the_opening_says_where_it_was_taken_up(tmp_path):
    watched(tmp_path, "e 5 b", "s r")
    (tmp_path / "g.txt").write_text("card house\ne 5 b\ns r\nw 5")
    keyboard, _ = watched(tmp_path)
    assert "g.txt: taken up after event 2; every line is saved" in keyboard.said[0]
    assert "! the last line was unfinished and is gone: 'w 5'" in keyboard.said[1]


def test_the_own_rack_is_shown_and_a_wrong_one_is_said(tmp_path):
    header = Header(viewer="South")
    keyboard, _ = watched(tmp_path, "rack 5 b 5 b r", "e 5 b", header=header)
    assert "own rack  2x 5 bam, red and 10 not written down" in keyboard.last()
    assert "\nbam       4  4  4  4  1  4" in keyboard.last()
    keyboard, _ = watched(tmp_path, "s 6 b", "w 5 b", "n 5 b")
    assert "! the own rack does not fit what was seen" in keyboard.last()


def test_families_are_shown_and_a_reading_that_fails_is_said(tmp_path):
    def families(journal):
        if len(journal.events) > 1:
            raise HandreadError("impossible under the model")
        return [[("Ladders", 0.414), ("undecided", 0.25)], [], [], []]

    keyboard, _ = watched(tmp_path, "e 5 b", families=families)
    assert "East   Ladders 41 %, undecided 25 %\nSouth  nothing shown" in keyboard.last()
    keyboard, journal = watched(tmp_path, "s r", families=families)
    assert "! no reading: impossible under the model" in keyboard.last()
    assert len(journal.events) == 2


def test_what_a_seat_shows_stands_below_its_families(tmp_path):
    def families(journal):
        return [[("Ladders", 0.4)]] * 4

    keyboard, _ = watched(tmp_path, "s absent", "e 5 b", "w p", families=families)
    said = keyboard.last()
    assert "West   Ladders 40 %\n       pung of 5 bam; 0 throws" in said
    assert "South  nobody sits here\n" in said


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_no_line_is_wider_than_eighty_columns(seed):
    game = RandomGame(np.random.default_rng(seed), habits=Habits(dead=0.02))
    for number, _ in enumerate(game):
        if number % 7:
            continue
        state = game.state
        rack = OwnRack(np.zeros(36, dtype=np.int64), state.concealed[1])
        count = live(state, 1)
        lines = [*count_lines(count, state, rack), *table_lines(count, state, rack)]
        lines += [line for seat in range(4) for line in seat_lines(state, seat)]
        assert max(map(len, lines)) <= WIDTH


def test_the_full_count_adds_up():
    state = after("e 5 b", "w k 1", "w r", "n sw w 5 b", "n g")
    rows = [line.split() for line in table_lines(live(state), state)]
    honours = {row[0]: [int(x) if x != "-" else 0 for x in row[1:]] for row in rows[13:22]}
    assert honours["red"] == [1, 0, 3]
    assert honours["joker"] == [0, 0, 7]  # one is known to be in North's rack
    bams = {row[0]: row[1:4] for row in rows[2:11]}
    assert bams["5"] == ["-", "4", "-"]


def test_status_needs_no_line_before_it(tmp_path):
    journal = Journal(tmp_path / "g.txt")
    assert status_lines(journal)[0].startswith("wall 99")


@pytest.mark.parametrize("line", ["help", "HELP", " help "])
def test_commands_stand_alone_in_any_case(tmp_path, line):
    keyboard, _ = watched(tmp_path, line)
    assert "the shorthand of play" in keyboard.last()


@pytest.mark.parametrize("line", ["help", *(f"help {part}" for part in EXAMPLES)])
def test_help_fits_on_a_screen_with_the_prompts_around_it(tmp_path, line):
    keyboard, _ = watched(tmp_path, line)
    lines = keyboard.last().split("\n")
    assert len(lines) + 2 <= 24
    assert max(map(len, lines)) < 80
