"""The reader's filter with some of its terms replaced by exact ones.

A reader moves its belief about a seat by the chance of that seat's own act given its row. The
exact chance is an average over the racks that the seat can hold on that row; the reader has
approximations of it, part by part. A ``Variant`` says which parts are exact. With none it is the
reader, with all of them it is the exact posterior: the tests hold both ends.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import log

import numpy as np

from handread.clues.claims import shape_index
from handread.clues.context import Context
from handread.clues.hazard import destinations
from handread.reading import Belief, Model, likelihood, start_belief
from handread.reading.belief import show
from handread.reading.holdings import surroundings
from handread.reading.likelihood import Seen
from handread.reading.step import Step
from handread.table import TableState
from handread.table.events import Discard, Expose
from handread.tiles import N_KINDS
from tests.oracle.micro.averaged import averaged_throws
from tests.oracle.micro.exact import Act, Joint, acts
from tests.oracle.micro.game import Array, Game
from tests.oracle.micro.player import Stance

READER, EXACT = "reader", "exact"


@dataclass(frozen=True)
class Variant:
    """Which parts of the filter are the reader's and which are exact.

    Attributes
    ----------
    reach
        Expected copies with the seat in the score of a throw. ``reader``; ``others``: the exact
        ones for a seat whose own acts say nothing, given all that the others did (in claims,
        too); ``seat``: the exact ones given all acts; ``row``: these for each row apart.
    hedge
        Scores of nearby use, averaged exactly over the racks of each row, or the reader's.
    throw
        The whole chance of a throw given the row, or the reader's; ``averaged``: by the rule of
        ``averaged``, which is not exact and needs no list of racks.
    change
        The chance of leaving each row, and where one goes.
    claims
        The chance of each group shown, and of a refusal, given the row.
    cross
        What the acts of the other seats say of this one, or nothing.
    """

    reach: str = READER
    hedge: str = READER
    throw: str = READER
    change: str = READER
    claims: str = READER
    cross: str = READER


@dataclass(frozen=True, eq=False)
class Pieces:
    """What is exact about one act, computed once for all variants."""

    act: Act

    @property
    def stance(self) -> Stance:
        return self.act.stance

    @property
    def game(self) -> Game:
        return self.act.before.game

    @cached_property
    def joint(self) -> Array:
        """P(rack, row) of the acting seat before the act."""
        return self.act.before.marginal(self.act.seat)

    @cached_property
    def rows_before(self) -> dict[int, Array]:
        return {seat: self.act.before.rows(seat) for seat in self.game.seats}

    @cached_property
    def rows_after(self) -> dict[int, Array]:
        return {seat: self.act.after.rows(seat) for seat in self.game.seats}

    def given_row(self, values: Array, fallback: Array, weight: Array | None = None) -> Array:
        """Average of values (n_racks, n_rows, ...) over the racks of each row.

        `fallback` is used for rows that cannot be; `weight` (n_racks, n_rows) multiplies P.
        """
        mass = self.joint if weight is None else self.joint * weight
        total = mass.sum(axis=0)
        spread = mass.reshape(*mass.shape, *[1] * (values.ndim - 2))
        shape = (-1, *[1] * (values.ndim - 2))
        safe = np.where(total > 0, total, 1.0).reshape(shape)
        mean = (spread * values).sum(axis=0) / safe
        return np.where((total > 0).reshape(shape), mean, fallback)

    def on_all_kinds(self, used: Array) -> Array:
        """Spread values of the kinds in the set over all 36, zeros elsewhere."""
        out = np.zeros((*used.shape[:-1], N_KINDS))
        out[..., self.game.used] = used
        return out

    @cached_property
    def reach_others(self) -> Array:
        """Expected copies with the seat if its own acts said nothing, shape (36,)."""
        before, seat = self.act.before, self.act.seat
        counts, mass = before.others(seat)
        nothing = np.zeros((1, counts.shape[1]), dtype=np.int64)
        weight = mass * before.weights(nothing, counts)[0]
        left = self.game.copies - before.seen - (weight / weight.sum()) @ counts
        return self.on_all_kinds(left / left.sum() * before.sizes[seat])

    @cached_property
    def reach_seat(self) -> Array:
        """Expected copies with the seat given all acts, shape (36,)."""
        return self.on_all_kinds(self.joint.sum(axis=1) @ self.act.before.racks(self.act.seat))

    def reach_rows(self, fallback: Array) -> Array:
        """Expected copies with the seat on each row, shape (n_rows, 36)."""
        racks = self.act.before.racks(self.act.seat).astype(float)
        values = np.repeat(racks[:, None, :], self.joint.shape[1], axis=1)
        return self.given_row(self.on_all_kinds(values), fallback)

    @cached_property
    def leaves(self) -> Array:
        """P(leaves | rack, row)."""
        return self.stance.leaves(self.act.before.racks(self.act.seat))

    @cached_property
    def throws(self) -> tuple[Array, Array]:
        """P(throws each kind | rack, row) on turns that keep and that leave."""
        return self.stance.throws(self.act.before.racks(self.act.seat))

    @cached_property
    def hedging(self) -> Array:
        """Factor that exact hedging puts on the odds of each throw, shape (n_rows, 36)."""
        racks = self.act.before.racks(self.act.seat)
        own, fixed = self.stance.codes(racks), self.stance.uses[0][None]
        scores, kinds = self.stance.keeping, np.arange(racks.shape[1])
        ratio = np.exp(scores[own, kinds] - scores[fixed, kinds])
        held = self.joint[:, :, None] * racks[:, None, :]
        total = held.sum(axis=0)
        mean = (held * ratio).sum(axis=0) / np.where(total > 0, total, 1.0)
        out = np.ones((self.joint.shape[1], N_KINDS))
        out[:, self.game.used] = np.where(total > 0, mean, 1.0)
        return out

    def _left(self, k: int) -> Array:
        """P(throws the kind, leaves its row and goes to another | row), shape (n_rows, n_rows)."""
        mass = self.joint * self.leaves * self.throws[1][:, :, k]
        held = mass.any(axis=1)
        racks = self.act.before.racks(self.act.seat)[held]
        return self.stance.goes(racks - np.eye(racks.shape[1], dtype=np.int64)[k], mass[held])

    @cached_property
    def turn(self) -> Array:
        """P(throws the tile and goes to row | row), exact, shape (n_rows, n_rows)."""
        k = int(np.flatnonzero(self.game.used == self.act.kind)[0])
        stay = (self.joint * (1.0 - self.leaves) * self.throws[0][:, :, k]).sum(axis=0)
        total = self.joint.sum(axis=0)
        return (np.diag(stay) + self._left(k)) / np.where(total > 0, total, 1.0)[:, None]

    @cached_property
    def moves(self) -> Array:
        """P(goes to row | row, leaves), whatever was thrown, exact, shape (n_rows, n_rows)."""
        out = sum(self._left(k) for k in range(len(self.game.used)))
        total = np.asarray(out).sum(axis=1)
        fair = out / np.where(total > 0, total, 1.0)[:, None]
        return np.where((total > 0)[:, None], fair, self.stance.moves)

    def claim_rows(self, fallback: Array) -> Array:
        """P(what the seat did with the open throw | row), shape (n_rows,)."""
        act = self.act
        takes = self.stance.takes(act.before.racks(act.seat), act.kind)
        if isinstance(act.event, Expose) and act.what == "take":
            shown = takes[:, :, shape_index(act.event.size, act.event.jokers)]
            return self.given_row(shown, fallback)
        return self.given_row(1.0 - takes.sum(axis=2), fallback)


def patched(seen: Seen, reach: Array) -> Seen:
    """The same look at a seat with other expected copies within its reach."""
    context: Context = replace(seen.context, within_reach=reach)
    return Seen(seen.model, seen.belief, context, seen.free, seen.finish)


def forward(variant: Variant, pieces: Pieces, seen: Seen) -> Array:
    """P(act, row after) under a variant, from the belief that `seen` holds, shape (n_rows,)."""
    if variant.reach == "others":
        seen = patched(seen, pieces.reach_others)
    if pieces.act.what != "throw":
        step = _claim(pieces.act, seen)
        if variant.claims == EXACT:
            return np.asarray(seen.belief.probs * pieces.claim_rows(step.total()))
        return step.forward(seen.belief.probs)
    return _throw(variant, pieces, seen)


def _claim(act: Act, seen: Seen) -> Step:
    would = likelihood.claims(seen, act.kind)
    if isinstance(act.event, Expose) and act.what == "take":
        return likelihood.expose_step(would, act.event.size, act.event.jokers)
    return likelihood.refuse_step(would)


def _throw(variant: Variant, pieces: Pieces, seen: Seen) -> Array:
    probs, k = seen.belief.probs, pieces.act.kind
    if variant.throw == EXACT and variant.change == EXACT:
        return np.asarray(probs @ pieces.turn)
    if variant.throw == "averaged":
        stays, goes = (table[:, k] for table in averaged_throws(seen))
    else:
        stays, goes = _throw_rows(variant, pieces, seen, k)
    leaves = likelihood.leaving(seen)
    if variant.change == EXACT:
        leaves = pieces.given_row(pieces.leaves, leaves)
        return np.asarray(probs * (1.0 - leaves) * stays + (probs * leaves * goes) @ pieces.moves)
    where = destinations(seen.context, seen.model.weights["destination"])
    kernel = seen.belief.kernel.with_destinations(where)
    return Step((1.0 - leaves) * stays, leaves * goes, kernel).forward(probs)


def _throw_rows(variant: Variant, pieces: Pieces, seen: Seen, kind: int) -> tuple[Array, Array]:
    """P(throws the kind | row) on turns that keep and that leave, shape (n_rows,) each."""
    base, keep, change = likelihood.throw_scores(seen)
    if variant.reach == "seat":
        base = _log(pieces.reach_seat)
    rows = np.repeat(base[None], seen.model.n_rows, axis=0)
    if variant.reach == "row":
        rows = _log(pieces.reach_rows(np.exp(rows)))
    kinds = np.arange(N_KINDS)
    out = []
    for table, hedged in ((keep, True), (change, False)):
        odds = np.exp(rows + table.sum(axis=0)[seen.codes, kinds])
        if hedged and variant.hedge == EXACT:
            odds = odds * pieces.hedging
        out.append(odds[:, kind] / odds.sum(axis=1))
    if variant.throw == EXACT:
        k = int(np.flatnonzero(pieces.game.used == kind)[0])
        stays, goes = (table[:, :, k] for table in pieces.throws)
        return (
            pieces.given_row(stays, out[0], 1.0 - pieces.leaves),
            pieces.given_row(goes, out[1], pieces.leaves),
        )
    return out[0], out[1]


def _log(reach: Array) -> Array:
    with np.errstate(divide="ignore"):
        return np.log(reach)


@dataclass(frozen=True, eq=False)
class Filter:
    """A variant in the middle of a game: its beliefs, by seat as in the library."""

    variant: Variant
    model: Model
    beliefs: tuple[Belief, ...]

    def after(
        self, found: list[Pieces], state: TableState, later: TableState
    ) -> tuple[Filter, float]:
        """Beliefs after an event, and the log probability that the variant gave it, nats."""
        around = surroundings(self.model, self.beliefs, state)
        now, log_prob = list(self.beliefs), 0.0
        for pieces in found:
            act = pieces.act
            seen = likelihood.see(
                self.model, now[act.seat], state, around, acting=act.what == "throw"
            )
            joint = forward(self.variant, pieces, seen)
            log_prob += log(joint.sum())
            now[act.seat] = now[act.seat].with_probs(joint / joint.sum())
            if self.variant.cross == EXACT:
                for other in pieces.game.seats:
                    if other != act.seat:
                        now[other] = _cross(now[other], pieces, other)
        for seat in range(4):
            if later.exposures[seat] != now[seat].exposures:
                now[seat] = show(self.model, now[seat], later.exposures[seat])
        return replace(self, beliefs=tuple(now)), log_prob


def _cross(belief: Belief, pieces: Pieces, seat: int) -> Belief:
    """Belief about a seat after the act of another, exactly."""
    before, after = pieces.rows_before[seat], pieces.rows_after[seat]
    ratio = np.where(before > 0, after / np.where(before > 0, before, 1.0), 1.0)
    joint = belief.probs * ratio
    return belief.with_probs(joint / joint.sum())


def start_filter(model: Model, variant: Variant) -> Filter:
    """A variant before the first event."""
    return Filter(variant, model, tuple(start_belief(model, seat) for seat in range(4)))


def pieces_of(
    joint: Joint, state: TableState, event: Discard | Expose
) -> tuple[list[Pieces], Joint]:
    """Acts of an event with all that is exact about them, and the exact filter after it."""
    found = acts(joint, state, event)
    return [Pieces(act) for act in found], found[-1].after
