"""What each observation says about one seat, as a ``Step``: one function per observation."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import ANEW, N_MASKS, SHAPES, claim_table, possible_shapes
from handread.clues.codes import N_CODES, N_UNMODELLED, Codes, claim_masks, use_codes
from handread.clues.context import Context
from handread.clues.contract import no_score
from handread.clues.hazard import destinations, prob_leaving
from handread.clues.kernels import gather_throws
from handread.clues.redeems import redeem_probs, redeem_rates
from handread.clues.wins import prob_win_drawn, prob_win_late, prob_win_on
from handread.reading.around import Surroundings
from handread.reading.belief import Belief, show
from handread.reading.look import free_copies, look
from handread.reading.model import Model
from handread.reading.step import Step
from handread.table.events import Discard
from handread.table.state import Exposure, TableState
from handread.tiles import JOKER, N_KINDS
from handread.values import ArrayValue, frozen

Array = NDArray[np.float64]
_WITH_JOKERS = frozen(np.array([jokers > 0 for _, jokers in SHAPES]))
_N_OPEN = frozen(
    np.array([max(mask.bit_count(), 1) for mask in range(N_MASKS)] + [1] * N_UNMODELLED)
)


@dataclass(frozen=True, eq=False)
class Seen(ArrayValue):
    """One seat as it stands before an observation.

    Attributes
    ----------
    model
        The model of the reading.
    belief
        About the seat.
    context
        What clues may know of it.
    free
        Copies of each kind that the table has not seen, shape (36,).
    finish
        Probability that each target can still be finished, shape (n_targets,).
    """

    model: Model
    belief: Belief
    context: Context
    free: NDArray[np.int64]
    finish: Array

    @cached_property
    def _uses(self) -> tuple[Codes, NDArray[np.uint8]]:
        return use_codes(self.model.card, self.belief.left, self.free, self.model.nearby)

    @property
    def codes(self) -> Codes:
        """Use code of each kind in each row, shape (n_rows, 36)."""
        return self._uses[0]

    @property
    def blocked(self) -> NDArray[np.uint8]:
        """Kinds of each target that the table can see to be gone, shape (n_targets,)."""
        return self._uses[1]


def see(
    model: Model, belief: Belief, state: TableState, around: Surroundings, *, acting: bool = False
) -> Seen:
    """Look at one seat: what its tiles are to each target, given what the table has seen.

    Parameters
    ----------
    model
        The model of the reading.
    belief
        About the seat.
    state
        The table before the event.
    around
        What the viewer expects the other seats to hold.
    acting
        Whether the seat is on turn: it then holds the tile that it has drawn.
    """
    around = around.of(belief.seat)
    context = look(model, state, around, belief.seat, acting=acting)
    return Seen(model, belief, context, free_copies(state), around.finish[belief.seat])


def throw_scores(seen: Seen) -> tuple[Array, Array, Array]:
    """Score tables of a throw, nats: availability (36,), and each clue's keep and change tables.

    Returns
    -------
    base
        Availability; -inf where no copy is left, shape (36,).
    keep, change
        One table per clue, shape (n_clues, 16, 36).
    """
    model, context = seen.model, seen.context
    there = context.within_reach > 0
    logs = np.log(context.within_reach, out=np.zeros_like(context.within_reach), where=there)
    base = np.where(there, model.weights["availability"]["power"] * logs, -np.inf)
    keep = np.zeros((len(model.clues), N_CODES, N_KINDS))
    change = np.zeros_like(keep)
    for i, clue in enumerate(model.clues):
        for score, out in ((clue.keep, keep[i]), (clue.change, change[i])):
            if score is not no_score:
                np.clip(score(context, model.weights[clue.name]), -clue.cap, clue.cap, out=out)
    return base, keep, change


def throw_marks(seen: Seen, event: Discard) -> tuple[Array, Array]:
    """Log probability of each clue's note beside a throw, by use code of the tile thrown.

    Returns
    -------
    keep, change
        Nats, shape (n_clues, 16); 0 where nothing was noted.
    """
    clues = seen.model.clues
    keep, change = np.zeros((len(clues), N_CODES)), np.zeros((len(clues), N_CODES))
    for i, clue in enumerate(clues):
        marks = clue.mark(seen.context, event, seen.model.weights[clue.name])
        if marks is not None:
            keep[i], change[i] = (mark.clip(-clue.cap, clue.cap) for mark in marks)
    return keep, change


def leaving(seen: Seen) -> Array:
    """Probability that each row leaves its plan on this turn, shape (n_rows,)."""
    return prob_leaving(seen.context, seen.blocked, seen.model.weights["hazard"])


def quiet_turn(seen: Seen, offers: tuple[int, ...]) -> Array:
    """Probability that each row neither redeems one of `offers` nor wins on its draw."""
    none = redeem_rows(seen, offers)[1]
    weights = seen.model.weights["wins"]
    drawn = prob_win_drawn(seen.finish, seen.context, weights)
    return none * (1.0 - drawn)


def throw_step(seen: Seen, event: Discard, offers: tuple[int, ...]) -> Step:
    """Throw, with its optional notes, on a turn where `offers` could have been redeemed."""
    base, keep, change = throw_scores(seen)
    stays = gather_throws(np.exp(base + keep.sum(axis=0)), seen.codes, event.kind)
    goes = gather_throws(np.exp(base + change.sum(axis=0)), seen.codes, event.kind)
    if event.drawn is not None or event.position is not None or event.pause is not None:
        marks, marks_changing = throw_marks(seen, event)
        column = seen.codes[:, event.kind]
        stays = stays * np.exp(marks.sum(axis=0))[column]
        goes = goes * np.exp(marks_changing.sum(axis=0))[column]
    hazard = leaving(seen)
    quiet = quiet_turn(seen, offers)
    where = destinations(seen.context, seen.model.weights["destination"])
    kernel = seen.belief.kernel.with_destinations(where)
    return Step(quiet * (1.0 - hazard) * stays, quiet * hazard * goes, kernel)


def drift_step(seen: Seen) -> Step:
    """A turn without its throw: what passes with any turn, plans settled and plans changed."""
    hazard = leaving(seen)
    where = destinations(seen.context, seen.model.weights["destination"])
    return Step(1.0 - hazard, hazard, seen.belief.kernel.with_destinations(where))


def missed_step(seen: Seen) -> Step:
    """A turn that nobody wrote down: any plan may have been left for any family.

    One rate for all targets, and equal weight for every family that the seat's exposures allow:
    so the distribution over families can only get wider. Nobody enters or leaves the unmodelled
    states: a recorder who looks away has not learnt that a seat made up its mind, or gave up.
    """
    fits, family_of = seen.belief.fits, seen.model.card.family_of
    counts = np.bincount(family_of[fits], minlength=len(seen.model.card.families))
    equal = np.where(fits, 1.0 / np.maximum(counts[family_of], 1), 0.0)
    leak = np.zeros(seen.model.n_rows)
    leak_to = np.zeros(seen.model.n_rows)
    if fits.any():
        leak[:-N_UNMODELLED] = seen.model.weights["hazard"]["missed"]
        leak_to[:-N_UNMODELLED] = equal / equal.sum()
    return Step(1.0 - leak, leak=leak, leak_to=leak_to)


def redeem_rows(seen: Seen, offers: tuple[int, ...]) -> tuple[Array, Array]:
    """Probability of each redeem on offer, and of none: shapes (n_rows, n_offers), (n_rows,)."""
    if not offers:
        return np.zeros((seen.model.n_rows, 0)), np.ones(seen.model.n_rows)
    weights = seen.model.weights["redeems"]
    rates = np.stack([redeem_rates(seen.context, kind, weights) for kind in offers], axis=1)
    rows = np.stack([rates[seen.codes[:, k], i] for i, k in enumerate(offers)], axis=1)
    return redeem_probs(rows)


def redeem_step(seen: Seen, kind: int, offers: tuple[int, ...], copies: int = 1) -> Step:
    """Redeem of `kind`, one of `offers`; `copies` exposed groups offer the same kind."""
    each, _ = redeem_rows(seen, offers)
    return Step(each[:, offers.index(kind)] / copies)


def win_drawn_step(seen: Seen, offers: tuple[int, ...]) -> Step:
    """Win on the seat's own draw."""
    none = redeem_rows(seen, offers)[1]
    weights = seen.model.weights["wins"]
    return Step(none * prob_win_drawn(seen.finish, seen.context, weights))


