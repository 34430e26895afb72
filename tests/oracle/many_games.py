"""What must hold of every reading, over many games of random legal play on the small card.

``python -m tests.oracle.many_games [GAMES] [SEED]`` prints the largest violation of each:

- the probabilities of all legal next observations sum to 1, at one moment a game;
- joint claim forecasts sum to at most 1, at the same moment;
- expected copies over seats and wall equal the copies unseen, at every event;
- the ledger's parts add up to log2 after/before, for two entries a game and every family;
- the reading after event t is the same to the bit without the rest of the record;
- and the same to the bit with everything sealed permuted (what is revealed at the end).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np

import handread as hr
from handread.reading import Reader
from handread.table.events import AnyEvent, Reveal
from tests.support.random_play import random_record

LENGTH = 40


@dataclass
class Worst:
    """Largest violation of each promise so far."""

    games: int = 0
    found: dict[str, float] = field(default_factory=dict)

    def take(self, name: str, value: float) -> None:
        self.found[name] = max(self.found.get(name, 0.0), float(value))


def check_game(card: hr.CompiledCard, model: hr.Model, seed: int, worst: Worst) -> None:
    """Read one random game and hold it to every promise."""
    rng = np.random.default_rng(seed)
    events = list(random_record(rng, card, LENGTH).public(viewer="floor"))
    stop = int(rng.integers(1, len(events) + 1))
    reader, prefix = Reader(card, model=model), None
    for number, event in enumerate(events, start=1):
        reader.observe(event)
        around = reader.around
        worst.take("conservation", np.abs(around.holds.sum(axis=0) - around.unseen).max())
        if number == stop:
            prefix = reader.beliefs
            _check_forecast(reader, worst)
    _check_ledger(reader, rng, worst)
    again = _read(card, model, events[:stop])
    worst.take("bits changed by later events", again != prefix)
    sealed = [Reveal(int(seat), hand=card.hands[0].name) for seat in rng.permutation(4)]
    worst.take("bits changed by the reveal", _read(card, model, events + sealed) != reader.beliefs)
    worst.games += 1


def _read(card: hr.CompiledCard, model: hr.Model, events: list[AnyEvent]) -> tuple[object, ...]:
    reader = Reader(card, model=model)
    for event in events:
        reader.observe(event)
    return reader.beliefs


def _check_forecast(reader: Reader, worst: Worst) -> None:
    if reader.state.over or reader.state.turn is None:
        return
    options = hr.next_observations(reader.model, reader.beliefs, reader.state)
    worst.take("next observations, sum - 1", abs(sum(prob for _, prob in options) - 1.0))
    worst.take("claims, sum above 1", max(reader.forecast().claims.sum() - 1.0, 0.0))


def _check_ledger(reader: Reader, rng: np.random.Generator, worst: Worst) -> None:
    entries = reader.reading(int(rng.integers(4))).ledger.entries
    for entry in (entries[int(i)] for i in rng.integers(0, len(entries), 2) if entries):
        whole = entry.bits
        parts = np.array([part.bits for part in entry.parts])
        fine = np.isfinite(parts).all(axis=0) & np.isfinite(whole)
        worst.take("ledger", np.abs(parts[:, fine].sum(axis=0) - whole[fine]).max(initial=0.0))


def main(n_games: int, seed: int) -> Worst:
    """Read `n_games` games and print the worst of each promise as they go."""
    card = hr.load_card("small")
    model, worst = hr.stored_model(card), Worst()
    for number in range(n_games):
        check_game(card, model, seed + number, worst)
        if (number + 1) % max(n_games // 10, 1) == 0:
            lines = ", ".join(f"{name} {value:.2g}" for name, value in worst.found.items())
            print(f"{number + 1} games from seed {seed}: {lines}", flush=True)
    return worst


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    main(*(words + [1000, 20_000][len(words) :]))
