"""Weights of claims: groups shown and let pass, with what the tiles allowed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import can_make, claim_rates, tilted
from handread.clues.codes import UNMODELLED
from handread.clues.context import LATE_TURN, MIDDLE_TURN
from handread.fitting.mode.blocks import added, each_block
from handread.fitting.mode.claim_kernels import FACTOR, N_PLACES, claim_look
from handread.fitting.mode.climbing import Sums, climb
from handread.fitting.mode.kernels import fill_claim_log_probs
from handread.fitting.mode.search import Estimate, unknowns
from handread.fitting.mode.turns import fit_rate
from handread.fitting.priors import Priors
from handread.fitting.tables import Columns
from handread.values import frozen

Array = NDArray[np.float64]

#: Weights that are nats for each tile held, and no probabilities.
TILTS: Final = ("held_copies", "held_jokers")
#: Columns of what a seat may hold, distributions.
HELD: Final = ("kept", "any_plan", "jokers")
#: Windows that one thread looks at in one go.
CHUNK: Final = 1 << 14


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
    factor = _factors(weights)
    planned = columns["open"] * can_make(held, jokers) * rates
    planned *= factor[columns["loose"].astype(int)][:, None]
    anew = columns["possible"] * can_make(loose, jokers) * rates
    anew *= (weights["anew"] / 4 * target)[:, None]
    return np.asarray(planned), np.asarray(anew)


def _factors(weights: Mapping[str, float]) -> Array:
    """Factor of the rates of a seat on a target, and of each row without a plan, shape (4,)."""
    return np.array([1.0 - weights["anew"], *(weights[name] / 4 for name in UNMODELLED)])


def claim_numbers(weights: Mapping[str, float]) -> Array:
    """What windows hang on under some weights of a block ``claims``, shape (61,).

    Rates of the groups by phase (54), factors of a seat on a target and of each row without a
    plan (4), the factor of a group for another plan, and nats for each copy and joker held.
    """
    return np.concatenate([
        claim_rates(weights).willing.ravel(), _factors(weights),
        [weights["anew"] / 4, *(weights[name] for name in TILTS)],
    ])  # fmt: skip


def _places() -> NDArray[np.int64]:
    """Number of each phase, `loose` and place of ``claim_kernels``, shape (3, 4, 22)."""
    shared = [58, 59, 60]
    return np.array([
        [[*range(18 * phase, 18 * phase + 18), 54 + loose, *shared] for loose in range(4)]
        for phase in range(3)
    ])  # fmt: skip


#: Numbers of ``claim_numbers`` by phase, `loose` and place of a look.
PLACES: Final = frozen(_places())


def _both_halves(sums: Array) -> Array:
    """A matrix of which each entry off the diagonal stands in one half or the other."""
    out = sums + sums.T
    out[np.diag_indices(len(out))] /= 2.0
    return out


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

    def look(
        self, weight: Array, numbers: Array, n_workers: int
    ) -> tuple[float, Array, Array, Array]:
        """Log likelihood, with its slope and curvature.

        Parameters
        ----------
        weight
            How much each window counts, shape (n,).
        numbers
            What windows hang on, see ``claim_numbers``.
        n_workers
            Threads.

        Returns
        -------
        total, slope, curvature, squares
            By number; minus the curvature, and the sum of the squares of the slopes of each
            window; shapes (), (61,) and twice (61, 61).
        """
        rates, (*factors, rate_anew, copies, jokers) = numbers[:54].reshape(3, 18), numbers[54:]
        settings = (rates, np.array(factors), float(rate_anew), float(copies), float(jokers))
        columns = (*self._columns, weight, self._phase)

        def job(number: int) -> tuple[float, Array, Array, Array]:
            part, n = slice(number * CHUNK, (number + 1) * CHUNK), N_PLACES
            slope, half, bend = np.zeros((3, 4, n)), np.zeros((3, 4, n, n)), np.zeros((3, 4, 4, n))
            total = claim_look(*(column[part] for column in columns), *settings, slope, half, bend)
            return total, slope, half, bend

        total, slope, half, bend = added(
            each_block(job, max(-(-len(weight) // CHUNK), 1), n_workers)
        )
        pulls, squares = np.zeros(61), np.zeros((61, 61))
        np.add.at(pulls, PLACES, slope)
        np.add.at(squares, (PLACES[..., :, None], PLACES[..., None, :]), half)
        curvature = squares.copy()
        np.add.at(curvature, (PLACES[..., FACTOR:, None], PLACES[..., None, :]), bend)
        return float(total), pulls, _both_halves(curvature), _both_halves(squares)

    def _alike(self, settings: Sequence[Mapping[str, float]], tilts: tuple[float, ...]) -> Array:
        """Log probabilities under weights that share their tilts."""
        rates = np.array([claim_rates(weights).willing for weights in settings])
        factors = np.array([_factors(weights) for weights in settings])
        anew = np.array([weights["anew"] / 4 for weights in settings])
        out = np.empty((len(settings), len(self._phase)))
        fill_claim_log_probs(*self._columns, rates, self._phase, factors, anew, *tilts, out)
        return out


def fit_claims(
    columns: Columns, priors: Priors, aims: Columns, *, n_workers: int = 1
) -> list[Estimate]:
    """Rates of showing a group that can be made, with the rest a refusal."""
    plain = priors.centre["claims"]
    # a group that neither the plan nor the counts allow is a misplay, counted apart
    outcome = columns["outcome"].astype(np.int64)
    shown, there = np.flatnonzero(outcome >= 0), np.ones(len(outcome), dtype=np.bool_)
    some = {name: values[shown] for name, values in columns.items()}
    planned, anew = claim_probs(some, {**plain, "anew": 0.5})
    chances = np.where(some["anew"][:, None], anew, planned)
    there[shown] = chances[np.arange(len(shown)), outcome[shown]] > 0
    held = {name: np.ascontiguousarray(values[there]) for name, values in columns.items()}
    names = [path.split(".")[1] for path in priors.free("claims")]
    wanted = unknowns(priors, "claims", probabilities=[n for n in names if n not in TILTS])
    wanted = [each for each in wanted if each.path != "claims.misplay"]

    n_rows = len(held["weight"])

    def taken(part: slice) -> Sums:
        rows = {name: np.ascontiguousarray(values[part]) for name, values in held.items()}
        asked, weight = ClaimRows(rows), rows["weight"].astype(float)
        return lambda numbers: asked.look(weight, numbers, n_workers)

    seen = dict.fromkeys((each.path for each in wanted), float(held["weight"].sum(dtype=float)))
    found = climb(
        lambda weights: claim_numbers({**plain, **weights}), taken, wanted, n_rows=n_rows,
        counts=seen, by_squares=True,
    )  # fmt: skip
    return found + _misplays(aims, priors)


def _misplays(aims: Columns, priors: Priors) -> list[Estimate]:
    how, weight = aims["how"], aims["weight"].astype(float)
    misplayed, open_to = float(weight[how == 2].sum()), float(weight[how == 3].sum())
    wanted = unknowns(priors, "claims", probabilities=("misplay",))
    wanted = [each for each in wanted if each.path == "claims.misplay"]
    if not wanted or open_to <= 0:
        return []
    return [fit_rate(wanted[0], misplayed, open_to - misplayed)]
