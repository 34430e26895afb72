"""Games drawn from the reading model itself: whoever reads them by it must be exactly calibrated.

The latent rows (plans and unmodelled states) are drawn from the model's start, every seat acts by
the model's own probabilities given its row, and rows move as the model says. What the model
expects around a seat comes from the beliefs of a filter that watches the same public events, since
that is how the model states it. No tiles are dealt: these are games of the model, not of a table,
and copies that turn up with one seat say nothing of the others. A check therefore takes a model
whose ``elsewhere.power`` is 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import SHAPES
from handread.clues.kernels import gather_throws
from handread.reading import Belief, Model, start_belief, surroundings, update
from handread.reading import likelihood as term
from handread.reading.around import Surroundings
from handread.reading.observe import offered_kinds, offers
from handread.reading.step import Step
from handread.reading.window import answers
from handread.table.events import AnyEvent, Discard, Expose, Header, Record, Redeem, WallGame, Win
from handread.table.play import apply, start
from handread.table.state import TableState
from handread.values import ArrayValue

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class DrawnGame(ArrayValue):
    """A game drawn from a model, with its latent rows and the filter's beliefs.

    Attributes
    ----------
    record
        The public events.
    event, seat
        Number of each event that is a throw, and who threw, shape (n_throws,).
    row
        Latent row of the thrower after it, shape (n_throws,).
    exposed
        Number of each event that is a group shown, who showed it, and its row after it, shape
        (n_groups, 3).
    belief
        The filter's belief about the thrower then, shape (n_throws, n_rows).
    bits_claimed, bits_realised
        What each throw claimed to teach of the thrower's row beyond what passes with any turn,
        and did teach, shape (n_throws,).
    """

    record: Record
    event: NDArray[np.int64]
    seat: NDArray[np.int64]
    row: NDArray[np.int64]
    exposed: NDArray[np.int64]
    belief: Array
    bits_claimed: Array
    bits_realised: Array


def draw_game(
    model: Model, *, rng: np.random.Generator, most_throws: int | None = None
) -> DrawnGame:  # fmt: skip
    """Draw a game from a model: latent rows, what they do, and how they move.

    Parameters
    ----------
    model
        The model.
    rng
        Source of everything.
    most_throws
        Stop after so many throws; None to play to the end.

    Returns
    -------
    DrawnGame

    Examples
    --------
    >>> import handread as hr
    >>> from handread.reading import stored_model
    >>> model = stored_model(hr.load_card("small"))
    >>> game = draw_game(model, rng=np.random.default_rng(1), most_throws=4)
    >>> game.seat.tolist(), game.belief.shape == (4, model.n_rows)
    ([0, 1, 2, 3], True)
    """
    table = _Drawn(model, rng)
    while not table.state.over and len(table.throws) != most_throws:
        table.step()
    n_rows = model.n_rows
    columns = list(zip(*table.throws, strict=True)) if table.throws else [()] * 6
    whole = [np.array(column, dtype=np.int64) for column in columns[:3]]
    return DrawnGame(
        Record(table.header, tuple(table.events)), whole[0], whole[1], whole[2],
        np.array(table.exposed, dtype=np.int64).reshape(-1, 3),
        np.array(columns[3], dtype=np.float64).reshape(-1, n_rows),
        np.array(columns[4], dtype=np.float64), np.array(columns[5], dtype=np.float64),
    )  # fmt: skip


class _Drawn:
    """A table of the model while it plays."""

    def __init__(self, model: Model, rng: np.random.Generator) -> None:
        self.model, self.rng = model, rng
        self.header = Header(card_hash=model.card.hash)
        self.state: TableState = start(self.header, model.card.rules)
        self.beliefs: tuple[Belief, ...] = tuple(start_belief(model, s) for s in range(4))
        self.rows = [int(rng.choice(model.n_rows, p=model.start)) for _ in range(4)]
        self.events: list[AnyEvent] = []
        self.throws: list[tuple[int, int, int, Array, float, float]] = []
        self.exposed: list[tuple[int, int, int]] = []

    def step(self) -> None:
        """Draw the next event and where the latent rows go."""
        around = surroundings(self.model, self.beliefs, self.state)
        event = self._claimed(around)
        if event is None and self.state.wall == 0 and self.state.holder is None:
            event = WallGame()
        if event is None:
            event = self._turn(around)
        self._do(event, around)

    def _claimed(self, around: Surroundings) -> AnyEvent | None:
        """Every seat answers the open throw by its own row; then priority decides."""
        if self.state.window is None:
            return None
        shows: list[tuple[int, int, str]] = []
        wins: list[int] = []
        asked = answers(self.model, tuple(self.beliefs), self.state, around)
        for seat, would in asked:
            row = self.rows[seat]
            if self.rng.random() < would.win[row]:
                wins.append(seat)
                continue
            proper = np.array([would.shown(shape)[row] for shape in range(len(SHAPES))])
            anew = would.anew if row < self.model.card.n_targets else 0.0 * would.anew
            place = self._pick(np.concatenate([proper, anew, would.misplay]))
            if place is not None:
                how = ("planned", "anew", "in error")[place // len(SHAPES)]
                shows.append((seat, place % len(SHAPES), how))
        if wins:
            return Win(wins[0], claimed=True)
        if not shows:
            return None
        seat, shape, how = shows[0]
        if how == "in error":
            self.rows[seat] = self.model.n_rows - 1
        elif how == "anew":
            self._go(seat, term.expose_step(dict(asked)[seat], *SHAPES[shape]))
        return Expose(seat, *SHAPES[shape])

    def _go(self, seat: int, step: Step) -> None:
        """The seat leaves its row for another."""
        if step.kernel is not None:
            where = step.kernel.forward(np.eye(1, self.model.n_rows, self.rows[seat])[0])
            self.rows[seat] = int(self.rng.choice(self.model.n_rows, p=where / where.sum()))

    def _pick(self, chances: Array) -> int | None:
        """One of several outcomes, or None with the probability that is left."""
        place = int(np.searchsorted(np.cumsum(chances), self.rng.random(), side="right"))
        return place if place < len(chances) else None

    def _turn(self, around: Surroundings) -> AnyEvent:
        """The seat on turn redeems, wins on its draw, or throws and may move."""
        seat = self.state.turn if self.state.turn is not None else 0
        row, model = self.rows[seat], self.model
        seen = term.see(model, self.beliefs[seat], self.state, around, acting=True)
        kinds, pairs = offered_kinds(self.state), offers(self.state)
        each = term.redeem_rows(seen, kinds)[0][row]
        place = self._pick(each)
        if place is not None:
            owners = [owner for owner, kind in pairs if kind == kinds[place]]
            owner = owners[int(self.rng.integers(len(owners)))]
            return Redeem(seat, owner, kinds[place])
        none = 1.0 - float(each.sum())
        drawn = float(term.win_drawn_step(seen, kinds).keep[row]) / none
        if self.rng.random() < drawn:
            return Win(seat, claimed=False)
        hazard = float(term.leaving(seen)[row])
        leaves = self.rng.random() < hazard
        kind = self._thrown(seen, row, leaves=leaves)
        if leaves:
            self._go(seat, term.throw_step(seen, Discard(seat, kind), kinds))
        return Discard(seat, kind)

    def _thrown(self, seen: term.Seen, row: int, *, leaves: bool) -> int:
        base, keep, change = term.throw_scores(seen)
        table = np.exp(base + (change if leaves else keep).sum(axis=0))
        chances = np.array([
            gather_throws(table, seen.codes, kind)[row] if np.isfinite(base[kind]) else 0.0
            for kind in range(len(base))
        ])  # fmt: skip
        return int(self.rng.choice(len(chances), p=chances / chances.sum()))

    def _do(self, event: AnyEvent, around: Surroundings) -> None:
        before = self.state
        drifted = None
        if isinstance(event, Discard):
            drifted = self._drifted(event, around)
        self.state = apply(before, event, self.model.card)
        self.beliefs, _ = update(self.model, self.beliefs, event, before, self.state)
        self.events.append(event)
        if isinstance(event, Expose):
            self.exposed.append((len(self.events), event.seat, self.rows[event.seat]))
        if isinstance(event, Discard) and drifted is not None:
            seat, row = event.seat, self.rows[event.seat]
            after = self.beliefs[seat].probs
            there = after > 0
            claimed = float((after[there] * np.log2(after[there] / drifted[there])).sum())
            realised = float(np.log2(after[row] / drifted[row]))
            self.throws.append((len(self.events), seat, row, after, claimed, realised))

    def _drifted(self, event: Discard, around: Surroundings) -> Array:
        """Belief about the thrower once the turn's own drift is in, its throw not seen."""
        belief = self.beliefs[event.seat].probs
        if self.state.window is not None and self.state.floor[self.state.window].seat != event.seat:
            seen = term.see(self.model, self.beliefs[event.seat], self.state, around)
            kind = self.state.floor[self.state.window].kind
            belief = term.refuse_step(term.claims(seen, kind)).forward(belief)
        seen = term.see(self.model, self.beliefs[event.seat], self.state, around, acting=True)
        quiet = term.quiet_turn(seen, offered_kinds(self.state)) * belief
        return term.drift_step(seen).forward(quiet / quiet.sum())
