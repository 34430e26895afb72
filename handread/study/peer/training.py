"""Train a peer, with a learning curve that shows whether it was starved."""

from __future__ import annotations

import hashlib
import json
import time
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate.game.table import ENGINE_VERSION
from handread.study.forecasters.contract import row_names
from handread.study.intervals import estimate
from handread.study.peer.features import VERSION, relabelled, with_sums
from handread.study.peer.forecaster import FORMAT, Peer
from handread.study.peer.gathering import Progress, Rows, gather_rows
from handread.study.peer.symmetry import kind_symmetries
from handread.study.peer.trees import Trees, trees_of
from handread.study.running.bench import table_card
from handread.study.running.carrying import Hands
from handread.study.running.plan import population_named
from handread.study.running.seeds import purpose_seeds
from handread.study.running.store import put_file

#: Shares of the games in the learning curve; the time is shared out alike.
SHARES: Final = (0.25, 0.5, 1.0)
#: How the trees are grown; chosen beforehand, not tuned.
GROWN: Final[dict[str, Any]] = {
    "learning_rate": 0.1, "max_leaf_nodes": 31, "min_samples_leaf": 40, "l2_regularization": 1.0,
    "max_features": 0.5, "n_iter_no_change": 15, "tol": 1e-5,
}  # fmt: skip
#: Iterations at most.
MOST_ITERATIONS: Final = 1500
#: Iterations by which the time of one is measured.
_PROBE: Final = 4


@dataclass(frozen=True)
class PeerPlan:
    """What a peer is trained on.

    Attributes
    ----------
    card, population
        As a plan of a study names them.
    seed
        Master seed: games are those for training and, to know when to stop, for validation.
    games
        Training games.
    held
        Validation games.
    rows
        Rows at most, relabelled ones counted.
    minutes
        Time for growing trees at most, in all, as far as it can be foreseen.
    """

    card: str = "house"
    population: str = "default"
    seed: int = 20260801
    games: int = 20_000
    held: int = 1_000
    rows: int = 1_000_000
    minutes: float = 45.0

    def __post_init__(self) -> None:
        if min(self.games, self.held, self.rows) < 8 or not self.minutes > 0:
            raise HandreadError(f"{self!r}; accepted: 8 games, held games and rows or more")


@dataclass(frozen=True)
class CurvePoint:
    """One point of a learning curve.

    Attributes
    ----------
    games, rows
        What was learned from; relabelled rows count.
    iterations
        Trees a class.
    stopped
        Why no more were grown: ``"no better"``, ``"time"`` or ``"iterations"``.
    gain, low, high
        Gain over the rates by own turn of the same games, on validation games, bits a moment, with
        its 95 % interval over games. The same games said when to stop, so it is a little high.
    """

    games: int
    rows: int
    iterations: int
    stopped: str
    gain: float
    low: float
    high: float


def train_peer(
    plan: PeerPlan,
    *,
    out: str | Path,
    work: str | Path,
    hands: Hands | None = None,
    threads: int = 1,
    progress: Progress | None = None,
) -> tuple[Peer, tuple[CurvePoint, ...]]:
    """Gather rows, grow trees on a quarter, a half and all of the games, and store the peer.

    Parameters
    ----------
    plan
        What it is trained on.
    out
        Folder of the peer: ``peer.json`` says what it rests on, ``trees.npz`` holds plain arrays.
    work
        Folder for the rows; a run that was broken off goes on from there.
    hands
        Who plays the games; trees are grown here.
    threads
        Threads that grow trees. They wait for each other busily: where other programs run on
        the same processors, two can take twenty times as long as one.
    progress
        Called as the work goes on.

    Returns
    -------
    Peer, tuple of CurvePoint

    Raises
    ------
    HandreadError
        If scikit-learn is missing, or its trees cannot be taken out faithfully.
    """
    _classifier()  # said at once, not after an hour of games
    card = table_card(plan.card).card
    seeds = {
        "training": purpose_seeds(plan.seed, "training", plan.games),
        "validation": purpose_seeds(plan.seed, "validation", plan.held),
    }
    tell = progress or (lambda what, done, total: None)
    rows, held = (
        gather_rows(
            plan.card, plan.population, found, work=work, what=what, hands=hands, progress=tell
        )
        for what, found in seeds.items()
    )
    points: list[CurvePoint] = []
    for place, share in enumerate(SHARES):
        tell("growing trees", place, len(SHARES))
        games = max(int(share * plan.games), 4)
        budget = 60.0 * plan.minutes * share / sum(SHARES)
        with _threads(threads):
            trees, point = _grow(card, rows.where(rows.game < games), held, games, plan, budget)
        points.append(point)
    tell("growing trees", len(SHARES), len(SHARES))
    told = {
        "format": FORMAT, "features": VERSION, "card_hash": card.hash, "plan": asdict(plan),
        "population_hash": population_named(plan.population).hash, "engine": ENGINE_VERSION,
        "seeds_hash": {what: _hash(found) for what, found in seeds.items()},
        "rows_of_beliefs": row_names(card), "symmetries": len(kind_symmetries(card)),
        "grown": GROWN, "curve": [asdict(point) for point in points],
        "made_with": _packages(),
    }  # fmt: skip
    put_file(Path(out) / "trees.npz", trees.to_bytes())
    put_file(Path(out) / "peer.json", json.dumps(told, indent=1, sort_keys=True).encode())
    return Peer(trees, card.hash), tuple(points)


