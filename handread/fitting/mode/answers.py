"""Weights of what seats make of tiles on the table: wins, redeems, passes, the start."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import UNMODELLED
from handread.clues.redeems import redeem_probs
from handread.clues.wins import prob_ready
from handread.fitting.affine import made_up_context
from handread.fitting.columns import PASS_NAMES
from handread.fitting.mode.search import Estimate, search, unknowns
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
    ready = np.array([
        prob_ready(replace(_PLAIN, turn=int(t), n_exposed=int(n)), weights) for t, n in places
    ])  # fmt: skip
    rate = np.where(drawn, weights["draws_it"], weights["takes"])
    return np.asarray(weights["in_error"] + rate * ready[which] * completes)


def fit_wins(columns: Columns, priors: Priors) -> list[Estimate]:
    """How ready seats are, and for which tile; drawing on without winning counts, too."""
    weight, happened = columns["weight"].astype(float), columns["happened"]
    completes, drawn = columns["completes"].astype(float), columns["drawn"]
    turn, exposed = columns["turn"].astype(int), columns["exposed"].astype(int)
    plain, (places, which) = priors.centre["wins"], _groups(turn, exposed)
    wanted = unknowns(priors, "wins", probabilities=("takes", "draws_it"))

    def log_lik(weights: Mapping[str, float]) -> float:
        prob = _win_probs(completes, drawn, places, which, {**plain, **weights})
        prob = np.clip(prob, _TINY, 1.0 - 1e-12)
        return float((weight * np.where(happened, np.log(prob), np.log1p(-prob))).sum())

    seen = dict.fromkeys((each.path for each in wanted), float(weight.sum()))
    return search(log_lik, wanted, counts=seen)


def fit_redeems(columns: Columns, priors: Priors) -> list[Estimate]:
    """Rates of giving a natural for a joker, by what the natural is to the plan."""
    names = tuple(priors.centre["redeems"])
    weight, outcome = columns["weight"].astype(float), columns["outcome"].astype(int)
    held, rate = columns["held"].astype(float), columns["rate"].astype(int)
    wanted = unknowns(priors, "redeems", probabilities=names)
    plain, rows = priors.centre["redeems"], np.arange(len(outcome))

    def log_lik(weights: Mapping[str, float]) -> float:
        every = {**plain, **weights}
        each, none = redeem_probs(held * np.array([every[name] for name in names])[rate])
        value = np.where(outcome < 0, none, each[rows, np.maximum(outcome, 0)])
        return float((weight * np.log(np.maximum(value, _TINY))).sum())

    seen = {
        f"redeems.{name}": float((weight[:, None] * ((rate == i) & (held > 0))).sum())
        for i, name in enumerate(names)
    }
    return search(log_lik, wanted, counts=seen) if len(weight) else []


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
