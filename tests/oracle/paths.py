"""All paths over rows, one by one: what a seat's game says by full enumeration."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from handread.reading import Model
from handread.reading.holdings import Surroundings
from handread.table import TableState, apply
from handread.table.events import (
    AnyEvent,
    Correct,
    Discard,
    Drew,
    Expose,
    Missed,
    Passed,
    Redeem,
    Stopped,
    Voiced,
    WallGame,
    Win,
)
from handread.tiles import JOKER
from tests.oracle.plain import Shown, Side
from tests.oracle.plain_card import PlainCard, Row, logistic

Matrix = list[Row]


def kernel(side: Side, *, stay: bool = False) -> Matrix:
    """Where each row goes that leaves its plan, one row after the other.

    With `stay`, only from one target to another.
    """
    model, where = side.model, destinations(side)
    if stay:
        where = [[float(i == j) for j in range(4)] for i in range(4)]
    card, prior, n = model.card, [float(p) for p in model.prior], model.card.n_targets
    hand = [int(h) for h in card.hand_of]
    family = [card.hands[h].family for h in hand]
    w = model.weights["destination"]
    fitting = [h for h in range(n) if side.fits[h]]
    anywhere = {h: prior[h] for h in fitting}
    out: Matrix = []
    for g in range(n):
        other = [h for h in fitting if h != g]
        parts = [
            (w["near"], {h: weight for h, weight in side.plain.moves[g].items() if side.fits[h]}),
            (w["hand"], {h: prior[h] for h in other if hand[h] == hand[g]}),
            (w["family"], {h: prior[h] for h in other if family[h] == family[g]}),
            (w["anywhere"], {h: prior[h] for h in other}),
        ]
        used = [(share, weights) for share, weights in parts if sum(weights.values()) > 0]
        whole = sum(share for share, _ in used)
        row = [0.0] * n + where[0][1:]
        for share, weights in used:
            for h, weight in weights.items():
                row[h] += where[0][0] * share / whole * weight / sum(weights.values())
        if not used:  # nowhere else to go
            row[g if side.fits[g] else -1] += where[0][0]
        out.append(row)
    for origin in range(1, 4):
        row = [0.0] * n + where[origin][1:]
        for h in fitting:
            row[h] += where[origin][0] * prior[h] / sum(anywhere.values())
        if not fitting:
            row[-1] += where[origin][0]
        out.append(row)
    return out


def destinations(side: Side) -> Matrix:
    """Rows: from a target, undecided, defending, other; columns: to each of them."""
    w, c = side.model.weights["destination"], side.context
    danger = w["defending"] + w["per_threat"] * max(c.threat - 1, 0)
    danger += w["short_wall"] if c.wall < 25 else 0.0
    fold = logistic(danger) * (1.0 - w["undecided"] - w["other"])
    rows = [
        [0.0, w["undecided"], fold, w["other"]],
        [0.0, 0.0, fold, w["other"]],
        [0.0, w["undecided"], 0.0, 0.0],
        [0.0, w["undecided"], fold, 0.0],
    ]
    return [[1.0 - sum(row), *row[1:]] for row in rows]


# --- one observation as a matrix: P(observation, row after | row before) ---


def stays(keep: Row) -> Matrix:
    n = len(keep)
    return [[keep[r] if r == to else 0.0 for to in range(n)] for r in range(n)]


def missed(side: Side) -> Matrix:
    """A turn that nobody wrote down: a plan may be left for any family that the groups allow."""
    model = side.model
    n, rate = model.card.n_targets, model.weights["hazard"]["missed"]
    families = [model.card.hands[h].family for h in model.card.hand_of]
    fitting = [h for h in range(n) if side.fits[h]]
    allowed = {families[h] for h in fitting}
    out = stays([1.0 - rate if r < n and fitting else 1.0 for r in range(n + 3)])
    for r in range(n):
        for h in fitting:
            alike = sum(families[other] == families[h] for other in fitting)
            out[r][h] += rate / len(allowed) / alike
    return out


def turn(side: Side, event: Discard) -> Matrix:
    """A turn that ends in a throw."""
    hazard, where = side.leaving, kernel(side)
    n = len(hazard)
    none, drawn = side.redeems()[1], side.wins_drawn()
    quiet = [none[r] * (1.0 - drawn[r]) for r in range(n)]
    keep, change = side.throws(event)
    out = stays([quiet[r] * (1.0 - hazard[r]) * keep[r] for r in range(n)])
    for r in range(n):
        for to in range(n):
            out[r][to] += quiet[r] * hazard[r] * change[r] * where[r][to]
    return out


def expose(side: Side, kind: int, size: int, jokers: int) -> Matrix:
    rows, misplay = side.claims(kind)
    no_win = [1.0 - p for p in side.wins_on(kind)]
    out = stays([no_win[r] * rows[r].get((size, jokers), 0.0) for r in range(len(rows))])
    anew = side.anew(kind)[size, jokers]
    after = Side(
        side.plain, side.state, side.around, side.seat, (*side.shown, (kind, size, jokers))
    )  # fmt: skip
    n, where = side.model.card.n_targets, kernel(after, stay=True)
    for r in range(len(rows)):
        out[r][-1] += no_win[r] * misplay[size, jokers]
        for to in range(len(rows)):
            out[r][to] += no_win[r] * anew * where[r][to] if r < n else 0.0
    return out


def refuse(side: Side, kind: int) -> Matrix:
    rows, misplay = side.claims(kind)
    wins, wrong = side.wins_on(kind), sum(misplay.values())
    taken = [sum(row.values()) + wrong for row in rows]
    for r in range(side.model.card.n_targets):
        taken[r] += sum(side.anew(kind).values())
    return stays([(1.0 - wins[r]) * (1.0 - taken[r]) for r in range(len(rows))])


def voice(side: Side, kind: int) -> Matrix:
    """The seat said that it would take `kind`, and did not."""
    w = side.model.weights["claims"]
    rows, misplay = side.claims(kind)
    taken = [sum(row.values()) + sum(misplay.values()) for row in rows]
    for r in range(side.model.card.n_targets):
        taken[r] += sum(side.anew(kind).values())
    return stays([w["voiced"] * takes + w["voiced_idle"] * (1.0 - takes) for takes in taken])


def passed(model: Model, what: str, tiles: int) -> Matrix:
    """A seat stopped the passes (1) or did not (0); or sent `tiles` of three on, blind or not."""
    rows = []
    for row in range(model.n_rows):
        undecided = row == model.card.n_targets
        rate = model.weights["passes"][f"{what}_{'undecided' if undecided else 'formed'}"]
        if what == "stop":
            rows.append(rate if tiles else 1.0 - rate)
        else:
            rows.append(math.comb(3, tiles) * rate**tiles * (1.0 - rate) ** (3 - tiles))
    return stays(rows)


def win_drawn(side: Side) -> Matrix:
    none, drawn = side.redeems()[1], side.wins_drawn()
    return stays([none[r] * drawn[r] for r in range(len(none))])


def redeem(side: Side, kind: int) -> Matrix:
    """One of the redeems of `kind` on offer: whose joker is taken is a matter of indifference."""
    owners = sum(k == kind for _, k in side.offers)
    return stays([row[kind] / owners for row in side.redeems()[0]])


# --- a game ---


def turned_up(side: Side, before: TableState) -> list[Matrix]:
    """What copies say that lie elsewhere since `before`, if there are any."""
    old, new = Side(side.plain, before, side.around, side.seat, side.shown).free, side.free
    kinds = [kind for kind in range(JOKER) if old[kind] != new[kind]]
    prior = [float(p) for p in side.model.prior]
    fitting = [g for g in range(side.model.card.n_targets) if side.fits[g]]
    if not kinds or not fitting:
        return []
    power, factors = side.model.weights["elsewhere"]["power"], []
    for target in side.plain.targets:
        factor = 1.0
        for kind in kinds:
            wanted = sum(size for k, size, _ in target if k == kind)
            wanted -= sum(size for k, size, _ in side.shown if k == kind)
            share = (max(new[kind], 0) + 0.5) / (max(old[kind], 0) + 0.5)
            factor *= share ** (power * max(wanted, 0))
        factors.append(factor)
    mean = math.fsum(prior[g] * factors[g] for g in fitting) / math.fsum(prior[g] for g in fitting)
    return [stays([factor / mean for factor in factors] + [1.0] * 3)]


@dataclass(eq=False)
class Game:
    """What every event said of each seat, as matrices; `upto[n]` stands before event n.

    `acts[n]` stands after what event n said of its own seat's doings, before what its tiles said
    of the others.
    """

    plain: PlainCard
    state: TableState
    around: Surroundings
    shown: list[tuple[Shown, ...]]
    said: list[list[Matrix]] = field(default_factory=lambda: [[], [], [], []])
    upto: list[tuple[tuple[Matrix, ...], ...]] = field(default_factory=list)
    acts: list[tuple[tuple[Matrix, ...], ...]] = field(default_factory=list)
    reopen: tuple[TableState, Surroundings, tuple[Shown, ...], int] | None = None

    def side(self, seat: int, acting: bool = False) -> Side:
        return Side(self.plain, self.state, self.around, seat, self.shown[seat], acting)

    def note(self) -> None:
        self.upto.append(tuple(tuple(matrices) for matrices in self.said))

    def others(self) -> list[int]:
        """Live seats but the thrower, in the order of priority."""
        thrower = self.state.floor[-1].seat
        order = [(thrower + step) % 4 for step in (1, 2, 3)]
        return [seat for seat in order if self.state.live[seat]]

    def see(self, event: AnyEvent, around: Surroundings) -> None:
        """Add what one event says, given what the viewer expected before it."""
        self.around = around
        window = self.state.window is not None
        ends_window = isinstance(event, Discard | Redeem | Drew | WallGame) or (
            isinstance(event, Win) and not event.claimed
        )
        if ends_window and window:
            for seat in self.others():
                self.said[seat].append(refuse(self.side(seat), self.state.floor[-1].kind))
        self.over_group(event)
        if isinstance(event, Discard):
            side = self.side(event.seat, acting=True)
            self.said[event.seat].append(turn(side, event))
        elif isinstance(event, Redeem):
            self.said[event.seat].append(redeem(self.side(event.seat, acting=True), event.kind))
        elif isinstance(event, Win) and not event.claimed:
            self.said[event.seat].append(win_drawn(self.side(event.seat, acting=True)))
        elif isinstance(event, Win | Expose) and window:
            self.taken(event)
        elif isinstance(event, Missed):
            for seat in [seat for seat in range(4) if self.state.live[seat]] * event.turns:
                self.said[seat].append(missed(self.side(seat, acting=True)))
        elif isinstance(event, Correct):
            self.corrected(event)
        elif isinstance(event, Voiced) and window:
            kind = self.state.floor[-1].kind
            self.said[event.seat].append(voice(self.side(event.seat), kind))
        elif isinstance(event, Passed | Stopped):
            self.passes(event)
        self.goes_on(event)
        self.note()

    def goes_on(self, event: AnyEvent) -> None:
        """Apply the event; copies that it shows speak of the seats that did not have them."""
        before, self.state = self.state, apply(self.state, event, self.plain.model.card)
        self.shown = [
            tuple((group.kind, group.size, group.jokers) for group in groups)
            for groups in self.state.exposures
        ]
        self.acts.append(tuple(tuple(matrices) for matrices in self.said))
        for seat in range(4):
            if self.state.live[seat] and getattr(event, "seat", None) != seat:
                self.said[seat] += turned_up(self.side(seat), before)

    def over_group(self, event: AnyEvent) -> None:
        """A win over a group that its seat has just laid; or it goes on, and nobody wins so."""
        state = self.state
        laid = state.shown and "win over exposure" in state.switches
        if not laid or not isinstance(event, Discard | Redeem | Win):
            return
        kind = state.floor[-1].kind
        wins = isinstance(event, Win) and event.seat != state.holder
        if not wins and event.seat != state.holder:
            return
        for seat in self.others():
            if seat == state.holder:
                continue
            late = self.side(seat).wins_late(kind)
            if wins and seat == event.seat:
                self.said[seat].append(stays(late))
                return
            self.said[seat].append(stays([1.0 - p for p in late]))

    def passes(self, event: Passed | Stopped) -> None:
        """Who stops, who passes blind, who asks for few tiles: how formed a rack is."""
        if isinstance(event, Stopped):
            if event.seat is not None:
                self.said[event.seat].append(passed(self.plain.model, "stop", 1))
            return
        for seat in [seat for seat in range(4) if self.state.live[seat]]:
            if event.step == "second left":  # nobody stopped
                self.said[seat].append(passed(self.plain.model, "stop", 0))
            if event.step in ("left", "last right") and event.blind is not None:
                self.said[seat].append(passed(self.plain.model, "blind", event.blind[seat]))
            if event.step == "courtesy" and event.counts is not None:
                self.said[seat].append(passed(self.plain.model, "courtesy", event.counts[seat]))

    def taken(self, event: Win | Expose) -> None:
        kind, order = self.state.floor[-1].kind, self.others()
        before = order[: order.index(event.seat)]
        behind = order[order.index(event.seat) + 1 :]
        for seat in order:
            side = self.side(seat)
            loses = stays([1.0 - p for p in side.wins_on(kind)])
            if seat == event.seat and isinstance(event, Win):
                self.said[seat].append(stays(side.wins_on(kind)))
            elif seat == event.seat and isinstance(event, Expose):
                self.reopen = (self.state, self.around, self.shown[seat], len(self.said[seat]))
                self.said[seat].append(expose(side, kind, event.size, event.jokers))
            elif isinstance(event, Expose) and seat in before:
                self.said[seat].append(refuse(side, kind))
            elif isinstance(event, Expose) or seat not in behind:
                self.said[seat].append(loses)

    def corrected(self, event: Correct) -> None:
        """The group shown stands as if it had been shown so from the first."""
        assert self.reopen is not None
        state, around, shown, place = self.reopen
        seat, kind = event.seat, state.floor[-1].kind
        side = Side(self.plain, state, around, seat, shown)
        self.said[seat][place:] = [expose(side, kind, event.size, event.jokers)]


def enumerate_paths(start: Row, steps: tuple[Matrix, ...]) -> tuple[float, Matrix, Matrix]:
    """Sum over every path: probability of all steps, filtered and smoothed rows after each."""
    n = len(start)
    ways = [[[to for to in range(n) if row[to] > 0] for row in matrix] for matrix in steps]
    filtered = [[0.0] * n for _ in steps]
    smoothed = [[0.0] * n for _ in steps]

    def walk(depth: int, row: int, weight: float) -> float:
        if depth == len(steps):
            return weight
        reached = 0.0
        for to in ways[depth][row]:
            here = weight * steps[depth][row][to]
            filtered[depth][to] += here
            through = walk(depth + 1, to, here)
            smoothed[depth][to] += through
            reached += through
        return reached

    total = math.fsum(walk(0, row, start[row]) for row in range(n) if start[row] > 0)
    return total, [shares(row) for row in filtered], [shares(row) for row in smoothed]


def shares(row: Row) -> Row:
    total = math.fsum(row)
    return [x / total for x in row]
