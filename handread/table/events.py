"""What happened at a table, one frozen value per event.

Seats are 0 East, 1 South, 2 West, 3 North, in the order of play; East deals. Kinds are the
ints of ``handread.tiles``. Optional fields hold None where nobody wrote them down.
"""

from __future__ import annotations

from collections.abc import Container, Iterator
from typing import Annotated, Final

import msgspec

from handread.errors import ParseError, closest, is_whole
from handread.tiles import N_KINDS

Seat = Annotated[int, msgspec.Meta(ge=0, le=3)]
Kind = Annotated[int, msgspec.Meta(ge=0, le=N_KINDS - 1)]
Count = Annotated[int, msgspec.Meta(ge=0, le=999_999_999)]
_EACH_SEAT = msgspec.Meta(min_length=4, max_length=4)

SEATS: Final = ("East", "South", "West", "North")
PASS_STEPS: Final = (
    "right", "across", "left", "second left", "second across", "last right", "courtesy",
)  # fmt: skip

#: Rules on which tables differ, with the default that holds unless a header says otherwise.
#: Common practice, no source; "win over exposure", "correction" and "last exposure" are
#: from memory.
SWITCHES: Final[dict[str, bool]] = {
    "second round": True,  # a second round of passes may be played
    "blind pass": True,  # received tiles may be sent on unseen
    "correction": True,  # the size of a group may be mended until the throw
    "win over exposure": True,  # a win call beats a laid exposure until its seat throws
    "last exposure": False,  # the last throw of the wall may be taken for an exposure
    "dead swap": True,  # jokers in a dead seat's earlier exposures may be redeemed
}


class Event(
    msgspec.Struct, frozen=True, tag_field="event", omit_defaults=True, forbid_unknown_fields=True
):
    """Base of all events."""


class Passed(Event, tag="passed", frozen=True, kw_only=True):
    """One step of the passes, all seats at once.

    Attributes
    ----------
    step
        One of ``PASS_STEPS``.
    blind
        Tiles that each seat sent on without looking, 0 to 3; None where not seen.
    counts
        Tiles that each seat gave in the courtesy; None for the compulsory three.
    given, received
        The viewer's own tiles, as kinds, where the viewer is a seat.
    """

    step: Annotated[str, msgspec.Meta(pattern=f"^({'|'.join(PASS_STEPS)})$")]
    blind: Annotated[tuple[Count, ...], _EACH_SEAT] | None = None
    counts: Annotated[tuple[Count, ...], _EACH_SEAT] | None = None
    given: tuple[Kind, ...] | None = None
    received: tuple[Kind, ...] | None = None


class Stopped(Event, tag="stopped", frozen=True):
    """A seat stops the second round of passes; None where nobody saw which."""

    seat: Seat | None = None


class Rack(Event, tag="rack", frozen=True):
    """The concealed tiles of a seat at this moment, as that seat sees them."""

    seat: Seat
    tiles: tuple[Kind, ...]


class Drew(Event, tag="drew", frozen=True):
    """A seat draws from the wall, said outright; `kind` where the recorder sees the tile.

    Draws go unrecorded as a rule: a throw by a seat that holds 13 implies one.
    """

    seat: Seat
    kind: Kind | None = None


class Discard(Event, tag="discard", frozen=True):
    """A seat throws a tile (drawing first, if it held 13).

    Attributes
    ----------
    drawn
        True if the tile just drawn was thrown, False if one from the rack.
    position
        ``"end"`` or ``"middle"`` of the rack.
    pause
        How long the seat thought, in the record's unit.
    """

    seat: Seat
    kind: Kind
    drawn: bool | None = None
    position: Annotated[str, msgspec.Meta(pattern="^(end|middle)$")] | None = None
    pause: Annotated[float, msgspec.Meta(ge=0)] | None = None


class Voiced(Event, tag="voiced", frozen=True):
    """A claim said aloud that came to nothing: lost to another seat, or withdrawn."""

    seat: Seat
    lost: bool = True


class Expose(Event, tag="expose", frozen=True):
    """A seat takes the last throw and shows a group of `size` with it, `jokers` of them jokers.

    Attributes
    ----------
    kind
        None for the tile thrown last. Named only for a group whose throw nobody wrote
        down: one that lay there when the recorder joined, or was shown in a missed turn.
    """

    seat: Seat
    size: Count
    jokers: Count = 0
    kind: Kind | None = None


class Correct(Event, tag="correct", frozen=True):
    """The seat mends the size of the group that it has just shown, before its throw."""

    seat: Seat
    size: Count
    jokers: Count = 0


class Redeem(Event, tag="redeem", frozen=True):
    """A seat gives the natural `kind` for a joker that stands for it in `owner`'s exposure.

    `early` when it was seen to do so before it drew, which the rules forbid.
    """

    seat: Seat
    owner: Seat
    kind: Kind
    early: bool = False


class Dead(Event, tag="dead", frozen=True):
    """A seat is called dead; `returned` when its last exposure went back to the rack."""

    seat: Seat
    caller: Seat | None = None
    returned: bool = False


class WinInError(Event, tag="win in error", frozen=True):
    """A seat says that it has won and has not; `shown` when its tiles were seen."""

    seat: Seat
    shown: bool = True


class Absent(Event, tag="absent", frozen=True):
    """A seat is empty: nobody sits there in this game."""

    seat: Seat


class Missed(Event, tag="missed", frozen=True):
    """The recorder missed something: `turns` throws, by whom and what not known."""

    turns: Count = 1


