"""One game walked with its truth: what each seat did, and what the reading would have said of it.

Beliefs are updated by the public events, so that every context is the one a reading has; the truth
says which rows each seat had in mind. Unlike a ``Reader``, a walk keeps nothing of earlier events.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import SHAPES
from handread.clues.codes import N_UNMODELLED
from handread.fitting.asking import Offer, pass_outcomes
from handread.fitting.columns import REFUSED
from handread.fitting.design import Design
from handread.fitting.minds import Mind, MindSource, SimulatedMinds, passage
from handread.fitting.rows import GameRows
from handread.fitting.tables import GameTables
from handread.fitting.uses import Uses
from handread.reading import Belief, Evidence
from handread.reading import likelihood as term
from handread.reading.belief import start_beliefs
from handread.reading.updates import update
from handread.reading.window import answers
from handread.simulate import SimulatedGame
from handread.table import apply, start
from handread.table.events import AnyEvent, Discard, Expose, Passed, Record, Stopped, Win
from handread.table.play import advance

Array = NDArray[np.float64]


def walk_game(design: Design, game: SimulatedGame) -> GameTables:
    """Walk a simulated game.

    Parameters
    ----------
    design
        What walks share.
    game
        The game, with its truth.

    Returns
    -------
    GameTables
        Of this game alone; people are numbered by seat.
    """
    people = tuple(person.key if person is not None else "" for person in game.truth.people)
    return walk_record(design, game.record, SimulatedMinds(design.model.card, game), people)


def walk_record(
    design: Design, record: Record, minds: MindSource, people: tuple[str, ...], *,
    played: bool = False,
) -> GameTables:  # fmt: skip
    """Walk a record of which somebody knows what the seats had in mind.

    Parameters
    ----------
    design
        What walks share.
    record
        The record; only what the floor could see is used.
    minds
        Who knows.
    people
        Keys of the people, East first.
    played
        Whether the game has just played itself: its events are then not checked again.

    Returns
    -------
    GameTables
        Of this game alone; people are numbered by seat.
    """
    events = tuple(record.public("floor"))
    walk = _Walk(design, events, minds, people)
    model, state = design.model, start(record.header, design.model.card.rules)
    beliefs = start_beliefs(model)
    for place, event in enumerate(events):
        after = advance(state, event) if played else apply(state, event, model.card)
        later, evidence = update(model, beliefs, event, state, after)
        walk.event(place, beliefs, evidence, later)
        state, beliefs = after, later
    return walk.rows.tables()


class _Walk:
    """A game while it is walked."""

    def __init__(
        self, design: Design, events: tuple[AnyEvent, ...], source: MindSource,
        people: tuple[str, ...],
    ) -> None:  # fmt: skip
        self.design, self.source = design, source
        self.rows = GameRows(design, people)
        self.minds: list[Mind | None] = [None] * 4
        self.started = False
        self.asked: dict[int, term.Claims] = {}
        self.own_throws = [
            [i for i, e in enumerate(events) if isinstance(e, Discard) and e.seat == seat]
            for seat in range(4)
        ]

    def event(
        self, place: int, before: tuple[Belief, ...], evidence: Evidence, after: tuple[Belief, ...]
    ) -> None:  # fmt: skip
        """Take in one event, with the beliefs around it."""
        event = evidence.event
        if isinstance(event, Passed | Stopped):
            self._passes(evidence)
            return
        if not self.started and isinstance(event, Discard | Win):
            self._start()
        self.asked = self._asked(before, evidence)
        for told in evidence.seats:
            for observed in told.observed:
                if observed.what != "elsewhere":
                    what, seat = observed.what, told.seat
                    self._observed(what, seat, place, evidence, before[seat], after)
        for seat in range(4):
            if (
                after[seat].exposures is not before[seat].exposures
                and after[seat].exposures != before[seat].exposures
            ):
                self._exposed(seat, place, after[seat])

    def _mind(self, seat: int, n_events: int, belief: Belief) -> Mind | None:
        return self.source.at(seat, n_events, belief.fits)

    def _shown_mind(self, seat: int, place: int, belief: Belief) -> Mind | None:
        """Mind of a seat after a group for which its mind before had no use."""
        later = [throw for throw in self.own_throws[seat] if throw > place]
        throw = later[0] + 1 if later else None
        return self.source.shown(seat, place + 1, throw, belief.fits)

    def _passes(self, evidence: Evidence) -> None:
        """How formed the racks were, by what each seat has in mind once the passes are over."""
        event = evidence.event
        for seat in range(4):
            mind = self._settled[seat]
            if mind is None:
                continue
            outcomes = pass_outcomes(event, seat)
            for what, outcome in outcomes:
                self.rows.passed(mind, what, outcome)

    @cached_property
    def _settled(self) -> list[Mind | None]:
        """Minds of the seats once the passes are over."""
        first = min((throws[0] for throws in self.own_throws if throws), default=None)
        return [None if first is None else self.source.settled(seat, first) for seat in range(4)]

    def _start(self) -> None:
        self.started = True
        for seat in range(4):
            self.minds[seat] = mind = self._settled[seat]
            if mind is not None:
                self.rows.start(mind)

    def _observed(
        self, what: str, seat: int, place: int, evidence: Evidence, belief: Belief,
        after: tuple[Belief, ...],
    ) -> None:  # fmt: skip
        mind = self.minds[seat]
        if mind is None:
            if what == "throw":  # from here on somebody knows
                self.minds[seat] = self._mind(seat, place + 1, belief)
            return
        if what == "throw":
            self._throw(seat, place, mind, evidence, belief)
        elif what in ("refuse", "no win", "expose") or (what == "win" and _claimed(evidence.event)):
            self._window(what, seat, place, mind, evidence, belief, after[seat])
        elif what in ("redeem", "win"):
            self._turn(what, seat, mind, evidence, belief)

    def _asked(self, before: tuple[Belief, ...], evidence: Evidence) -> dict[int, term.Claims]:
        """What the reading has said of the open throw, which it still remembers, by seat."""
        state = evidence.state
        if state.window is None:
            return {}
        return dict(answers(self.design.model, before, state, evidence.around))

    def _seen(self, evidence: Evidence, belief: Belief, *, acting: bool) -> term.Seen:
        """What the reading looked at, which it still remembers."""
        model, around = self.design.model, evidence.around
        return term.see(model, belief, evidence.state, around, acting=acting)

    def _throw(
        self, seat: int, place: int, mind: Mind, evidence: Evidence, belief: Belief
    ) -> None:  # fmt: skip
        event = evidence.event
        assert isinstance(event, Discard)  # noqa: S101 - narrows a type, not input
        now = self._mind(seat, place + 1, belief)
        if now is None:
            self.minds[seat] = None
            return
        seen = self._seen(evidence, belief, acting=True)
        went, uses = passage(mind, now), Uses(seen)
        self.rows.turn("throw", seat, mind, evidence, seen, uses)
        self.rows.leave(seat, mind, went, seen, uses, belief)
        rows = [(row, weight, False) for row, weight in went.stays]
        rows += [(old, weight, True) for old, _, weight in went.moves]
        self.rows.choose(seat, event, rows, seen, uses)
        for old, new, weight in went.moves:
            self.rows.move(old, new, weight, seen, belief)
        self.minds[seat] = now

    def _window(
        self, what: str, seat: int, place: int, mind: Mind, evidence: Evidence, belief: Belief,
        after: Belief,
    ) -> None:  # fmt: skip
        event = evidence.event
        if seat not in self.asked:
            return
        offer = Offer(
            self.asked[seat], lambda: self._seen(evidence, belief, acting=False), self.design.unit
        )
        outcome, anew = REFUSED, False
        if what in ("refuse", "expose"):
            self.rows.n_open += bool(np.count_nonzero(offer.possible))
        if what == "expose":
            assert isinstance(event, Expose)  # noqa: S101 - narrows a type, not input
            if (event.size, event.jokers) not in SHAPES:
                return
            outcome = SHAPES.index((event.size, event.jokers))
            mind, anew = self._aimed(seat, place, mind, offer, outcome, after)
        self.rows.window(what, seat, mind, offer, outcome, anew=anew)

    def _aimed(
        self, seat: int, place: int, mind: Mind, offer: Offer, shape: int, after: Belief
    ) -> tuple[Mind, bool]:
        """Mind with which a group was shown, and whether it was for another plan than before."""

        def allowing(held: Mind) -> Mind | None:
            there = np.array([offer.answer(row).allowed[shape] > 0 for row in held.rows.tolist()])
            if not there.any():
                return None
            return Mind(held.rows[there], held.weights[there] / held.weights[there].sum())

        found, how = allowing(mind), 0
        if found is None:
            later = self._shown_mind(seat, place, after)
            aimed = None if later is None else allowing(later)  # *other* would allow it, too
            there = aimed is not None and bool((aimed.rows < len(after.fits)).any())
            found, how = mind, 1 if there else 2
        self.rows.aim(how)
        return found, how == 1

    def _exposed(self, seat: int, place: int, belief: Belief) -> None:
        """What is left of a mind by the groups that the seat has now shown."""
        mind = self.minds[seat]
        if mind is None:
            return
        dense = mind.dense(self.design.model.n_rows)
        dense[:-N_UNMODELLED] *= belief.fits
        rows = np.flatnonzero(dense)
        if len(rows):
            self.minds[seat] = Mind(rows.astype(np.int64), dense[rows] / dense[rows].sum())
        else:
            self.minds[seat] = self._shown_mind(seat, place, belief)

    def _turn(self, what: str, seat: int, mind: Mind, evidence: Evidence, belief: Belief) -> None:
        seen = self._seen(evidence, belief, acting=True)
        self.rows.turn(what, seat, mind, evidence, seen, Uses(seen))


def _claimed(event: object) -> bool:
    return isinstance(event, Win) and event.claimed
