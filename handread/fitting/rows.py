"""Rows of the tables that a fit rests on, added as a game is walked."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import holdings
from handread.clues.codes import N_UNMODELLED
from handread.clues.contract import Clue
from handread.clues.hazard import destinations
from handread.fitting.asking import (
    allowed_shapes,
    leaving_odds,
    note_odds,
    open_shapes,
    redeem_offers,
)
from handread.fitting.columns import AIMS, MOST_OFFERS, PASS_NAMES, REFUSED, ColumnRows
from handread.fitting.design import Design
from handread.fitting.minds import Mind
from handread.fitting.tables import GameTables, ThrowRows
from handread.reading import Belief, Evidence
from handread.reading import likelihood as term
from handread.reading.observe import offered_kinds
from handread.table.events import Discard

Array = NDArray[np.float64]

#: Of the refusals of a group that a seat's plan has no use for, one in so many is kept, and counts
#: for all: they say nothing but how seldom plans are changed with a claim.
THIN: Final = 8


class GameRows:
    """Tables of one game while it is walked.

    Parameters
    ----------
    design
        What walks share.
    people
        Keys of the people, East first.
    """

    def __init__(self, design: Design, people: tuple[str, ...]) -> None:
        self.design, self.people = design, people
        self.card = design.model.card
        self.throws = ThrowRows()
        self.n_open = self.n_idle = 0
        self.note_clues: tuple[Clue, ...] = tuple(
            clue for clue in design.basis.clues if clue.name == "drawn_or_held"
        )
        self.rows = ColumnRows({
            "drawn": sum(len(clue.defaults) for clue in self.note_clues),
            "hazard": len(design.model.weights["hazard"]),
        })  # fmt: skip

    def start(self, mind: Mind) -> None:
        """Add what a seat had in mind once the passes were over."""
        for row, weight in zip(mind.rows, mind.weights, strict=True):
            self.rows.add("start", weight=weight, loose=self._loose(int(row)))

    def passed(self, mind: Mind, what: str, outcome: int) -> None:
        """Add what a seat did in the passes, by whether it had a plan then."""
        for row, weight in zip(mind.rows, mind.weights, strict=True):
            self.rows.add(
                "passes", weight=weight, what=PASS_NAMES.index(what), outcome=outcome,
                undecided=self._loose(int(row)) == 1,
            )  # fmt: skip

    def aim(self, how: int) -> None:
        """Add for which plan a group was shown, as ``AIMS`` has it."""
        self.rows.add("aims", weight=1.0, how=how)

    def _loose(self, row: int) -> int:
        """0 for a target, 1 to 3 for the unmodelled rows in order."""
        return max(row - self.card.n_targets + 1, 0)

    def choose(
        self, seat: int, event: Discard, rows: list[tuple[int, float, bool]], seen: term.Seen
    ) -> None:
        """Add the choice of a throw, for each row that the seat had in mind."""
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

    def leave(
        self, seat: int, mind: Mind, kept: NDArray[np.int64], kept_weights: Array,
        seen: term.Seen, belief: Belief,
    ) -> None:  # fmt: skip
        """Add which plans were kept on a turn, and which were left."""
        weights = self.design.model.weights["destination"]
        to_target = destinations(seen.context, weights)[:, 0]
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
                returns=float(to_target[loose]) * self._returning(belief, int(row)),
                constant=0.0 if loose else float(found.constant[at]),
                slopes=np.zeros(len(names)) if loose else found.slopes[at],
            )  # fmt: skip

    def _returning(self, belief: Belief, row: int) -> float:
        """Probability that a seat which leaves its row for a target arrives at the same row.

        Where no target is allowed, all that would go to one goes to *other*.
        """
        if row < self.card.n_targets:
            return self.design.arrivals.returning(belief.fits, row)
        return float(self._loose(row) == N_UNMODELLED and not belief.fits.any())

    def move(
        self, old: int, new: int, weight: float, seen: term.Seen, belief: Belief
    ) -> None:  # fmt: skip
        """Add where a seat went that left its plan; not where no target was open to it."""
        if not belief.fits.any():
            return
        origin, to = self._loose(old), self._loose(new)
        parts = np.zeros(4)
        if origin == 0 and to == 0:
            parts = self.design.arrivals.parts(belief.fits, old, new)
        self.rows.add(
            "moves", weight=weight, origin=origin, to=to, threat=seen.context.threat,
            wall=seen.context.wall, parts=parts,
        )  # fmt: skip

    def window(
        self, what: str, seat: int, mind: Mind, seen: term.Seen, would: term.Claims,
        outcome: int, kind: int, *, anew: bool,
    ) -> None:  # fmt: skip
        """Add what a seat did about a tile that lay open.

        Parameters
        ----------
        what
            Of the observation: ``"refuse"``, ``"no win"``, ``"expose"`` or ``"win"``.
        seat, mind, seen
            The seat, what it had in mind, and what it could see.
        would
            What the tiles allow.
        outcome
            Place in ``SHAPES`` of the group shown, or ``REFUSED``.
        kind
            The tile.
        anew
            Whether the group was shown for another plan.
        """
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

    def turn(
        self, what: str, seat: int, mind: Mind, evidence: Evidence, seen: term.Seen
    ) -> None:  # fmt: skip
        """Add redeems and wins on the draw that a turn saw, or could have seen."""
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
