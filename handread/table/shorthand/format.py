"""Shorthand written: an event to a line, a record to a text."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from handread.errors import ParseError, is_whole
from handread.table.events import (
    SEATS,
    Absent,
    AnyEvent,
    Comment,
    Correct,
    Dead,
    Discard,
    Drew,
    Event,
    Expose,
    Header,
    Joined,
    Missed,
    Passed,
    Rack,
    Record,
    Redeem,
    Reveal,
    Stopped,
    Voiced,
    WallGame,
    Win,
    WinInError,
)
from handread.table.shorthand.entries import Amendment, Entry, Heading
from handread.table.shorthand.words import SEAT_LETTERS, SIZES, quote, quote_word
from handread.tiles import FIRST_WIND, format_kind

#: Fewest letters that still say each word; words that are not here are written out.
_SHORT: Final = {
    "west": "we", "white": "wh", "east": "e", "south": "s", "north": "n", "green": "g",
    "red": "r", "flower": "f", "joker": "j", "pung": "p", "kong": "k", "quint": "q",
    "sextet": "se", "pair": "pa", "single": "si", "claim": "c", "redeem": "sw", "win": "m",
    "dead": "de", "correct": "co", "reveal": "h", "rack": "ra", "drew": "dr", "absent": "a",
    "error": "er", "drawn": "d", "held": "h", "end": "e", "middle": "m", "pause": "p",
    "claimed": "c", "withdrawn": "w", "early": "e", "returned": "r", "hidden": "h", "of": "o",
    "pass": "pa", "stop": "st", "missed": "m", "joined": "j", "wall": "wa", "floor": "f",
    "right": "r", "across": "a", "left": "l", "second left": "s l", "second across": "s a",
    "last right": "la", "courtesy": "c", "blind": "b", "counts": "c", "gave": "ga", "got": "go",
}  # fmt: skip


def _long(word: str) -> str:
    return word


def _tile(kind: int, say: Callable[[str], str]) -> str:
    words = format_kind(kind)
    if kind >= FIRST_WIND:
        return say(words)
    return words[:3] if say is not _long else words


def _tiles(kinds: tuple[int, ...], say: Callable[[str], str]) -> str:
    return " ".join(_tile(kind, say) for kind in kinds)


def format_line(event: AnyEvent, *, short: bool = False) -> str:
    """Line of shorthand for an event; ``parse_line`` takes it back.

    Parameters
    ----------
    event
        What happened.
    short
        Write as few letters as a practised typist would, instead of whole words.

    Raises
    ------
    ParseError
        If the event holds a seat, kind, size or pass step that has no words.

    Examples
    --------
    >>> format_line(Expose(seat=2, size=4, jokers=1))
    'w kong 1'
    >>> format_line(Discard(seat=1, kind=4, drawn=True), short=True)
    's 5 b d'
    """
    say = _abbreviate if short else _long
    write = _WRITERS.get(type(event))
    if write is None:
        raise ParseError(f"{event!r} is no event; accepted: {', '.join(map(str, _WRITERS))}")
    return " ".join(part for part in write(event, say) if part)


def _abbreviate(word: str) -> str:
    return _SHORT.get(word, word)


Say = Callable[[str], str]


def _seat(seat: int) -> str:
    if not (is_whole(seat) and 0 <= seat < 4):
        raise ParseError(f"no seat {seat!r}; accepted: 0 to 3, East first")
    return SEAT_LETTERS[seat]


def _size(size: int, say: Say) -> str:
    if not (is_whole(size) and 1 <= size <= len(SIZES)):
        raise ParseError(f"no word for a group of {size!r}; accepted: 1 to {len(SIZES)}")
    return say(SIZES[size - 1])


def _passed(event: Passed, say: Say) -> list[str]:
    parts = [say("pass"), say(event.step)]
    for word, numbers in (("blind", event.blind), ("counts", event.counts)):
        if numbers is not None:
            if len(numbers) != 4:
                raise ParseError(f"{word} {numbers!r}: four numbers are written, East first")
            parts += [say(word), *map(str, numbers)]
    for word, tiles in (("gave", event.given), ("got", event.received)):
        if tiles is not None:
            parts += [say(word), _tiles(tiles, say)]
    return parts


def _stopped(event: Stopped, say: Say) -> list[str]:
    return [say("stop"), "" if event.seat is None else _seat(event.seat)]


def _rack(event: Rack, say: Say) -> list[str]:
    return [_seat(event.seat), say("rack"), _tiles(event.tiles, say)]


def _drew(event: Drew, say: Say) -> list[str]:
    tile = "" if event.kind is None else _tile(event.kind, say)
    return [_seat(event.seat), say("drew"), tile]


def _discard(event: Discard, say: Say) -> list[str]:
    parts = [_seat(event.seat), _tile(event.kind, say)]
    if event.drawn is not None:
        parts.append(say("drawn" if event.drawn else "held"))
    if event.position is not None:
        parts.append(say(event.position))
    if event.pause is not None:
        pause = float(event.pause)
        parts += [say("pause"), str(int(pause)) if pause == int(pause) < 1e9 else repr(pause)]
    return parts


def _voiced(event: Voiced, say: Say) -> list[str]:
    return [_seat(event.seat), say("claim"), "" if event.lost else say("withdrawn")]


def _jokers(jokers: int) -> str:
    return str(jokers) if jokers else ""


def _expose(event: Expose, say: Say) -> list[str]:
    of = [] if event.kind is None else [say("of"), _tile(event.kind, say)]
    return [_seat(event.seat), _size(event.size, say), _jokers(event.jokers), *of]


def _correct(event: Correct, say: Say) -> list[str]:
    size = _size(event.size, say)
    return [_seat(event.seat), say("correct"), size, _jokers(event.jokers)]


def _redeem(event: Redeem, say: Say) -> list[str]:
    tile = _tile(event.kind, say)
    early = say("early") if event.early else ""
    return [_seat(event.seat), say("redeem"), _seat(event.owner), tile, early]


def _dead(event: Dead, say: Say) -> list[str]:
    caller = "" if event.caller is None else _seat(event.caller)
    return [_seat(event.seat), say("dead"), caller, say("returned") if event.returned else ""]


def _error(event: WinInError, say: Say) -> list[str]:
    return [_seat(event.seat), say("error"), "" if event.shown else say("hidden")]


def _absent(event: Absent, say: Say) -> list[str]:
    return [_seat(event.seat), say("absent")]


def _missed(event: Missed, say: Say) -> list[str]:
    return [say("missed"), "" if event.turns == 1 else str(event.turns)]


def _joined(event: Joined, say: Say) -> list[str]:
    wall = "" if event.wall is None else str(event.wall)
    floor = [say("floor"), _tiles(event.floor, say)] if event.floor else []
    return [say("joined"), wall, *floor]


def _win(event: Win, say: Say) -> list[str]:
    how = say("claimed" if event.claimed else "drawn")
    return [
        _seat(event.seat),
        say("win"),
        how,
        "" if event.kind is None else _tile(event.kind, say),
    ]


def _wall_game(event: WallGame, say: Say) -> list[str]:
    return [say("wall"), "game" if say is _long else ""]


def _reveal(event: Reveal, say: Say) -> list[str]:
    parts = [_seat(event.seat), say("reveal")]
    if event.rack is not None:
        parts += [say("rack"), _tiles(event.rack, say)]
    if event.hand is not None:
        parts += [":", quote(event.hand)]
    return parts


def _comment(event: Comment, say: Say) -> list[str]:
    return ["#", quote(event.text)]


_WRITERS: Final[dict[type[Event], Callable[[Any, Say], list[str]]]] = {
    Passed: _passed,
    Stopped: _stopped,
    Rack: _rack,
    Drew: _drew,
    Discard: _discard,
    Voiced: _voiced,
    Expose: _expose,
    Correct: _correct,
    Redeem: _redeem,
    Dead: _dead,
    WinInError: _error,
    Absent: _absent,
    Missed: _missed,
    Joined: _joined,
    Win: _win,
    WallGame: _wall_game,
    Reveal: _reveal,
    Comment: _comment,
}


def format_entry(entry: Entry, *, short: bool = False) -> str:
    """Line of shorthand for an event, a header line or an amendment; reverse of ``read_line``.

    >>> format_entry(Amendment("fix", 12, Discard(seat=1, kind=5)))
    'fix 12 s 6 bam'
    """
    if isinstance(entry, Heading):
        return _heading(entry)
    if isinstance(entry, Amendment):
        number = "" if entry.number is None else str(entry.number)
        event = "" if entry.event is None else format_line(entry.event, short=short)
        return " ".join(part for part in (entry.action, number, event) if part)
    return format_line(entry, short=short)


_WORDS: Final = {"pause_unit": "unit", "card_hash": "hash", "switches": "rule"}


def _heading(entry: Heading) -> str:
    word, value = _WORDS.get(entry.field, entry.field), entry.value
    if entry.field == "people" and isinstance(value, tuple):
        if len(value) != 4:
            raise ParseError(f"people {value!r}: four keys are written, East first")
        return " ".join([word, *("-" if not key else quote_word(key) for key in value)])
    if entry.field == "dealer" and isinstance(value, int):
        return f"{word} {_seat(value)}"
    if entry.field == "viewer":
        name = str(value)
        return f"{word} {_seat(SEATS.index(name)) if name in SEATS else name}"
    return f"{word} {quote(str(value)) if isinstance(value, str) else value}"


def format_record(record: Record, *, short: bool = False) -> str:
    r"""Text of shorthand for a record; ``parse_record`` takes it back.

    Header lines come first, those with a default value left out but for the card.

    Examples
    --------
    >>> format_record(Record(Header(title="an example"), (Discard(seat=0, kind=4),)))
    'title an example\ncard house\ne 5 bam\n'
    """
    lines = [format_entry(entry) for entry in _headings(record.header)]
    lines += [format_line(event, short=short) for event in record.events]
    return "\n".join(lines) + "\n"


def _headings(header: Header) -> list[Heading]:
    plain = Header()
    names = ("format", "title", "card", "card_hash", "dealer", "viewer", "people", "pause_unit")
    entries = [
        Heading(name, getattr(header, name))
        for name in names
        if name == "card" or getattr(header, name) != getattr(plain, name)
    ]
    return entries + [Heading("switches", name) for name in header.switches]


__all__ = ["format_entry", "format_line", "format_record"]
