"""Contexts at random, within what a table can be."""

from __future__ import annotations

import numpy as np

from handread.clues.context import Context
from handread.tiles import COPIES, JOKER, N_KINDS


def random_context(rng: np.random.Generator, **changes: object) -> Context:
    """One seat at a random moment of a table that could exist."""
    seen = np.array([rng.integers(0, n + 1) for n in COPIES], dtype=np.int64)
    seen = np.where(rng.random(N_KINDS) < 0.6, 0, seen)
    known = int(rng.integers(0, 3))
    unseen = COPIES.astype(np.int64) - seen
    unseen[JOKER] = max(unseen[JOKER] - known, 0)
    pool = int(unseen.sum())
    concealed = int(rng.integers(max(known, 1), 14))
    own = np.where(rng.random(N_KINDS) < 0.2, np.minimum(seen, 2), 0)
    reach = unseen * (concealed - known) / pool
    reach[JOKER] += known
    last = None if rng.random() < 0.3 else int(rng.integers(N_KINDS))
    fields: dict[str, object] = {
        "seat": int(rng.integers(4)), "turn": int(rng.integers(0, 26)), "within_reach": reach,
        "unseen": unseen, "seen": seen, "own_thrown": own, "concealed": concealed, "pool": pool,
        "n_exposed": int(rng.integers(0, 5)), "threat": int(rng.integers(0, 5)),
        "wall": int(rng.integers(0, 100)), "known_jokers": known,
        "demand": rng.normal(size=N_KINDS), "last_unclaimed": last,
    }  # fmt: skip
    return Context(**(fields | changes))  # type: ignore[arg-type]
