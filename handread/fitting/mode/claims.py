"""Weights of claims: groups shown and let pass, with what the tiles allowed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import can_make, tilted, willing
from handread.clues.codes import UNMODELLED
from handread.fitting.affine import made_up_context
from handread.fitting.mode.kernels import fill_claim_log_probs
from handread.fitting.mode.search import Estimate, search_rows, unknowns
from handread.fitting.mode.turns import fit_rate
from handread.fitting.priors import Priors
from handread.fitting.tables import Columns

Array = NDArray[np.float64]

#: Weights that are nats for each tile held, and no probabilities.
TILTS: Final = ("held_copies", "held_jokers")
#: Columns of what a seat may hold, distributions.
HELD: Final = ("kept", "any_plan", "jokers")
_PLAIN: Final = made_up_context(rng=np.random.default_rng(0))


def claim_probs(columns: Columns, weights: Mapping[str, float]) -> tuple[Array, Array]:
    """Probability that a seat shows each group, given that it does not win on the tile.

    Parameters
    ----------
    columns
        Table ``claims``; see ``handread.fitting.columns``.
    weights
        Block ``claims``.

    Returns
    -------
    planned, anew
        By the plan that the seat has, and for another one, shape (n, 18).
    """
    target = columns["loose"] == 0
    jokers = tilted(columns["jokers"].astype(float), weights["held_jokers"])
    kept, loose = columns["kept"].astype(float), columns["any_plan"].astype(float)
    held = np.where(target[:, None], tilted(kept, weights["held_copies"]), loose)
    rates, which = _rates(columns["turn"], weights)
    factor = np.array([1.0 - weights["anew"], *(weights[name] / 4 for name in UNMODELLED)])
    planned = columns["open"] * can_make(held, jokers) * rates[which]
    planned *= factor[columns["loose"].astype(int)][:, None]
    anew = columns["possible"] * can_make(loose, jokers) * rates[which]
    anew *= (weights["anew"] / 4 * target)[:, None]
    return np.asarray(planned), np.asarray(anew)


def _rates(
    turn: NDArray[np.integer], weights: Mapping[str, float]
) -> tuple[Array, NDArray[np.intp]]:
    """Rate of taking each group by distinct turn, and which turn each row has."""
    turns, which = np.unique(turn, return_inverse=True)
    rates = np.stack([willing(replace(_PLAIN, turn=int(t)), weights) for t in turns])
    return rates, which.reshape(-1)


class ClaimRows:
    """Windows made ready to be asked for their log probabilities under many weights.

    Parameters
    ----------
    columns
        Table ``claims``.
    """

    def __init__(self, columns: Columns) -> None:
        turns, which = np.unique(columns["turn"], return_inverse=True)
        self._contexts = [replace(_PLAIN, turn=int(turn)) for turn in turns]
        self._which = which.reshape(-1).astype(np.int64)
        self._columns = (
            columns["outcome"].astype(np.int64), columns["anew"],
            columns["loose"].astype(np.int64), *(columns[name] for name in HELD),
            columns["open"], columns["possible"],
        )  # fmt: skip

    def log_probs(self, settings: Sequence[Mapping[str, float]]) -> Array:
        """Log probability of each group shown or let pass, nats, shape (n_settings, n).

        Parameters
        ----------
        settings
            Blocks ``claims``.
        """
        out = np.empty((len(settings), len(self._which)))
        by_tilts: dict[tuple[float, ...], list[int]] = {}
        for i, weights in enumerate(settings):
            by_tilts.setdefault(tuple(weights[name] for name in TILTS), []).append(i)
        for tilts, places in by_tilts.items():
            out[places] = self._alike([settings[i] for i in places], tilts)
        return out

    def _alike(self, settings: Sequence[Mapping[str, float]], tilts: tuple[float, ...]) -> Array:
        """Log probabilities under weights that share their tilts."""
        rates = np.array([
            [willing(context, weights) for context in self._contexts] for weights in settings
        ])  # fmt: skip
        factors = np.array([
            [1.0 - weights["anew"], *(weights[name] / 4 for name in UNMODELLED)]
            for weights in settings
        ])  # fmt: skip
        anew = np.array([weights["anew"] / 4 for weights in settings])
        out = np.empty((len(settings), len(self._which)))
        fill_claim_log_probs(*self._columns, rates, self._which, factors, anew, *tilts, out)
        return out


def claim_log_probs(columns: Columns, weights: Mapping[str, float]) -> Array:
    """Log probability of each group shown or let pass, nats, shape (n,); see ``claim_probs``."""
    return np.asarray(ClaimRows(columns).log_probs([weights])[0])


def fit_claims(columns: Columns, priors: Priors, aims: Columns) -> list[Estimate]:
    """Rates of showing a group that can be made, with the rest a refusal."""
    plain = priors.centre["claims"]
    planned, anew = claim_probs(columns, {**plain, "anew": 0.5})
    outcome, rows = columns["outcome"].astype(np.int64), np.arange(len(columns["outcome"]))
    chance = np.where(columns["anew"][:, None], anew, planned)[rows, np.maximum(outcome, 0)]
    # a group that neither the plan nor the counts allow is a misplay, counted apart
    there = (outcome < 0) | (chance > 0)
    held = {name: np.ascontiguousarray(values[there]) for name, values in columns.items()}
    names = [path.split(".")[1] for path in priors.free("claims")]
    wanted = unknowns(priors, "claims", probabilities=[n for n in names if n not in TILTS])
    wanted = [each for each in wanted if each.path != "claims.misplay"]

    asked = ClaimRows(held)

    def log_probs(settings: Sequence[Mapping[str, float]]) -> Array:
        return asked.log_probs([{**plain, **weights} for weights in settings])

    found = search_rows(log_probs, held["weight"].astype(float), wanted)
    return found + _misplays(aims, priors)


def _misplays(aims: Columns, priors: Priors) -> list[Estimate]:
    how, weight = aims["how"], aims["weight"].astype(float)
    misplayed, open_to = float(weight[how == 2].sum()), float(weight[how == 3].sum())
    wanted = unknowns(priors, "claims", probabilities=("misplay",))
    wanted = [each for each in wanted if each.path == "claims.misplay"]
    if not wanted or open_to <= 0:
        return []
    return [fit_rate(wanted[0], misplayed, open_to - misplayed)]
