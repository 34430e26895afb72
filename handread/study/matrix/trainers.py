"""What can be trained on the games of one population, and nothing but these games."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np

from handread.card.compiled import CompiledCard
from handread.reading import Model, build_model
from handread.simulate import Population
from handread.study.forecasters.contract import Array, Forecaster
from handread.study.forecasters.model import ModelReader
from handread.study.forecasters.trained import BaseRates, Elimination, StructuralFloor, Training
from handread.study.running.bench import table_card
from handread.study.running.carrying import Hands
from handread.study.running.plan import population_named
from handread.study.running.store import put_file


@dataclass(frozen=True)
class TrainingGames:
    """Games of one population, for whoever is trained on them.

    Attributes
    ----------
    row
        Name of the population, as a study names it.
    seeds
        Of the games; no test game is among them.
    seed
        Master seed, for anything that draws games of its own from the same population.
    card_name
        Card that is played, by name.
    counts
        What base rates are counted from, over all of the games.
    folder
        Where a trainer keeps what took long, to find it again when a run was broken off.
    prior_games
        Games that the prior is counted in.
    hands
        Who may carry work out.
    """

    row: str
    seeds: tuple[int, ...]
    seed: int
    card_name: str
    counts: Training
    folder: Path
    prior_games: int = 2000
    hands: Hands = field(default_factory=Hands)

    __hash__ = None  # type: ignore[assignment]  # counts are arrays

    @property
    def population(self) -> Population:
        """Who plays."""
        return population_named(self.row)

    @property
    def card(self) -> CompiledCard:
        """Card that is played."""
        return table_card(self.card_name).card

    @cached_property
    def prior(self) -> Array:
        """How often people of this population settle on each target, shape (n_targets,)."""
        file = self.folder / "prior.npy"
        if not file.exists():
            from io import BytesIO

            from handread.prior import played_prior

            found = played_prior(
                self.card, n_games=self.prior_games, seed=self.seed, population=self.population,
                n_workers=self.hands.n_workers,
            )  # fmt: skip
            out = BytesIO()
            np.save(out, found.prior)
            put_file(file, out.getvalue())
        return np.asarray(np.load(file, allow_pickle=False), dtype=np.float64)

    def model(self) -> Model:
        """Model with the lore weights and the prior of these games, to start a fit from."""
        source = f"{self.prior_games:,} games of {self.row}"
        return build_model(self.card, prior=self.prior, prior_source=source)


#: Makes a reader of training games. What it estimates rests on these games alone; it draws
#: nothing by chance that does not follow from them, and its reader can be pickled.
Train = Callable[[TrainingGames], Forecaster]


def _base_rates(games: TrainingGames) -> Forecaster:
    return BaseRates(games.counts)


def _floor(games: TrainingGames) -> Forecaster:
    return StructuralFloor(games.counts, prior=games.prior)


def _elimination(games: TrainingGames) -> Forecaster:
    return Elimination(games.counts, prior=games.prior)


def _lore(games: TrainingGames) -> Forecaster:
    """The prior alone is learned; the weights are rules of thumb."""
    return ModelReader("lore", games.model())


def _fitted(games: TrainingGames) -> Forecaster:
    """Weights, availability exponent and rates fitted to these games, under their prior."""
    from handread.clues.weights import load_weights
    from handread.fitting import Played, fit_games
    from handread.simulate.batch import Setting
    from handread.simulate.game.table import TableRules

    model, out = games.model(), games.folder / "model"
    if not (out / "weights.toml").exists():
        setting = Setting(games.population, TableRules(), card_name=games.card_name)
        source = Played(setting, games.seeds, f"training games of {games.row}")
        fit_games(
            model, source, out, work=games.folder / "walks", command="handread study matrix",
            n_workers=games.hands.n_workers,
        )  # fmt: skip
    fitted = build_model(
        games.card, weights=load_weights(out / "weights.toml"), prior=model.prior,
        prior_source=model.prior_source,
    )  # fmt: skip
    return ModelReader("fitted", fitted)


def _peer(games: TrainingGames) -> Forecaster:
    """Boosted trees on these games; a tenth as many more say when to stop."""
    from handread.study.forecasters.stored import stored_reader
    from handread.study.peer import PeerPlan, peer_of, train_peer

    out = games.folder / "peer"
    if not (out / "peer.json").exists():
        n = len(games.seeds)
        plan = PeerPlan(games.card_name, games.row, games.seed, n, max(n // 10, 8), minutes=15.0)
        train_peer(plan, out=out, work=games.folder / "rows", hands=games.hands)
    return peer_of(stored_reader("peer", "peer", str(out)), games.card)


#: Trainers by name.
TRAINERS: Final[dict[str, Train]] = {
    "base rates": _base_rates, "floor": _floor, "elimination": _elimination, "lore": _lore,
    "fitted": _fitted, "peer": _peer,
}  # fmt: skip
