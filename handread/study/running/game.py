"""One game of a study: played from its seed, watched by every forecaster, scored moments kept."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.simulate import SimulatedGame
from handread.simulate.view import STATES
from handread.study.forecasters.contract import (
    Combines,
    Explains,
    Forecaster,
    Foretells,
    Move,
    Oracle,
    Watcher,
    checked_beliefs,
)
from handread.study.forecasters.trained import TURNS, Training, empty_training, window_cell
from handread.study.running.updates import Update, update_lines
from handread.study.truth import Truths, final_row
from handread.table.events import AnyEvent, Comment, Discard, Expose, Voiced, Win
from handread.table.play import apply, start
from handread.table.state import TableState
from handread.tiles import JOKER

Columns = dict[str, Any]


class GameLines:
    """What one game adds to a study, gathered as the game is watched.

    Parameters
    ----------
    readers
        Names of the readers.

    Attributes
    ----------
    moments
        Keys and truth of every scored moment.
    beliefs
        For each reader its beliefs at these moments, a list of arrays of shape (n_rows,).
    updates
        Claimed and realised bits of every update.
    windows
        Forecasts of claims and wins, and what happened.
    """

    moments: list[Columns]
    beliefs: dict[str, list[NDArray[np.float64]]]
    updates: list[Columns]
    windows: list[Columns]

    def __init__(self, readers: Iterable[str]) -> None:
        self.moments = []
        self.beliefs = {name: [] for name in readers}
        self.updates = []
        self.windows = []


def count_game(card: CompiledCard, game: SimulatedGame) -> Training:
    """Count one training game.

    Parameters
    ----------
    card
        The card.
    game
        The game.

    Returns
    -------
    Training
        Counts of this game alone.
    """
    empty = empty_training(card)
    rows, offers = empty.rows.copy(), empty.offers.copy()
    claims, wins = empty.claims.copy(), empty.wins.copy()
    events = game.record.events
    state, truths = start(game.record.header, card.rules), Truths(card, game)
    for place, event in enumerate(events):
        state = apply(state, event, card)
        if not isinstance(event, Discard):
            continue
        shown = state.exposures[event.seat]
        truth, _, _ = truths.at(event.seat, place + 1, shown)
        rows[min(state.turns[event.seat], TURNS) - 1] += truth
        if open_to(state):
            cell = window_cell(state)
            taker, won = outcome(events[place + 1 :])
            offers[cell] += len(open_to(state))
            claims[cell] += taker is not None and not won
            wins[cell] += won
    return Training(rows, offers, claims, wins)


def open_to(state: TableState) -> list[int]:
    """Seats that may take the open throw; none where there is no such throw."""
    if state.window is None or state.over:
        return []
    thrown = state.floor[state.window]
    if thrown.kind == JOKER:
        return []
    return [seat for seat in range(4) if state.live[seat] and seat != thrown.seat]


def outcome(later: Sequence[AnyEvent]) -> tuple[int | None, bool]:
    """Who took the open throw, and whether to win; what is only said aloud is passed over."""
    for event in later:
        if isinstance(event, Voiced | Comment):
            continue
        if isinstance(event, Expose):
            return event.seat, False
        if isinstance(event, Win) and event.claimed:
            return event.seat, True
        break
    return None, False


@dataclass(frozen=True)
class Asked:
    """What is kept of a game besides beliefs at own turns.

    Attributes
    ----------
    every_event
        Score every live seat after every event.
    windows, moves
        Readers whose forecasts of the open throw, and whose moves, are kept.
    base
        Reader that forecasts of the open throw are held against.
    turns
        Own turns that are scored; empty for all.
    """

    every_event: bool = False
    windows: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    base: str = "base rates"
    turns: tuple[int, ...] = ()


def watch_game(
    card: CompiledCard,
    game: SimulatedGame,
    readers: Mapping[str, Forecaster | Oracle],
    *,
    number: int,
    asked: Asked | None = None,
) -> GameLines:
    """Let forecasters watch one game, and keep what is scored.

    Parameters
    ----------
    card
        The card.
    game
        The game with its truth; forecasters get the public events alone, one by one.
    readers
        Forecasters by name.
    number
        Number of the game in the study.
    asked
        What is kept besides beliefs at own turns.

    Returns
    -------
    GameLines
    """
    asked = asked or Asked()
    header = game.record.header
    watchers = _seated(card, game, readers)
    explaining, foretelling = _explaining(watchers, asked), _foretelling(watchers, asked)
    lines = GameLines(readers)
    events = tuple(game.record.public("floor"))
    total = np.bincount([e.seat for e in events if isinstance(e, Discard)], minlength=4)
    finals = [final_row(card, game, seat) if _plays(game, seat) else None for seat in range(4)]
    state, truths = start(header, card.rules), Truths(card, game)
    updates: list[Update] = []
    for place, event in enumerate(events):
        state = apply(state, event, card)
        for watcher in watchers.values():
            watcher.observe(event, state)
        here = _Here(truths, state, number, place + 1)
        for seat in _scored(event, state, asked):
            lines.moments.append(here.keys(seat, int(total[seat]), finals[seat]))
            for name, watcher in watchers.items():
                lines.beliefs[name].append(np.array(watcher.belief(seat), dtype=np.float64))
        for name, explains in explaining.items():
            updates += here.updates(name, explains.moves())
        if isinstance(event, Discard) and foretelling and open_to(state):
            found = outcome(events[place + 1 :])
            lines.windows += here.windows(foretelling, asked, found)
    lines.beliefs = {name: checked_beliefs(lines.beliefs[name], card, name) for name in readers}
    lines.updates = update_lines(updates)
    return lines


def _seated(
    card: CompiledCard, game: SimulatedGame, readers: Mapping[str, Forecaster | Oracle]
) -> dict[str, Watcher]:  # fmt: skip
    """Watchers of all readers; one made of others that watch too lets them do the watching."""
    alone: dict[int, Watcher] = {}
    for reader in readers.values():
        if isinstance(reader, Oracle):
            alone[id(reader)] = reader.open_sealed(card, game)
        elif not isinstance(reader, Combines):
            alone[id(reader)] = reader.open(card, game.record.header)
    found: dict[str, Watcher] = {}
    for name, reader in readers.items():
        if id(reader) in alone:
            found[name] = alone[id(reader)]
        elif isinstance(reader, Combines) and all(id(each) in alone for each in reader.members):
            found[name] = reader.open_over([alone[id(each)] for each in reader.members])
        elif isinstance(reader, Forecaster):
            found[name] = reader.open(card, game.record.header)
    return found


def _explaining(watchers: Mapping[str, Watcher], asked: Asked) -> dict[str, Explains]:
    """Watchers whose moves are kept, by name."""
    found: dict[str, Explains] = {}
    for name in asked.moves:
        watcher = watchers.get(name)
        if isinstance(watcher, Explains):
            found[name] = watcher
    return found


def _foretelling(watchers: Mapping[str, Watcher], asked: Asked) -> dict[str, Foretells]:
    """Watchers whose forecasts of the open throw are kept, and their base; empty without it."""
    found: dict[str, Foretells] = {}
    for name in (*asked.windows, asked.base) if asked.windows else ():
        watcher = watchers.get(name)
        if isinstance(watcher, Foretells):
            found[name] = watcher
    return found if asked.base in found else {}


def _plays(game: SimulatedGame, seat: int) -> bool:
    return game.truth.people[seat] is not None


def _scored(event: AnyEvent, state: TableState, asked: Asked) -> list[int]:
    if asked.every_event:
        found = [s for s in range(4) if state.live[s] and not isinstance(event, Comment)]
    else:
        thrown = isinstance(event, Discard) and state.live[event.seat]
        found = [event.seat] if isinstance(event, Discard) and thrown else []
    return [seat for seat in found if not asked.turns or state.turns[seat] in asked.turns]


@dataclass(frozen=True)
class _Here:
    """One moment of a game."""

    truths: Truths
    state: TableState
    number: int
    n_events: int

    def keys(self, seat: int, turns: int, final: NDArray[np.float64] | None) -> Columns:
        """Keys, truth and final hand of a scored moment."""
        shown = self.state.exposures[seat]
        truth, leaning, state = self.truths.at(seat, self.n_events, shown)
        person = self.truths.game.truth.people[seat]
        return {
            "game": self.number, "seat": seat, "event": self.n_events,
            "own_turn": self.state.turns[seat], "turns_to_end": turns - self.state.turns[seat],
            "exposures": len(shown), "kind": "" if person is None else person.kind,
            "state": STATES.index(state), "truth": truth, "leaning": leaning,
            "final": final if final is not None else np.full(len(truth), np.nan),
        }  # fmt: skip

    def updates(self, reader: str, moves: Sequence[Move]) -> Iterator[Update]:
        """The moves that an event made of the beliefs about live seats, with the truth."""
        for move in moves:
            if self.state.live[move.seat]:
                shown = self.state.exposures[move.seat]
                truth = self.truths.rows(move.seat, self.n_events, shown)
                yield Update(reader, self.number, self.n_events, move, truth)

    def windows(
        self, watchers: Mapping[str, Foretells], asked: Asked, found: tuple[int | None, bool]
    ) -> list[Columns]:
        """Forecasts of who takes the open throw, and who did."""
        taker, won = found
        said_by = {name: watcher.window() for name, watcher in watchers.items()}
        floor = said_by[asked.base]
        out: list[Columns] = []
        for name in asked.windows:
            if name not in said_by:
                continue
            said = said_by[name]
            for seat in open_to(self.state):
                pairs = (("claim", said.claims, floor.claims, taker == seat and not won),
                         ("win", said.wins, floor.wins, taker == seat and won))  # fmt: skip
                out += [
                    {"reader": name, "game": self.number, "seat": seat, "event": self.n_events,
                     "what": what, "prob": float(prob[seat]), "base": float(low[seat]),
                     "happened": float(happened)}
                    for what, prob, low, happened in pairs
                ]  # fmt: skip
        return out
