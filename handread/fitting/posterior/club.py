"""A club of people: its games, walked, and the population that is sampled from them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np

from handread.clues.weights import Weights
from handread.fitting.affine import find_basis
from handread.fitting.gathering import Gathered, gather
from handread.fitting.mode import ModeFit
from handread.fitting.posterior.choices import linear_features, pick_choices
from handread.fitting.posterior.diagnose import refuse_unless_sound
from handread.fitting.posterior.fit import (
    PopulationFit,
    sample_population,
    save_population,
    weight_of,
)
from handread.fitting.posterior.sparse import SparseBlock, sparse_block
from handread.fitting.priors import Priors
from handread.fitting.sources import Played
from handread.reading import Model
from handread.values import FrozenMap

Progress = Callable[[str, int, int], None]

#: Throws that one person makes in a game, about; people sit at a table by fours.
THROWS_A_GAME: Final = 16
#: How a club of people is sampled. All that the sampler moves is near to standard normal, so that
#: larger steps than usual do no harm. Trajectories of seven steps go a third of a turn: longer ones
#: would carry means to the other side, which suits their sizes, but squares to where they began,
#: which R-hat of the worst of some thousand weights of people does not forgive. With 2,000 draws a
#: chain one mean, which goes along with its spread, stood at 1.0104.
CLUB_SAMPLING: Final = FrozenMap(
    {"n_draws": 3000, "n_tune": 200, "target_accept": 0.7, "max_depth": 3}
)


@dataclass(frozen=True)
class ClubPlan:
    """A club of people to be sampled.

    Attributes
    ----------
    people, choices
        People, and choices of each.
    seed
        Master seed of the club's games and of the sampler.
    work
        Folder for what is gathered on the way.
    workers
        Processes.
    sampling
        Arguments of ``draw`` other than those of ``CLUB_SAMPLING``.
    """

    people: int
    choices: int
    seed: int
    work: Path
    workers: int = 1
    sampling: Mapping[str, Any] = field(default_factory=lambda: FrozenMap({}))


def fit_population(
    model: Model,
    mode: ModeFit,
    out: str | Path,
    club: ClubPlan,
    *,
    command: str,
    priors: Priors | None = None,
    progress: Progress | None = None,
) -> PopulationFit:
    """Sample a population of people, and put its mean and draws into the model's folder.

    Parameters
    ----------
    model
        The model of the reading that the fit started from.
    mode
        Most probable weights over all games: the scales, and all that is not about throws.
    out
        Folder of the model, which a fit by the mode has written.
    club
        The people.
    command
        The command that makes the model again.
    priors
        Centres and widths; None for the weights of `model` and the widths of ``WIDTHS``.
    progress
        Called as the work goes on.

    Raises
    ------
    HandreadError
        If the draws cannot be trusted; the folder then keeps what it had.
    """
    held = priors or Priors(model.weights)
    source, gathered = club_of_model(model, club, progress=progress)
    found = sample_club(model, mode.weights, gathered, source, held, club, progress=progress)
    save_population(out, model, mode, found, held, gathered, command)
    return found


def club_of_model(
    model: Model, club: ClubPlan, *, progress: Progress | None = None
) -> tuple[Played, Gathered]:  # fmt: skip
    """Games of a club, and what a reading by a model gathers from them.

    Parameters
    ----------
    model
        The model of the reading.
    club
        The people; their games are as many as give each the choices asked for, and some more.
    progress
        Called as the games are walked.
    """
    from handread.fitting.plan import played

    tell = progress or (lambda what, done, total: None)
    n_games = -(-club.people * club.choices * 5 // (4 * THROWS_A_GAME * 4))
    source = played(model, n_games, club.seed + 1, n_people=club.people)
    gathered = gather(
        model, source, club.work / "club", n_workers=club.workers,
        progress=lambda done, total: tell("walking the club's games", done, total),
    )  # fmt: skip
    return source, gathered


def sample_club(
    model: Model, weights: Weights, gathered: Gathered, source: Played, priors: Priors,
    club: ClubPlan, *, progress: Progress | None = None,
) -> PopulationFit:  # fmt: skip
    """Sample the people of a club; refuse draws that cannot be trusted.

    Parameters
    ----------
    model
        The model of the reading whose clues are fitted.
    weights
        Most probable weights: the scales are held there, and the means are near the others.
    gathered, source
        The club's games.
    priors
        Centres and widths of the means.
    club
        The people.
    progress
        Called once, before they are sampled.

    Raises
    ------
    HandreadError
        If the draws cannot be trusted.
    """
    block = block_of(
        model, weights, gathered, source, club.people, club.choices, priors, club.seed
    )  # fmt: skip
    (progress or (lambda what, done, total: None))("sampling people", 0, 0)
    at = np.array([weight_of(weights, name) for name in block.names])
    options = {**CLUB_SAMPLING, "n_cores": club.workers, **club.sampling}
    found = sample_population(block, priors, seed=club.seed, at=at, sampling=options)
    refuse_unless_sound(found.diagnosis)
    return found


def block_of(
    model: Model, weights: Weights, gathered: Gathered, source: Played, n_people: int,
    n_choices: int, priors: Priors, seed: int,
) -> SparseBlock:  # fmt: skip
    """Choices of a club as one block, the scales held at some weights."""
    tables = gathered.whole()
    kinds = {person.key: person.kind for person in source.setting.club}
    picked = pick_choices(
        tables, n_people=n_people, n_choices=n_choices, kinds=kinds,
        rng=np.random.default_rng(np.random.SeedSequence([seed, 3])),
    )  # fmt: skip
    linear = linear_features(find_basis(model.clues), priors, weights.blocks)
    return sparse_block(tables, picked, linear)
