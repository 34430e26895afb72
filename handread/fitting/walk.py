"""One game walked with its truth: what each seat did, and what the reading would have said of it.

A reader follows the public events, so that every context is the one a reading has; the truth says
which rows each seat had in mind.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import SHAPES, holdings
from handread.clues.codes import N_UNMODELLED
from handread.clues.contract import Clue
from handread.clues.hazard import destinations
from handread.fitting.affine import Basis
from handread.fitting.arriving import Arrivals
from handread.fitting.asking import (
    allowed_shapes,
    leaving_odds,
    note_odds,
    open_shapes,
    pass_outcomes,
    redeem_offers,
    unit_model,
)
from handread.fitting.columns import AIMS, MOST_OFFERS, PASS_NAMES, REFUSED, ColumnRows
from handread.fitting.minds import Mind, MindSource, SimulatedMinds, passage
from handread.fitting.tables import GameTables, ThrowRows
from handread.reading import Belief, Evidence, Model, Reader
from handread.reading import likelihood as term
from handread.reading.observe import offered_kinds
from handread.simulate import SimulatedGame
from handread.table.events import AnyEvent, Discard, Expose, Passed, Record, Stopped, Win

Array = NDArray[np.float64]

#: Of the refusals of a group that a seat's plan has no use for, one in so many is kept, and counts
#: for all: they say nothing but how seldom plans are changed with a claim.
THIN: Final = 8


@dataclass(frozen=True)
class Design:
    """What walks of many games share.

    Attributes
    ----------
    model
        The model of the reading whose contexts are used.
    unit
        The same with every rate at 1.
    basis
        Products of weights in the scores of throws.
    arrivals
        Where seats go that change their plan, part by part.
    """

    model: Model
    unit: Model
    basis: Basis
    arrivals: Arrivals

    __hash__ = None  # type: ignore[assignment]  # holds arrays


def make_design(model: Model) -> Design:
    """Put together what walks of many games share."""
    from handread.fitting.affine import find_basis

    return Design(model, unit_model(model), find_basis(model.clues), Arrivals(model))


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
    design: Design, record: Record, minds: MindSource, people: tuple[str, ...]
) -> GameTables:
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

    Returns
    -------
    GameTables
        Of this game alone; people are numbered by seat.
    """
    events = tuple(record.public("floor"))
    walk = _Walk(design, events, minds, people)
    reader = Reader(design.model.card, model=design.model, header=record.header)
    for place, event in enumerate(events):
        beliefs = reader.beliefs
        evidence = reader.observe(event)
        walk.event(place, beliefs, evidence, reader.beliefs)
    return walk.tables()


