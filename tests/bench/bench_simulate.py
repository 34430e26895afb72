"""Cost of a simulated game.

``OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_simulate [GAMES]``

One core, one run. A game of the compiled engine, with the drawing of its people and its arrays laid
out for a column, is a multiple of one float32 matrix-vector product over targets x 36 and of a game
of the reference engine; both sides are taken in turn. Then the shares of the work, the growth over
cards of 200 to 20,000 targets, and, with GAMES, the peak memory of a batch of so many games beside
one of 1,000 (needs pyarrow). Times are of the processor, so that other work does not count.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from statistics import median
from tempfile import TemporaryDirectory
from time import process_time

import numpy as np

import handread as hr
from handread.card.compiled import CompiledCard, Hand
from handread.simulate import play_card
from handread.simulate.batch import game_seeds, one_game, people_at, setting_of
from handread.simulate.fast.batch import engine_for, told_game
from handread.simulate.fast.engine import Engine
from handread.simulate.fast.layout import DECISION_NAMES
from tests.peak import PEAK

SEED = 742_000
ROUNDS = 5
GAMES_A_ROUND = 40
PARTS = (*DECISION_NAMES, "near targets", "plans", "choice", "recording", "ways", "distances",
         "proof of dead hands")  # fmt: skip
GROUPS_OF = {
    "choice": ("choice",),
    "recording": ("recording",),
    "distances": ("near targets", "ways", "distances", "proof of dead hands"),
}


def product_seconds(n_targets: int, n: int = 2000) -> float:
    """Seconds of one product."""
    table = np.random.default_rng(1).random((n_targets, 36), dtype=np.float32)
    vector = np.ones(36, dtype=np.float32)
    began = process_time()
    for _ in range(n):
        table @ vector
    return (process_time() - began) / n


def game_seconds(card: CompiledCard, seeds: tuple[int, ...]) -> float:
    """Seconds of one game of the compiled engine."""
    setting = setting_of(card, seed=SEED)
    began = process_time()
    for seed in seeds:
        told_game(card, setting, seed)
    return (process_time() - began) / len(seeds)


def print_ratios(card: CompiledCard) -> None:
    """A game beside a product and beside the reference."""
    seeds = game_seeds(SEED, ROUNDS * GAMES_A_ROUND)
    table_card, setting = play_card(card), setting_of(card, seed=SEED)
    game_seconds(card, seeds[:5])
    one_game(table_card, setting, seeds[0])
    products, references, seconds = [], [], []
    for i in range(ROUNDS):
        mine = seeds[i * GAMES_A_ROUND : (i + 1) * GAMES_A_ROUND]
        game = game_seconds(card, mine)
        products.append(game / product_seconds(card.n_targets))
        began = process_time()
        for seed in mine[:6]:
            one_game(table_card, setting, seed)
        reference = (process_time() - began) / 6
        references.append(reference / game_seconds(card, mine[:6]))
        seconds.append(game)
    low, high = min(products), max(products)
    print(f"a game = {median(products):.0f} products ({low:.0f} to {high:.0f}), ", end="")
    print(f"{1000 * median(seconds):.2f} ms of processor")
    low, high = min(references), max(references)
    print(f"the reference costs {median(references):.0f} times as much ({low:.0f} to {high:.0f})")


def print_shares(card: CompiledCard) -> None:
    """Shares of the compiled work by cycles; what is left of a game is its rules."""
    engine, setting = Engine(play_card(card), timed=True), setting_of(card, seed=SEED)
    spent, total = np.zeros(len(PARTS)), 0.0
    cycles = 0
    for seed in game_seeds(SEED, 100):
        people = people_at(setting, seed)
        engine.play(people, seed=seed)
        spent += engine.t["spent"]
        cycles += int(engine.t["spent"].sum())
        total += int(engine.t["cycles"])
    by_part = dict(zip(PARTS, spent / total, strict=True))
    shares = {name: sum(by_part.pop(part) for part in of) for name, of in GROUPS_OF.items()}
    shares["scores of decisions"] = sum(by_part.values())
    shares["rules"] = 1.0 - cycles / total
    print("shares: " + ", ".join(f"{name} {100 * share:.0f} %" for name, share in shares.items()))


def random_card(n_targets: int) -> CompiledCard:
    """Card of random targets: four or five groups of different kinds, ten targets a hand."""
    rng = np.random.default_rng(n_targets)
    house = hr.house_card()
    shapes = np.array([(4, 4, 4, 2, 0), (3, 3, 4, 4, 0), (2, 3, 3, 4, 2), (5, 4, 3, 2, 0)])
    size = shapes[rng.integers(len(shapes), size=n_targets)].astype(np.uint8)
    kind = rng.permuted(np.tile(np.arange(34, dtype=np.int8), (n_targets, 1)), axis=1)[:, :5]
    kind = np.where(size > 0, kind, -1).astype(np.int8)
    demand = np.zeros((n_targets, 36), dtype=np.uint8)
    for j in range(5):
        np.add.at(demand, (np.arange(n_targets), np.maximum(kind[:, j], 0)), size[:, j])
    n_hands = -(-n_targets // 10)
    hands = tuple(Hand(f"h{i}", 0, "", i % 9 == 0, 25 + 5 * (i % 6)) for i in range(n_hands))
    of = (np.arange(n_targets) // 10).astype(np.int32)
    return CompiledCard(
        f"random {n_targets}", f"{n_targets:016x}", ("all",), hands, of, kind, size, size >= 3,
        demand, house.rules,
    )  # fmt: skip


def print_growth() -> None:
    """Cost of a game over cards of more and more targets."""
    for n_targets in (200, 1000, 5000, 20_000):
        card = random_card(n_targets)
        seeds = game_seeds(SEED, 12)
        engine_for(card)
        game_seconds(card, seeds[:2])
        game, product = game_seconds(card, seeds), product_seconds(n_targets, 300)
        print(f"{n_targets:6d} targets: {1000 * game:.2f} ms, {game / product:.0f} products")


_BATCH = f"""{PEAK}
import sys
import handread as hr
from handread.simulate.fast import write_parts
write_parts(hr.house_card(), sys.argv[1], n_games=int(sys.argv[2]), seed=1)
print(peak() // 2**20)
"""


def print_memory(n_games: int) -> None:
    """Peak memory of two batches in columns, each in a process of its own."""
    for n in (1000, n_games):
        with TemporaryDirectory() as folder:
            command = [sys.executable, "-c", _BATCH, folder, str(n)]
            peak = subprocess.run(command, check=True, capture_output=True, text=True).stdout
            used = sum(os.path.getsize(os.path.join(folder, f)) for f in os.listdir(folder))
        spent = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(
            f"{n} games: peak {peak.strip()} MB, {used / n / 1000:.1f} kB a game on disk; ", end=""
        )
        print(f"processor so far {spent.ru_utime + spent.ru_stime:.0f} s")


def main() -> None:
    """Print everything."""
    if os.environ.get("OPENBLAS_NUM_THREADS") != "1":
        raise SystemExit("set OPENBLAS_NUM_THREADS=1, so that one thread is compared with one")
    house = hr.house_card()
    print(f"card {house.name!r}, {house.n_targets} targets")
    print_ratios(house)
    print_shares(house)
    print_growth()
    if len(sys.argv) > 1:
        print_memory(int(sys.argv[1]))


if __name__ == "__main__":
    main()
