"""Games on the toy card: one for each thing that the filter has to get right."""

from __future__ import annotations

from dataclasses import dataclass

from handread.table.events import (
    Absent,
    AnyEvent,
    Comment,
    Correct,
    Dead,
    Discard,
    Drew,
    Expose,
    Missed,
    Passed,
    Redeem,
    Reveal,
    Stopped,
    Voiced,
    WallGame,
    Win,
)
from handread.tiles import parse_kind

EAST, SOUTH, WEST, NORTH = range(4)


@dataclass(frozen=True)
class Scenario:
    """Events of which the first `unread` move the table only, not the beliefs."""

    name: str
    events: tuple[AnyEvent, ...]
    unread: int = 0


def throw(seat: int, tile: str) -> Discard:
    return Discard(seat, parse_kind(tile))


def round_of(*tiles: str) -> list[Discard]:
    """Throws in turn, East first."""
    return [throw(i % 4, tile) for i, tile in enumerate(tiles)]


#: Tiles to let a game grow older: first those that no target wants, then some of the others.
_AGEING = {
    "8 bam": 4, "9 bam": 4, "7 crak": 4, "9 crak": 4, "6 dot": 4, "7 dot": 4, "8 dot": 4,
    "green": 4, "flower": 6, "east": 3, "south": 3, "west": 3, "north": 3, "1 dot": 3, "2 dot": 3,
    "3 dot": 3, "4 dot": 3, "8 crak": 3, "6 crak": 3, "7 bam": 2, "white": 2, "1 bam": 3,
    "9 dot": 3,
}  # fmt: skip


def older(rounds: int) -> list[Discard]:
    """Rounds in which nobody claims."""
    tiles = [tile for tile, copies in _AGEING.items() for _ in range(copies)]
    return [throw(i % 4, tiles[i]) for i in range(4 * rounds)]


def _scenario(name: str, *events: AnyEvent | list[Discard], unread: int = 0) -> Scenario:
    flat: list[AnyEvent] = []
    for event in events:
        flat += event if isinstance(event, list) else [event]
    return Scenario(name, tuple(flat), unread)


_REDS = [Redeem(WEST, SOUTH, parse_kind("red"))]

