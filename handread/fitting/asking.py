"""Asking the other likelihood terms for what a fit needs, again by weights of 0 and 1.

The rates of claims, wins and redeems are asked with every rate at 1: what comes back is what the
tiles allow, and the rates multiply it. Log odds are asked one weight at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import logit

from handread.clues.claims import N_MASKS, OPEN_TO, SHAPES
from handread.clues.codes import N_UNMODELLED
from handread.clues.context import Context
from handread.clues.contract import Clue
from handread.clues.hazard import prob_leaving
from handread.clues.passes import BLIND_STEPS
from handread.clues.redeems import redeem_rates
from handread.clues.weights import Weights
from handread.errors import HandreadError
from handread.fitting.affine import TOLERANCE
from handread.reading import Model
from handread.reading.likelihood import Claims
from handread.table.events import Discard, Stopped
from handread.values import ArrayValue, FrozenMap, frozen

Array = NDArray[np.float64]

#: Log odds at which a seat is as good as certain to be one tile away.
_CERTAIN: Final = 60.0
_WITH_JOKERS: Final = frozen(np.array([jokers > 0 for _, jokers in SHAPES]))


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


def unit_model(model: Model) -> Model:
    """Model with the weights of ``unit_weights``."""
    return replace(model, weights=unit_weights(model.weights))


def allowed_shapes(would: Claims, row: int) -> Array:
    """Probability that a row can make each group, under a unit model, shape (18,)."""
    plain, mixed = (would.table[int(rows[row])] for rows in would.rows)
    return np.asarray(np.where(_WITH_JOKERS, mixed, plain) * would.share[row])


def open_shapes(would: Claims, row: int) -> Array:
    """Groups that a row is open to, each size by its share of the seat's looks, shape (18,).

    For a row without a plan, all that are possible.
    """
    plain, mixed = (int(rows[row]) for rows in would.rows)
    if plain >= N_MASKS:
        return would.possible.astype(np.float64)
    there = np.where(_WITH_JOKERS, OPEN_TO[mixed], OPEN_TO[plain])
    return np.asarray(there * would.possible * would.share[row])


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


def note_odds(
    clue: Clue, context: Context, code: int, *, changing: bool
) -> tuple[float, Array] | None:
    """Log odds that a throw is noted as just drawn, by a clue; constant and slopes.

    None for a clue that says nothing of it.
    """
    side = int(changing)

    def ask(weights: Mapping[str, float]) -> Array:
        drawn, held = (
            clue.mark(context, Discard(context.seat, 0, drawn=way), weights)
            for way in (True, False)
        )
        if drawn is None or held is None:
            words = "it speaks of a throw noted as drawn, or as held, only under some weights"
            raise HandreadError(f"clue {clue.name!r}: {words}; it cannot be fitted")
        return np.array([drawn[side][code] - held[side][code]])

    if clue.mark(context, Discard(context.seat, 0, drawn=True), clue.defaults) is None:
        return None
    constant, slopes = affine(ask, tuple(clue.defaults))
    return float(constant[0]), slopes[0]


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
    context: Context, kinds: Sequence[int], codes: NDArray[np.integer], names: Sequence[str]
) -> tuple[Array, NDArray[np.int64]]:
    """Chance that a seat holds each kind on offer, and which rate applies to it.

    Parameters
    ----------
    context
        The seat's, on its turn.
    kinds
        Kinds on offer.
    codes
        Use code of each of them in one row.
    names
        Weights of the block ``redeems``.
    """
    held, which = np.zeros(len(kinds)), np.zeros(len(kinds), dtype=np.int64)
    for i, (kind, code) in enumerate(zip(kinds, codes, strict=True)):
        asked = [
            redeem_rates(context, kind, dict.fromkeys(names, 0.0) | {name: 1.0})[int(code)]
            for name in names
        ]
        which[i] = int(np.argmax(asked))
        held[i] = asked[int(which[i])]
    return held, which


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
