"""Compare stored weights by held-out gain on validation games, paired by game; a script.

    python -m tests.fitting.compare_models 200 mode=models/fitted people=models/people:16

Each reader is a name and a model's folder (or weights file); ``:16`` reads with sixteen draws of
the population, one weight for each seat and draw that moves with how well it foretold the seat.
``lore`` is always among them, and all differences are to the first reader named. Choices between
models are made on these games; test games are for figures to be quoted.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

import handread as hr
from handread.clues import Weights, load_weights
from handread.fitting.plan import played
from handread.reading import Model, Reader, build_model, stored_model
from handread.simulate import SimulatedGame, play_card
from handread.simulate.batch import Setting, one_game
from handread.study.running.seeds import purpose_seeds
from handread.study.truth import truth_rows
from handread.table.events import Discard
from handread.table.play import apply, start

Array = np.ndarray
SEED = 20260701
PARTS = {
    "all": lambda turn, shown: turn >= 0,
    "turns 1-3": lambda turn, shown: turn <= 3,
    "turns 4-7": lambda turn, shown: (turn > 3) & (turn <= 7),
    "turns 8-11": lambda turn, shown: (turn > 7) & (turn <= 11),
    "turns 12-": lambda turn, shown: turn > 11,
    "none shown": lambda turn, shown: shown == 0,
    "one shown": lambda turn, shown: shown == 1,
    "more shown": lambda turn, shown: shown > 1,
}


class Mixed:
    """Several readers of one table, mixed for each seat by how well they foretold it."""

    def __init__(self, models: Sequence[Model], header: hr.Header) -> None:
        self.models = models
        self.readers = [Reader(m.card, model=m, header=header) for m in models]
        self.log_prob = np.zeros((len(models), 4))

    def observe(self, event: hr.Event) -> None:
        for k, reader in enumerate(self.readers):
            for told in reader.observe(event).seats:
                self.log_prob[k, told.seat] += told.log_prob

    def belief(self, seat: int) -> Array:
        share = np.exp(self.log_prob[:, seat] - self.log_prob[:, seat].max())
        share /= share.sum()
        said = [
            model.by_family(reader.beliefs[seat].probs)
            for model, reader in zip(self.models, self.readers, strict=True)
        ]
        return share @ np.array(said)


def people_of(folder: Path, n: int) -> list[Weights]:
    """Weights of people drawn from the population of a model's folder."""
    weights = load_weights(folder / "weights.toml")
    with np.load(folder / "draws.npz") as held:
        names, people = [str(name) for name in held["names"]], held["person"]
    some = people[np.linspace(0, len(people) - 1, n).astype(int)]
    return [weights.replace(dict(zip(names, map(float, row), strict=True))) for row in some]


def reader_of(said: str, base: Model) -> tuple[str, list[Model]]:
    name, _, place = said.partition("=")
    path, _, count = place.partition(":")
    if count:
        several = people_of(Path(path), int(count))
    else:
        file = Path(path)
        several = [load_weights(file / "weights.toml" if file.is_dir() else file)]
    return name, [
        build_model(base.card, weights=w, prior=base.prior, clues=base.clues) for w in several
    ]


def watch(
    game: SimulatedGame, readers: Mapping[str, Sequence[Model]], card: hr.CompiledCard
) -> tuple[dict[str, Array], Array, Array, Array]:
    """Beliefs of every reader after each throw of a live seat, truth, own turn, groups shown."""
    tables = {name: Mixed(models, game.record.header) for name, models in readers.items()}
    said: dict[str, list[Array]] = {name: [] for name in readers}
    truth, turn, shown = [], [], []
    state = start(game.record.header, card.rules)
    for place, event in enumerate(game.record.public("floor")):
        state = apply(state, event, card)
        for table in tables.values():
            table.observe(event)
        if isinstance(event, Discard) and state.live[event.seat]:
            seat = event.seat
            truth.append(truth_rows(card, game, seat, place + 1, state.exposures[seat])[0])
            turn.append(state.turns[seat])
            shown.append(len(state.exposures[seat]))
            for name, table in tables.items():
                said[name].append(table.belief(seat))
    beliefs = {name: np.array(rows) for name, rows in said.items()}
    return beliefs, np.array(truth), np.array(turn), np.array(shown)


def bits(said: Array, truth: Array) -> Array:
    return (truth * np.log2(np.maximum(said, 1e-12))).sum(axis=1)


def interval(values: Array, rng: np.random.Generator) -> str:
    values = values[~np.isnan(values)]
    means = values[rng.integers(0, len(values), (2000, len(values)))].mean(axis=1)
    low, high = np.quantile(means, [0.025, 0.975])
    return f"{values.mean():+.3f} [{low:+.3f}, {high:+.3f}]"


def main(n_games: int, asked: list[str], n_training: int = 200) -> None:
    card = hr.house_card()
    base = stored_model(card)
    readers = dict(reader_of(each, base) for each in asked)
    readers["lore"] = [stored_model(card, load_weights())]
    table_card, setting = play_card(card), played(base, 1, SEED).setting
    assert isinstance(setting, Setting)
    counts = np.full((24, base.n_rows), 0.0)[:, : len(base.row_names)] + 0.05
    for seed in purpose_seeds(SEED, "training", n_training):
        _, truth, turn, _ = watch(one_game(table_card, setting, seed), {}, card)
        np.add.at(counts, np.minimum(turn, 24) - 1, truth)
    rates = counts / counts.sum(axis=1, keepdims=True)
    games = [
        watch(one_game(table_card, setting, seed), readers, card)
        for seed in purpose_seeds(SEED, "validation", n_games)
    ]
    print(
        f"{n_games} validation games of population {setting.population.name!r} "
        f"({setting.population.hash}), master seed {SEED}; bits over base rates by own turn"
    )
    rng = np.random.default_rng(1)
    first = next(iter(readers))
    for part, inside in PARTS.items():
        gains: dict[str, list[float]] = {name: [] for name in readers}
        for said, truth, turn, shown in games:
            here = inside(turn, shown)
            for name in readers:
                gain = bits(said[name], truth) - bits(rates[np.minimum(turn, 24) - 1], truth)
                gains[name].append(float(gain[here].mean()) if here.any() else np.nan)
        told = [f"{name} {interval(np.array(g), rng)}" for name, g in gains.items()]
        away = [
            f"{first} less {name} {interval(np.array(gains[first]) - np.array(g), rng)}"
            for name, g in gains.items() if name != first
        ]  # fmt: skip
        print(f"{part}: {'; '.join(told)} | {'; '.join(away)}")
    for name in readers:
        said = np.concatenate([g[0][name] for g in games])
        truth = np.concatenate([g[1] for g in games])
        right = truth[np.arange(len(said)), said.argmax(axis=1)].mean()
        print(
            f"{name}: top row stated {said.max(axis=1).mean():.3f}, true {right:.3f}; undecided, "
            f"defending, other stated {said[:, -3:].mean(axis=0).round(3)}, "
            f"true {truth[:, -3:].mean(axis=0).round(3)}"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2:])
