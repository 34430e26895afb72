"""Cost of one event: ``OPENBLAS_NUM_THREADS=1 python -m tests.bench.bench_event [RECORD]``.

The mean over a record, all four seats, one thread, as a multiple of one float32 matrix-vector
product over targets x 36 in the same run: a ratio that holds when the machine's speed drifts.
"""

from __future__ import annotations

import os
import sys
from statistics import median
from time import perf_counter

import numpy as np

import handread as hr
from handread.reading import Reader

RECORD = "data/records/change-of-plan.txt"
ROUNDS = 7


def main(path: str) -> None:
    """Print the ratio's median and range over rounds that take both sides in turn."""
    if os.environ.get("OPENBLAS_NUM_THREADS") != "1":
        raise SystemExit("set OPENBLAS_NUM_THREADS=1, so that one thread is compared with one")
    record = hr.load_record(path)
    card = hr.house_card()
    model = hr.stored_model(card)
    events = list(record.public(viewer="floor"))
    table = np.random.default_rng(1).random((card.n_targets, 36), dtype=np.float32)
    vector = np.ones(36, dtype=np.float32)
    read(card, model, events)
    ratios = []
    for _ in range(ROUNDS):
        began = perf_counter()
        read(card, model, events)
        event = (perf_counter() - began) / len(events)
        began = perf_counter()
        for _ in range(2000):
            table @ vector
        ratios.append(event / ((perf_counter() - began) / 2000))
    print(f"{len(events)} events, {card.n_targets} targets")
    print(f"one event = {median(ratios):.0f} products ({min(ratios):.0f} to {max(ratios):.0f})")


def read(card: hr.CompiledCard, model: hr.Model, events: list[object]) -> None:
    """Read the events from the floor."""
    reader = Reader(card, model=model)
    for event in events:
        reader.observe(event)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else RECORD)
