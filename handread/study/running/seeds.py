"""Seeds of the games of a study, drawn up front; training, validation and test cannot meet.

The two lowest bits of a seed say what its game is for. So a test game of one study is no
training game of any other, whatever the master seeds and the numbers of games.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from handread.errors import HandreadError, closest

#: What games are for, by the two lowest bits of their seeds.
PURPOSES: Final = ("training", "validation", "test")


@dataclass(frozen=True)
class Seeds:
    """Seeds of every game of a study.

    Attributes
    ----------
    training
        Games that rates are counted in.
    validation
        Games for choices between models; no figure of a study comes from them.
    test
        Games that are scored.
    """

    training: tuple[int, ...]
    validation: tuple[int, ...]
    test: tuple[int, ...]


def purpose_seeds(seed: int, purpose: str, n_games: int) -> tuple[int, ...]:
    """Seeds of games for one purpose; more games only add to them.

    Parameters
    ----------
    seed
        Master seed.
    purpose
        One of ``PURPOSES``.
    n_games
        How many.

    Examples
    --------
    >>> purpose_seeds(1, "test", 2) == purpose_seeds(1, "test", 5)[:2]
    True
    >>> {number % 4 for number in purpose_seeds(1, "test", 50)}
    {2}
    """
    if purpose not in PURPOSES:
        raise HandreadError(f"purpose is {purpose!r}; {closest(purpose, PURPOSES)}")
    if seed < 0 or n_games < 0:
        raise HandreadError(f"seed={seed!r}, n_games={n_games!r}; accepted: 0 or more")
    place = PURPOSES.index(purpose)
    found: dict[int, None] = {}
    block = 0
    while len(found) < n_games:  # a word drawn twice is used once
        sequence = np.random.SeedSequence([seed, place, block])
        # 53 bits in all, so that a seed survives every reader of JSON
        words = sequence.generate_state(1024, np.uint64) >> np.uint64(13)
        found |= dict.fromkeys(4 * int(word) + place for word in words)
        block += 1
    return tuple(found)[:n_games]


def study_seeds(seed: int, *, training: int, validation: int, test: int) -> Seeds:
    """Draw the seeds of a study.

    Parameters
    ----------
    seed
        Master seed.
    training, validation, test
        Games of each purpose.

    Examples
    --------
    >>> seeds = study_seeds(7, training=3, validation=2, test=4)
    >>> set(seeds.training) & set(seeds.test)
    set()
    """
    return Seeds(
        purpose_seeds(seed, "training", training),
        purpose_seeds(seed, "validation", validation),
        purpose_seeds(seed, "test", test),
    )