def _classifier() -> Any:
    try:
        from sklearn.ensemble import HistGradientBoostingClassifier
    except ModuleNotFoundError:
        raise HandreadError(
            "no scikit-learn here; accepted: pip install 'handread[study]'"
        ) from None
    return HistGradientBoostingClassifier


def _threads(n: int) -> Any:
    from threadpoolctl import threadpool_limits  # scikit-learn requires it

    return threadpool_limits(n)


def _packages() -> dict[str, str]:
    import sklearn

    return {"numpy": np.__version__, "scikit-learn": str(sklearn.__version__)}


def _hash(seeds: tuple[int, ...]) -> str:
    return hashlib.sha256(json.dumps(seeds).encode()).hexdigest()[:16]


def augmented(
    rows: Rows, symmetries: NDArray[np.int8], most: int
) -> tuple[NDArray[np.float32], NDArray[np.int16]]:
    """Rows with their relabelled copies, as many symmetries as fit, sums added.

    Parameters
    ----------
    rows
        Rows as they were seen.
    symmetries
        From ``kind_symmetries``.
    most
        Rows at most; the last games are left out where even the rows as they are exceed it.

    Returns
    -------
    features, label
        Shapes (n, 449) and (n,).
    """
    features = rows.features[:most].astype(np.float32)
    label = rows.label[:most]
    times = min(len(symmetries), max(most // max(len(label), 1), 1))
    parts = [with_sums(relabelled(features, kinds)) for kinds in symmetries[:times]]
    return np.concatenate(parts), np.tile(label, times)


def _grow(
    card: CompiledCard, rows: Rows, held: Rows, games: int, plan: PeerPlan, budget: float
) -> tuple[Trees, CurvePoint]:
    """Grow trees on some games within a time, and score them on the games held out."""
    begun = time.monotonic()
    features, label = augmented(rows, kind_symmetries(card), plan.rows)
    features[:, np.isnan(features).all(axis=0)] = 0.0  # never met: no tree can ask for it
    met = np.isin(held.label, label)
    watched = with_sums(held.features[met].astype(np.float32)), held.label[met]
    iterations = _affordable(features, label, budget, begun)
    model = _classifier()(
        max_iter=iterations, early_stopping=True, random_state=plan.seed % 2**32, **GROWN
    )
    model.fit(features, label, X_val=watched[0], y_val=watched[1])
    trees = trees_of(model)
    theirs = model.predict_proba(watched[0][:500])
    if not np.allclose(trees.probabilities(watched[0][:500]), theirs, atol=1e-9, rtol=0.0):
        raise HandreadError(
            f"the trees of scikit-learn {_packages()['scikit-learn']} were taken out wrongly: "
            "this version stores them in another form; accepted: 1.7 to 1.9"
        )
    if model.n_iter_ < iterations:
        stopped = "no better"
    else:
        stopped = "iterations" if iterations == MOST_ITERATIONS else "time"
    best = max(int(np.argmax(model.validation_score_)), 1)  # entry 0 is before any tree
    trees = trees.up_to(best)
    return trees, CurvePoint(games, len(label), best, stopped, *_gain(card, trees, rows, held))


def _affordable(
    features: NDArray[np.float32], label: NDArray[np.int16], budget: float, begun: float
) -> int:
    """Iterations that fit into what is left of a time, by the time that a few take."""
    times = []
    for iterations in (1, 1 + _PROBE):
        now = time.monotonic()
        probe = _classifier()(max_iter=iterations, early_stopping=False, **_plain(GROWN))
        probe.fit(features, label)
        times.append(time.monotonic() - now)
    each = max((times[1] - times[0]) / _PROBE, 1e-3)
    left = budget - (time.monotonic() - begun) - times[0]
    return int(np.clip(left / each, 1 + _PROBE, MOST_ITERATIONS))


def _plain(grown: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in grown.items() if key not in ("n_iter_no_change", "tol")}


def _gain(card: CompiledCard, trees: Trees, rows: Rows, held: Rows) -> tuple[float, float, float]:
    """Gain over rates by own turn on held-out games, bits, with its interval over games."""
    n_rows = len(row_names(card))
    said = Peer(trees, card.hash).believe(held.features.astype(np.float32), n_rows)
    turn = np.minimum(rows.own_turn, 24)
    table = np.zeros((25, n_rows))
    np.add.at(table, (turn, rows.label), 1.0)
    overall = table.sum(axis=0) + 0.5
    rates = table + 20.0 * overall / overall.sum()
    rates /= rates.sum(axis=1, keepdims=True)
    place = np.arange(len(held))
    base = rates[np.minimum(held.own_turn, 24), held.label]
    gain = np.log2(said[place, held.label]) - np.log2(base)
    found = estimate(gain, game=held.game, rng=np.random.default_rng([1]), unit="bits")
    return found.value, found.low, found.high