class _Walk:
    """A game while it is walked."""

    def __init__(
        self, design: Design, events: tuple[AnyEvent, ...], source: MindSource,
        people: tuple[str, ...],
    ) -> None:  # fmt: skip
        self.design, self.source, self.people = design, source, people
        self.card = design.model.card
        self.throws = ThrowRows()
        self.minds: list[Mind | None] = [None] * 4
        self.started = False
        self.n_open = self.n_idle = 0
        self.own_throws = [
            [i for i, e in enumerate(events) if isinstance(e, Discard) and e.seat == seat]
            for seat in range(4)
        ]
        self.note_clues: tuple[Clue, ...] = tuple(
            clue for clue in design.basis.clues if clue.name == "drawn_or_held"
        )
        self.rows = ColumnRows({
            "drawn": sum(len(clue.defaults) for clue in self.note_clues),
            "hazard": len(design.model.weights["hazard"]),
        })  # fmt: skip

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
        for told in evidence.seats:
            for observed in told.observed:
                self._observed(observed.what, told.seat, place, evidence, before[told.seat], after)
        for seat in range(4):
            if after[seat].exposures != before[seat].exposures:
                self._exposed(seat, place, after[seat])

    def _mind(self, seat: int, n_events: int, belief: Belief) -> Mind | None:
        return self.source.at(seat, n_events, belief.fits)

    def _next_mind(self, seat: int, place: int, belief: Belief) -> Mind | None:
        """Mind with which a seat makes its next throw."""
        later = [throw for throw in self.own_throws[seat] if throw > place]
        return self._mind(seat, later[0] + 1, belief) if later else None

    def _passes(self, evidence: Evidence) -> None:
        """How formed the racks were, by what each seat has in mind once the passes are over."""
        event = evidence.event
        for seat in range(4):
            mind = self._settled(seat)
            if mind is None:
                continue
            outcomes = pass_outcomes(event, seat)
            for what, outcome in outcomes:
                for row, weight in zip(mind.rows, mind.weights, strict=True):
                    self.rows.add(
                        "passes", weight=weight, what=PASS_NAMES.index(what), outcome=outcome,
                        undecided=row == self.design.model.n_rows - N_UNMODELLED,
                    )  # fmt: skip

    def _settled(self, seat: int) -> Mind | None:
        """Mind once the passes are over."""
        first = min((throws[0] for throws in self.own_throws if throws), default=None)
        return None if first is None else self.source.settled(seat, first)

    def _start(self) -> None:
        self.started = True
        for seat in range(4):
            self.minds[seat] = mind = self._settled(seat)
            if mind is None:
                continue
            for row, weight in zip(mind.rows, mind.weights, strict=True):
                self.rows.add("start", weight=weight, loose=self._loose(int(row)))

    def _loose(self, row: int) -> int:
        """0 for a target, 1 to 3 for the unmodelled rows in order."""
        return max(row - self.card.n_targets + 1, 0)

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

    def _seen(self, model: Model, evidence: Evidence, belief: Belief, *, acting: bool) -> term.Seen:
        return term.see(model, belief, evidence.state, evidence.around, acting=acting)

    def _throw(
        self, seat: int, place: int, mind: Mind, evidence: Evidence, belief: Belief
    ) -> None:  # fmt: skip
        event = evidence.event
        assert isinstance(event, Discard)  # noqa: S101 - narrows a type, not input
        now = self._mind(seat, place + 1, belief)
        if now is None:
            self.minds[seat] = None
            return
        seen = self._seen(self.design.unit, evidence, belief, acting=True)
        went = passage(mind, now)
        self._turn_rows("throw", seat, mind, evidence, seen)
        self._hazard(seat, mind, went.kept, went.kept_weights, seen, belief)
        kept = zip(went.kept, went.kept_weights, strict=True)
        rows = [(int(row), float(weight), False) for row, weight in kept]
        rows += [
            (int(old), float(w), True)
            for (old, _), w in zip(went.left, went.left_weights, strict=True)
        ]
        self._choices(seat, event, rows, seen)
        for (old, new), weight in zip(went.left, went.left_weights, strict=True):
            self._move(int(old), int(new), float(weight), seen, belief)
        self.minds[seat] = now

    def _choices(
        self, seat: int, event: Discard, rows: list[tuple[int, float, bool]], seen: term.Seen
    ) -> None:
        context = seen.context
        kinds = np.flatnonzero(context.within_reach > 0)
        if event.kind not in kinds:
            return
        tables = {}
        for row, weight, changing in rows:
            side = "change" if changing else "keep"
            if side not in tables:
                tables[side] = self.design.basis.tables(context, side)
            constant, parts = tables[side]
            codes = seen.codes[row, kinds]
            keys = {
                "chosen": int(np.searchsorted(kinds, event.kind)), "weight": weight, "game": 0,
                "seat": seat, "person": seat, "turn": context.turn, "phase": context.phase,
                "row": row, "changing": changing,
            }  # fmt: skip
            self.throws.add(
                keys, kinds, np.log(context.within_reach[kinds]), constant[codes, kinds],
                parts[:, codes, kinds],
            )  # fmt: skip
            if event.drawn is None:
                continue
            code = int(seen.codes[row, event.kind])
            for clue in self.note_clues:
                found = note_odds(clue, context, code, changing=changing)
                if found is not None:
                    self.rows.add(
                        "drawn", weight=weight, happened=event.drawn, constant=found[0],
                        slopes=found[1], person=seat,
                    )  # fmt: skip

    def _hazard(
        self, seat: int, mind: Mind, kept: NDArray[np.int64], kept_weights: Array,
        seen: term.Seen, belief: Belief,
    ) -> None:  # fmt: skip
        weights = self.design.model.weights["destination"]
        to_target = float(destinations(seen.context, weights)[0, 0])
        names = tuple(self.design.model.weights["hazard"])
        targets = mind.rows[mind.rows < self.card.n_targets]
        found = leaving_odds(seen.context, seen.blocked[targets].astype(np.int64), names)
        for row, weight in zip(mind.rows, mind.weights, strict=True):
            loose = self._loose(int(row))
            at = int(np.searchsorted(targets, row))
            stays = float(kept_weights[kept == row].sum())
            self.rows.add(
                "hazard", stay=stays, leave=max(float(weight) - stays, 0.0), person=seat,
                rate=-1 if loose == 0 else int(found.rate[loose - 1]),
                returns=0.0 if loose else to_target * self._returning(belief, int(row)),
                constant=0.0 if loose else float(found.constant[at]),
                slopes=np.zeros(len(names)) if loose else found.slopes[at],
            )  # fmt: skip

    def _returning(self, belief: Belief, target: int) -> float:
        return self.design.arrivals.returning(belief.fits, target)

    def _move(
        self, old: int, new: int, weight: float, seen: term.Seen, belief: Belief
    ) -> None:  # fmt: skip
        origin, to = self._loose(old), self._loose(new)
        parts = np.zeros(4)
        if origin == 0 and to == 0:
            parts = self.design.arrivals.parts(belief.fits, old, new)
        self.rows.add(
            "moves", weight=weight, origin=origin, to=to, threat=seen.context.threat,
            wall=seen.context.wall, parts=parts,
        )  # fmt: skip

    def _window(
        self, what: str, seat: int, place: int, mind: Mind, evidence: Evidence, belief: Belief,
        after: Belief,
    ) -> None:  # fmt: skip
        state, event = evidence.state, evidence.event
        if state.window is None:
            return
        kind = state.floor[state.window].kind
        seen = self._seen(self.design.unit, evidence, belief, acting=False)
        would = term.claims(seen, kind)
        outcome, anew = REFUSED, False
        self.n_open += bool(would.possible.any()) and what in ("refuse", "expose")
        if what == "expose":
            assert isinstance(event, Expose)  # noqa: S101 - narrows a type, not input
            if (event.size, event.jokers) not in SHAPES:
                return
            outcome = SHAPES.index((event.size, event.jokers))
            mind, anew = self._aimed(seat, place, mind, would, outcome, after)
        held = holdings(seen.context, kind)
        for row, weight in zip(mind.rows, mind.weights, strict=True):
            allowed, completes = allowed_shapes(would, int(row)), float(would.win[row])
            if completes > 0 or what == "win":
                self.rows.add(
                    "wins", weight=weight, happened=what == "win", completes=completes,
                    drawn=False, turn=seen.context.turn, exposed=seen.context.n_exposed,
                    person=seat,
                )  # fmt: skip
            if what in ("refuse", "expose") and (row < self.card.n_targets or allowed.any()):
                counts = self._counts(idle=outcome == REFUSED and not allowed.any())
                if counts:
                    self.rows.add(
                        "claims", weight=counts * weight, outcome=outcome,
                        anew=anew and row < self.card.n_targets, loose=self._loose(int(row)),
                        turn=seen.context.turn, kept=held.kept, any_plan=held.any_plan,
                        jokers=held.jokers, open=open_shapes(would, int(row)),
                        possible=would.possible, person=seat,
                    )  # fmt: skip

    def _counts(self, *, idle: bool) -> int:
        """How often a window counts: refusals of what the plan had no use for are thinned out."""
        if not idle:
            return 1
        self.n_idle += 1
        return THIN if self.n_idle % THIN == 0 else 0

    def _aimed(
        self, seat: int, place: int, mind: Mind, would: term.Claims, shape: int, after: Belief
    ) -> tuple[Mind, bool]:
        """Mind with which a group was shown, and whether it was for another plan, the next one."""

        def allowing(held: Mind) -> Mind | None:
            there = np.array([allowed_shapes(would, int(row))[shape] > 0 for row in held.rows])
            if not there.any():
                return None
            return Mind(held.rows[there], held.weights[there] / held.weights[there].sum())

        found, how = allowing(mind), 0
        if found is None:
            later = self._next_mind(seat, place, after)
            there = later is not None and allowing(later) is not None
            found, how = mind, 1 if there else 2
        self.rows.add("aims", weight=1.0, how=how)
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
            self.minds[seat] = self._next_mind(seat, place, belief)

    def _turn(self, what: str, seat: int, mind: Mind, evidence: Evidence, belief: Belief) -> None:
        seen = self._seen(self.design.unit, evidence, belief, acting=True)
        self._turn_rows(what, seat, mind, evidence, seen)

    def _turn_rows(
        self, what: str, seat: int, mind: Mind, evidence: Evidence, seen: term.Seen
    ) -> None:  # fmt: skip
        """Redeems and wins on the draw that a turn saw, or could have seen."""
        state, event = evidence.state, evidence.event
        kinds = offered_kinds(state)[:MOST_OFFERS]
        names = tuple(self.design.model.weights["redeems"])
        for row, weight in zip(mind.rows, mind.weights, strict=True):
            target = row < self.card.n_targets
            completes = float(seen.finish[row]) if target else 0.0
            if what != "redeem" and (completes > 0 or what == "win"):
                self.rows.add(
                    "wins", weight=weight, happened=what == "win", completes=completes,
                    drawn=True, turn=seen.context.turn, exposed=seen.context.n_exposed,
                    person=seat,
                )  # fmt: skip
            if not kinds:
                continue
            held, rate = np.zeros(MOST_OFFERS), np.zeros(MOST_OFFERS, dtype=np.int64)
            codes = seen.codes[row, list(kinds)]
            held[: len(kinds)], rate[: len(kinds)] = redeem_offers(
                seen.context, kinds, codes, names
            )  # fmt: skip
            given = getattr(event, "kind", None) if what == "redeem" else None
            outcome = kinds.index(given) if given in kinds else REFUSED
            self.rows.add(
                "redeems", weight=weight, outcome=outcome, held=held, rate=rate, person=seat
            )  # fmt: skip

    def tables(self) -> GameTables:
        """Everything gathered."""
        self.rows.add("aims", weight=self.n_open, how=AIMS.index("open to it"))
        return GameTables(self.throws.table(), self.rows.columns(), self.people)


def _claimed(event: object) -> bool:
    return isinstance(event, Win) and event.claimed
