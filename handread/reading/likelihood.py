"""What each observation says about one seat, as a ``Step``: one function per observation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import N_MASKS, SHAPES, claim_table, possible_shapes, shape_index
from handread.clues.codes import N_CODES, N_UNMODELLED, Codes, claim_masks, use_codes
from handread.clues.context import Context
from handread.clues.hazard import destinations, prob_leaving
from handread.clues.kernels import gather_throws
from handread.clues.redeems import redeem_probs, redeem_rates
from handread.clues.wins import prob_win_drawn, prob_win_on
from handread.reading.belief import Belief
from handread.reading.look import finishable, free_copies, look
from handread.reading.model import Model
from handread.reading.step import Step
from handread.table.state import TableState
from handread.tiles import N_KINDS
from handread.values import ArrayValue

Array = NDArray[np.float64]
_WITH_JOKERS = np.array([jokers > 0 for _, jokers in SHAPES])


@dataclass(frozen=True, eq=False)
class Seen(ArrayValue):
    """One seat as it stands before an observation: context, use codes, what is blocked."""

    model: Model
    belief: Belief
    context: Context
    codes: Codes
    blocked: NDArray[np.uint8]
    finish: Array


def see(model: Model, belief: Belief, state: TableState, *, acting: bool = False) -> Seen:
    """Look at one seat: what its tiles are to each target, given what the table has seen."""
    codes, blocked = use_codes(model.card, belief.left, free_copies(state))
    context = look(model, state, belief.seat, acting=acting)
    return Seen(model, belief, context, codes, blocked, finishable(blocked))


def throw_scores(seen: Seen) -> tuple[Array, Array, Array]:
    """Score tables of a throw, nats: availability (36,), and each clue's keep and change tables.

    Returns
    -------
    base
        Availability; -inf where no copy is left, shape (36,).
    keep, change
        One table per clue, shape (n_clues, 14, 36).
    """
    model, context = seen.model, seen.context
    with np.errstate(divide="ignore"):
        base = model.weights["availability"]["power"] * np.log(context.within_reach)
    base = np.where(context.within_reach > 0, base, -np.inf)
    keep = np.zeros((len(model.clues), N_CODES, N_KINDS))
    change = np.zeros_like(keep)
    for i, clue in enumerate(model.clues):
        keep[i] = clue.keep(context, model.weights[clue.name])
        change[i] = clue.change(context, model.weights[clue.name])
    return base, keep, change


def leaving(seen: Seen) -> Array:
    """Probability that each row leaves its plan on this turn, shape (n_rows,)."""
    return prob_leaving(seen.context, seen.blocked, seen.model.weights["hazard"])


def quiet_turn(seen: Seen, offers: tuple[int, ...]) -> Array:
    """Probability that each row neither redeems one of `offers` nor wins on its draw."""
    none = redeem_rows(seen, offers)[1]
    weights = seen.model.weights["wins"]
    drawn = prob_win_drawn(seen.model.card, seen.finish, seen.context, weights)
    return none * (1.0 - drawn)


def throw_step(seen: Seen, kind: int, offers: tuple[int, ...]) -> Step:
    """Throw of `kind` on a turn where `offers` could have been redeemed."""
    base, keep, change = throw_scores(seen)
    stays = gather_throws(np.exp(base + keep.sum(axis=0)), seen.codes, kind)
    goes = gather_throws(np.exp(base + change.sum(axis=0)), seen.codes, kind)
    hazard = leaving(seen)
    quiet = quiet_turn(seen, offers)
    where = destinations(seen.context, seen.model.weights["destination"])
    kernel = seen.belief.kernel.with_destinations(where)
    return Step(quiet * (1.0 - hazard) * stays, quiet * hazard * goes, kernel)


def unseen_turn(seen: Seen) -> Step:
    """A turn that nobody wrote down: the plan may have changed, and that is all."""
    hazard = leaving(seen)
    where = destinations(seen.context, seen.model.weights["destination"])
    return Step(1.0 - hazard, hazard, seen.belief.kernel.with_destinations(where))


def redeem_rows(seen: Seen, offers: tuple[int, ...]) -> tuple[Array, Array]:
    """Probability of each redeem on offer, and of none: shapes (n_rows, n_offers), (n_rows,)."""
    if not offers:
        return np.zeros((len(seen.codes), 0)), np.ones(len(seen.codes))
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
    return Step(none * prob_win_drawn(seen.model.card, seen.finish, seen.context, weights))


def win_on_rows(seen: Seen, kind: int) -> Array:
    """Probability that each row wins on the thrown `kind`."""
    model = seen.model
    return prob_win_on(
        model.card, seen.belief.left, seen.finish, seen.context, kind, model.weights["wins"]
    )


def claim_rows(seen: Seen, kind: int) -> tuple[Array, Array]:
    """Probability that each row shows each group with `kind`, given that it does not win.

    Returns
    -------
    by_plan
        Groups that the row's target has, shape (n_rows, 18).
    misplay
        Groups shown in error, after which the seat is off the card, shape (18,).
    """
    model, card = seen.model, seen.model.card
    weights = model.weights["claims"]
    table = claim_table(seen.context, kind, card.rules.claimable, weights)
    possible = possible_shapes(seen.context, kind, card.rules.claimable)
    misplay = weights["misplay"] * possible / max(int(possible.sum()), 1)
    loose = np.arange(N_MASKS, N_MASKS + N_UNMODELLED)
    rows = []
    for with_jokers in (False, True):
        masks = claim_masks(card, seen.belief.left, kind, with_jokers=with_jokers)
        masks = np.where(seen.belief.fits, masks, 0)
        rows.append(table[np.concatenate([masks, loose])])
    by_plan = np.where(_WITH_JOKERS, rows[1], rows[0])
    return (1.0 - misplay.sum()) * by_plan, misplay


def expose_step(seen: Seen, kind: int, size: int, jokers: int) -> Step:
    """Group shown with `kind`: the exact term is the zeros of targets without such a group."""
    by_plan, misplay = claim_rows(seen, kind)
    no_win = 1.0 - win_on_rows(seen, kind)
    keep = no_win * by_plan[:, shape_index(size, jokers)]
    return Step(keep, leak=no_win * misplay[shape_index(size, jokers)])


def refuse_step(seen: Seen, kind: int) -> Step:
    """The seat could have taken `kind`, to show a group or to win, and did not."""
    by_plan, misplay = claim_rows(seen, kind)
    taken = by_plan.sum(axis=1) + misplay.sum()
    return Step((1.0 - win_on_rows(seen, kind)) * (1.0 - taken))


def no_win_step(seen: Seen, kind: int) -> Step:
    """Somebody with priority took `kind`: all that is known is that this seat did not win."""
    return Step(1.0 - win_on_rows(seen, kind))


def win_step(seen: Seen, kind: int) -> Step:
    """Win on the thrown `kind`."""
    return Step(win_on_rows(seen, kind))
