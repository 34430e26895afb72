"""The stated player: what a seat does with the rack that it really holds.

Everything below is a probability given the rack r (copies r_k), the seat's row (a target, or
undecided, defending, other) and what the table has seen. Decisions of different seats are
independent given these. The numbers b, c, d are ``choice``, ``hedge``, ``lead`` of ``Habits``.

Deal
    Each seat gets four tiles, the opener then a fifth. On the four the seat is undecided,
    defending or other at the rates of the model's block ``start``; else it settles on target g
    in proportion to habit(g) exp(b fit(r, g)), where fit is the number of tiles of the rack,
    jokers left out, that g can use. The model's prior is the sum of this over all deals.

Turn
    The seat draws, uniformly from what is left, unless it opens or has just claimed.
    It leaves its row with the probability of the clues' hazard, which sees what the table sees;
    with d > 0 the log odds of leaving a target go up by d (2 - fit), fit over the groups left.
    It throws kind k in proportion to r_k ** power exp(sum of the throw clues' scores for the use
    code of k in its row): ``keep`` scores if it stays, ``change`` scores of the old row if it
    leaves. So it throws like the reader's logit, but out of tiles really held.
    If it leaves it then moves by the reader's kernel; with d > 0 the chance of each target is
    multiplied by exp(d fit) with the rack after the throw, and made to sum to what it was.
    With c > 0 the two codes of nearby use (hedging) come from the same near targets as the
    reader's, each weighed by exp(c n), n being the tiles of the rack that the near target can
    use and the plan cannot.

Claim of a tile k thrown by another seat (never a joker, never the last throw of the wall)
    On a target that its exposures allow, not concealed, with groups of k open in sizes S: the
    seat thinks of one size of S, equally likely, needs size - 1 more tiles with one to throw
    left over, uses all its naturals and j jokers for the rest, which it must hold and which the
    group must take, and shows the group with the clues' willingness for (size, j).
    On a row without a target it thinks of a pung, kong, quint or sextet, a quarter each, and
    shows it, where the rules allow it, with the row's rate times the willingness.
    The nearest willing seat in turn gets the tile; a seat behind it has said nothing.

Nobody wins, redeems, misplays or takes back; the game ends with the last throw of the wall.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from scipy.special import expit, logit

from handread.clues.claims import SHAPES, claim_rates
from handread.clues.codes import SPARE, Use, claim_masks_plain, match_exposures, use_codes_plain
from handread.clues.context import Context
from handread.clues.hazard import destinations, prob_leaving
from handread.reading.kernel import MaskedKernel, masked
from handread.table import TableState
from handread.tiles import JOKER, N_KINDS
from tests.oracle.micro.game import LOOSE, Array, Game, Ints, fit

N_LOOSE = len(LOOSE)
#: Tiles of use at which a rack neither holds a seat to its plan nor drives it away.
USUAL_FIT = 2.0


def hedged(game: Game, racks: Ints) -> Ints:
    """Codes of nearby use to each target by the rack, shape (n_racks, n_targets, n_used)."""
    listed = game.racks[int(racks[0].sum())] is racks
    if listed and len(racks) in game.known:
        return game.known[len(racks)]
    kernel, n = game.model.kernel, game.card.n_targets
    demand = game.card.demand[:, game.used].astype(np.int64)
    near = np.zeros((n, n))
    np.put_along_axis(near, kernel.near.astype(np.int64), kernel.near_weight, axis=1)
    extra = np.maximum(demand[None, :, :-1] - demand[:, None, :-1], 0)  # (plan, near, kind)
    use = np.minimum(racks[:, None, None, :-1], extra[None]).sum(axis=3)
    weight = near * np.exp(game.habits.hedge * use)
    share = weight @ (demand > 0) / weight.sum(axis=2, keepdims=True)
    codes = np.where(share >= 0.5, Use.NEAR_MUCH, np.where(share >= 0.2, Use.NEAR_SOME, 0))
    if listed:
        game.known[len(racks)] = codes
    return codes


@dataclass(frozen=True, eq=False)
class Stance:
    """One seat at one public moment; its methods take any number of racks at once.

    Attributes
    ----------
    game
        The game.
    state
        What the table has seen before the decision.
    seat
        The seat that decides.
    known
        Chances of throws that have been worked out already, by number of racks.
    """

    game: Game
    state: TableState
    seat: int
    known: dict[int, tuple[Array, Array]] = field(default_factory=dict, init=False, repr=False)

    @cached_property
    def context(self) -> Context:
        """Public facts alone: what depends on hidden tiles is not a number."""
        state, seat = self.state, self.seat
        own = np.zeros(N_KINDS, dtype=np.int64)
        for thrown in state.floor:
            own[thrown.kind] += thrown.seat == seat
        others = [len(state.exposures[s]) for s in self.game.seats if s != seat]
        last = state.floor[-1] if state.floor else None
        follows = last is not None and last.taken_by is None and last.seat != seat
        return Context(
            seat=seat, turn=state.turns[seat], within_reach=np.full(N_KINDS, np.nan),
            unseen=np.full(N_KINDS, -1, dtype=np.int64), seen=state.seen.astype(np.int64),
            own_thrown=own, concealed=-1, pool=-1, n_exposed=len(state.exposures[seat]),
            threat=max(others), wall=state.wall, known_jokers=0, demand=self.game.model.demand,
            last_unclaimed=last.kind if last is not None and follows else None,
        )  # fmt: skip

    @cached_property
    def _groups(self) -> tuple[Ints, Ints]:
        """Which targets the exposures allow, and the copies wanted by the groups left."""
        card = self.game.card
        fits, left = match_exposures(card, self.state.exposures[self.seat])
        wanted = np.zeros((card.n_targets, N_KINDS), dtype=np.int64)
        for target, place in zip(*np.nonzero(left), strict=True):
            wanted[target, card.group_kind[target, place]] += card.group_size[target, place]
        return fits, wanted[:, self.game.used]

    @cached_property
    def uses(self) -> tuple[Ints, Ints]:
        """Use codes of the kinds in the set, shape (n_rows, n_used), and kinds gone."""
        card, model = self.game.card, self.game.model
        left = match_exposures(card, self.state.exposures[self.seat])[1]
        free = card.rules.copies.astype(np.int64) - self.state.seen
        codes, blocked = use_codes_plain(card, left, free, model.nearby)
        return codes[:, self.game.used].astype(np.int64), blocked

    def _scores(self, change: bool) -> Array:
        model = self.game.model
        total = np.zeros((len(Use), N_KINDS))
        for clue in model.clues:
            table = (clue.change if change else clue.keep)(self.context, model.weights[clue.name])
            total += np.clip(table, -clue.cap, clue.cap)
        return total[:, self.game.used]

    @cached_property
    def keeping(self) -> Array:
        """Sum of the throw clues' scores on a turn that keeps the row, shape (n_codes, n_used)."""
        return self._scores(change=False)

    @cached_property
    def leaving(self) -> Array:
        """The same on a turn that leaves it, shape (n_codes, n_used)."""
        return self._scores(change=True)

    def codes(self, racks: Ints) -> Ints:
        """Use codes of each rack's owner, shape (n_racks or 1, n_rows, n_used)."""
        codes = self.uses[0][None]
        if self.game.habits.hedge == 0.0:
            return codes
        out = np.repeat(codes, len(racks), axis=0)
        plans = codes[:, :-N_LOOSE]
        out[:, :-N_LOOSE] = np.where(np.isin(plans, SPARE), hedged(self.game, racks), plans)
        return out

    def throws(self, racks: Ints) -> tuple[Array, Array]:
        """P(throws kind | rack, row) on turns that keep and that leave the row.

        Two arrays of shape (n_racks, n_rows, n_used).
        """
        listed = self.game.racks[int(racks[0].sum())] is racks
        if listed and len(racks) in self.known:
            return self.known[len(racks)]
        codes, kinds = self.codes(racks), np.arange(racks.shape[1])
        power = self.game.model.weights["availability"]["power"]
        held = np.where(racks > 0, racks.astype(float) ** power, 0.0)[:, None, :]
        keep = held * np.exp(self.keeping[codes, kinds])
        change = held * np.exp(self.leaving[codes, kinds])
        keep /= keep.sum(axis=2, keepdims=True)
        change /= change.sum(axis=2, keepdims=True)
        if listed:
            self.known[len(racks)] = (keep, change)
        return keep, change

    def leaves(self, racks: Ints) -> Array:
        """P(leaves the row | rack, row), shape (n_racks, n_rows)."""
        weights = self.game.model.weights["hazard"]
        public = prob_leaving(self.context, self.uses[1], weights)
        out = np.repeat(public[None], len(racks), axis=0)
        if self.game.habits.lead:
            short = USUAL_FIT - fit(racks, self._groups[1])
            out[:, :-N_LOOSE] = expit(logit(public[:-N_LOOSE]) + self.game.habits.lead * short)
        return out

    @cached_property
    def moves(self) -> Array:
        """The reader's kernel under the seat's exposures, shape (n_rows, n_rows)."""
        model = self.game.model
        where = destinations(self.context, model.weights["destination"])
        kernel: MaskedKernel = masked(model.kernel, self._groups[0], where)
        return np.stack([kernel.forward(row) for row in np.eye(model.n_rows)])

    def _tilts(self, racks: Ints) -> tuple[Array, Array]:
        """Factor of each target by the rack, and what makes each row's sum what it was."""
        tilt = np.exp(self.game.habits.lead * fit(racks, self._groups[1]))
        inside = self.moves[:, :-N_LOOSE]
        plain, tilted = inside.sum(axis=1), tilt @ inside.T
        return tilt, np.divide(plain, tilted, out=np.zeros_like(tilted), where=tilted > 0)

    def arrives(self, racks: Ints, leaving: Array) -> Array:
        """Where mass goes that leaves each row with each rack left after the throw.

        Both arrays have shape (n_racks, n_rows); each rack keeps its sum.
        """
        out = leaving @ self.moves
        if self.game.habits.lead:
            tilt, scale = self._tilts(racks)
            out[:, :-N_LOOSE] = ((leaving * scale) @ self.moves[:, :-N_LOOSE]) * tilt
        return out

    def goes(self, racks: Ints, leaving: Array) -> Array:
        """The same summed over racks, but from each row apart, shape (n_rows, n_rows)."""
        out = leaving.sum(axis=0)[:, None] * self.moves
        if self.game.habits.lead:
            tilt, scale = self._tilts(racks)
            out[:, :-N_LOOSE] = self.moves[:, :-N_LOOSE] * ((leaving * scale).T @ tilt)
        return out

    def takes(self, racks: Ints, kind: int) -> Array:
        """P(shows each group | rack, row), shape (n_racks, n_rows, 18); see ``SHAPES``."""
        game = self.game
        n = game.card.n_targets
        out = np.zeros((len(racks), game.model.n_rows, len(SHAPES)))
        if self.state.wall == 0 or kind == JOKER:
            return out
        left = match_exposures(game.card, self.state.exposures[self.seat])[1]
        (any_group, joker_group), _ = claim_masks_plain(game.card, left, kind)
        masks = any_group * self._groups[0]
        rates = claim_rates(game.model.weights["claims"]).willing[self.context.phase]
        naturals, jokers = racks[:, list(game.used).index(kind)], racks[:, -1]
        for shape, (size, j) in enumerate(SHAPES):
            need = size - 1
            makes = (np.maximum(need - naturals, 0) == j) & (jokers >= j) & (racks.sum(1) > need)
            if size not in game.card.rules.claimable or not makes.any():
                continue
            for row in range(n):
                sizes = int(masks[row]).bit_count()
                takes_jokers = j == 0 or joker_group[row] >> (size - 3) & 1
                if masks[row] >> (size - 3) & 1 and takes_jokers:
                    out[:, row, shape] = makes * rates[shape] / sizes
            for i, name in enumerate(LOOSE):
                loose = game.model.weights["claims"][name]
                out[:, n + i, shape] = makes * rates[shape] * loose / 4
        return out
