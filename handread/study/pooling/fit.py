"""Fit the weight of a pool on games of its own, games counting alike."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import minimize_scalar

from handread.card import load_card
from handread.errors import HandreadError
from handread.study._arrays import Floats
from handread.study.clusters import GameIndex, game_index
from handread.study.forecasters.contract import Array
from handread.study.intervals import Estimate, expanded_tails, resampled_weights
from handread.study.moments import Moments
from handread.study.pooling.forecaster import FORMAT, log_pool
from handread.study.running.bench import stored_readers
from handread.study.running.plan import Folders, StudyPlan
from handread.study.running.runner import Progress, run_study
from handread.study.running.store import put_file
from handread.study.scores import bits_log_score
from handread.values import frozen

#: Weights among which resamples look.
_GRID = frozen(np.linspace(0.0, 1.0, 41))


@dataclass(frozen=True)
class PoolPlan:
    """What a pool is fitted on.

    Attributes
    ----------
    first, second
        The readers, by name.
    card, population
        As a plan of a study names them.
    seed
        Master seed; no game of another master seed is a game of this one.
    training
        Games for base rates, where a reader needs them.
    games
        Games that the weight is fitted on.
    models, peers
        Stored readers, as in a plan of a study.
    """

    first: str = "default"
    second: str = "peer"
    card: str = "house"
    population: str = "default"
    seed: int = 20260802
    training: int = 100
    games: int = 400
    models: Folders = (("default", "models/default"),)
    peers: Folders = (("peer", "peers/house"),)


def stored_names(said: Sequence[str] | None, default: str) -> Folders:
    """Names of stored readers with their folders, as a command line gives them.

    Parameters
    ----------
    said
        Each ``NAME=FOLDER``; none for the default.
    default
        One of the same form.

    Raises
    ------
    HandreadError
        If one has another form.

    Examples
    --------
    >>> stored_names(["flat=models/flat"], "default=models/default")
    (('flat', 'models/flat'),)
    """
    pairs = [each.partition("=") for each in said or [default]]
    for name, _, folder in pairs:
        if not name or not folder:
            raise HandreadError(f"{said!r} names no stored reader; accepted: NAME=FOLDER")
    return tuple((name, folder) for name, _, folder in pairs)


@dataclass(frozen=True)
class PoolFit:
    """A fitted weight.

    Attributes
    ----------
    weight
        Of the second reader, 0 to 1, with its interval over games.
    gain_over_first, gain_over_second
        Log score of the pool less that of a reader alone on the same games, bits a moment; a
        little high, since the weight was chosen on them.
    """

    weight: Estimate
    gain_over_first: float
    gain_over_second: float


def fit_weight(
    first: Moments, second: Moments, *, rng: np.random.Generator, resamples: int = 500
) -> PoolFit:
    """Find the weight under which the pool's log score is best, games counting alike.

    The log score of a log pool is concave in the weight, so the best one is the only one.

    Parameters
    ----------
    first, second
        Beliefs of the two readers at the same moments.
    rng
        Source of the resampling of games.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    PoolFit

    Raises
    ------
    HandreadError
        If the moments are not the same, or there are fewer than two games.
    """
    same = len(first) == len(second) and bool((first.event == second.event).all())
    index = game_index(first.game)
    if not same or index.n_games < 2:
        raise HandreadError(
            f"{len(first)} and {len(second)} moments of {index.n_games} games; accepted: the same "
            "moments of two games or more"
        )
    one, two, truth = np.asarray(first.prob), np.asarray(second.prob), np.asarray(first.truth)

    def loss(weight: float) -> float:
        return -float(_by_game(one, two, truth, weight, index).mean())

    found = minimize_scalar(loss, bounds=(0.0, 1.0), method="bounded", options={"xatol": 1e-4})
    weight = min((0.0, float(found.x), 1.0), key=loss)
    curve = np.stack([_by_game(one, two, truth, each, index) for each in _GRID], axis=1)
    drawn = np.concatenate(
        [
            _GRID[(block @ curve).argmax(axis=1)]
            for block in resampled_weights(index.n_games, resamples, rng=rng)
        ]
    )
    low, high = np.quantile(drawn, expanded_tails(index.n_games, 0.95))
    told = Estimate(
        weight, float(low), float(high), float(drawn.std(ddof=1)), 0.95, "weight of the second",
        index.n_games, len(first),
    )  # fmt: skip
    best = -loss(weight)
    return PoolFit(told, best + loss(0.0), best + loss(1.0))


def _by_game(one: Array, two: Array, truth: Array, weight: float, index: GameIndex) -> Floats:
    return index.means(bits_log_score(log_pool(one, two, weight), truth))


def fit_pool(
    plan: PoolPlan,
    *,
    out: str | Path,
    work: str | Path,
    n_workers: int = 1,
    dask: str | None = None,
    progress: Progress | None = None,
) -> PoolFit:
    """Let both readers watch games of their own, fit the weight, and store the pool.

    Parameters
    ----------
    plan
        What it is fitted on.
    out
        Folder of the pool.
    work
        Folder for the games; a run that was broken off goes on from there.
    n_workers, dask, progress
        As for ``run_study``.

    Returns
    -------
    PoolFit

    Raises
    ------
    HandreadError
        If a stored reader is missing; the message says which command makes it.
    """
    names = tuple(dict.fromkeys(("base rates", plan.first, plan.second)))
    held: dict[str, Any] = {
        key: tuple(each for each in getattr(plan, key) if each[0] in names)
        for key in ("models", "peers")
    }
    study = StudyPlan(
        name="pool", seed=plan.seed, card=plan.card, population=plan.population,
        training=plan.training, test=plan.games, readers=names, base="base rates",
        floor="base rates", versus="base rates", windows=(), moves=(), resamples=100,
        purpose="validation", **held,
    )  # fmt: skip
    stored = {each.name: each.hash for each in stored_readers(study)}
    packed = run_study(
        study, out=work, n_workers=n_workers, dask=dask, progress=progress, scored=False
    ).packed
    fit = fit_weight(
        packed.moments(plan.first), packed.moments(plan.second),
        rng=np.random.default_rng([plan.seed, 21]),
    )  # fmt: skip
    told = {
        "format": FORMAT, "card_hash": load_card(plan.card).hash,
        "readers": [plan.first, plan.second], "weight": fit.weight.value,
        "reader_hashes": [stored.get(plan.first, ""), stored.get(plan.second, "")],
        "plan": asdict(replace(plan, models=held["models"], peers=held["peers"])),
        "fit": asdict(fit),
    }  # fmt: skip
    put_file(Path(out) / "pool.json", json.dumps(told, indent=1, sort_keys=True).encode())
    return fit
