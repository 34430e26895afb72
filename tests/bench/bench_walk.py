"""Cost of a walk: ``OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_walk [GAMES]``.

The same games of the house card are read alone, walked, and walked in the plain way that the tests
hold the walk to, in turns; processor time, one thread. Ratios hold when the machine's speed drifts.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import partial
from statistics import median
from time import process_time

import pytest

import handread as hr
from handread.fitting.design import make_design
from handread.fitting.plan import played
from handread.fitting.sources import Known
from handread.fitting.walk import walk_record
from handread.reading import Model, Reader
from tests.fitting.plain_walk import asking_anew


def main(n_games: int) -> None:
    """Print milliseconds of each, and the medians of the ratios of what a walk adds."""
    if os.environ.get("OPENBLAS_NUM_THREADS") != "1":
        raise SystemExit("set OPENBLAS_NUM_THREADS=1, so that one thread is compared with one")
    model = hr.stored_model(hr.house_card())
    design = make_design(model)
    games = list(played(model, n_games, 1).games(model.card, 0, n_games))
    rows = []
    for game in (games[0], *games):  # the first one twice: it pays for what is compiled
        walk = partial(walk_record, record=game.record, minds=game.minds, people=game.people)
        alone, fast = taken(partial(read, model, game)), taken(partial(walk, design))
        with pytest.MonkeyPatch.context() as patch:
            slow = taken(partial(walk, asking_anew(design, patch)))
        rows.append((alone, fast, slow))
    del rows[0]
    for name, spent in zip(("read", "walk", "plain walk"), zip(*rows, strict=True), strict=True):
        print(f"{name}: {1e3 * median(spent):.0f} ms a game")
    added = median((fast - alone) / alone for alone, fast, _ in rows)
    gain = median((slow - alone) / max(fast - alone, 1e-9) for alone, fast, slow in rows)
    print(f"a walk adds {added:.2f} readings, the plain one {gain:.1f} times that")


def taken(do: Callable[[], object]) -> float:
    """Seconds of processor time."""
    began = process_time()
    do()
    return process_time() - began


def read(model: Model, game: Known) -> None:
    """Read a game from the floor."""
    reader = Reader(model.card, model=model, header=game.record.header)
    for event in game.record.public("floor"):
        reader.observe(event)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