@dataclass(frozen=True, eq=False)
class Claims(ArrayValue):
    """What each row would do with one thrown tile.

    Attributes
    ----------
    win
        Probability that the row wins on it, shape (n_rows,).
    table
        Groups shown, given no win, by set of open sizes, see ``clues.claims.claim_table``.
    rows
        Row of `table` for each row of the belief: all groups, then those in which jokers may
        stand, shape (2, n_rows).
    share
        One over the number of sizes that the row has open, shape (n_rows,).
    misplay
        Groups shown in error, after which the seat is off the card, shape (18,).
    possible
        Groups that there is room for and the rules allow, shape (18,).
    """

    win: Array
    table: Array
    rows: NDArray[np.intp]
    share: Array
    misplay: Array
    possible: NDArray[np.bool_]

    @cached_property
    def anew(self) -> Array:
        """Groups that a seat on a target shows for another plan, shape (18,)."""
        out: Array = self.table[ANEW] * (1.0 - self.misplay.sum())
        return out

    def changes(self, shape: int) -> Array:
        """Probability that each row shows one group and changes its plan with it, given no win."""
        out = np.zeros(len(self.share))
        out[:-N_UNMODELLED] = self.anew[shape]
        return out

    def shown(self, shape: int) -> Array:
        """Probability that each row shows one group as its plan has it, given no win."""
        rows = self.rows[1] if _WITH_JOKERS[shape] else self.rows[0]
        out: Array = self.table[rows, shape] * self.share * (1.0 - self.misplay.sum())
        return out

    def takes(self) -> Array:
        """Probability that each row shows any group, given no win."""
        plain = self.table[:, ~_WITH_JOKERS].sum(axis=1)[self.rows[0]]
        mixed = self.table[:, _WITH_JOKERS].sum(axis=1)[self.rows[1]]
        wrong = self.misplay.sum()
        out: Array = (plain + mixed) * self.share * (1.0 - wrong) + wrong
        out[:-N_UNMODELLED] += self.anew.sum()
        return out

    def shown_by(self, probs: Array) -> Array:
        """Probability of each group shown, given no win, under a belief; shape (18,).

        `probs` need not sum to 1; misplays are counted in.
        """
        looking = probs * self.share
        n = len(self.table)
        by_set = [np.bincount(rows, weights=looking, minlength=n) for rows in self.rows]
        mass = np.where(_WITH_JOKERS, by_set[1] @ self.table, by_set[0] @ self.table)
        mass += probs[:-N_UNMODELLED].sum() * self.table[ANEW]
        out: Array = mass * (1.0 - self.misplay.sum()) + probs.sum() * self.misplay
        return out


