"""The model of a reading in plain loops, one row at a time: what the fast code is held to.

Written from the model as it is stated, not from the code: nothing here calls ``Step``, the
kernels, ``look`` or the functions of ``likelihood``. Score tables of the throw clues, and what the
viewer expects the seats to hold, are taken as given; they have tests of their own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from handread.clues.context import PHASES, Context
from handread.reading import Model
from handread.reading.holdings import Surroundings
from handread.table import TableState
from handread.table.events import Discard
from handread.tiles import JOKER, N_KINDS
from tests.oracle.plain_card import Group, PlainCard, Row, hold, logistic, tilted

Array = NDArray[np.float64]
Shown = tuple[int, int, int]  # kind, size, jokers in it now
Shape = tuple[int, int]  # size, jokers
LOOSE = ("undecided", "defending", "other")
SIZES = (3, 4, 5, 6)
_NEAR_SOME, _NEAR_MUCH = 11, 12  # use codes of kinds without use that near targets need
_UNDECIDED, _DEFENDING, _OTHER = 13, 14, 15  # use codes of the rows without a target
_N_CODES = 16
_NEEDED = range(1, 7)


@dataclass(frozen=True, eq=False)
class Side:
    """One seat before an event: the table from its side, and its groups as they were shown."""

    plain: PlainCard
    state: TableState
    around: Surroundings
    seat: int
    shown: tuple[Shown, ...]
    acting: bool = False

    @property
    def model(self) -> Model:
        return self.plain.model

    # --- targets ---

    @cached_property
    def matched(self) -> list[tuple[bool, list[Group]]]:
        """For each target: whether it allows the groups shown, and the groups it has left."""
        out = []
        for target, concealed in zip(self.plain.targets, self.model.card.concealed, strict=True):
            allowed, left = False, target
            for order in permutations(range(len(target)), len(self.shown)):
                groups = [target[i] for i in order]
                if all(
                    group[:2] == shown[:2] and (group[2] or not shown[2])
                    for group, shown in zip(groups, self.shown, strict=True)
                ):
                    allowed = not (concealed and self.shown)
                    left = [g for i, g in enumerate(target) if i not in order]
                    break
            out.append((allowed, left))
        return out

    @property
    def fits(self) -> list[bool]:
        return [allowed for allowed, _ in self.matched]

    # --- counts ---

    @property
    def free(self) -> list[int]:
        copies, seen = self.state.rules.copies, self.state.seen
        return [int(copies[k]) - int(seen[k]) for k in range(N_KINDS)]

    @cached_property
    def context(self) -> Context:
        state, seat = self.state, self.seat
        unseen = [int(n) for n in self.around.unseen]
        concealed = state.concealed[seat]
        if self.acting and state.holder != seat:
            concealed += 1  # it has drawn
        in_rack = [int(n) for n in state.known_in_rack(seat)]
        known = in_rack[JOKER]
        share = [float(x) for x in self.around.reach(seat)]
        reach = [x * (concealed - sum(in_rack)) / sum(share) for x in share]
        reach[JOKER] += known
        own = [0] * N_KINDS
        for thrown in state.floor:
            if thrown.seat == seat:
                own[thrown.kind] += 1
        others = [len(state.exposures[s]) for s in range(4) if s != seat and state.live[s]]
        last = state.floor[-1] if state.floor else None
        follows = last is not None and last.taken_by is None and last.seat != seat
        return Context(
            seat=seat, turn=state.turns[seat], within_reach=np.array(reach),
            unseen=np.array(unseen), seen=state.seen.astype(np.int64), own_thrown=np.array(own),
            concealed=concealed, pool=sum(unseen), n_exposed=len(state.exposures[seat]),
            threat=max(others, default=0), wall=state.wall, known_jokers=known,
            demand=np.array(self.plain.demand),
            last_unclaimed=last.kind if last and follows else None,
        )  # fmt: skip

    @property
    def phase(self) -> str:
        turn = self.state.turns[self.seat]
        return PHASES[0 if turn < 5 else 1 if turn < 12 else 2]

    # --- use of each kind, and what is gone ---

    @cached_property
    def codes(self) -> list[list[int]]:
        rows = []
        for g, (target, (_, left)) in enumerate(zip(self.plain.targets, self.matched, strict=True)):
            codes = [self._code(g, target, left, kind) for kind in range(JOKER)]
            rows.append([*codes, 9 if any(joker for _, _, joker in left) else 10])
        return [*rows, *([code] * N_KINDS for code in (_UNDECIDED, _DEFENDING, _OTHER))]

    def _code(self, g: int, target: list[Group], left: list[Group], kind: int) -> int:
        sizes = [size for k, size, _ in left if k == kind]
        if not sizes and any(k == kind for k, _, _ in target):
            return 7
        if not sizes:
            near = self.plain.nearby[g][kind]
            return _NEAR_MUCH if near >= 0.5 else _NEAR_SOME if near >= 0.2 else 0
        naturals = sum(size for k, size, joker in left if k == kind and not joker)
        if max(sizes) <= 2 and naturals > self.free[kind]:
            return 8
        return max(sizes)

    @cached_property
    def blocked(self) -> list[int]:
        """Kinds of singles, pairs and barred groups that are gone, and jokers too few."""
        out = []
        for _, left in self.matched:
            gone = 0
            for kind in {k for k, _, joker in left if not joker}:
                wanted = sum(size for k, size, joker in left if k == kind and not joker)
                gone += wanted > self.free[kind]
            short = sum(max(0, size - self.free[k]) for k, size, joker in left if joker)
            out.append(gone + max(0, short - self.free[JOKER]))
        return out

    # --- a throw ---

    def scores(self, event: Discard | None = None) -> tuple[Array, Array]:
        """Score of each use code and kind on a turn that keeps, and that leaves, a plan.

        With an event, what the notes beside the throw add by use code; they change no odds.
        """
        shape = (_N_CODES, N_KINDS) if event is None else (_N_CODES,)
        out = (np.zeros(shape), np.zeros(shape))
        for clue in self.model.clues:
            weights = self.model.weights[clue.name]
            if event is None:
                tables = (clue.keep(self.context, weights), clue.change(self.context, weights))
            else:
                tables = clue.mark(self.context, event, weights) or out[:0]
            for total, table in zip(out, tables, strict=False):
                total += np.minimum(np.maximum(table, -clue.cap), clue.cap)
        return out

    def throws(self, event: Discard) -> tuple[Row, Row]:
        """Probability that each row throws the tile on a turn that keeps, and that leaves, a plan.

        Notes beside the throw (drawn or held, place in the rack, pause) come on top.
        """
        out: tuple[Row, Row] = ([], [])
        for rows, scores, marks in zip(out, self.scores(), self.scores(event), strict=True):
            for codes in self.codes:
                odds = self._odds(codes, scores.tolist())
                note = math.exp(float(marks[codes[event.kind]]))
                rows.append(odds[event.kind] / sum(odds) * note)
        return out

    def _odds(self, codes: list[int], scores: list[Row]) -> Row:
        power = self.model.weights["availability"]["power"]
        odds = [0.0] * N_KINDS
        for k in range(N_KINDS):
            reach = float(self.context.within_reach[k])
            if reach > 0:
                odds[k] = math.exp(power * math.log(reach) + scores[codes[k]][k])
        return odds

    @cached_property
    def leaving(self) -> Row:
        w = self.model.weights["hazard"]
        x = w["base"] + w[self.phase] + w["per_exposure"] * self.context.n_exposed
        rows = [logistic(x + w["per_blocked"] * min(gone, 2)) for gone in self.blocked]
        return [*rows, w[f"undecided_{self.phase}"], w["defending"], w["other"]]

    # --- claims, wins, redeems ---

    @property
    def finish(self) -> Row:
        return [float(x) for x in self.around.finish[self.seat]]

    @cached_property
    def ready(self) -> float:
        w = self.model.weights["wins"]
        x = w["ready"] + w["per_turn"] * (self.context.turn - 12)
        return logistic(x + w["per_exposure"] * self.context.n_exposed)

    def wins_on(self, kind: int) -> Row:
        w = self.model.weights["wins"]
        rows = []
        for (_, left), finish in zip(self.matched, self.finish, strict=True):
            wanted = sum(size for k, size, _ in left if k == kind)
            total = sum(size for _, size, _ in left)
            share = wanted / total * finish if total else 0.0
            rows.append(w["in_error"] + w["takes"] * self.ready * share)
        return [*rows, *[w["in_error"]] * 3]

    def wins_late(self, kind: int) -> Row:
        """A complete hand that did not win, and now sees the group laid."""
        w = self.model.weights["wins"]
        rows = []
        for prob in self.wins_on(kind):
            complete = (prob - w["in_error"]) / w["takes"]
            overlooked = complete * (1.0 - w["takes"]) / (1.0 - prob)
            rows.append(w["in_error"] + overlooked * w["late"])
        return rows

    def wins_drawn(self) -> Row:
        w = self.model.weights["wins"]
        chance = w["draws_it"] * self.ready
        rows = [w["in_error"] + chance * finish for finish in self.finish]
        return [*rows, *[w["in_error"]] * 3]

    def room_for(self, kind: int) -> list[Shape]:
        """Groups that the counts allow: enough naturals and jokers unseen, a tile left to throw."""
        c, state = self.context, self.state
        if state.certain and state.wall == 0 and "last exposure" not in state.switches:
            return []
        jokers = int(c.unseen[JOKER]) + c.known_jokers
        return [
            (size, j)
            for size in SIZES
            for j in range(size)
            if size in self.model.card.rules.claimable
            and size - 1 - j <= c.unseen[kind] and j <= jokers and size - 1 < c.concealed
        ]  # fmt: skip

    def makes(self, kind: int, *, keeps: bool) -> dict[Shape, float]:
        """Chance that a seat willing to show each group with `kind` has the tiles, times will."""
        w, c = self.model.weights["claims"], self.context
        random = c.concealed - c.known_jokers
        copies, turn = int(c.unseen[kind]), c.turn if keeps else 0
        tilt = float(c.within_reach[kind]) * c.pool / (copies * random) if copies else 1.0
        drawn = hold(int(c.unseen[JOKER]), c.pool + c.turn, random + c.turn)
        jokers = tilted([0.0] * c.known_jokers + drawn, math.exp(w["held_jokers"]))
        held = tilted(hold(copies, c.pool + turn, random + turn), tilt)
        held = tilted(held, math.exp(w["held_copies"] * keeps))
        out = {}
        for size, j in self.room_for(kind):
            need = size - 1 - j
            exact = held[need] if need < len(held) else 0.0
            naturals = sum(held[need:]) if j == 0 else exact
            will = w[f"take_{self.phase}"] * w[f"jokers_{min(j, 3)}"] * w[f"size_{size}"]
            out[size, j] = naturals * sum(jokers[j:]) * will
        return out

    def misplays(self, kind: int) -> dict[Shape, float]:
        """Groups shown in error."""
        room = self.room_for(kind)
        return {shape: self.model.weights["claims"]["misplay"] / len(room) for shape in room}

    def anew(self, kind: int) -> dict[Shape, float]:
        """Groups that a seat on any target shows for another one."""
        right = 1.0 - sum(self.misplays(kind).values())
        rate = right * self.model.weights["claims"]["anew"] / 4
        loose = self.makes(kind, keeps=False)
        return {shape: rate * prob for shape, prob in loose.items()}

    def claims(self, kind: int) -> tuple[list[dict[Shape, float]], dict[Shape, float]]:
        """For each row the groups it shows by plan, given no win; and those shown in error."""
        w = self.model.weights["claims"]
        kept = self.makes(kind, keeps=True)
        loose = self.makes(kind, keeps=False)
        misplay = self.misplays(kind)
        right = 1.0 - sum(misplay.values())
        rows: list[dict[Shape, float]] = []
        for (allowed, left), concealed in zip(self.matched, self.model.card.concealed, strict=True):
            open_groups = [g for g in left if g[0] == kind and g[1] in SIZES]
            if concealed or not allowed:
                open_groups = []
            n_sizes = len({size for _, size, _ in open_groups})
            row = {}
            for (size, j), prob in kept.items():
                if any(s == size and (joker or j == 0) for _, s, joker in open_groups):
                    row[size, j] = right * (1.0 - w["anew"]) * prob / n_sizes
            rows.append(row)
        for name in LOOSE:
            rows.append({shape: right * w[name] / 4 * prob for shape, prob in loose.items()})
        return rows, misplay

    @cached_property
    def offers(self) -> list[tuple[int, int]]:
        """Jokers that may be redeemed, as owner and kind."""
        found = {
            (owner, group.kind)
            for owner in range(4)
            for group in self.state.exposures[owner]
            if group.jokers > 0 and self.free[group.kind] > 0
            and (self.state.live[owner] or "dead swap" in self.state.switches)
        }  # fmt: skip
        return sorted(found)

    def redeems(self) -> tuple[list[dict[int, float]], Row]:
        """For each row the chance of each kind given for a joker, and of none."""
        w, c = self.model.weights["redeems"], self.context
        on_offer = sorted({kind for _, kind in self.offers})
        each, none = [], []
        for codes in self.codes:
            rates = {}
            for kind in on_offer:
                code = codes[kind]
                rate = w["needed"] if code in _NEEDED else w["own"] if code == 7 else w["spare"]
                rate = w["defending"] if code == _DEFENDING else rate
                random = c.concealed - c.known_jokers
                rates[kind] = rate * (1.0 - hold(int(c.unseen[kind]), c.pool, random)[0])
            lets = math.prod(1.0 - rate for rate in rates.values())
            total = sum(rates.values()) or 1.0
            each.append({kind: rate / total * (1.0 - lets) for kind, rate in rates.items()})
            none.append(lets)
        return each, none
