"""What each observation says about one seat, as a ``Step``: one function per observation."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import SHAPES
from handread.clues.codes import N_UNMODELLED
from handread.clues.hazard import by_blocked
from handread.clues.kernels import fill_redeems, gather_throws
from handread.clues.redeems import redeem_rates
from handread.clues.wins import prob_win_drawn, prob_win_late
from handread.reading.belief import show
from handread.reading.claiming import Claims, claims
from handread.reading.family_kernels import drift_families
from handread.reading.looking import Seen, see
from handread.reading.recent import Recent
from handread.reading.step import Step, told
from handread.reading.throwing import throw_marks, throw_scores, throw_tables
from handread.reading.turn import ThrowStep, places, rates_of_leaving
from handread.table.events import Discard
from handread.table.state import Exposure
from handread.tiles import JOKER
from handread.values import frozen

__all__ = [
    "Claims", "Seen", "claims", "drift_step", "drifted_families", "expose_step", "exposures_step",
    "late_win_step", "leaving", "missed_step", "no_late_win_step", "no_win_step", "quiet_turn",
    "received_step", "redeem_rows", "redeem_step", "refuse_step", "see", "throw_marks",
    "throw_scores", "throw_step", "throw_tables", "voice_step", "win_drawn_step", "win_step",
]  # fmt: skip

Array = NDArray[np.float64]

#: What passes with a turn: the throw asks for it, and what is told of the throw afterwards.
_RECENT: Final[Recent[Array]] = Recent(4)


def leaving(seen: Seen) -> Array:
    """Probability that each row leaves its plan on this turn, shape (n_rows,)."""
    return _RECENT.get((seen,), "leaving", lambda: _leaving(seen))


def _leaving(seen: Seen) -> Array:
    return frozen(by_blocked(rates_of_leaving(seen), seen.blocked))


def quiet_turn(seen: Seen, offers: tuple[int, ...]) -> Array:
    """Probability that each row neither redeems one of `offers` nor wins on its draw."""
    return _RECENT.get((seen,), offers, lambda: _quiet_turn(seen, offers))


def _quiet_turn(seen: Seen, offers: tuple[int, ...]) -> Array:
    weights = seen.model.weights["wins"]
    quiet = 1.0 - prob_win_drawn(seen.finish, seen.context, weights)
    return frozen(redeem_rows(seen, offers)[1] * quiet if offers else quiet)


def throw_step(seen: Seen, event: Discard, offers: tuple[int, ...]) -> Step:
    """Throw, with its optional notes, on a turn where `offers` could have been redeemed."""
    return ThrowStep(seen, event, offers)


def drift_step(seen: Seen) -> Step:
    """A turn without its throw: what passes with any turn, plans settled and plans changed."""
    hazard = leaving(seen)
    return Step(1.0 - hazard, hazard, seen.belief.kernel.with_destinations(places(seen)))


def drifted_families(seen: Seen, offers: tuple[int, ...]) -> Array:
    """Belief by family once a turn is quiet and its drift is in, shape (n_families + 3,)."""
    model, kernel = seen.model, seen.belief.kernel
    out = np.empty(len(model.row_names))
    drift_families(
        seen.belief.probs, quiet_turn(seen, offers), leaving(seen), kernel.to_family,
        kernel.prior_by_family, kernel.any_mass, places(seen), model.family_rows, out,
    )  # fmt: skip
    return out


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
    rates = np.array([redeem_rates(seen.context, kind, weights) for kind in offers])
    each, none = np.empty((seen.model.n_rows, len(offers))), np.empty(seen.model.n_rows)
    fill_redeems(rates, seen.codes, np.array(offers), each, none)
    return each, none


def redeem_step(seen: Seen, kind: int, offers: tuple[int, ...], copies: int = 1) -> Step:
    """Redeem of `kind`, one of `offers`; `copies` exposed groups offer the same kind."""
    each, _ = redeem_rows(seen, offers)
    return Step(each[:, offers.index(kind)] / copies)


def win_drawn_step(seen: Seen, offers: tuple[int, ...]) -> Step:
    """Win on the seat's own draw."""
    none = redeem_rows(seen, offers)[1]
    weights = seen.model.weights["wins"]
    return Step(none * prob_win_drawn(seen.finish, seen.context, weights))


def expose_step(would: Claims, size: int, jokers: int) -> Step:
    """Group shown with the tile: the exact term is the zeros of targets without such a group.

    A seat that takes it for another plan goes where the new group lets it go. A group that the
    rules do not allow is a misplay of every row.
    """
    no_win = 1.0 - would.win
    shape = SHAPES.index((size, jokers)) if (size, jokers) in SHAPES else None
    if shape is None or not would.possible[shape]:
        return Step(np.zeros_like(no_win), leak=no_win * would.model.weights["claims"]["misplay"])
    shown = (*would.belief.exposures, Exposure(would.kind, size, jokers))
    kernel = show(would.model, would.belief, shown).kernel
    keep, leak = no_win * would.shown(shape), no_win * would.misplay[shape]
    return Step(keep, no_win * would.changes(shape), kernel, leak)


def exposures_step(seen: Seen, fits: NDArray[np.bool_]) -> Step:
    """Groups that came without a throw to take: targets that they forbid are a misplay."""
    allowed = np.concatenate([fits, np.ones(N_UNMODELLED)])
    return Step(allowed, leak=(1.0 - allowed) * seen.model.weights["claims"]["misplay"])


def refuse_step(would: Claims) -> Step:
    """The seat could have taken the tile, to show a group or to win, and did not."""
    return told(would.refuses)


def voice_step(would: Claims) -> Step:
    """The seat spoke up for the tile, and took nothing."""
    weights, takes = would.model.weights["claims"], would.takes()
    return Step(weights["voiced"] * takes + weights["voiced_idle"] * (1.0 - takes))


def received_step(seen: Seen, kinds: tuple[int, ...]) -> Step:
    """The viewer received `kinds` from the seat in the passes: early throws at less weight."""
    base, keep, _ = throw_scores(seen)
    base[JOKER] = -np.inf
    scale = seen.model.weights["passes"]["received"]
    table = np.exp(base + scale * keep.sum(axis=0))
    given = [gather_throws(table, seen.codes, kind) for kind in kinds]
    return Step(np.prod(given, axis=0))


def no_win_step(would: Claims) -> Step:
    """Somebody with priority took the tile: all that is known is that this seat did not win."""
    return told(frozen(1.0 - would.win))


def no_late_win_step(would: Claims) -> Step:
    """The seat did not win over the group just laid with the tile, until its owner went on."""
    return told(frozen(1.0 - prob_win_late(would.win, would.model.weights["wins"])))


def late_win_step(would: Claims) -> Step:
    """Win on the tile out of the group that another seat has just laid."""
    return Step(prob_win_late(would.win, would.model.weights["wins"]))


def win_step(would: Claims) -> Step:
    """Win on the tile thrown."""
    return told(would.win)