class Joined(Event, tag="joined", frozen=True):
    """The record starts here, in the middle of the play.

    Attributes
    ----------
    wall
        Tiles left to draw, where known.
    floor
        The tiles that lie on the floor, in no order, where noted.
    """

    wall: Count | None = None
    floor: tuple[Kind, ...] = ()


class Win(Event, tag="win", frozen=True):
    """A seat wins, on the last throw (`claimed`) or on its own draw.

    `kind` is the tile drawn, where seen.
    """

    seat: Seat
    claimed: bool
    kind: Kind | None = None


class WallGame(Event, tag="wall game", frozen=True):
    """The wall is used up and nobody has won."""


class Reveal(Event, tag="reveal", frozen=True):
    """What a seat was building, said or shown after the end.

    Attributes
    ----------
    hand
        Name of a hand on the card, where said.
    rack
        The concealed tiles, as kinds, where shown.
    """

    seat: Seat
    hand: str | None = None
    rack: tuple[Kind, ...] | None = None


class Comment(Event, tag="comment", frozen=True):
    """Words of the recorder."""

    text: str


AnyEvent = (
    Passed | Stopped | Rack | Drew | Discard | Voiced | Expose | Correct | Redeem | Dead
    | WinInError | Absent | Missed | Joined | Win | WallGame | Reveal | Comment
)  # fmt: skip


class Header(
    msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True
):
    """What holds for a whole record.

    Attributes
    ----------
    format
        Version of the record format.
    card
        ``"house"``, the name of a card that ships, or a path beside the record.
    card_hash
        Content hash of the card, where known.
    dealer
        The seat that opens.
    people
        Who sits where, by pseudonymous keys, East first.
    viewer
        ``"floor"`` or the name of the seat that recorded.
    pause_unit
        Unit of the pauses, for example ``"s"``.
    title
        A line about the game.
    switches
        Rules that this table plays otherwise than the default: ``"no correction"``
        turns a switch of ``SWITCHES`` off, ``"last exposure"`` turns one on.
    """

    format: int = 1
    card: str = "house"
    card_hash: str | None = None
    dealer: Seat = 0
    people: Annotated[tuple[str, ...], _EACH_SEAT] | None = None
    viewer: str = "floor"
    pause_unit: str = "s"
    title: str = ""
    switches: tuple[str, ...] = ()


class Record(msgspec.Struct, frozen=True):
    """The events of one game, with or without the truth at the end.

    Attributes
    ----------
    header
        Card, dealer, people, viewer, switches.
    events
        In order.
    """

    header: Header
    events: tuple[AnyEvent, ...]

    def public(self, viewer: str | int = "floor") -> Iterator[AnyEvent]:
        """Events as a viewer could know them, in order.

        What hands were shown after the end is left out, and so are racks, drawn tiles and
        passed tiles of other seats; that a seat drew or passed stays.

        Parameters
        ----------
        viewer
            ``"floor"``, or a seat by name, prefix or index, as for ``viewer_seat``.

        Raises
        ------
        ParseError
            If `viewer` is neither.

        Examples
        --------
        >>> record = Record(Header(), (Rack(0, (4,)), Discard(0, 4), Drew(1, 30)))
        >>> list(record.public("floor"))[1:]
        [Drew(seat=1, kind=None)]
        """
        own = viewer_seat(viewer)
        name = viewer_name(viewer)
        for event in self.events:
            if isinstance(event, Reveal) or (isinstance(event, Rack) and event.seat != own):
                continue
            if isinstance(event, Drew) and event.seat != own:
                yield Drew(event.seat)
            elif isinstance(event, Passed) and name != self.header.viewer:
                yield msgspec.structs.replace(event, given=None, received=None)
            else:
                yield event

    def _repr_html_(self) -> str:
        from handread.table.picture import record_html

        return record_html(self)

    def _repr_mimebundle_(
        self, include: Container[str] | None = None, exclude: Container[str] | None = None
    ) -> dict[str, str]:
        from handread.table.picture import mime_bundle, record_html, record_text

        return mime_bundle(record_html(self), record_text(self), include, exclude)


def seat_named(word: str) -> int:
    """Seat of a word: its letter, its name or a prefix of that.

    >>> seat_named("w"), seat_named("West")
    (2, 2)
    """
    found = [i for i, name in enumerate(SEATS) if word and name.lower().startswith(word.lower())]
    if len(found) != 1:
        raise ParseError(f"no seat {word!r}; {closest(word, [name.lower() for name in SEATS])}")
    return found[0]


def viewer_seat(viewer: str | int) -> int | None:
    """Seat of a viewer, None for the floor: the one reading of what a caller may write.

    Parameters
    ----------
    viewer
        ``"floor"``, a seat's name, a prefix of these in any case, or 0 to 3, East first.

    Raises
    ------
    ParseError
        If it is none of them.

    Examples
    --------
    >>> viewer_seat("West"), viewer_seat("w"), viewer_seat(2), viewer_seat("floor")
    (2, 2, 2, None)
    """
    if is_whole(viewer) and 0 <= int(viewer) < 4:
        return int(viewer)
    names = ("floor", *SEATS)
    word = viewer.lower() if isinstance(viewer, str) else ""
    found = [i for i, name in enumerate(names) if word and name.lower().startswith(word)]
    if len(found) != 1:
        raise ParseError(f"no viewer {viewer!r}; {closest(str(viewer), names)}; or 0 to 3")
    return found[0] - 1 if found[0] else None


def viewer_name(viewer: str | int) -> str:
    """Name of a viewer as a header holds it: ``"floor"`` or the seat's name in full.

    >>> viewer_name("w"), viewer_name(0), viewer_name("floor")
    ('West', 'East', 'floor')
    """
    seat = viewer_seat(viewer)
    return "floor" if seat is None else SEATS[seat]
