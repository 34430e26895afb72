"""Asking the other likelihood terms for what a fit needs, again by weights of 0 and 1.

The rates of claims, wins and redeems are asked with every rate at 1: what comes back is what the
tiles allow, and the rates multiply it. Log odds are asked one weight at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import logit

from handread.clues.claim_kernels import fill_held
from handread.clues.claims import (
    SHAPES,
    ClaimRates,
    claim_rates,
    counts,
)
from handread.clues.codes import N_UNMODELLED, claimable_bits
from handread.clues.context import Context
from handread.clues.contract import Clue
from handread.clues.hazard import prob_leaving
from handread.clues.passes import BLIND_STEPS
from handread.clues.redeems import redeem_rates
from handread.clues.weights import Weights
from handread.clues.wins import prob_win_on
from handread.errors import HandreadError
from handread.fitting.affine import TOLERANCE, made_up_context
from handread.fitting.kernels import fill_answer
from handread.reading.claiming import Claims
from handread.reading.looking import Seen
from handread.table.events import Discard, Stopped
from handread.tiles import MOST_COPIES
from handread.values import ArrayValue, FrozenMap, frozen

Array = NDArray[np.float64]

#: Log odds at which a seat is as good as certain to be one tile away.
_CERTAIN: Final = 60.0


def unit_weights(weights: Weights) -> Weights:
    """Weights under which claims, wins and redeems say what the tiles allow, and no more.

    Examples
    --------
    >>> from handread.clues import load_weights
    >>> unit_weights(load_weights())["claims"]["take_late"]
    1.0
    """
    claims = dict.fromkeys(weights["claims"], 1.0)
    claims |= {"misplay": 0.0, "anew": 0.0, "held_copies": 0.0, "held_jokers": 0.0}
    wins = dict.fromkeys(weights["wins"], 0.0)
    wins |= {"ready": _CERTAIN, "takes": 1.0, "draws_it": 1.0}
    redeems = dict.fromkeys(weights["redeems"], 1.0)
    blocks = {**weights.blocks, "claims": claims, "wins": wins, "redeems": redeems}
    frozen_blocks = FrozenMap({name: FrozenMap(dict(held)) for name, held in blocks.items()})
    return replace(weights, blocks=frozen_blocks)


@dataclass(frozen=True)
class Unit:
    """A unit model, as far as it is asked.

    Attributes
    ----------
    rates
        Rates of its claims.
    wins
        Probability that a seat wins on a tile that its target wants alone; the same wherever it is.
    """

    rates: ClaimRates
    wins: float

    __hash__ = None  # type: ignore[assignment]  # holds arrays


def unit_of(weights: Weights) -> Unit:
    """Unit model of some weights."""
    unit, one = unit_weights(weights), np.ones(1)
    won = prob_win_on(one, one, made_up_context(rng=np.random.default_rng(0)), unit["wins"])
    return Unit(claim_rates(unit["claims"]), float(won[0]))


class Answer(NamedTuple):
    """What one row could do about a tile that lies open, as far as the tiles go.

    Attributes
    ----------
    allowed
        Probability that it can make each group, shape (18,).
    open
        Groups that it is open to, each size by its share of the seat's looks; for a row without a
        plan, all that are possible; shape (18,).
    completes
        Probability that the tile completes the hand.
    able
        Whether it can make any group at all.
    """

    allowed: Array
    open: Array
    completes: float
    able: bool


#: That of a plan which has no use for the tile.
_IDLE: Final = Answer(frozen(np.zeros(len(SHAPES))), frozen(np.zeros(len(SHAPES))), 0.0, able=False)


class Offer:
    """A tile that lies open, as a seat sees it: what the tiles allow each row.

    The same as ``reading.claiming.Claims`` under a unit model, worked out for the few rows that a
    seat has in mind, and for nothing that nobody asks for: for most tiles no plan has a use.

    Parameters
    ----------
    would
        What the seat would do by the reading; its tile, and the groups there is room for.
    look
        Looks at the seat.
    unit
        A unit model.
    """

    def __init__(self, would: Claims, look: Callable[[], Seen], unit: Unit) -> None:
        self.kind, self.possible, self._look, self._unit = would.kind, would.possible, look, unit
        self._card = would.model.card

    @cached_property
    def seen(self) -> Seen:
        """The seat."""
        return self._look()

    @cached_property
    def held(self) -> Array:
        """What the seat may hold, by counts alone, as of ``clues.claims.Holdings``, (3, 17)."""
        held = np.empty((3, MOST_COPIES + 1))
        fill_held(*counts(self.seen.context, self.kind), held)
        return held

    def answer(self, row: int) -> Answer:
        """What one row could do, as far as the tiles go."""
        card, target = self._card, row < self._card.n_targets
        if target and not card.demand[row, self.kind]:
            return _IDLE
        seen, rates = self.seen, self._unit.rates
        allowed, open_to = np.empty(len(SHAPES)), np.empty(len(SHAPES))
        share, able = fill_answer(
            row, self.kind, self.held, self.possible, rates.willing[seen.context.phase],
            rates.loose, rates.anew, rates.held_copies, rates.held_jokers, card.group_kind,
            card.group_size, card.group_joker, card.demand, card.concealed, seen.belief.left,
            seen.belief.fits, claimable_bits(card.rules.claimable), allowed, open_to,
        )  # fmt: skip
        completes = self._unit.wins * float(seen.finish[row]) * share if target else 0.0
        return Answer(allowed, open_to, completes, able)


def affine(
    ask: Callable[[Mapping[str, float]], Array], names: Sequence[str]
) -> tuple[Array, Array]:
    """Constant and slopes of numbers that are affine in their weights.

    Parameters
    ----------
    ask
        Takes weights, gives numbers of one shape.
    names
        The weights.

    Returns
    -------
    constant
        Numbers at weights of 0.
    slopes
        One more axis at the end, for the weights.

    Raises
    ------
    HandreadError
        If the numbers are not affine in the weights.
    """
    zero = dict.fromkeys(names, 0.0)
    constant = np.asarray(ask(zero))
    slopes = np.stack([np.asarray(ask(zero | {name: 1.0})) - constant for name in names], axis=-1)
    some = {name: 0.3 + 0.1 * (i % 7) for i, name in enumerate(names)}
    made = constant + slopes @ np.array(list(some.values()))
    if np.abs(np.asarray(ask(some)) - made).max(initial=0.0) > 1e3 * TOLERANCE:
        raise HandreadError(f"log odds are not affine in {', '.join(names)}; they cannot be fitted")
    return constant, slopes


@dataclass(frozen=True, eq=False)
class Notes(ArrayValue):
    """Log odds that a throw is noted as just drawn, in one context.

    Attributes
    ----------
    constant, slopes
        On turns that keep and change the plan, by use code of the tile thrown; shapes (2, 16) and
        (2, 16, n_weights).
    """

    constant: Array
    slopes: Array


def note_odds(clue: Clue, context: Context) -> Notes | None:
    """Ask a clue for the odds of its note; None for a clue that says nothing of it."""

    def ask(weights: Mapping[str, float]) -> Array:
        drawn, held = (
            clue.mark(context, Discard(context.seat, 0, drawn=way), weights)
            for way in (True, False)
        )
        if drawn is None or held is None:
            words = "it speaks of a throw noted as drawn, or as held, only under some weights"
            raise HandreadError(f"clue {clue.name!r}: {words}; it cannot be fitted")
        return np.array(drawn) - np.array(held)

    if clue.mark(context, Discard(context.seat, 0, drawn=True), clue.defaults) is None:
        return None
    return Notes(*affine(ask, tuple(clue.defaults)))


@dataclass(frozen=True, eq=False)
class Leaving(ArrayValue):
    """How the rate at which rows leave their plan hangs on the weights, in one context.

    Attributes
    ----------
    constant, slopes
        Log odds of rows that are targets, shapes (n,) and (n, n_weights).
    rate
        Index of the weight that is the rate of each unmodelled row, shape (3,).
    """

    constant: Array
    slopes: Array
    rate: NDArray[np.int64]


def leaving_odds(
    context: Context, blocked: NDArray[np.integer], names: Sequence[str]
) -> Leaving:  # fmt: skip
    """Ask for the rate at which rows leave their plan.

    Parameters
    ----------
    context
        The seat's, before its throw.
    blocked
        Kinds gone of some targets, shape (n,).
    names
        Weights of the block ``hazard``.
    """

    def odds(weights: Mapping[str, float]) -> Array:
        return np.asarray(logit(prob_leaving(context, blocked, weights)[: len(blocked)]))

    def rates(weights: Mapping[str, float]) -> Array:
        return prob_leaving(context, blocked, weights)[-N_UNMODELLED:]

    constant, slopes = affine(odds, names)
    _, loose = affine(rates, names)
    return Leaving(constant, slopes, loose.argmax(axis=1))


def redeem_offers(
    context: Context, kinds: Sequence[int], names: Sequence[str]
) -> tuple[Array, NDArray[np.int64]]:
    """Chance that a seat holds each kind on offer, and which rate applies to it, by use code.

    Parameters
    ----------
    context
        The seat's, on its turn.
    kinds
        Kinds on offer.
    names
        Weights of the block ``redeems``.

    Returns
    -------
    held, which
        Shape (n_kinds, 16) each.
    """
    every, which = dict.fromkeys(names, 1.0), _redeem_rates_of(tuple(names))
    held = np.array([redeem_rates(context, kind, every) for kind in kinds])
    return held, np.where(held > 0, which, 0)


@lru_cache(maxsize=8)
def _redeem_rates_of(names: tuple[str, ...]) -> NDArray[np.int64]:
    """Which rate of a redeem applies, by use code: the tile is held by somebody here, shape (16,).

    A seat that holds a tile gives it at the rate of one weight, whatever the context.
    """
    context = made_up_context(rng=np.random.default_rng(0))
    kind, zero = int(np.flatnonzero(context.unseen)[0]), dict.fromkeys(names, 0.0)
    asked = [redeem_rates(context, kind, zero | {name: 1.0}) for name in names]
    return frozen(np.array(asked).argmax(axis=0))


def pass_outcomes(event: Any, seat: int) -> list[tuple[str, int]]:
    """What an event of the passes says of a seat, as a reading takes it."""
    if isinstance(event, Stopped):
        return [("stop", 1)] if event.seat == seat else []
    found = [("stop", 0)] if event.step == "second left" else []
    name = "courtesy" if event.step == "courtesy" else "blind"
    counts = event.counts if name == "courtesy" else event.blind
    if counts is not None and (name == "courtesy" or event.step in BLIND_STEPS):
        found.append((name, min(counts[seat], 3)))
    return found
