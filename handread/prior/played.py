"""How often simulated people settle on each target: from the deal through the passes.

Every seat of every game counts with its weights over targets once the passes are over: one where
it is committed, a share for each target that it still weighs. Counts are smoothed within the hand
and within the family, so that a target that nobody met is rare and not impossible.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate import PlayCard, Population, SimulatedGame
from handread.simulate.batch import map_games
from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Pseudo-counts of each target, shared out as its hand and as its family were settled on.
FROM_HAND: Final = 2.0
FROM_FAMILY: Final = 0.5
#: Share of the prior that gives every hand the same weight.
EQUAL_SHARE: Final = 0.05


@dataclass(frozen=True, eq=False)
class PlayedPrior(ArrayValue):
    """A prior from simulated games.

    Attributes
    ----------
    prior
        Probability of each target, shape (n_targets,); sums to 1, never 0.
    counts
        Seats that settled on each target, in shares, shape (n_targets,).
    standard_error
        Of each family's share before smoothing, over games, shape (n_families,).
    source
        Where it comes from, in words.
    """

    prior: Array
    counts: Array
    standard_error: Array
    source: str


def played_prior(
    card: CompiledCard,
    *,
    n_games: int,
    seed: int,
    population: Population | None = None,
    n_workers: int = 1,
    progress: Callable[[int], None] | None = None,
) -> PlayedPrior:
    """Play games to the end of the passes and count on which targets people settle.

    Parameters
    ----------
    card
        The card.
    n_games
        Games, of four people each.
    seed
        Seed of the batch; the same whatever the number of workers.
    population
        Who plays; the default population if None.
    n_workers
        Processes.
    progress
        Called with the number of games done so far.

    Raises
    ------
    HandreadError
        If no game is asked for.

    Examples
    --------
    >>> import handread as hr
    >>> found = played_prior(hr.load_card("small"), n_games=4, seed=1)
    >>> round(float(found.counts.sum()), 4), round(float(found.prior.sum()), 9)
    (16.0, 1.0)
    """
    if n_games < 1:
        raise HandreadError(f"n_games={n_games!r}; 1 or more is accepted")
    counts = np.zeros(card.n_targets)
    by_family = np.zeros((n_games, len(card.families)))
    games = map_games(
        settled, card, n_games=n_games, seed=seed, population=population, n_workers=n_workers,
        until="passes",
    )  # fmt: skip
    populations: list[str] = []
    for done, (weights, population_name) in enumerate(games):
        populations.append(population_name)
        counts += weights
        by_family[done] = np.bincount(card.family_of, weights=weights, minlength=len(card.families))
        if progress is not None:
            progress(done + 1)
    shares = by_family / by_family.sum(axis=1, keepdims=True)
    error = shares.std(axis=0, ddof=1 if n_games > 1 else 0) / np.sqrt(n_games)
    who = f"{n_games:,} games of population {populations[0]}"
    source = f"{who} to the end of the passes, seed {seed}"
    return PlayedPrior(smoothed(card, counts), counts, error, source)


def settled(card: PlayCard, game: SimulatedGame) -> tuple[Array, str]:
    """Weights over targets of all seats of one game after the passes, and the population.

    Shape (n_targets,); each seat counts one.
    """
    moments, n_targets = game.truth.moments, card.card.n_targets
    total = np.zeros(n_targets)
    for seat, person in enumerate(game.truth.people):
        if person is not None:
            rows = np.flatnonzero(moments.seat == seat)
            total += moments.weights(int(rows[-1]), n_targets)
    return total, game.truth.population


def smoothed(card: CompiledCard, counts: Array) -> Array:
    """Smooth counts within hand and family; never zero.

    Parameters
    ----------
    card
        The card.
    counts
        Seats that settled on each target, shape (n_targets,).

    Returns
    -------
    Array
        Probability of each target, shape (n_targets,).
    """
    by_hand, in_hand = _of_group(card.hand_of, counts, len(card.hands))
    by_family, in_family = _of_group(card.family_of, counts, len(card.families))
    total = max(float(counts.sum()), 1.0)
    share_of_hand = (by_hand / total * FROM_HAND * card.n_targets / in_hand)[card.hand_of]
    share_of_family = (by_family / total * FROM_FAMILY * card.n_targets / in_family)[card.family_of]
    found = counts + share_of_hand + share_of_family
    equal = (1.0 / in_hand)[card.hand_of]
    prior = (1.0 - EQUAL_SHARE) * found / found.sum() + EQUAL_SHARE * equal / equal.sum()
    return np.asarray(prior, dtype=np.float64)


def _of_group(group_of: NDArray[np.int32], counts: Array, n: int) -> tuple[Array, Array]:
    members = np.bincount(group_of, minlength=n).astype(np.float64)
    total = np.bincount(group_of, weights=counts, minlength=n).astype(np.float64)
    return total, np.maximum(members, 1.0)
