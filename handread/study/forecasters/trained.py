"""Forecasters that know how often things happen: by own turn, by visible copies, by exposures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from handread.card.compiled import CompiledCard
from handread.clues.codes import N_UNMODELLED, match_exposures
from handread.errors import HandreadError
from handread.reading import equal_hands_prior, stored_prior
from handread.study.forecasters.contract import Array, Window, row_names
from handread.table.events import AnyEvent, Header
from handread.table.play import start
from handread.table.state import Exposure, TableState
from handread.tiles import JOKER, N_KINDS
from handread.values import ArrayValue, frozen

#: Own turns that have a rate of their own; later ones share the last.
TURNS = 24
#: Copies of a thrown kind still unseen: 0, 1, 2, 3 or more.
FREE = 4
#: Thirds of the wall.
PHASES = 3
#: Moments that the rate of all turns counts for at each turn.
SHRINK = 20.0
#: Weight of a target that the visible copies rule out: misplays and plans not yet left.
BLOCKED = 1e-3


@dataclass(frozen=True, eq=False)
class Training(ArrayValue):
    """What is counted in training games; counts of games add up.

    Attributes
    ----------
    rows
        Weight of each row in the truth by own turn, shape (24, n_rows).
    offers
        Seats that a throw was open to, by copies unseen and phase, shape (4, 3).
    claims, wins
        How many of these showed a group with it, and won on it, shape (4, 3).
    """

    rows: Array
    offers: Array
    claims: Array
    wins: Array

    @classmethod
    def empty(cls, n_rows: int) -> Training:
        """Counts of no games."""
        table = np.zeros((FREE, PHASES))
        return cls(np.zeros((TURNS, n_rows)), table, table.copy(), table.copy())

    def plus(self, other: Training) -> Training:
        """Counts of both."""
        return Training(
            self.rows + other.rows, self.offers + other.offers,
            self.claims + other.claims, self.wins + other.wins,
        )  # fmt: skip

    @property
    def row_rates(self) -> Array:
        """How often each row is true at each own turn, never 0, shape (24, n_rows)."""
        if not self.rows.sum() > 0:
            raise HandreadError("no training games were counted; accepted: one game or more")
        overall = self.rows.sum(axis=0) + 0.5
        overall /= overall.sum()
        table = self.rows + SHRINK * overall
        return np.asarray(table / table.sum(axis=1, keepdims=True))

    @property
    def taken_rates(self) -> tuple[Array, Array]:
        """How often a seat claims, and wins on, a throw; never 0, shape (4, 3) each."""
        rates = []
        for counts in (self.claims, self.wins):
            overall = (counts.sum() + 0.5) / (self.offers.sum() + 1.0)
            rates.append((counts + SHRINK * overall) / (self.offers + SHRINK))
        return rates[0], rates[1]


def window_cell(state: TableState) -> tuple[int, int]:
    """Copies unseen of the open throw's kind, and phase: a place in the tables of ``Training``."""
    if state.window is None:
        raise HandreadError("no throw lies open; accepted: a moment right after a throw")
    kind = state.floor[state.window].kind
    free = int(state.rules.copies[kind]) - int(state.seen[kind])
    start_wall = max(state.rules.n_tiles - 53, 1)
    phase = int(PHASES * (1.0 - state.wall / start_wall))
    return min(max(free, 0), FREE - 1), min(max(phase, 0), PHASES - 1)


class _Counted:
    """A watcher that says how often things happen."""

    def __init__(self, training: Training, header: Header, card: CompiledCard) -> None:
        self.rates, self.taken = training.row_rates, training.taken_rates
        self.state = start(header, card.rules)

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.state = state

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        turn = min(max(self.state.turns[seat], 1), TURNS) - 1
        return np.asarray(self.rates[turn])

    def window(self) -> Window:
        """What availability alone says of the open throw."""
        cell = window_cell(self.state)
        thrower = self.state.floor[-1].seat
        asked = np.array(
            [float(self.state.live[seat] and seat != thrower) for seat in range(4)]
        )  # fmt: skip
        return Window(asked * self.taken[0][cell], asked * self.taken[1][cell])


@dataclass(frozen=True, eq=False)
class BaseRates(ArrayValue):
    """How often each row is true at this own turn in training games, and nothing else.

    Attributes
    ----------
    training
        Counts.
    name
        How results call it.
    """

    training: Training
    name: str = "base rates"

    def open(self, card: CompiledCard, header: Header) -> _Counted:
        """Sit down at a table before its first event."""
        return _Counted(self.training, header, card)


def card_prior(card: CompiledCard) -> Array:
    """Prior over targets that ships for a card, equal weight per hand without one."""
    found = stored_prior(card)
    return equal_hands_prior(card) if found is None else found[0] / found[0].sum()


