"""Weights of claims: groups shown and let pass, with what the tiles allowed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import can_make, claim_rates, tilted
from handread.clues.codes import UNMODELLED
from handread.clues.context import LATE_TURN, MIDDLE_TURN
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
    rates = claim_rates(weights).willing[_phases(columns["turn"])]
    factor = np.array([1.0 - weights["anew"], *(weights[name] / 4 for name in UNMODELLED)])
    planned = columns["open"] * can_make(held, jokers) * rates
    planned *= factor[columns["loose"].astype(int)][:, None]
    anew = columns["possible"] * can_make(loose, jokers) * rates
    anew *= (weights["anew"] / 4 * target)[:, None]
    return np.asarray(planned), np.asarray(anew)


def _phases(turn: NDArray[np.integer]) -> NDArray[np.int64]:
    """Phase of each own turn, as ``Context.phase``."""
    return (turn >= MIDDLE_TURN).astype(np.int64) + (turn >= LATE_TURN)


class ClaimRows:
    """Windows made ready to be asked for their log probabilities under many weights.

    Parameters
    ----------
    columns
        Table ``claims``.
    """

    def __init__(self, columns: Columns) -> None:
        self._phase = _phases(columns["turn"])
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
        out = np.empty((len(settings), len(self._phase)))
        by_tilts: dict[tuple[float, ...], list[int]] = {}
        for i, weights in enumerate(settings):
            by_tilts.setdefault(tuple(weights[name] for name in TILTS), []).append(i)
        for tilts, places in by_tilts.items():
            out[places] = self._alike([settings[i] for i in places], tilts)
        return out

    def _alike(self, settings: Sequence[Mapping[str, float]], tilts: tuple[float, ...]) -> Array:
        """Log probabilities under weights that share their tilts."""
        rates = np.array([claim_rates(weights).willing for weights in settings])
        factors = np.array([
            [1.0 - weights["anew"], *(weights[name] / 4 for name in UNMODELLED)]
            for weights in settings
        ])  # fmt: skip
        anew = np.array([weights["anew"] / 4 for weights in settings])
        out = np.empty((len(settings), len(self._phase)))
        fill_claim_log_probs(*self._columns, rates, self._phase, factors, anew, *tilts, out)
        return out


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
