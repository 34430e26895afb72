"""From the book of the compiled engine to the very values that the reference engine makes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from handread.simulate.actions import PAUSES, PLACES
from handread.simulate.fast import layout as at
from handread.simulate.fast.engine import Engine, Shuffled
from handread.simulate.game.play import People, SimulatedGame
from handread.simulate.game.table import ENGINE_VERSION, TableRules
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Kind
from handread.simulate.rules.deal import deal
from handread.simulate.rules.passes import Exchange
from handread.simulate.rules.payment import payments
from handread.simulate.truth import Change, Ending, Moments, Truth
from handread.table.events import (
    PASS_STEPS,
    Absent,
    AnyEvent,
    Correct,
    Dead,
    Discard,
    Drew,
    Expose,
    Header,
    Passed,
    Record,
    Redeem,
    Stopped,
    Voiced,
    WallGame,
    Win,
    WinInError,
)
from handread.tiles import JOKER

_EVENTS: Final[dict[int, Callable[[list[int]], AnyEvent]]] = {
    int(at.ABSENT): lambda row: Absent(row[1]),
    int(at.PASSED): lambda row: _passed(row),
    int(at.STOPPED): lambda row: Stopped(row[1]),
    int(at.DISCARD): lambda row: _discard(row),
    int(at.VOICED): lambda row: Voiced(row[1]),
    int(at.EXPOSE): lambda row: Expose(row[1], row[2], row[3]),
    int(at.CORRECT): lambda row: Correct(row[1], row[2], row[3]),
    int(at.REDEEMED): lambda row: Redeem(row[1], row[2], row[3], early=row[4] == 1),
    int(at.DEAD_HAND): lambda row: Dead(row[1], row[2], returned=row[3] == 1),
    int(at.WIN_IN_ERROR): lambda row: WinInError(row[1], shown=row[2] == 1),
    int(at.DREW): lambda row: Drew(row[1]),
    int(at.WIN): lambda row: Win(row[1], row[2] == 1, None if row[3] < 0 else row[3]),
    int(at.WALL_GAME): lambda row: WallGame(),
}


def _passed(row: list[int]) -> Passed:
    step, numbers = PASS_STEPS[row[2]], (row[4], row[5], row[6], row[7])
    if step == "courtesy":
        return Passed(step=step, counts=numbers)
    return Passed(step=step, blind=numbers if row[3] else None)


def _discard(row: list[int]) -> Discard:
    pause, place = divmod(row[4], int(at.PLACED))
    return Discard(
        row[1], row[2],
        drawn=None if row[3] < 0 else row[3] == 1,
        position=PLACES[place - 1] if place else None,
        pause=PAUSES[pause - 1] if pause else None,
    )  # fmt: skip


def event_of(row: list[int]) -> AnyEvent:
    """Event of a row of ``BOOK.events``."""
    return _EVENTS[row[0]](row)


class Told(NamedTuple):
    """A game as arrays, a copy of what the engine's book holds; all that a game's values need.

    Attributes
    ----------
    seed
        Seed of the game.
    tiles
        The set as shuffled; the deal follows from it, shape (n_tiles,).
    events
        Rows of ``BOOK.events``, shape (n_events, 8).
    rows, entry_target, entry_weight
        What each seat was about, as in ``BOOK.rows``, and the weights.
    changes, draws
        As in the book.
    passes
        One row a step: number of the step, then for the four seats tiles sent on unseen, how many
        given and received, and the tiles given and received, three places each, shape (n, 37).
    stops
        Seats that wanted to stop the second round.
    racks
        Concealed tiles at the end, shape (4, 36).
    ending
        How (0 passes, 1 wall, 2 deserted, 3 win), winner, thrower, target (-1 for none), whether
        redeemed, whether jokerless, and the four payments, shape (10,).
    """

    seed: int
    tiles: NDArray[np.int8]
    events: NDArray[np.int16]
    rows: NDArray[np.int32]
    entry_target: NDArray[np.int32]
    entry_weight: NDArray[np.float32]
    changes: NDArray[np.int32]
    draws: NDArray[np.int16]
    passes: NDArray[np.int8]
    stops: NDArray[np.int8]
    racks: NDArray[np.int8]
    ending: NDArray[np.int32]


_HOWS: Final = ("passes", "wall", "deserted", "win")


def told_of(engine: Engine) -> Told:
    """The last game of an engine as arrays."""
    book, t = engine.book, engine.t
    n, n_entries = int(book["n_passes"]), int(book["n_entries"])
    names = ("blind", "n_given", "n_received", "given", "received")
    passes = [
        book["steps"][:n, None],
        *(book[name][:n].reshape(n, book[name].size // len(book[name])) for name in names),
    ]
    return Told(
        seed=engine.seed,
        tiles=engine.tiles.astype(np.int8),
        events=book["events"][: int(t["n_events"])].copy(),
        rows=book["rows"][: int(book["n_rows"])].copy(),
        entry_target=engine.lists.entry_target[:n_entries].copy(),
        entry_weight=engine.lists.entry_weight[:n_entries].copy(),
        changes=book["changes"][: int(book["n_changes"])].copy(),
        draws=book["draws"][: int(book["n_draws"])].copy(),
        passes=np.concatenate(passes, axis=1),
        stops=book["stops"][: int(book["n_stops"])].copy(),
        racks=t["racks"].astype(np.int8),
        ending=_ending(engine),
    )


def _ending(engine: Engine) -> NDArray[np.int32]:
    """How the last game ended, as in ``Told``."""
    t, book, card = engine.t, engine.book, engine.card
    found = np.array([0, -1, -1, -1, 0, 0, 0, 0, 0, 0], dtype=np.int32)
    n = int(t["n_events"])
    code, winner, claimed = (int(x) for x in book["events"][n - 1][:3]) if n else (-1, -1, -1)
    if code == at.WALL_GAME:
        found[0] = 1 if int(t["live"].sum()) > 1 else 2
    if code != at.WIN:
        return found
    fits, held = engine.lists.fits[winner], int(t["racks"][winner, JOKER])
    codes = engine.lists.code[winner, : len(fits)]
    complete = np.flatnonzero(fits & (codes < 16) & (codes <= held))
    target = int(complete[card.targets.points[complete].argmax()])
    thrower = int(t["last_seat"]) if claimed else None
    jokers = t["groups"][winner, : int(t["n_groups"][winner]), 2].sum()
    jokerless = held + int(jokers) == 0
    before = book["events"][n - 2][:2].tolist() if n > 1 else [-1, -1]
    redeemed = before == [at.REDEEMED, winner] and not claimed
    paid = payments(
        card.card.hands[card.card.hand_of[target]].points,
        winner=winner,
        thrower=thrower,
        jokerless=jokerless,
        takes_jokers=bool(card.takes_jokers[target]),
        seated=tuple(bool(x) for x in t["seated"]),
    )
    known = (3, winner, -1 if thrower is None else thrower, target, redeemed, jokerless)
    found[:] = (*known, *paid)
    return found


def ending_of(told: Told) -> Ending:
    """How a game ended."""
    how, winner, thrower, target, redeemed, jokerless, *paid = told.ending.tolist()
    if _HOWS[how] != "win":
        return Ending(_HOWS[how])
    thrown_by = None if thrower < 0 else thrower
    return Ending("win", winner, thrown_by, target, bool(redeemed), bool(jokerless), tuple(paid))


def moments_of(told: Told) -> Moments:
    """What each seat was about in a game."""
    rows = told.rows
    return Moments(
        at=rows[:, 0].copy(),
        seat=rows[:, 1].astype(np.int8),
        state=rows[:, 2].astype(np.int8),
        plan=rows[:, 3].copy(),
        distance=rows[:, 4].astype(np.int8),
        first=np.concatenate([rows[:, 5], [len(told.entry_target)]]).astype(np.int32),
        target=told.entry_target,
        weight=told.entry_weight,
    )


def _steps_of(told: Told) -> Iterator[Exchange]:
    for row in told.passes.tolist():
        step, blind, n_given, n_received = row[0], row[1:5], row[5:9], row[9:13]
        given, received = row[13:25], row[25:37]
        yield Exchange(
            PASS_STEPS[step],
            tuple(tuple(given[3 * s : 3 * s + n_given[s]]) for s in range(4)),
            tuple(tuple(received[3 * s : 3 * s + n_received[s]]) for s in range(4)),
            tuple(blind),
        )


def game_of(
    told: Told, card: PlayCard, people: People, *, header: Header, population: str
) -> SimulatedGame:
    """The values of a game that is there as arrays.

    Parameters
    ----------
    told
        The game.
    card, people
        The card, and who sat where.
    header, population
        Header of the record, and the population that the people come from.
    """
    found = {person.kind: person.version for person in people if person is not None}
    seats = tuple(seat for seat in range(4) if people[seat] is not None)
    # of a generator, the deal asks only to shuffle
    dealt = deal(card.card.rules, rng=Shuffled(told.tiles), seats=seats)  # type: ignore[arg-type]
    truth = Truth(
        seed=told.seed,
        population=population,
        card_hash=card.card.hash,
        versions=(("engine", ENGINE_VERSION), *sorted(found.items())),
        people=people,
        dealt=dealt.racks,
        wall=dealt.wall,
        passes=tuple(_steps_of(told)),
        stops=tuple(told.stops.tolist()),
        draws=tuple(tuple(row) for row in told.draws.tolist()),
        moments=moments_of(told),
        changes=tuple(
            Change(row[0], row[1], row[2], row[3], at.WHYS[row[4]]) for row in told.changes.tolist()
        ),
        ending=ending_of(told),
        racks=tuple(tuple(np.repeat(np.arange(36), rack).tolist()) for rack in told.racks),
    )
    return SimulatedGame(Record(header, tuple(map(event_of, told.events.tolist()))), truth)


def play_fast(
    card: PlayCard | Engine,
    people: People,
    *,
    seed: int,
    rules: TableRules | None = None,
    until: str = "end",
    card_name: str = "house",
    population: str = "",
    kinds: Mapping[str, Kind] | None = None,
) -> SimulatedGame:
    """Play one game with the compiled engine: the same game as ``play_game`` plays.

    Parameters
    ----------
    card
        The card, or an engine that has played on it before, which saves laying it out again.
    people, seed, rules, until, card_name, population, kinds
        As for ``play_game``.

    Examples
    --------
    Not run with the doctests: the first call compiles for a minute or two.

    >>> import handread as hr
    >>> from handread.simulate import default_population, play_card, play_game
    >>> card, rng = play_card(hr.load_card("small")), np.random.default_rng(3)
    >>> people = tuple(default_population().person(f"p{i}", rng=rng) for i in range(4))
    >>> play_fast(card, people, seed=5) == play_game(  # doctest: +SKIP
    ...     card, people, seed=5
    ... )
    True
    """
    engine = card if isinstance(card, Engine) else Engine(card, kinds=kinds)
    engine.play(people, seed=seed, rules=rules, until=until)
    header = header_of(engine.card, people, card_name=card_name, rules=rules)
    return game_of(told_of(engine), engine.card, people, header=header, population=population)


def header_of(
    card: PlayCard, people: People, *, card_name: str, rules: TableRules | None = None
) -> Header:
    """Header of the record of a game."""
    return Header(
        card=card_name,
        card_hash=card.card.hash,
        people=tuple(person.key if person else "" for person in people),
        switches=(rules or TableRules()).switches,
    )


def decisions_of(engine: Engine) -> list[tuple[int, str, int, float]]:
    """Seat, decision, action and log probability of every decision of the last game, if kept."""
    book = engine.book
    n = int(book["n_decisions"])
    rows, log_probs = book["decisions"][:n].tolist(), book["log_probs"][:n].tolist()
    return [
        (seat, at.DECISION_NAMES[decision], action, log_prob)
        for (seat, decision, action), log_prob in zip(rows, log_probs, strict=True)
    ]
