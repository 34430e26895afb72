"""Weights of what seats make of tiles on the table: wins, redeems, passes, the start."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import UNMODELLED
from handread.clues.context import Context
from handread.clues.wins import prob_ready
from handread.fitting.affine import made_up_context
from handread.fitting.columns import PASS_NAMES
from handread.fitting.mode.climbing import Sums, climb
from handread.fitting.mode.search import Estimate, unknowns
from handread.fitting.mode.turns import fit_rate
from handread.fitting.priors import Priors
from handread.fitting.tables import Columns

Array = NDArray[np.float64]

_PLAIN: Final = made_up_context(rng=np.random.default_rng(0))
_TINY: Final = 1e-300


def _groups(*keys: NDArray[np.integer]) -> tuple[NDArray[np.int64], NDArray[np.intp]]:
    """Distinct keys, and which of them each row has."""
    packed = np.zeros(len(keys[0]), dtype=np.int64)
    for key in keys:
        packed = packed * 1000 + key
    _, first, which = np.unique(packed, return_index=True, return_inverse=True)
    return np.stack([key[first] for key in keys], axis=1), which.reshape(len(packed))


def win_probs(
    completes: Array, drawn: NDArray[np.bool_], turn: NDArray[np.integer],
    exposed: NDArray[np.integer], weights: Mapping[str, float],
) -> Array:  # fmt: skip
    """Probability that a seat wins, on a throw or on its own draw.

    Parameters
    ----------
    completes
        For a throw, part of the tiles still needed that are of its kind, times the probability
        that the plan can be finished; for a draw that probability alone; shape (n,).
    drawn
        Whether it is the seat's own draw, shape (n,).
    turn, exposed
        Own turns before, and groups shown, shape (n,).
    weights
        Block ``wins``.
    """
    return _win_probs(completes, drawn, *_groups(turn, exposed), weights)


def _win_probs(
    completes: Array, drawn: NDArray[np.bool_], places: NDArray[np.int64],
    which: NDArray[np.intp], weights: Mapping[str, float],
) -> Array:  # fmt: skip
    ready = _ready(_contexts(places), weights)
    rate = np.where(drawn, weights["draws_it"], weights["takes"])
    return np.asarray(weights["in_error"] + rate * ready[which] * completes)


def _contexts(places: NDArray[np.int64]) -> list[Context]:
    return [replace(_PLAIN, turn=int(t), n_exposed=int(n)) for t, n in places]


def _ready(contexts: Sequence[Context], weights: Mapping[str, float]) -> Array:
    return np.array([prob_ready(context, weights) for context in contexts])


def win_sums(
    completes: Array, which: NDArray[np.intp], happened: NDArray[np.bool_], weight: Array,
    in_error: float,
) -> Sums:  # fmt: skip
    """Log likelihood of wins and of wins not taken, by the chance at each place.

    Parameters
    ----------
    completes
        As of ``win_probs``, shape (n,).
    which
        Place of each row, shape (n,): the sums take the chance that a seat there wins on a tile
        that completes its hand for certain.
    happened, weight
        Whether it won, and how much that counts, shape (n,).
    in_error
        Chance of a win in error.
    """

    def sums(chances: Array) -> tuple[float, Array, Array, None]:
        prob = np.clip(in_error + chances[which] * completes, _TINY, 1.0 - 1e-12)
        seen = np.where(happened, prob, prob - 1.0)  # the slope of its log is one over it
        pull = completes / seen
        slope = np.bincount(which, weights=weight * pull, minlength=len(chances)).astype(float)
        bend = np.bincount(which, weights=weight * pull**2, minlength=len(chances))
        return float(weight @ np.log(np.abs(seen))), slope, np.diag(bend), None

    return sums


def fit_wins(columns: Columns, priors: Priors) -> list[Estimate]:
    """How ready seats are, and for which tile; drawing on without winning counts, too."""
    weight, happened = columns["weight"].astype(float), columns["happened"]
    completes, drawn = columns["completes"].astype(float), columns["drawn"].astype(np.intp)
    turn, exposed = columns["turn"].astype(int), columns["exposed"].astype(int)
    plain, (places, which) = priors.centre["wins"], _groups(turn, exposed)
    wanted = unknowns(priors, "wins", probabilities=("takes", "draws_it"))
    contexts = _contexts(places)

    def numbers(weights: Mapping[str, float]) -> Array:
        every = {**plain, **weights}
        ready = _ready(contexts, every)
        return np.concatenate([every["takes"] * ready, every["draws_it"] * ready])

    place = which + len(places) * drawn

    def taken(part: slice) -> Sums:
        rows = completes[part], place[part], happened[part], weight[part]
        return win_sums(*rows, plain["in_error"])

    seen = dict.fromkeys((each.path for each in wanted), float(weight.sum()))
    return climb(numbers, taken, wanted, n_rows=len(weight), counts=seen)


def redeem_sums(
    held: Array, rate: NDArray[np.int64], outcome: NDArray[np.int64], weight: Array
) -> Sums:
    """Log likelihood of redeems, and of kinds on offer that nobody gave, by rate.

    Parameters
    ----------
    held, rate, outcome, weight
        Columns of the table ``redeems``, shapes (n, n_kinds) twice and (n,) twice.
    """
    gave = (outcome >= 0) & (held[np.arange(len(outcome)), np.maximum(outcome, 0)] > 0)
    left, (rows, kinds) = outcome < 0, np.nonzero(held * (outcome < 0)[:, None])
    kept, name = held[rows, kinds], rate[rows, kinds]
    idle = float(weight[~left & ~gave].sum()) * math.log(_TINY)
    chosen = outcome[gave]

    def sums(rates: Array) -> tuple[float, Array, Array, None]:
        of_given = held[gave][..., None] * (rate[gave][..., None] == np.arange(len(rates)))
        n, gives = len(rates), kept * rates[name]
        pull, of = kept / (gives - 1.0), weight[rows]
        slope = np.bincount(name, weights=of * pull, minlength=n)
        bend = np.diag(np.bincount(name, weights=of * pull**2, minlength=n))
        total = float(of @ np.log1p(-gives)) + idle
        given, own, more = _given(of_given, chosen, weight[gave], rates)
        return total + given, slope + own, bend + more, None

    return sums


def _given(
    held: Array, outcome: NDArray[np.int64], weight: Array, rates: Array
) -> tuple[float, Array, Array]:
    """Log likelihood of redeems, with its slope and minus its curvature by rate.

    `held` is the chance that the seat holds each kind, by the rate that applies to it, shape
    (n, n_kinds, n_rates).
    """
    gives = held @ rates
    total, none = gives.sum(axis=1), np.prod(1.0 - gives, axis=1)
    any_kind = none / (1.0 - none)
    each = held / (1.0 - gives)[..., None]
    rows = np.arange(len(outcome))
    chosen = gives[rows, outcome]
    own, kinds = held[rows, outcome] / chosen[:, None], held.sum(axis=1) / total[:, None]
    tried = each.sum(axis=1)
    slope = weight @ (own - kinds + any_kind[:, None] * tried)
    minus = (own.T * weight) @ own - (kinds.T * weight) @ kinds
    minus -= np.einsum("n,nka,nkb->ab", weight * any_kind, each, each)
    minus += (tried.T * (weight * any_kind / (1.0 - none))) @ tried
    log_prob = np.log(chosen) - np.log(total) + np.log1p(-none)
    return float(weight @ log_prob), slope, minus


def fit_redeems(columns: Columns, priors: Priors) -> list[Estimate]:
    """Rates of giving a natural for a joker, by what the natural is to the plan."""
    names, plain = tuple(priors.centre["redeems"]), priors.centre["redeems"]
    weight, outcome = columns["weight"].astype(float), columns["outcome"].astype(int)
    held, rate = columns["held"].astype(float), columns["rate"].astype(int)
    wanted = unknowns(priors, "redeems", probabilities=names)

    def numbers(weights: Mapping[str, float]) -> Array:
        every = {**plain, **weights}
        return np.array([every[name] for name in names])

    seen = {
        f"redeems.{name}": float((weight[:, None] * ((rate == i) & (held > 0))).sum())
        for i, name in enumerate(names)
    }
    if not len(weight):
        return []

    def taken(part: slice) -> Sums:
        return redeem_sums(held[part], rate[part], outcome[part], weight[part])

    return climb(numbers, taken, wanted, n_rows=len(weight), counts=seen)


def fit_passes(columns: Columns, priors: Priors) -> list[Estimate]:
    """Rates of stopping, of blind and of courtesy tiles, of formed racks and of others."""
    names = [path.split(".")[1] for path in priors.free("passes")]
    found = []
    for each in unknowns(priors, "passes", probabilities=names):
        what, _, who = each.path.split(".")[1].partition("_")
        if what not in PASS_NAMES or who not in ("formed", "undecided"):
            continue  # about what a viewer at the table sees
        here = columns["what"] == PASS_NAMES.index(what)
        here &= columns["undecided"] == (who == "undecided")
        weight, outcome = columns["weight"][here].astype(float), columns["outcome"][here]
        tries = 1 if what == "stop" else 3
        done = float((weight * outcome).sum())
        found.append(fit_rate(each, done, tries * float(weight.sum()) - done))
    return found


def fit_start(columns: Columns, priors: Priors) -> list[Estimate]:
    """Shares of the unmodelled rows once the passes are over."""
    weight, loose = columns["weight"].astype(float), columns["loose"].astype(int)
    total, found = float(weight.sum()), []
    for each in unknowns(priors, "start", probabilities=UNMODELLED):
        if each.path.split(".")[1] not in UNMODELLED:
            continue  # about what a viewer at the table sees
        place = UNMODELLED.index(each.path.split(".")[1]) + 1
        here = float(weight[loose == place].sum())
        found.append(fit_rate(each, here, total - here))
    return found
