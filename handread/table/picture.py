"""Pictures of a table, a record and a live count; numbers go to ``handread.svg``, no further."""

from __future__ import annotations

import html
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread import svg
from handread.card.compiled import CompiledCard, Rules
from handread.errors import HandreadError
from handread.svg import Picture, given
from handread.table.count import live
from handread.table.events import SEATS, AnyEvent, Record, Reveal, WallGame, Win
from handread.table.own import OwnRack, follow_rack, no_rack
from handread.table.play import apply, start
from handread.table.records import first_throws
from handread.table.state import TableState
from handread.tiles import JOKER, KINDS, N_KINDS

_LINE: Final = 'style="margin:4px 0"'


def table_picture(
    state: TableState,
    *,
    people: Sequence[str] | None = None,
    bottom: int = 0,
    racks: Mapping[int, Iterable[int] | OwnRack] | None = None,
    title: str | None = None,
) -> Picture:
    r"""Picture of a table at one moment: four seats around the floor.

    What the drawing cannot hold stands in the line above it: that the game is over, that
    turns were missed, that tiles lay on the floor before the record began.

    Parameters
    ----------
    state
        The table.
    people
        Who sits where, East first.
    bottom
        The seat on the lower side.
    racks
        Concealed tiles of the seats whose racks are known, by seat: kinds, one for each
        tile, or an ``OwnRack``, all of whose tiles must be known.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If a rack does not have as many tiles as its seat holds, or a value is out of range.

    Examples
    --------
    >>> from handread.table import replay
    >>> from handread.table.events import Discard, Expose
    >>> state = replay([Discard(0, 4), Expose(seat=2, size=3, jokers=1)])
    >>> print("\n".join(table_picture(state).text.splitlines()[:4]))
    Table after 1 throw
    East. Concealed: 13 tiles not seen.
    South. Concealed: 13 tiles not seen.
    West, to throw. Exposed: pung of 5 bam with 1 joker. Concealed: 11 tiles not seen.
    """
    return _drawn(state, people, bottom, racks, title, ["the game is over"] * state.over)


def _drawn(
    state: TableState,
    people: Sequence[str] | None,
    bottom: int,
    racks: Mapping[int, Iterable[int] | OwnRack] | None,
    title: str | None,
    said: Iterable[str],
) -> Picture:
    """The picture, with what was `said` and the notes on the table after the title."""
    notes = "; ".join([*said, *_notes(state)])
    head = given.text(title, "table_picture, title")
    return svg.table(
        [
            (throw.seat, throw.kind, None if throw.taken_by == throw.seat else throw.taken_by)
            for throw in state.floor
        ],
        [
            [(g.kind, g.size, g.jokers if g.kind != JOKER else 0) for g in groups]
            for groups in state.exposures
        ],
        state.concealed,
        racks=_racks(racks),
        live=state.live,
        holder=None if state.over else state.holder,
        window=state.window,
        wall=state.wall if state.certain else None,
        people=_people(state, people),
        bottom=bottom,
        title=": ".join(part for part in (head, notes) if part) or None,
    )


def _notes(state: TableState) -> list[str]:
    """What a table holds that the drawing has no place for."""
    notes = []
    if not state.certain:
        notes.append(f"turns were not seen, some {state.wall} tiles left in the wall")
    before = int(live(state).floor.sum()) - state.lying
    if before > 0:
        notes.append(f"{_tiles(before)} of the floor not shown: nobody wrote down who threw them")
    for number, throw in enumerate(state.floor, 1):
        if throw.taken_by == throw.seat:
            notes.append(f"throw {number} was taken back by {SEATS[throw.seat]}")
    return notes


def _tiles(count: int) -> str:
    return f"{count} tile{'' if count == 1 else 's'}"


def _people(state: TableState, people: Sequence[str] | None) -> list[str]:
    """Who sits where, with who is dead and which seat is empty."""
    names = [""] * 4
    if people is not None:
        taken = given.items(people, "table_picture, people", "names, East first", 4)
        names = [given.text(name, "table_picture, people") for name in taken]
    for seat in range(4):
        if not state.seated[seat]:
            names[seat] = "nobody sits here"
        elif not state.live[seat]:
            names[seat] = f"{names[seat]}, dead hand" if names[seat] else "dead hand"
    return names


def _racks(racks: Mapping[int, Iterable[int] | OwnRack] | None) -> dict[int, list[int]]:
    known = {}
    for seat, rack in (racks or {}).items():
        if isinstance(rack, OwnRack):
            if rack.unknown:
                words = f"{_tiles(rack.unknown)} of the rack of seat {seat!r} nobody wrote down"
                raise HandreadError(f"table_picture, racks: {words}; accepted: a rack known whole")
            known[seat] = _kinds(rack.tiles)
        else:
            known[seat] = list(rack)
    return known