def claims(seen: Seen, kind: int) -> Claims:
    """Look at what a seat would do with a thrown `kind`."""
    model, card = seen.model, seen.model.card
    weights = model.weights["claims"]
    masks, share = claim_masks(card, seen.belief.left, kind)
    rows = np.empty((2, model.n_rows), dtype=np.intp)
    rows[:, :-N_UNMODELLED] = masks * seen.belief.fits
    rows[:, -N_UNMODELLED:] = np.arange(N_MASKS, N_MASKS + N_UNMODELLED)
    possible = possible_shapes(seen.context, kind, card.rules.claimable)
    return Claims(
        win=prob_win_on(share, seen.finish, seen.context, model.weights["wins"]),
        table=claim_table(seen.context, kind, possible, weights),
        rows=rows,
        share=1.0 / _N_OPEN[rows[0]],
        misplay=weights["misplay"] * possible / max(int(possible.sum()), 1),
        possible=possible,
    )


def expose_step(seen: Seen, kind: int, size: int, jokers: int) -> Step:
    """Group shown with `kind`: the exact term is the zeros of targets without such a group.

    A seat that takes it for another plan goes where the new group lets it go. A group that the
    rules do not allow is a misplay of every row.
    """
    would = claims(seen, kind)
    no_win = 1.0 - would.win
    shape = SHAPES.index((size, jokers)) if (size, jokers) in SHAPES else None
    if shape is None or not would.possible[shape]:
        return Step(np.zeros_like(no_win), leak=no_win * seen.model.weights["claims"]["misplay"])
    shown = (*seen.belief.exposures, Exposure(kind, size, jokers))
    kernel = show(seen.model, seen.belief, shown).kernel
    keep, leak = no_win * would.shown(shape), no_win * would.misplay[shape]
    return Step(keep, no_win * would.changes(shape), kernel, leak)


def exposures_step(seen: Seen, fits: NDArray[np.bool_]) -> Step:
    """Groups that came without a throw to take: targets that they forbid are a misplay."""
    allowed = np.concatenate([fits, np.ones(N_UNMODELLED)])
    return Step(allowed, leak=(1.0 - allowed) * seen.model.weights["claims"]["misplay"])


def refuse_step(seen: Seen, kind: int) -> Step:
    """The seat could have taken `kind`, to show a group or to win, and did not."""
    would = claims(seen, kind)
    return Step((1.0 - would.win) * (1.0 - would.takes()))


def voice_step(seen: Seen, kind: int) -> Step:
    """The seat spoke up for `kind`, and took nothing."""
    weights = seen.model.weights["claims"]
    takes = claims(seen, kind).takes()
    return Step(weights["voiced"] * takes + weights["voiced_idle"] * (1.0 - takes))


def received_step(seen: Seen, kinds: tuple[int, ...]) -> Step:
    """The viewer received `kinds` from the seat in the passes: early throws at less weight."""
    base, keep, _ = throw_scores(seen)
    base[JOKER] = -np.inf
    scale = seen.model.weights["passes"]["received"]
    table = np.exp(base + scale * keep.sum(axis=0))
    given = [gather_throws(table, seen.codes, kind) for kind in kinds]
    return Step(np.prod(given, axis=0))


def no_win_step(seen: Seen, kind: int) -> Step:
    """Somebody with priority took `kind`: all that is known is that this seat did not win."""
    return Step(1.0 - claims(seen, kind).win)


def no_late_win_step(seen: Seen, kind: int) -> Step:
    """The seat did not win over the group just laid with `kind`, until its owner went on."""
    return Step(1.0 - prob_win_late(claims(seen, kind).win, seen.model.weights["wins"]))


def late_win_step(seen: Seen, kind: int) -> Step:
    """Win on `kind` out of the group that another seat has just laid."""
    return Step(prob_win_late(claims(seen, kind).win, seen.model.weights["wins"]))


def win_step(seen: Seen, kind: int) -> Step:
    """Win on the thrown `kind`."""
    return Step(claims(seen, kind).win)
