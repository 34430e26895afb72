"""The micro-game: a table so small that every rack can be listed.

Seven kinds and the joker, 26 tiles; four tiles in a resting rack, five on turn; twelve targets in
four families (``micro.toml``); two or three seats. It is played on the library's own card, table
and reader; only the copies in the set are put in by hand, zeros for the kinds left out.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import product
from math import comb, factorial, prod
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from handread.card import load_card
from handread.card.compiled import CompiledCard
from handread.clues import Weights, load_weights
from handread.reading import Model, build_model
from handread.table import TableState, apply, start
from handread.table.events import Absent, Header
from handread.tiles import JOKER, N_KINDS, parse_kind

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Rows of a seat that follows no target, after the targets.
LOOSE = ("undecided", "defending", "other")
HAND_SIZE = 5
RESTING = HAND_SIZE - 1
#: Copies of each kind in the set; every other kind has none. The joker comes last.
SET = {
    "1 bam": 4, "2 bam": 3, "3 bam": 3, "5 crak": 3, "east": 4, "red": 2, "flower": 4, "joker": 3,
}  # fmt: skip
#: The set of the second card.
OPEN_SET = {"1 bam": 4, "2 bam": 4, "east": 4, "red": 4, "flower": 4, "joker": 4}
#: Nobody wins, redeems or misplays in a micro-game: a game runs until the wall is used up.
QUIET = {
    "claims.misplay": 0.0, "claims.anew": 0.0, "wins.in_error": 0.0, "wins.takes": 0.0,
    "wins.draws_it": 0.0, "elsewhere.power": 0.0,
    "redeems.spare": 0.0, "redeems.needed": 0.0, "redeems.own": 0.0, "redeems.defending": 0.0,
}  # fmt: skip
#: Weights under which every term shows in seven turns: plans are chosen sooner, changed more
#: often and kept to more strictly than the lore says.
LIVELY = QUIET | {
    "start.undecided": 0.12, "start.defending": 0.03, "start.other": 0.05,
    "hazard.base": -2.6, "hazard.per_blocked": 1.6, "hazard.early": 0.3,
    "use.scale_early": 1.0, "use.single": -1.8, "use.pair": -2.4,
    "siblings.some": -0.8, "siblings.much": -1.6, "siblings.scale_middle": 1.0,
    "demand.not_needed": -0.4, "winds_and_dragons.early": 0.9, "flowers.not_needed_early": 0.9,
    "repeats.needed": -0.9, "repeats.not_needed": 0.6, "following.not_needed": 0.7,
    "claims.take_early": 0.9, "claims.jokers_1": 0.9, "claims.jokers_2": 0.8,
}  # fmt: skip

#: Share of each target, in the order of the card, before the rack is looked at; by the number
#: of targets. Uneven on purpose. Parts of a card have equal shares.
HABIT = {
    12: (0.08, 0.06, 0.06, 0.08, 0.13, 0.08, 0.10, 0.14, 0.12, 0.06, 0.05, 0.04),
    10: (0.13, 0.08, 0.09, 0.14, 0.10, 0.15, 0.11, 0.10, 0.07, 0.03),
}


@dataclass(frozen=True)
class Habits:
    """How far a player's decisions follow the rack; see ``player`` for what the numbers do.

    Attributes
    ----------
    choice
        Nats for each tile of the rack that a plan can use, when the plan is chosen.
    hedge
        Nats for each spare tile that a near target can use, when near targets are weighed.
    lead
        Nats for each tile of the rack that a plan can use, when a plan is left and found.
    """

    choice: float = 0.0
    hedge: float = 0.0
    lead: float = 0.0


#: Plans have nothing to do with the rack; all else is as the reader takes it to be.
DETACHED = Habits()
#: Plans are chosen by the rack; all else is as the reader takes it to be.
PLAIN = Habits(choice=0.8)
#: Plans are chosen, hedged, left and found by the rack.
RACK_LED = Habits(choice=0.8, hedge=0.9, lead=0.7)


@dataclass(frozen=True, eq=False)
class Game:
    """One micro-game: who sits where, who plays how, and the reader's model of it.

    Attributes
    ----------
    card
        The card, with the copies of the micro-game.
    habits
        Of all the players.
    model
        The reader's; its prior is the exact chance of each target over all racks.
    habit
        Share of each target before the rack is looked at, shape (n_targets,).
    seats
        Seats that play.
    dealer
        The seat that opens.
    known
        Codes of nearby use that have been worked out already, by number of racks.
    """

    card: CompiledCard
    habits: Habits
    model: Model
    habit: Array
    seats: tuple[int, ...]
    dealer: int
    known: dict[int, Ints] = field(default_factory=dict, init=False, repr=False)

    @cached_property
    def used(self) -> Ints:
        """Kinds in the set, the joker last, shape (n_used,)."""
        return np.flatnonzero(self.card.rules.copies)

    @cached_property
    def copies(self) -> Ints:
        """Copies of each kind in the set, shape (n_used,)."""
        return self.card.rules.copies[self.used].astype(np.int64)

    @cached_property
    def racks(self) -> dict[int, Ints]:
        """Every rack of each size, as counts of the kinds in the set."""
        return {n: all_racks(tuple(self.copies.tolist()), n) for n in range(HAND_SIZE + 1)}

    @cached_property
    def choices(self) -> Array:
        """P(row | resting rack), shape (n_racks, n_rows)."""
        loose = np.array([self.model.weights["start"][name] for name in LOOSE])
        plans = chosen(self.card, self.habit, self.used, self.racks[RESTING], self.habits.choice)
        return np.hstack([plans * (1.0 - loose.sum()), np.tile(loose, (len(plans), 1))])

    def opening(self) -> TableState:
        """Return the table after the deal, with the empty seats written down."""
        from handread.table.events import SEATS

        state = start(Header(dealer=self.dealer), self.card.rules)
        for seat in range(len(SEATS)):
            if seat not in self.seats:
                state = apply(state, Absent(seat), self.card)
        return state


@lru_cache(maxsize=64)
def all_racks(copies: tuple[int, ...], n: int) -> Ints:
    """Every multiset of `n` tiles, in lexical order, shape (n_racks, n_used)."""
    found = [x for x in product(*(range(min(c, n) + 1) for c in copies)) if sum(x) == n]
    racks = np.array(found, dtype=np.int64)
    racks.flags.writeable = False
    return racks


def fit(racks: Ints, wanted: Ints) -> Array:
    """Tiles of each rack that each target can use, jokers left out, shape (n_racks, n_targets).

    `wanted` has the copies of each kind in the groups that each target has left.
    """
    naturals = slice(0, racks.shape[1] - 1)
    return np.minimum(racks[:, None, naturals], wanted[None, :, naturals]).sum(axis=2).astype(float)


def chosen(card: CompiledCard, habit: Array, used: Ints, racks: Ints, choice: float) -> Array:
    """P(target | rack) of a seat that settles on a target, shape (n_racks, n_targets)."""
    odds = habit * np.exp(choice * fit(racks, card.demand[:, used].astype(np.int64)))
    return np.asarray(odds / odds.sum(axis=1, keepdims=True))


def exact_prior(card: CompiledCard, habit: Array, choice: float) -> Array:
    """Chance of each target over all resting racks, shape (n_targets,): what a reader may know."""
    used = np.flatnonzero(card.rules.copies)
    copies = card.rules.copies[used].tolist()
    racks = all_racks(tuple(copies), RESTING)
    ways = np.array([prod(map(comb, copies, rack)) for rack in racks.tolist()])
    return np.asarray(ways / ways.sum() @ chosen(card, habit, used, racks, choice))


def micro_card(file: str = "micro.toml", copies: dict[str, int] = SET) -> CompiledCard:
    """A card of this folder with the copies given, zeros elsewhere."""
    card = load_card(Path(__file__).with_name(file))
    counts = np.zeros(N_KINDS, dtype=np.uint8)
    for word, n in copies.items():
        counts[parse_kind(word)] = n
    counts.flags.writeable = False
    rules = replace(card.rules, copies=counts)
    return replace(card, rules=rules, hash=f"{file} {list(copies.items())}")


def open_card() -> CompiledCard:
    """The card of ``open.toml``, on which groups are claimed often."""
    return micro_card("open.toml", OPEN_SET)


def micro_game(
    seats: tuple[int, ...] = (0, 2),
    dealer: int | None = None,
    *,
    habits: Habits = PLAIN,
    weights: dict[str, float] = LIVELY,
    card: CompiledCard | None = None,
) -> Game:
    """Put a micro-game together.

    Parameters
    ----------
    seats
        Two or three seats that play.
    dealer
        The seat that opens; None for the last of `seats`.
    habits
        Of the players.
    weights
        Changes to the lore weights, for players and reader alike.
    card
        The card; None for that of ``micro.toml``.
    """
    card = card or micro_card()
    habit = np.array(HABIT.get(card.n_targets, (1.0,) * card.n_targets))
    habit = habit / habit.sum()
    held: Weights = load_weights().replace(weights)
    model = build_model(card, weights=held, prior=exact_prior(card, habit, habits.choice))
    assert card.rules.copies[JOKER] > 0, "the joker must be the last kind in the set"
    return Game(card, habits, model, habit, seats, seats[-1] if dealer is None else dealer)


def deals(rack: Ints) -> int:
    """Orders in which a rack can be dealt."""
    return factorial(int(rack.sum())) // prod(factorial(int(n)) for n in rack)