def log_ways_left(card: CompiledCard, free: NDArray[np.int64]) -> Array:
    """Log of the share of ways to make each target that the copies left still allow.

    For each group, ways to choose its tiles from the copies left over ways to choose them from
    the full set; jokers count as copies where they may stand. Groups are taken one by one.

    Parameters
    ----------
    card
        The card.
    free
        Copies left of each kind, shape (36,).

    Returns
    -------
    Array
        Nats, at most 0, not below log(1e-3), shape (n_targets,).
    """
    full = card.rules.copies.astype(np.int64)
    left = np.clip(free, 0, full)
    now = np.stack([left, left + left[JOKER]])
    then = np.stack([full, full + full[JOKER]])
    ways = _log_choose(int(then.max()), int(card.group_size.max()))
    shares = np.full((*now.shape, ways.shape[1]), -np.inf)
    np.subtract(ways[now], ways[then], out=shares, where=np.isfinite(ways[now]))
    return np.asarray(np.maximum(shares.take(_places(card)).sum(axis=0), np.log(BLOCKED)))


@lru_cache(maxsize=8)
def _log_choose(most: int, size: int) -> Array:
    """Log of ways to choose 0 to `size` tiles from 0 to `most`, -inf for none; (most+1, size+1)."""
    n, k = np.arange(most + 1.0)[:, None], np.arange(size + 1.0)[None, :]
    short = k > n
    ways = gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(np.where(short, 0.0, n - k) + 1.0)
    return frozen(np.where(short, -np.inf, ways))


_PLACES: dict[str, NDArray[np.int64]] = {}


def _places(card: CompiledCard) -> NDArray[np.int64]:
    """Place of each group in a table by jokers, kind and size, remembered; (n_groups, n_targets).

    A group of size 0 is one of 0 tiles, of which every number of copies has one way.
    """
    if card.hash not in _PLACES:
        kinds = np.maximum(card.group_kind, 0).astype(np.int64)
        places = (card.group_joker * N_KINDS + kinds) * (int(card.group_size.max()) + 1)
        _PLACES[card.hash] = frozen(np.ascontiguousarray((places + card.group_size).T))
    return _PLACES[card.hash]


class _Floor(_Counted):
    """Base rates moved by what the table can see to be gone."""

    def __init__(
        self, training: Training, header: Header, card: CompiledCard, prior: Array | None
    ) -> None:  # fmt: skip
        super().__init__(training, header, card)
        self.card, self.prior = card, card_prior(card) if prior is None else prior
        self.n_families = len(card.families)

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        base = super().belief(seat)
        free = self.state.rules.copies.astype(np.int64) - self.state.seen
        for shown in self.state.exposures[seat]:  # its own groups are not gone for it
            free[shown.kind] += shown.size - shown.jokers
            free[JOKER] += shown.jokers
        weight = self.prior * np.exp(log_ways_left(self.card, free))
        now = np.bincount(self.card.family_of, weights=weight, minlength=self.n_families)
        whole = np.bincount(self.card.family_of, weights=self.prior, minlength=self.n_families)
        return _with_families(base, base[: self.n_families] * now / whole)


def _with_families(base: Array, families: Array) -> Array:
    """Base with its family rows in other proportions; the unmodelled rows stay."""
    out = base.copy()
    loose = float(base[-N_UNMODELLED:].sum())
    out[:-N_UNMODELLED] = (1.0 - loose) * families / families.sum()
    return out


@dataclass(frozen=True, eq=False)
class StructuralFloor(ArrayValue):
    """Base rates adjusted for visible copies only: what one knows without watching anybody.

    Attributes
    ----------
    training
        Counts.
    name
        How results call it.
    prior
        Probability of each target, shape (n_targets,); None for the prior that ships for the card.
    """

    training: Training
    name: str = "floor"
    prior: Array | None = None

    def open(self, card: CompiledCard, header: Header) -> _Floor:
        """Sit down at a table before its first event."""
        return _Floor(self.training, header, card, self.prior)


class _Eliminating(_Counted):
    """What a seat's exposures leave of the card."""

    def __init__(
        self, training: Training, header: Header, card: CompiledCard, prior: Array | None
    ) -> None:  # fmt: skip
        super().__init__(training, header, card)
        self.card, self.prior = card, card_prior(card) if prior is None else prior
        self.known: dict[tuple[Exposure, ...], Array] = {}

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        base, shown = super().belief(seat), self.state.exposures[seat]
        if shown not in self.known:
            fits, _ = match_exposures(self.card, shown)
            weights = self.prior * fits
            families = np.bincount(self.card.family_of, weights, len(self.card.families))
            self.known[shown] = families.astype(np.float64)
        left = self.known[shown]
        if left.sum() > 0:
            return _with_families(base, left)
        out = np.zeros_like(base)
        out[-N_UNMODELLED:] = base[-N_UNMODELLED:]
        out[-1] += 1.0 - out.sum()
        return out


@dataclass(frozen=True, eq=False)
class Elimination(ArrayValue):
    """A careful beginner: what the exposures leave, by the card's prior; throws say nothing.

    The share of seats without a plan is that of the base rates.

    Attributes
    ----------
    training
        Counts.
    name
        How results call it.
    prior
        Probability of each target, shape (n_targets,); None for the prior that ships for the card.
    """

    training: Training
    name: str = "elimination"
    prior: Array | None = None

    def open(self, card: CompiledCard, header: Header) -> _Eliminating:
        """Sit down at a table before its first event."""
        return _Eliminating(self.training, header, card, self.prior)


def empty_training(card: CompiledCard) -> Training:
    """Counts of no games for a card.

    Examples
    --------
    >>> import handread as hr
    >>> empty_training(hr.house_card()).rows.shape
    (24, 11)
    """
    return Training.empty(len(row_names(card)))
