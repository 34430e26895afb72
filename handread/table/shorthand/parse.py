"""Shorthand read: a line to an event, a text to a record."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any, Final

from handread.errors import ParseError, closest
from handread.table.events import (
    SEATS,
    SWITCHES,
    Absent,
    AnyEvent,
    Comment,
    Correct,
    Dead,
    Discard,
    Drew,
    Event,
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
from handread.table.shorthand.entries import Amendment, Entry, Heading
from handread.table.shorthand.words import (
    AMENDMENTS,
    HEADINGS,
    SEAT_WORDS,
    SIZES,
    TABLE_WORDS,
    TILE_WORDS,
    VERBS,
    Cursor,
    WrongWord,
    cut,
    unquote,
)


def parse_line(text: str, number: int = 1, *, viewer: int | None = None) -> AnyEvent:
    """Event that one line of shorthand tells.

    Parameters
    ----------
    text
        The line.
    number
        Its number, for errors.
    viewer
        Seat of the recorder, whose own ``rack`` and ``drew`` lines may leave it out.

    Raises
    ------
    ParseError
        With line, place, word, and what would have been accepted.

    Examples
    --------
    >>> parse_line("s 5 b")
    Discard(seat=1, kind=4, drawn=None, position=None, pause=None)
    >>> parse_line("w kong 1")
    Expose(seat=2, size=4, jokers=1, kind=None)
    """
    entries = read_line(text, number, viewer=viewer)
    events = [entry for entry in entries if isinstance(entry, Event)]
    if len(entries) == 1 and len(events) == 1:
        return events[0]
    raise ParseError(
        f"line {number}, place 1, {cut(text, 60)!r}: one event was expected; see the grammar"
    )


def read_line(text: str, number: int = 1, *, viewer: int | None = None) -> tuple[Entry, ...]:
    """Whatever one line of shorthand says: nothing, or one thing, and perhaps a comment after it.

    Parameters and errors are those of ``parse_line``.

    Examples
    --------
    >>> read_line("dealer s   # new game")
    (Heading(field='dealer', value=1), Comment(text='new game'))
    """
    try:
        return _read(text, viewer)
    except WrongWord as wrong:
        raise wrong.at_line(number) from None


@lru_cache(maxsize=16384)
def _read(text: str, viewer: int | None) -> tuple[Entry, ...]:
    if text.lstrip().startswith("#"):
        return (Comment(unquote(text.strip()[1:])),)
    line = Cursor(text)
    if line.peek() is None:
        return ()
    word = _first(line)
    entry: Entry
    if word in HEADINGS:
        entry = Heading(*_HEADING_VALUES[word](line))
    elif word in AMENDMENTS:
        numbered = word != "undo" and line.is_number()
        number = line.number("the number of an event") if numbered else None
        event = None if word in ("cut", "undo") else _event(line, _first(line, TABLE_WORDS), viewer)
        entry = Amendment(word, number, event)
    else:
        entry = _event(line, word, viewer)
    line.end()
    return (entry,) if line.comment is None else (entry, Comment(line.comment))


def _first(line: Cursor, words: tuple[str, ...] = (*TABLE_WORDS, *AMENDMENTS, *HEADINGS)) -> str:
    """First word of a line or of an amended event, in full; a seat as its name."""
    seat = line.seat(optional=True)
    if seat is not None:
        return SEAT_WORDS[seat]
    word = line.peek() or ""
    names = (*SEAT_WORDS, *words)
    if not word or not any(name.startswith(word) for name in names):
        starts = "a line begins with a seat (e, s, w, n) or a word"
        raise line.wrong(f"{starts}; {closest(cut(word, 60), names)}")
    return line.choose(names) or ""


# Header lines


def _text(field: str) -> Callable[[Cursor], tuple[str, str]]:
    def read(line: Cursor) -> tuple[str, str]:
        return field, line.rest("the words of the header line")

    return read


def _dealer(line: Cursor) -> tuple[str, int]:
    return "dealer", _seat(line)


def _viewer(line: Cursor) -> tuple[str, str]:
    seat = line.seat(optional=True)
    if seat is not None:
        return "viewer", SEATS[seat]
    return "viewer", line.choose(("floor", *SEAT_WORDS)) or ""


def _people(line: Cursor) -> tuple[str, tuple[str, ...]]:
    words = line.raw_rest("four keys, East first, - for nobody").split()
    if len(words) != 4:
        raise line.wrong(f"{len(words)} people; accepted: four keys, East first, - for nobody")
    return "people", tuple("" if word == "-" else unquote(word) for word in words)


def _format(line: Cursor) -> tuple[str, int]:
    return "format", line.number("the version of the record format, 1")


def _rule(line: Cursor) -> tuple[str, str]:
    name = line.rest("a rule that this table plays otherwise")
    switch = name.removeprefix("no ")
    if switch not in SWITCHES:
        raise WrongWord(line.words[1][1], name, closest(cut(switch, 60), SWITCHES))
    return "switches", name


_HEADING_VALUES: Final[dict[str, Callable[[Cursor], tuple[str, Any]]]] = {
    "card": _text("card"),
    "title": _text("title"),
    "dealer": _dealer,
    "viewer": _viewer,
    "people": _people,
    "unit": _text("pause_unit"),
    "hash": _text("card_hash"),
    "format": _format,
    "rule": _rule,
}


# Events


def _event(line: Cursor, word: str, viewer: int | None) -> AnyEvent:
    """Event of a line whose first word has been taken."""
    if word in TABLE_WORDS:
        return _table_event(line, word, viewer)
    seat = SEAT_WORDS.index(word)
    if line.starts_tile():
        return _discard(line, seat)
    deed = line.peek()
    if deed is None:
        raise line.wrong(f"what did the seat do? accepted: a tile, or {', '.join(VERBS)}")
    if not any(verb.startswith(deed) for verb in VERBS):
        near = closest(cut(deed, 60), (*VERBS, *TILE_WORDS))
        raise line.wrong(f"neither a tile (5 bam, red) nor a deed; {near}")
    verb = line.choose(VERBS) or ""
    if verb in SIZES:
        return _expose(line, seat, SIZES.index(verb) + 1)
    return _VERB_EVENTS[verb](line, seat)


def _table_event(line: Cursor, word: str, viewer: int | None) -> AnyEvent:
    if word == "pass":
        return _passed(line)
    if word == "stop":
        return Stopped(line.seat(optional=line.peek() is None))
    if word == "missed":
        return Missed(line.number("how many turns") if line.is_number() else 1)
    if word == "joined":
        return _joined(line)
    if word == "wall":
        line.choose(("game",), optional=True)
        return WallGame()
    if viewer is None:
        words = f"whose {word}? accepted: a seat before it, or a seat as the viewer in the header"
        raise line.wrong(words, back=1)
    return _rack(line, viewer) if word == "rack" else _drew(line, viewer)


def _discard(line: Cursor, seat: int) -> Discard:
    kind = line.tile()
    marks: dict[str, Any] = {}
    while line.peek() is not None:
        mark = line.choose(("drawn", "held", "end", "middle", "pause"))
        name = {"drawn": "drawn", "held": "drawn", "pause": "pause"}.get(mark or "", "position")
        if name in marks:
            raise line.wrong(f"a second mark of one sort; {name} was said already", back=1)
        if mark == "pause":
            marks[name] = line.decimal("how long, in the unit of the header")
        else:
            marks[name] = mark == "drawn" if name == "drawn" else mark
    return Discard(seat, kind, **marks)


def _jokers(line: Cursor) -> int:
    if not line.is_number():
        return 0
    jokers = line.number("how many jokers")
    line.choose(("jokers",), optional=True)
    return jokers


def _expose(line: Cursor, seat: int, size: int) -> Expose:
    jokers = _jokers(line)
    kind = line.tile() if line.choose(("of",), optional=True) else None
    return Expose(seat, size, jokers, kind)


def _correct(line: Cursor, seat: int) -> Correct:
    size = SIZES.index(line.choose(SIZES) or "") + 1
    return Correct(seat, size, _jokers(line))


def _claim(line: Cursor, seat: int) -> Voiced:
    return Voiced(seat, line.choose(("lost", "withdrawn"), optional=True) != "withdrawn")


def _redeem(line: Cursor, seat: int) -> Redeem:
    owner, kind = _seat(line), line.tile()
    return Redeem(seat, owner, kind, line.choose(("early",), optional=True) is not None)


def _dead(line: Cursor, seat: int) -> Dead:
    caller = line.seat(optional=True)
    return Dead(seat, caller, line.choose(("returned",), optional=True) is not None)


def _drew(line: Cursor, seat: int) -> Drew:
    return Drew(seat, line.tile() if line.peek() is not None else None)


def _error(line: Cursor, seat: int) -> WinInError:
    return WinInError(seat, line.choose(("hidden",), optional=True) is None)


def _absent(line: Cursor, seat: int) -> Absent:
    return Absent(seat)


def _win(line: Cursor, seat: int) -> Win:
    claimed = line.choose(("claimed", "drawn")) == "claimed"
    return Win(seat, claimed, line.tile() if line.peek() is not None else None)


def _reveal(line: Cursor, seat: int) -> Reveal:
    rack = line.tiles() if line.choose(("rack",), optional=True) else None
    if line.peek() is None:
        return Reveal(seat, None, rack)
    if line.peek() != ":":
        words = "accepted: 'rack' and the concealed tiles, ':' and the name of a hand"
        raise line.wrong(words)
    line.at += 1
    return Reveal(seat, line.rest("the name of a hand"), rack)


def _rack(line: Cursor, seat: int) -> Rack:
    return Rack(seat, line.tiles())


_VERB_EVENTS: Final[dict[str, Callable[[Cursor, int], AnyEvent]]] = {
    "correct": _correct,
    "claim": _claim,
    "redeem": _redeem,
    "swap": _redeem,
    "dead": _dead,
    "drew": _drew,
    "error": _error,
    "absent": _absent,
    "win": _win,
    "maj": _win,
    "reveal": _reveal,
    "had": _reveal,
    "rack": _rack,
}


def _seat(line: Cursor) -> int:
    seat = line.seat()
    return 0 if seat is None else seat


def _passed(line: Cursor) -> Passed:
    step = line.choose(("right", "across", "left", "last", "second", "courtesy")) or ""
    if step == "second":
        step = f"second {line.choose(('left', 'across'))}"
    elif step == "last":
        line.choose(("right",), optional=True)
        step = "last right"
    said: dict[str, tuple[int, ...]] = {}
    fields = {"blind": "blind", "counts": "counts", "gave": "given", "got": "received"}
    while line.peek() is not None:
        word = line.choose(fields) or ""
        if fields[word] in said:
            raise line.wrong(f"{word} was said already", back=1)
        if word in ("blind", "counts"):
            said[fields[word]] = tuple(line.number("four numbers, East first") for _ in range(4))
        else:
            said[fields[word]] = line.tiles()
    return Passed(step=step, **said)


def _joined(line: Cursor) -> Joined:
    wall = line.number("how many tiles are left") if line.is_number() else None
    floor = line.tiles() if line.choose(("floor",), optional=True) else ()
    return Joined(wall, floor)