SCENARIOS = (
    _scenario(
        "throws, needed and not, one kind again, winds early",
        round_of("north", "3 bam", "flower", "7 dot", "north", "3 bam", "joker", "white"),
        round_of("5 crak", "2 crak", "5 dot", "east"),
    ),
    _scenario(
        "exposures: a kong, then a pung, the second rules out all but few",
        round_of("5 bam"), Expose(SOUTH, 4, 1), throw(SOUTH, "1 dot"),
        throw(WEST, "7 bam"), Expose(SOUTH, 3, 0), throw(SOUTH, "9 dot"),
        throw(WEST, "2 dot"), throw(NORTH, "white"), throw(EAST, "red"), throw(SOUTH, "3 bam"),
    ),
    _scenario(
        "a group with two sizes open, shown with more jokers than naturals",
        round_of("3 bam"), Expose(WEST, 3, 2), throw(WEST, "green"), throw(NORTH, "3 bam"),
        Expose(WEST, 4, 2), throw(WEST, "5 dot"), throw(NORTH, "4 bam"), throw(EAST, "1 dot"),
    ),
    _scenario(
        "a group that no target has: the seat leaves the card, and may be off it for good",
        round_of("9 dot", "4 crak"), Expose(EAST, 3, 1), throw(EAST, "1 bam"),
        throw(SOUTH, "1 bam"), throw(WEST, "red"), throw(NORTH, "2 bam"), throw(EAST, "white"),
    ),
    _scenario(
        "priority: two seats let pass before the third takes, nothing is known of those behind",
        round_of("red"), Expose(NORTH, 4, 1), throw(NORTH, "5 bam"), Expose(SOUTH, 4, 2),
        throw(SOUTH, "4 crak"), Expose(WEST, 4, 0), throw(WEST, "5 bam"), throw(NORTH, "6 crak"),
        throw(EAST, "4 bam"),
    ),
    _scenario(
        "redeems: others', of two groups of one kind, own; a known joker used",
        round_of("red"), Expose(SOUTH, 3, 1), throw(SOUTH, "1 dot"), *_REDS,
        throw(WEST, "2 crak"), Expose(SOUTH, 4, 2), throw(SOUTH, "8 bam"),
        Redeem(WEST, SOUTH, parse_kind("2 crak")), throw(WEST, "4 crak"), throw(NORTH, "5 dot"),
        throw(EAST, "5 bam"), Expose(WEST, 4, 2), throw(WEST, "8 bam"), throw(NORTH, "red"),
        throw(EAST, "4 crak"), Expose(SOUTH, 4, 1), throw(SOUTH, "8 crak"),
    ),
    _scenario(
        "a joker redeemed out of a group opens the hands that bar jokers there to a change of plan",
        round_of("red"), Expose(SOUTH, 3, 1), throw(SOUTH, "1 dot"), *_REDS,
        throw(WEST, "2 crak"), Expose(SOUTH, 4, 0), throw(SOUTH, "8 bam"), throw(WEST, "9 bam"),
        throw(NORTH, "9 bam"), throw(EAST, "8 bam"), throw(SOUTH, "6 crak"), throw(WEST, "8 bam"),
    ),
    _scenario(
        "two owners offer a joker of one kind",
        round_of("5 bam"), Expose(SOUTH, 4, 3), throw(SOUTH, "5 bam"), Expose(NORTH, 3, 2),
        throw(NORTH, "1 dot"), Redeem(EAST, NORTH, parse_kind("5 bam")), throw(EAST, "north"),
        throw(SOUTH, "2 dot"),
    ),
    _scenario("a drawn win", round_of("7 bam", "3 dot", "white"), Win(NORTH, False)),
    _scenario(
        "a claimed win over one who is nearer", round_of("7 bam", "3 dot", "white"),
        Win(SOUTH, True), unread=1,
    ),
    _scenario(
        "a win over a group just laid", round_of("7 bam", "3 dot", "white"),
        Expose(NORTH, 3, 0), Win(SOUTH, True), unread=1,
    ),
    _scenario(
        "groups laid and left alone, one mended, one before a redeem",
        round_of("9 crak", "9 bam"), throw(WEST, "3 bam"), Expose(SOUTH, 3, 2),
        Correct(SOUTH, 3, 1), throw(SOUTH, "7 bam"), throw(WEST, "white"), throw(NORTH, "red"),
        Expose(EAST, 3, 0), Redeem(EAST, SOUTH, parse_kind("3 bam")), throw(EAST, "1 dot"),
    ),
    _scenario(
        "missed turns", round_of("5 bam"), Expose(SOUTH, 4, 0), throw(SOUTH, "2 dot"),
        Missed(2), throw(WEST, "3 bam"), throw(NORTH, "3 crak"),
    ),
    _scenario(
        "a corrected group", round_of("3 bam", "9 bam"), throw(WEST, "3 bam"),
        Expose(SOUTH, 3, 0), Correct(SOUTH, 4, 1), throw(SOUTH, "7 bam"), throw(WEST, "white"),
    ),
    _scenario(
        "a group corrected twice, the second one of the seat",
        round_of("5 bam"), Expose(SOUTH, 4, 1), throw(SOUTH, "red"), throw(WEST, "3 bam"),
        Expose(SOUTH, 4, 1), Correct(SOUTH, 3, 0), Correct(SOUTH, 3, 1), throw(SOUTH, "1 dot"),
    ),
    _scenario(
        "a draw said outright, an absent seat, a dead seat, a remark",
        Absent(NORTH), throw(EAST, "5 bam"), Drew(SOUTH), throw(SOUTH, "5 crak"),
        Comment("the light goes out"), throw(WEST, "red"), Dead(SOUTH), throw(EAST, "3 dot"),
        throw(WEST, "white"),
    ),
    _scenario(
        "the passes: one with a blind pass, a second round, a courtesy",
        *[Passed(step=step) for step in ("right", "across")],
        Passed(step="left", blind=(0, 3, 1, 0)),
        *[Passed(step=step) for step in ("second left", "second across")],
        Passed(step="last right", blind=(2, 0, 0, 0)), Passed(step="courtesy", counts=(0, 3, 0, 3)),
        throw(EAST, "5 crak"),
    ),
    _scenario(
        "the passes stopped, and claims that came to nothing",
        Passed(step="right"), Passed(step="across"), Passed(step="left"), Stopped(WEST),
        round_of("5 bam"), Voiced(SOUTH, lost=False), Voiced(WEST), throw(SOUTH, "9 dot"),
        Voiced(NORTH), Expose(WEST, 5, 2), throw(WEST, "2 dot"),
    ),
    _scenario(
        "notes beside throws", Discard(EAST, 4, drawn=False), Discard(SOUTH, 10, drawn=True),
        Discard(WEST, 32, position="middle", pause=12.0), Discard(NORTH, 22, position="end"),
        Discard(EAST, 1, drawn=True, pause=1.0), throw(SOUTH, "3 bam"),
    ),
    _scenario(
        "singles and pairs that are gone: hands blocked, plans left",
        round_of("white", "white", "white", "1 bam", "red", "red", "1 bam", "red", "1 bam"),
    ),
    _scenario(
        "the middle of the game", older(6), round_of("north", "5 dot", "flower", "1 dot"),
        round_of("5 crak"), Expose(WEST, 3, 0), throw(WEST, "2 bam"), throw(NORTH, "flower"),
        throw(EAST, "flower"), unread=24,
    ),
    _scenario(
        "late, a short wall, two groups shown by another", older(19), throw(EAST, "5 bam"),
        Expose(SOUTH, 4, 1), throw(SOUTH, "flower"), throw(WEST, "7 bam"), Expose(SOUTH, 3, 1),
        throw(SOUTH, "2 crak"), throw(WEST, "4 bam"), throw(NORTH, "1 dot"), throw(EAST, "north"),
        WallGame(),
        Reveal(SOUTH), unread=76,
    ),
)  # fmt: skip
