"""A table in the middle of a game: public state, hidden tiles, players and their minds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.simulate.actions import n_actions
from handread.simulate.choice import pick
from handread.simulate.game.hidden import Racks, move_tiles
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Player
from handread.simulate.rules.deal import Deal
from handread.simulate.rules.passes import Exchange
from handread.simulate.truth import Change
from handread.simulate.view import STATES, Private, View, blank, shown_rows
from handread.table.events import AnyEvent, Header
from handread.table.play import apply, start
from handread.table.state import TableState
from handread.tiles import N_KINDS

#: Called with every decision: view, mind, log probabilities, action.
Watch = Callable[[View, Private, NDArray[np.float64], int], None]

#: Version of the engine; goes up with every change of what it does.
ENGINE_VERSION: Final = 2


@dataclass(frozen=True)
class TableRules:
    """How a simulated table plays, where tables differ.

    The switches of ``handread.table.events.SWITCHES`` go into the header of the record.

    Attributes
    ----------
    switches
        Changes of switches from their defaults, in the form of a header.
    dead_hands
        Whether hands are called dead.
    heard
        Whether claims that lose to another seat are said aloud, and recorded.
    """

    switches: tuple[str, ...] = ()
    dead_hands: bool = True
    heard: bool = True


class Table:
    """One table while it plays; the engine's own, changed as the game goes on.

    Attributes
    ----------
    card
        The card.
    players
        The player of each seat; None where nobody sits.
    rules
        How the table plays.
    state
        What everybody can see.
    racks
        Concealed tiles of each seat, shape (36,) each.
    wall
        Tiles left, the next one last.
    minds
        What each player keeps in mind.
    events
        The record so far.
    """

    def __init__(
        self,
        card: PlayCard,
        players: tuple[Player | None, ...],
        dealt: Deal,
        rng: np.random.Generator,
        *,
        header: Header,
        rules: TableRules,
        watch: Watch | None = None,
    ) -> None:
        self.card, self.players, self.rules = card, players, rules
        self.header, self.rng, self.watch = header, rng, watch
        self.state: TableState = start(header, card.card.rules)
        self.racks: Racks = [np.bincount(rack, minlength=N_KINDS) for rack in dealt.racks]
        self.wall: list[int] = list(reversed(dealt.wall))
        self.minds: list[Private] = [blank(card.n_targets) for _ in range(4)]
        self.events: list[AnyEvent] = []
        self.rows: list[dict[str, Any]] = []
        self.changes: list[Change] = []
        self.draws: list[tuple[int, int, int]] = []
        self.passes: list[Exchange] = []
        self.stops: list[int] = []
        self.given: list[list[int]] = [[], [], [], []]
        self.received: list[list[int]] = [[], [], [], []]
        self.offences: dict[int, bool] = {}

    @property
    def seats(self) -> list[int]:
        """Seats at which somebody sits."""
        return [seat for seat in range(4) if self.players[seat] is not None]

    def player(self, seat: int) -> Player:
        """Player of a seat."""
        player = self.players[seat]
        if player is None:
            raise HandreadError(f"nobody sits at seat {seat!r}; playing: {self.seats}")
        return player

    def do(self, event: AnyEvent) -> None:
        """Put an event on record and move public state and hidden tiles on."""
        before = self.state
        self.state = apply(before, event, self.card.card)
        move_tiles(self.racks, before, event)
        self.events.append(event)

    def draw(self, seat: int) -> int:
        """Draw the next tile of the wall into a rack; nothing of it is on record."""
        kind = self.wall.pop()
        self.racks[seat][kind] += 1
        self.draws.append((len(self.events), seat, kind))
        return kind

    def distance(self, seat: int, offered: int | None = None) -> int:
        """Tiles that a seat, with a tile offered, is short of the nearest hand."""
        from handread.simulate.kernels import shortfall

        rack = self.racks[seat].astype(np.uint8)
        if offered is not None:
            rack[offered] += 1
        shown = shown_rows(self.state, seat)
        return int(shortfall(self.card.targets, rack, shown).min())

    def view(self, seat: int, decision: str, legal: NDArray[np.bool_], **facts: Any) -> View:
        """What a seat sees at a decision."""
        return View(
            decision,
            seat,
            self.state,
            self.racks[seat].astype(np.uint8),
            legal,
            given=tuple(self.given[seat]),
            received=tuple(self.received[seat]),
            **facts,
        )

    def decide(self, seat: int, decision: str, legal: NDArray[np.bool_], **facts: Any) -> int:
        """Let a player decide: one uniform draw, whatever the decision."""
        view = self.view(seat, decision, legal, **facts)
        log_probs = self.player(seat).log_probs(view, self.minds[seat])
        action = pick(log_probs, float(self.rng.random()))
        if self.watch is not None:
            self.watch(view, self.minds[seat], log_probs, action)
        return action

    def plan(self, seat: int, drawn: int | None = None) -> None:
        """Let a player look at its plan, and note down what it is about."""
        legal = np.ones(n_actions("plan", self.card.n_targets), dtype=np.bool_)
        view = self.view(seat, "plan", legal, drawn=drawn)
        player, before = self.player(seat), self.minds[seat]
        log_probs = player.log_probs(view, before)
        action = pick(log_probs, float(self.rng.random()))
        if self.watch is not None:
            self.watch(view, before, log_probs, action)
        self.minds[seat] = player.transition(view, before, action)
        self._note(seat, view, before)

    def _note(self, seat: int, view: View, before: Private) -> None:
        from handread.simulate.kernels import shortfall

        mind = self.minds[seat]
        short = shortfall(self.card.targets, view.rack, view.shown)
        target = np.flatnonzero(mind.weights)
        self.rows.append({
            "at": len(self.events), "seat": seat, "state": STATES.index(mind.mode),
            "plan": mind.plan, "target": target, "weight": mind.weights[target],
            "distance": int(short[mind.plan] if mind.plan >= 0 else short.min()),
        })  # fmt: skip
        if mind.plan != before.plan or (mind.mode == "folded") != (before.mode == "folded"):
            why = self._why(view, before, short)
            self.changes.append(Change(len(self.events), seat, before.plan, mind.plan, why))

    def _why(self, view: View, before: Private, short: NDArray[np.int64]) -> str:
        """What was so when a plan changed; see ``Change``."""
        from handread.simulate.kernels import FAR, measure
        from handread.simulate.view import live_copies

        mind = self.minds[view.seat]
        if mind.mode == "folded":
            return "folded"
        if before.mode == "folded":
            return "resumed"
        if before.plan < 0:
            return "committed"
        if short[before.plan] == FAR:
            return "exposed"
        live = live_copies(self.card.targets.copies, view, mind.remembered)
        blocked = measure(self.card.targets, view.rack, view.shown, live)[-1]
        if blocked[before.plan]:
            return "blocked"
        if mind.plan < 0:
            return "opened"
        return "nearer" if short[mind.plan] < short[before.plan] else "drifted"

    def bury(self, seat: int) -> None:
        """Note down that a seat is dead."""
        mind = self.minds[seat]
        target = np.flatnonzero(mind.weights)
        self.rows.append({
            "at": len(self.events), "seat": seat, "state": STATES.index("dead"),
            "plan": mind.plan, "target": target, "weight": mind.weights[target],
            "distance": self.distance(seat),
        })  # fmt: skip