def _kinds(counts: NDArray[np.integer]) -> list[int]:
    return [int(kind) for kind in np.repeat(np.arange(N_KINDS), counts)]


def count_picture(
    state: TableState,
    own_rack: NDArray[np.integer] | OwnRack | None = None,
    *,
    viewer: int | None = None,
    title: str | None = None,
) -> Picture:
    """Picture of the live count: tiles of each kind that the viewer has not seen.

    Parameters
    ----------
    state
        The table.
    own_rack
        The viewer's concealed tiles as counts, shape (36,), or an ``OwnRack``; None for
        somebody who sees no rack.
    viewer
        The seat whose rack it is; needed only where a seat is known to hold tiles, such as a
        joker that it redeemed, since these must not be counted twice.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If the rack holds copies that are elsewhere already, or `viewer` is needed and missing.

    Examples
    --------
    >>> from handread.table import replay
    >>> from handread.table.events import Discard
    >>> counts = np.zeros(36, dtype=int)
    >>> counts[4] = 2
    >>> print(count_picture(replay([Discard(0, 4)]), counts).text.splitlines()[0])
    149 of 152 tiles live
    """
    counts = own_rack.tiles if isinstance(own_rack, OwnRack) else own_rack
    if counts is not None:
        if np.shape(counts) != (N_KINDS,):
            words = f"count_picture, own_rack: got shape {np.shape(counts)}"
            raise HandreadError(f"{words}; accepted: counts of the 36 kinds, or an OwnRack")
        if viewer is None:
            viewer = _any_viewer(state)
    count = live(state, viewer, counts)
    return svg.live_counts(count.unseen, count.copies, certain=count.certain, title=title)


def _any_viewer(state: TableState) -> int:
    """A seat to count for, where it makes no difference which."""
    for seat in range(4):
        if state.known_in_rack(seat).any():
            words = f"{SEATS[seat]} is known to hold tiles of its own"
            raise HandreadError(f"count_picture: {words}; say whose rack it is: viewer=0 to 3")
    return state.seated.index(True)


def record_picture(
    record: Record,
    at: int | None = None,
    *,
    reveal: bool = False,
    card: CompiledCard | None = None,
) -> Picture:
    r"""Picture of a record after some throws, as its viewer saw the table.

    Racks of other seats, hands shown after the end and comments are not in it. Where the
    viewer is a seat, it sits on the lower side, with its own rack where all of it is known.

    Parameters
    ----------
    record
        The record.
    at
        Throws to go by before the picture is taken; None for the end of the record.
    reveal
        Show the truth as well: the racks that are known, at the end those that were shown,
        and the names of the hands.
    card
        Its tile set is used; None for the card that ships under the record's name for it,
        else for the standard set of 152.

    Raises
    ------
    HandreadError
        If there are fewer throws, or the record tells what cannot have happened.

    Examples
    --------
    >>> from handread.table import parse_record
    >>> record = parse_record("title A short one\ne 5 bam\ns red\ne reveal : Border\n")
    >>> print("\n".join(record_picture(record, 1).text.splitlines()[:2]))
    A short one: after throw 1
    Table after 1 throw
    >>> "Border" in record_picture(record).text
    False
    >>> "Border" in record_picture(record, reveal=True).text
    True
    """
    return _scene(record, at, reveal, card).picture()


@dataclass(frozen=True)
class _Scene:
    """A record at one moment, as far as the picture may tell it."""

    record: Record
    state: TableState
    people: tuple[str, ...]
    racks: dict[int, list[int]]
    said: tuple[str, ...]

    @property
    def own(self) -> int | None:
        """The viewer's seat."""
        viewer = self.record.header.viewer
        return None if viewer == "floor" else SEATS.index(viewer)

    def picture(self) -> Picture:
        """The table; racks of which only a part is known are told, not drawn."""
        held = self.state.concealed
        whole = {s: rack for s, rack in self.racks.items() if rack and len(rack) == held[s]}
        partly = [
            f"of {SEATS[s]}'s {_tiles(held[s])} {len(rack)} written down"
            for s, rack in self.racks.items()
            if rack and s not in whole
        ]
        said, title = [*self.said, *partly], self.record.header.title
        return _drawn(self.state, self.people, self.own or 0, whole, title, said)

    def partly_known(self) -> Picture | None:
        """The viewer's own rack, where the table cannot show it because a part is missing."""
        rack = [] if self.own is None else self.racks.get(self.own, [])
        if self.own is None or not rack or len(rack) >= self.state.concealed[self.own]:
            return None
        missing = self.state.concealed[self.own] - len(rack)
        return svg.rack(rack, hidden=missing, title=f"{SEATS[self.own]}'s rack")


