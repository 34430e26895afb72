"""Rows of the tables that a fit rests on, added as a game is walked."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED
from handread.clues.contract import Clue
from handread.clues.hazard import destinations
from handread.fitting.asking import Offer, redeem_offers
from handread.fitting.columns import AIMS, MOST_OFFERS, PASS_NAMES, REFUSED, ColumnRows
from handread.fitting.design import Design
from handread.fitting.minds import Mind, Passage
from handread.fitting.tables import GameTables
from handread.fitting.throw_rows import ThrowRows
from handread.fitting.uses import Uses
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
        self.n_targets = self.card.n_targets
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
        for row, weight in mind.pairs:
            self.rows.add("start", weight=weight, loose=self._loose(row))

    def passed(self, mind: Mind, what: str, outcome: int) -> None:
        """Add what a seat did in the passes, by whether it had a plan then."""
        for row, weight in mind.pairs:
            self.rows.add(
                "passes", weight=weight, what=PASS_NAMES.index(what), outcome=outcome,
                undecided=self._loose(row) == 1,
            )  # fmt: skip

    def aim(self, how: int) -> None:
        """Add for which plan a group was shown, as ``AIMS`` has it."""
        self.rows.add("aims", weight=1.0, how=how)

    def _loose(self, row: int) -> int:
        """0 for a target, 1 to 3 for the unmodelled rows in order."""
        return max(row - self.n_targets + 1, 0)

    def choose(
        self, seat: int, event: Discard, rows: list[tuple[int, float, bool]], seen: term.Seen,
        uses: Uses,
    ) -> None:  # fmt: skip
        """Add the choice of a throw, for each row that the seat had in mind."""
        context, reach = seen.context, seen.context.within_reach
        if not reach[event.kind] > 0:
            return
        turn, phase = context.turn, context.phase
        for row, weight, changing in rows:
            codes = uses.codes(row)
            scores = self.design.kept.tables(context, "change" if changing else "keep", codes)
            choice = (event.kind, weight, 0, seat, seat, turn, phase, row, changing)
            self.throws.add(choice, reach, codes, scores)
        if event.drawn is not None:
            self._note(seat, event, rows, seen, uses)

    def _note(
        self, seat: int, event: Discard, rows: list[tuple[int, float, bool]], seen: term.Seen,
        uses: Uses,
    ) -> None:  # fmt: skip
        """Add whether the tile thrown was noted as just drawn, for each row."""
        for clue in self.note_clues:
            notes = self.design.kept.notes(clue, seen.context)
            if notes is None:
                continue
            for row, weight, changing in rows:
                place = (int(changing), int(uses.codes(row)[event.kind]))
                self.rows.add(
                    "drawn", weight=weight, happened=event.drawn, constant=notes.constant[place],
                    slopes=notes.slopes[place], person=seat,
                )  # fmt: skip

    def leave(
        self, seat: int, mind: Mind, went: Passage, seen: term.Seen, uses: Uses, belief: Belief
    ) -> None:
        """Add which plans were kept on a turn, and which were left."""
        found = self.design.kept.leaving(seen.context)
        stays = dict(went.stays)
        for row, weight in mind.pairs:
            stay, loose = stays.get(row, 0.0), self._loose(row)
            gone = uses.blocked(row)
            self.rows.add(
                "hazard", stay=stay, leave=max(weight - stay, 0.0), person=seat,
                rate=-1 if loose == 0 else int(found.rate[loose - 1]),
                returns=self._returning(seen, belief, row),
                constant=0.0 if loose else float(found.constant[gone]),
                slopes=np.zeros(found.slopes.shape[1]) if loose else found.slopes[gone],
            )  # fmt: skip

    def _returning(self, seen: term.Seen, belief: Belief, row: int) -> float:
        """Probability that a seat which leaves its row goes to a target, and is back at its row.

        Where no target is allowed, all that would go to one goes to *other*.
        """
        loose = self._loose(row)
        if loose:
            again = float(loose == N_UNMODELLED and not belief.fits.any())
        else:
            again = self.design.arrivals.returning(belief.fits, row)
        if not again:
            return again
        where = destinations(seen.context, self.design.model.weights["destination"])
        return float(where[loose, 0]) * again

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
        self, what: str, seat: int, mind: Mind, offer: Offer, outcome: int, *, anew: bool
    ) -> None:
        """Add what a seat did about a tile that lay open.

        Parameters
        ----------
        what
            Of the observation: ``"refuse"``, ``"no win"``, ``"expose"`` or ``"win"``.
        seat, mind
            The seat, and what it had in mind.
        offer
            What the tiles allow.
        outcome
            Place in ``SHAPES`` of the group shown, or ``REFUSED``.
        anew
            Whether the group was shown for another plan.
        """
        for row, weight in mind.pairs:
            could, loose = offer.answer(row), self._loose(row)
            if could.completes > 0 or what == "win":
                context = offer.seen.context
                self.rows.add(
                    "wins", weight=weight, happened=what == "win", completes=could.completes,
                    drawn=False, turn=context.turn, exposed=context.n_exposed, person=seat,
                )  # fmt: skip
            if what not in ("refuse", "expose") or (loose and not could.able):
                continue
            counts = self._counts(idle=outcome == REFUSED and not could.able)
            if counts:
                kept, any_plan, jokers = offer.held
                self.rows.add(
                    "claims", weight=counts * weight, outcome=outcome, anew=anew and not loose,
                    loose=loose, turn=offer.seen.context.turn, kept=kept, any_plan=any_plan,
                    jokers=jokers, open=could.open, possible=offer.possible, person=seat,
                )  # fmt: skip

    def _counts(self, *, idle: bool) -> int:
        """How often a window counts: refusals of what the plan had no use for are thinned out."""
        if not idle:
            return 1
        self.n_idle += 1
        return THIN if self.n_idle % THIN == 0 else 0

    def turn(
        self, what: str, seat: int, mind: Mind, evidence: Evidence, seen: term.Seen, uses: Uses
    ) -> None:  # fmt: skip
        """Add redeems and wins on the draw that a turn saw, or could have seen."""
        if what != "redeem":
            self._draw(what == "win", seat, mind, seen)
        kinds = offered_kinds(evidence.state)[:MOST_OFFERS]
        if not kinds:
            return
        names, event = tuple(self.design.model.weights["redeems"]), evidence.event
        offered, rates = redeem_offers(seen.context, kinds, names)
        given = getattr(event, "kind", None) if what == "redeem" else None
        outcome = kinds.index(given) if given in kinds else REFUSED
        none = [0] * (MOST_OFFERS - len(kinds))
        for row, weight in mind.pairs:
            cells = [(i, uses.codes(row)[kind]) for i, kind in enumerate(kinds)]
            held, rate = [offered[cell] for cell in cells], [rates[cell] for cell in cells]
            self.rows.add(
                "redeems", weight=weight, outcome=outcome, held=held + none, rate=rate + none,
                person=seat,
            )  # fmt: skip

    def _draw(self, won: bool, seat: int, mind: Mind, seen: term.Seen) -> None:
        """Add a win on the draw, or that there was none."""
        for row, weight in mind.pairs:
            completes = 0.0 if self._loose(row) else float(seen.finish[row])
            if completes > 0 or won:
                self.rows.add(
                    "wins", weight=weight, happened=won, completes=completes, drawn=True,
                    turn=seen.context.turn, exposed=seen.context.n_exposed, person=seat,
                )  # fmt: skip

    def tables(self) -> GameTables:
        """Everything gathered."""
        self.rows.add("aims", weight=self.n_open, how=AIMS.index("open to it"))
        return GameTables(self.throws.table(), self.rows.columns(), self.people)
