"""Where a throw comes from and how long it takes: stated, drawn, told apart, and not read."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import msgspec
import numpy as np
import pytest
from numpy.typing import NDArray

import handread as hr
from handread.simulate import (
    Habit,
    Person,
    PlayCard,
    Player,
    Private,
    Style,
    View,
    kind_named,
    kinds,
    play_game,
)
from handread.simulate.actions import DECISIONS, PAUSES, PLACES
from handread.simulate.game.turns import take_turn
from handread.simulate.manner import LONG_WITH, MIDDLE_ALONE, MIDDLE_OF_GROUP, lengths
from handread.simulate.view import blank
from handread.table.events import AnyEvent, Discard
from handread.table.state import Thrown
from handread.tiles import JOKER, parse_kind, parse_tiles
from tests.simulate.scripted import Told, table_of

EAST, BAM3 = parse_kind("east"), parse_kind("3 bam")


def view_of(
    decision: str, rack: str, *, offered: int | None = None, drawn: int | None = None,
    floor: tuple[Thrown, ...] = (),
) -> View:  # fmt: skip
    return View(
        decision, 0, SimpleNamespace(floor=floor), parse_tiles(rack).astype(np.uint8),  # type: ignore[arg-type]
        np.ones(DECISIONS[decision] or 0, dtype=np.bool_), drawn=drawn, offered=offered,
    )  # fmt: skip


def probs_of(card: PlayCard, view: View, kind: Any = None, **style: float) -> NDArray[np.float64]:
    player = Player(kind or kind_named("chaser"), Style(**style), card)
    return np.asarray(np.exp(player.log_probs(view, blank(card.n_targets))))


def by_hand(median: float) -> NDArray[np.float64]:
    """Shares of the classes of seconds for one median: a bell over their logarithms."""
    heights = [float(np.exp(-2.0 * np.log(s / median) ** 2)) for s in PAUSES]  # 1 / (2 * 0.5^2)
    return np.array(heights) / sum(heights)


# --- stated probabilities ---


def test_the_order_of_the_decisions_has_not_changed() -> None:
    assert list(DECISIONS) == [
        "plan", "pass", "blind", "stop", "courtesy", "win", "early", "redeem", "throw", "claim",
        "mend", "call", "place", "pause",
    ]  # fmt: skip
    assert (DECISIONS["place"], DECISIONS["pause"]) == (2, 8)
    assert PLACES == ("end", "middle")


@pytest.mark.parametrize(
    ("rack", "bluff", "middle"),
    [
        ("3 bam", 0.0, 0.2), ("2x 3 bam", 0.0, 0.7), ("4x 3 bam", 0.0, 0.7),
        ("3 bam", 0.1, 0.26), ("2x 3 bam", 0.1, 0.66), ("3 bam", 1.0, 0.8),
        ("3 bam", 0.5, 0.5), ("2x 3 bam", 0.5, 0.5),
    ],
)  # fmt: skip
def test_place_by_hand(small: PlayCard, rack: str, bluff: float, middle: float) -> None:
    view = view_of("place", rack + ", 2x east", offered=BAM3)
    assert probs_of(small, view, bluff=bluff) == pytest.approx([1 - middle, middle], abs=1e-5)


@pytest.mark.parametrize(
    ("rack", "bluff", "long"),
    [
        ("5 bam", 0.0, 0.2), ("3 bam", 0.0, 0.45), ("2x 3 bam", 0.0, 0.75),
        ("3x 3 bam", 0.0, 0.75), ("2x 3 bam", 0.1, 0.7), ("5 bam", 0.1, 0.26),
        ("5 bam", 0.5, 0.5), ("3 bam", 0.5, 0.5), ("2x 3 bam", 0.5, 0.5),
    ],
)  # fmt: skip
@pytest.mark.parametrize("slowness", [1.0, 1.7])
def test_pause_by_hand(
    small: PlayCard, rack: str, bluff: float, long: float, slowness: float
) -> None:
    lying = (Thrown(3, BAM3),)
    view = view_of("pause", rack, offered=BAM3, drawn=EAST, floor=lying)
    found = probs_of(small, view, bluff=bluff, slowness=slowness)
    expected = (1 - long) * by_hand(1.8 * slowness) + long * by_hand(6.0 * slowness)
    assert found == pytest.approx(expected, abs=1e-5)


def test_a_copy_drawn_since_was_not_let_pass(small: PlayCard) -> None:
    lying = (Thrown(3, BAM3),)
    drawn = view_of("pause", "2x 3 bam", offered=BAM3, drawn=BAM3, floor=lying)
    held = view_of("pause", "3 bam", offered=BAM3, drawn=EAST, floor=lying)
    assert np.array_equal(probs_of(small, drawn), probs_of(small, held))


def test_who_has_just_shown_throws_at_once(small: PlayCard) -> None:
    taken = view_of("pause", "2x 3 bam", floor=(Thrown(3, BAM3, taken_by=0),))
    assert probs_of(small, taken, bluff=0.0) == pytest.approx(
        0.95 * by_hand(1.8) + 0.05 * by_hand(6.0), abs=1e-5
    )
    by_another = view_of("pause", "2x 3 bam", floor=(Thrown(3, BAM3, taken_by=2),))
    assert probs_of(small, by_another, bluff=0.0) == pytest.approx(
        0.8 * by_hand(1.8) + 0.2 * by_hand(6.0), abs=1e-5
    )


@pytest.mark.parametrize("style", [{"slowness": 1e-6}, {"slowness": 1e6}, {"bluff": 1.0}])
def test_nobody_is_too_slow_or_too_quick(small: PlayCard, style: dict[str, float]) -> None:
    view = view_of("pause", "2x 3 bam", offered=BAM3, floor=(Thrown(3, BAM3),))
    assert probs_of(small, view, **style).sum() == pytest.approx(1.0)
    assert lengths(1.8).argmax() == PAUSES.index(2.0)


def test_it_is_the_same_for_every_kind_and_mind(small: PlayCard) -> None:
    views = (
        view_of("place", "2x 3 bam", offered=BAM3),
        view_of("pause", "2x 3 bam", offered=BAM3, floor=(Thrown(3, BAM3),)),
    )
    names = {"lifts a tile out of its groups", "thinks over what it let pass"}
    for view in views:
        first = probs_of(small, view)
        for kind in (*kinds(), Told({})):
            assert np.array_equal(probs_of(small, view, kind), first)
    for kind in kinds():
        found: list[Habit] = [habit for habit in kind.habits if habit.name in names]
        assert [habit.origin for habit in found] == ["scripted", "scripted"]


# --- at a table ---


def watched(
    card: PlayCard, rack: str, *, first: str = "", throw: int, seat: int = 0
) -> tuple[dict[str, View], Discard]:
    """Views of the manner of a scripted throw, and the throw."""
    table = table_of(card, {seat: rack}, {seat: [("throw", throw)]}, first=first)
    seen: dict[str, View] = {}
    table.watch = lambda view, mind, log_probs, action: seen.update({view.decision: view})
    for _ in range(seat + 1):
        seen.clear()
        take_turn(table)
    event = table.events[seat]
    assert isinstance(event, Discard)
    return seen, event


def test_a_tile_of_the_rack_has_a_place_and_the_tile_drawn_has_none(small: PlayCard) -> None:
    seen, event = watched(small, "2x 3 bam", throw=BAM3)
    assert (event.position in PLACES, event.pause in PAUSES) == (True, True)
    assert (seen["place"].offered, int(seen["place"].rack[BAM3])) == (BAM3, 2)
    assert seen["pause"].offered is None  # nobody has thrown before
    seen, event = watched(small, "2x 3 bam", first="east", throw=EAST, seat=1)
    assert "place" not in seen
    assert (event.drawn, event.position, event.pause in PAUSES) == (True, None, True)
    seen, event = watched(small, "2x 3 bam", first="east", throw=BAM3, seat=1)
    assert (event.drawn, event.position in PLACES) == (False, True)
    last = seen["pause"].state.floor[-1]
    assert (last.seat, last.taken_by) == (0, None)
    assert seen["pause"].offered == (None if last.kind == JOKER else last.kind)


Rows = dict[object, list[float]]


def signs(card: PlayCard, n_games: int, **style: float) -> tuple[Rows, Rows]:
    """Middle or not by whether held twice, and seconds by copies let pass or "shown"."""
    middle: Rows = defaultdict(list)
    pause: Rows = defaultdict(list)

    def watch(view: View, mind: Private, log_probs: NDArray[np.float64], action: int) -> None:
        floor = view.state.floor
        if view.decision == "place":
            middle[bool(view.rack[view.offered] >= 2)].append(action)
        elif view.decision == "pause" and floor and floor[-1].taken_by == view.seat:
            pause["shown"].append(PAUSES[action])
        elif view.decision == "pause":
            held = 0 if view.offered is None else int(view.rack[view.offered])
            pause[min(held - (held > 0 and view.drawn == view.offered), 2)].append(PAUSES[action])

    names = ("weigher", "chaser", "guarded", "random")
    people = tuple(Person(f"p{i}", name, 1, Style(**style)) for i, name in enumerate(names))
    for seed in range(n_games):
        play_game(card, people, seed=550_000 + seed, watch=watch)
    return middle, pause


def test_signs_in_games_are_as_stated(small: PlayCard) -> None:
    middle, pause = signs(small, 40, bluff=0.0)
    for twice, stated in ((True, MIDDLE_OF_GROUP), (False, MIDDLE_ALONE)):
        n = len(middle[twice])
        assert n > 100
        assert np.mean(middle[twice]) == pytest.approx(
            stated, abs=4 * np.sqrt(stated * (1 - stated) / n)
        )
    means = [np.mean(pause[which]) for which in ("shown", 0, 1, 2)]
    assert min(len(pause[which]) for which in ("shown", 0, 1, 2)) > 25, Counter(pause)
    assert means == sorted(means)
    short, long = (float(lengths(median) @ PAUSES) for median in (1.8, 6.0))
    for copies, share in enumerate(LONG_WITH):
        sd = np.std(pause[copies]) / np.sqrt(len(pause[copies]))
        assert np.mean(pause[copies]) == pytest.approx(
            (1 - share) * short + share * long, abs=4 * sd
        )


def test_at_a_bluff_of_a_half_they_tell_nothing(small: PlayCard) -> None:
    middle, pause = signs(small, 40, bluff=0.5)
    for twice in (True, False):
        assert np.mean(middle[twice]) == pytest.approx(0.5, abs=2 / np.sqrt(len(middle[twice])))
    everything = np.concatenate([pause[which] for which in pause])
    for which, seconds in pause.items():
        sd = everything.std() / np.sqrt(len(seconds))
        assert np.mean(seconds) == pytest.approx(everything.mean(), abs=4 * sd), which


def test_who_bluffs_always_shows_the_opposite(small: PlayCard) -> None:
    middle, pause = signs(small, 15, bluff=1.0)
    assert np.mean(middle[True]) < np.mean(middle[False])
    assert np.mean(pause[2]) < np.mean(pause[0]) < np.mean(pause["shown"])


def test_slow_people_are_slow(small: PlayCard) -> None:
    """Slowness moves the seconds, and not who decides what: the same tiles are thrown."""
    quick, slow = (
        [
            event
            for seed in range(8)
            for event in play_game(
                small, tuple(Person(f"p{i}", "weigher", 1, Style(slowness=by)) for i in range(4)),
                seed=seed,
            ).record.events
            if isinstance(event, Discard)
        ]
        for by in (0.6, 1.8)
    )  # fmt: skip
    assert [event.kind for event in quick] == [event.kind for event in slow]
    assert [event.position for event in quick] == [event.position for event in slow]
    pairs = [(one.pause, other.pause) for one, other in zip(quick, slow, strict=True)]
    assert np.mean([b for _, b in pairs if b]) > 2 * np.mean([a for a, _ in pairs if a])
    assert all(a is not None and b is not None and a <= b for a, b in pairs)


def test_every_throw_of_a_game_has_its_signs(games: list[hr.simulate.SimulatedGame]) -> None:
    for game in games[:20]:
        for event in game.record.events:
            if isinstance(event, Discard):
                assert event.pause in PAUSES
                assert (event.position is None) <= (event.drawn is not False)
                assert event.drawn is not True or event.position is None


# --- kept apart from reading, and kept with games ---


def test_a_reading_is_the_same_to_the_bit_without_them(
    games: list[hr.simulate.SimulatedGame], house: hr.CompiledCard
) -> None:
    """Their weights are 0: a reading does not move by them."""

    def without(event: AnyEvent) -> AnyEvent:
        bare = isinstance(event, Discard)
        return msgspec.structs.replace(event, position=None, pause=None) if bare else event

    for game in games[:2]:
        one, other = (hr.Reader(house, header=game.record.header) for _ in range(2))
        n_told = 0
        for event in list(game.record.public("floor"))[:40]:
            one.observe(event)
            other.observe(without(event))
            n_told += without(event) != event
            for seat in range(4):
                assert np.array_equal(one.beliefs[seat].probs, other.beliefs[seat].probs)
        assert n_told > 10


def test_truths_from_before_there_was_a_manner_are_still_read(
    games: list[hr.simulate.SimulatedGame],
) -> None:
    from handread.simulate import game_from_json, game_to_json

    raw = msgspec.json.decode(game_to_json(games[0]))
    for person in raw["truth"]["people"]:
        del person["style"]["bluff"], person["style"]["slowness"]
    found = game_from_json(msgspec.json.encode(raw))
    for person, known in zip(found.truth.people, games[0].truth.people, strict=True):
        assert person is not None
        assert known is not None
        assert person.style == replace(known.style, bluff=0.1, slowness=1.0)


def test_discards_of_older_columns_have_no_signs() -> None:
    from handread.simulate.fast.layout import DISCARD, PLACED
    from handread.simulate.fast.telling import event_of

    assert event_of([int(DISCARD), 1, 4, 0, 0, 0, 0, 0]) == Discard(1, 4, drawn=False)
    for place, position in enumerate((None, *PLACES)):
        for number, pause in enumerate((None, *PAUSES)):
            row = [int(DISCARD), 1, 4, -1, place + int(PLACED) * number, 0, 0, 0]
            assert event_of(row) == Discard(1, 4, None, position, pause)


@pytest.mark.slow
def test_engines_agree_on_manner(small: PlayCard) -> None:
    """The same signs and the same log probabilities, whoever bluffs and however slow."""
    from handread.simulate.fast.engine import Engine
    from tests.simulate.fast.agreement import KINDS, hold_together

    engine = Engine(small, kinds=KINDS, keep_decisions=True)
    for seed, bluff in enumerate((0.0, 0.3, 0.5, 1.0)):
        style = Style(bluff=bluff, slowness=0.4 + seed, eagerness=0.9)
        people = tuple(Person(f"p{i}", kind.name, 1, style) for i, kind in enumerate(kinds()[:4]))
        hold_together(engine, people, 550_100 + seed)
