"""Millions of events of simulated games held to the rules of the table.

``python -m tests.simulate.many_events [GAMES] [SEED] [WORKERS]`` plays games of the default
population on the house card and holds each to everything of ``invariants.check_game``: every event
through ``check``, tiles conserved, racks as they end; then it prints how often each was met.
"""

from __future__ import annotations

import sys
from collections import Counter

import handread as hr
from handread.simulate.batch import map_games
from tests.simulate.invariants import check_game

#: Seed that nothing was tuned on.
SEED = 771_000


def main() -> None:
    """Play, check, and print the counts."""
    asked = [int(word) for word in sys.argv[1:]]
    n_games, seed, n_workers = (*asked, *(10_000, SEED, 1)[len(asked) :])
    met: Counter[str] = Counter()
    games = map_games(
        check_game, hr.house_card(), n_games=n_games, seed=seed, n_workers=n_workers
    )  # fmt: skip
    for done, found in enumerate(games, start=1):
        met += found
        if done % 1000 == 0:
            print(f"{done} games", flush=True)
    kinds = [name for name in met if name[0].isupper()]
    print(f"{n_games:,} games, seed {seed}: {sum(met[name] for name in kinds):,} events")
    print(", ".join(f"{name} {met[name]:,}" for name in sorted(met)))


if __name__ == "__main__":
    main()