def _scene(record: Record, at: int | None, reveal: bool, card: CompiledCard | None) -> _Scene:
    header = record.header
    rules = card.rules if card is not None else _rules_of(header.card)
    events = _until(record.public(header.viewer), at)
    state = start(header, rules)
    for event in events:
        state = apply(state, event)
    seats = [seat for seat in range(4) if reveal or SEATS[seat] == header.viewer]
    racks = {seat: _followed(record, seat, at, rules) for seat in seats}
    people = header.people or ("",) * 4
    if reveal:
        shown = {event.seat: event for event in record.events if isinstance(event, Reveal)}
        if at is None:
            racks |= {s: sorted(e.rack) for s, e in shown.items() if e.rack is not None}
        hands = [shown[seat].hand if seat in shown else None for seat in range(4)]
        people = tuple(
            ": ".join(filter(None, both)) for both in zip(people, hands, strict=True)
        )  # fmt: skip
    return _Scene(record, state, people, racks, _moment(events, at, state))


def _until(events: Iterable[AnyEvent], at: int | None) -> tuple[AnyEvent, ...]:
    taken = tuple(events)
    return taken if at is None else first_throws(taken, at)


def _followed(record: Record, seat: int, at: int | None, rules: Rules | None) -> list[int]:
    """What is known of a rack by what its seat wrote down."""
    state = start(record.header, rules)
    rack = no_rack(state, seat)
    for event in _until(record.public(SEATS[seat]), at):
        rack = follow_rack(rack, state, event, seat)
        state = apply(state, event)
    return _kinds(rack.tiles)


def _moment(events: Sequence[AnyEvent], at: int | None, state: TableState) -> tuple[str, ...]:
    """When the picture was taken: after which throw, or how the game ended."""
    if at is not None:
        return (f"after throw {at}" if at else "before the first throw",)
    for event in reversed(events):
        if isinstance(event, Win):
            tile = "on a draw"
            if event.claimed:
                tile = "on a throw" if state.won_with is None else f"on {KINDS[state.won_with]}"
            return (f"{SEATS[event.seat]} wins {tile}",)
        if isinstance(event, WallGame):
            return ("wall game",)
    return ()


def _rules_of(name: str) -> Rules | None:
    """Rules of a card that ships; None for another."""
    from handread.card.load import card_names, read_card

    return read_card(name).rules.compiled() if name in card_names() else None


def record_html(record: Record) -> str:
    """A record on a page: its picture, and how many events it has.

    Nothing in it tells what was shown after the end. A record that cannot be drawn says why.
    Where the viewer is a seat and wrote down a part of its rack, that part stands below.
    """
    try:
        scene = _scene(record, None, False, None)
        pictures = (scene.picture(), scene.partly_known())
        drawn = "".join(f"<div>{each._repr_html_()}</div>" for each in pictures if each is not None)
    except HandreadError as error:
        drawn = f"<p {_LINE}>{html.escape(_no_picture(record, error))}</p>"
    return f"<div>{drawn}<p {_LINE}>{html.escape(_size(record))}</p></div>"


def record_text(record: Record) -> str:
    """The same as ``record_html`` in words."""
    try:
        scene = _scene(record, None, False, None)
        pictures = (scene.picture(), scene.partly_known())
        words = "\n".join(each.text for each in pictures if each is not None)
    except HandreadError as error:
        words = _no_picture(record, error)
    return f"{words}\n{_size(record)}"


def _no_picture(record: Record, error: HandreadError) -> str:
    return f"{record.header.title or 'This record'} cannot be drawn: {error}"


def _size(record: Record) -> str:
    count = len(record.events)
    viewer = record.header.viewer
    seen = "the floor" if viewer == "floor" else viewer
    events = f"{count} event{'' if count == 1 else 's'}"
    return f"{events}, seen from {seen}; card {record.header.card}"


def mime_bundle(
    page: str, words: str, include: Container[str] | None, exclude: Container[str] | None
) -> dict[str, str]:
    """Forms of a value for a notebook, as its front end asks for them.

    Parameters
    ----------
    page, words
        The value as HTML and as plain text.
    include, exclude
        MIME types; None for no condition.

    Examples
    --------
    >>> mime_bundle("<b>a</b>", "a", None, {"text/html"})
    {'text/plain': 'a'}
    """
    return {
        mime: form
        for mime, form in {"text/html": page, "text/plain": words}.items()
        if (include is None or mime in include) and (exclude is None or mime not in exclude)
    }
