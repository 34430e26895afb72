"""From a club's games to a sampled population, checked and written into the model's folder."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.weights import Weights
from handread.errors import HandreadError
from handread.fitting.affine import find_basis
from handread.fitting.gathering import Gathered, gather
from handread.fitting.mode import Estimate, ModeFit
from handread.fitting.mode.fit import with_estimates
from handread.fitting.posterior.choices import linear_features, pick_choices
from handread.fitting.posterior.diagnose import Diagnosis, diagnose, refuse_unless_sound
from handread.fitting.posterior.model import Block, Layout, first_layout, population_model
from handread.fitting.posterior.sampling import Draws, draw
from handread.fitting.posterior.shim import ess
from handread.fitting.posterior.sparse import SparseBlock, sparse_block
from handread.fitting.posterior.spreads import likely_spreads
from handread.fitting.priors import Priors
from handread.fitting.saving import save_model
from handread.fitting.sources import Played
from handread.fitting.versions import packages
from handread.reading import Model
from handread.values import ArrayValue, FrozenMap

Array = NDArray[np.float64]
Progress = Callable[[str, int, int], None]

#: Throws that one person makes in a game, about; people sit at a table by fours.
THROWS_A_GAME: Final = 16
#: Draws of the population that ship.
KEPT_DRAWS: Final = 400


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
    sampling: FrozenMap[str, Any] = field(default_factory=lambda: FrozenMap({}))


@dataclass(frozen=True, eq=False)
class PopulationFit(ArrayValue):
    """A population, sampled.

    Attributes
    ----------
    layout
        How each weight was written down.
    mean
        Draws of the mean of each weight, shape (n_draws, n_names).
    spread
        Draws of the standard deviation between people, 0 for weights that do not vary, shape
        (n_draws, n_names).
    person
        One person drawn from the population for each draw: the predictive, shape
        (n_draws, n_names).
    diagnosis
        What the diagnostics say.
    sampler
        Which was used.
    seconds
        Wall time of the sampler, with the compilation of the model.
    n_people, n_choices
        People, and choices of each.
    processor_seconds
        Processor time of the same; nan where the sampler used processes of its own.
    """

    layout: Layout
    mean: Array
    spread: Array
    person: Array
    diagnosis: Diagnosis
    sampler: str
    seconds: float
    n_people: int
    n_choices: int
    processor_seconds: float = float("nan")

    def estimates(self, priors: Priors) -> list[Estimate]:
        """Means of the weights with what is left open."""
        return [
            Estimate(name, float(self.mean[:, i].mean()), float(self.mean[:, i].std(ddof=1)),
                     priors.value(name), float("nan"))
            for i, name in enumerate(self.layout.names)
        ]  # fmt: skip

    def against(self, mode: ModeFit) -> dict[str, float]:
        """Mean of each weight less the mode over all choices, in standard deviations of the mean.

        The two answer different questions: the mode is one weight for everybody, the mean is that
        of people who differ. They are to agree in sign and size, not to the last digit.
        """
        at = {each.path: each.value for each in mode.estimates}
        return self._away({name: at[name] for name in self.layout.names if name in at})

    def against_weights(self, weights: Weights) -> dict[str, float]:
        """Mean of each weight less a weight held against it, in standard deviations of the mean."""
        return self._away({name: weight_of(weights, name) for name in self.layout.names})

    def _away(self, at: Mapping[str, float]) -> dict[str, float]:
        return {
            name: float((self.mean[:, i].mean() - at[name]) / self.mean[:, i].std(ddof=1))
            for i, name in enumerate(self.layout.names) if name in at
        }  # fmt: skip

    def lines(self) -> list[str]:
        """Means and spreads in lines for a terminal."""
        told = [
            f"people: R-hat {self.diagnosis.rhat:.4f}, ESS {self.diagnosis.ess_bulk:.0f} bulk, "
            f"{self.diagnosis.ess_tail:.0f} tail, {self.sampler}, {self.seconds:.0f} s"
        ]
        for i, name in enumerate(self.layout.names):
            mean, spread = self.mean[:, i], self.spread[:, i]
            between = f", between people {spread.mean():.2f}" if spread.any() else ""
            told.append(f"{name:34} {mean.mean():8.3f} +- {mean.std(ddof=1):.3f}{between}")
        return told


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


def weight_of(weights: Weights, path: str) -> float:
    """Weight by its path, ``block.weight``."""
    block, name = path.split(".")
    return float(weights[block][name])


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


def sample_population(
    block: Block,
    priors: Priors,
    *,
    seed: int,
    layout: Layout | None = None,
    at: Array | None = None,
    sampling: Mapping[str, Any] | None = None,
) -> PopulationFit:
    """Sample the population of a block of choices.

    Parameters
    ----------
    block
        The choices.
    priors
        Centres and widths of the means.
    seed
        Of the sampler.
    layout
        How weights are written down; None to choose: for a sparse block by how much people's
        choices say of them (``known_layout``), else by two short runs (``better_layout``).
    at
        Weights near which the people are, shape (n_names,); None for the centres of the priors.
    sampling
        Arguments of ``draw``.
    """
    options = dict(sampling or {})
    if layout is None and isinstance(block, SparseBlock):
        layout = known_layout(block, priors, at=at)
    elif layout is None:
        layout = better_layout(block, priors, seed=seed, at=at, options=options)
    draws = draw(
        population_model(block, priors, layout, at=at), seed=seed,
        names=("mean", "spread", "own"), **options,
    )  # fmt: skip
    names = tuple(name for name in ("mean", "spread", "own") if name in draws.values)
    return _found(draws, layout, diagnose(draws, names), seed, block)


def known_layout(block: SparseBlock, priors: Priors, *, at: Array | None = None) -> Layout:
    """Layout by how much of a person's place its own choices tell, in seconds.

    Which weights differ between people is up to ``first_layout``. Of these a weight is centred
    where a typical person's choices tell more than half of its place, and raw elsewhere, where a
    centred one would go along with its spread (Papaspiliopoulos, Roberts and Skold, Statistical
    Science 22, 2007, from memory).
    """
    near = np.array([priors.value(name) for name in block.names]) if at is None else at
    start = first_layout(block, near, least=COULD_BE_CENTRED)
    told = likely_spreads(block, near, start.varying)
    known = dict(zip(told.names, told.known.tolist(), strict=True))
    centred = tuple(name for name in start.varying if known[name] > MOSTLY_KNOWN)
    return Layout(start.names, centred, tuple(n for n in start.varying if n not in centred))


def better_layout(
    block: Block, priors: Priors, *, seed: int, options: Mapping[str, Any],
    at: Array | None = None,
) -> Layout:  # fmt: skip
    """Layout by measured effective sample sizes of two short runs.

    Every weight that could be centred is so in one run and raw in the other, and keeps the form
    in which its spread had the larger size. Weights of which a person's choices say little are
    raw in both: centred, they would make a funnel that takes hundreds of steps a draw.
    """
    centre = np.array([priors.value(name) for name in block.names])
    start = first_layout(block, centre if at is None else at, least=COULD_BE_CENTRED)
    if not start.centred:
        return start
    sizes = []
    for way in (start, Layout(start.names, (), start.varying)):
        draws = draw(
            population_model(block, priors, way, at=at), seed=seed, names=("spread",),
            **{**options, "n_draws": PILOT, "n_tune": PILOT, "n_chains": 2},
        )  # fmt: skip
        sizes.append(dict(zip(way.varying, ess(draws.values["spread"], "bulk"), strict=True)))
    centred = tuple(name for name in start.centred if sizes[0][name] >= sizes[1][name])
    return Layout(start.names, centred, tuple(n for n in start.varying if n not in centred))


#: How a club of people is sampled: raw weights of people need no smaller steps. With 600 draws a
#: chain the worst R-hat was 1.014, and what R-hat is above 1 goes down with the draws.
CLUB_SAMPLING: Final = FrozenMap({"n_draws": 1200, "n_tune": 300, "target_accept": 0.8})
#: Draws and tuning steps of a run that chooses between two ways of writing a weight down.
PILOT: Final = 200
#: What a person's choices must say of a weight, against a spread of 0.3, to try it centred.
COULD_BE_CENTRED: Final = 0.5


#: Share of a person's place that its choices must tell for a weight to be centred.
MOSTLY_KNOWN: Final = 0.5


def _found(
    draws: Draws, layout: Layout, diagnosis: Diagnosis, seed: int, block: Block
) -> PopulationFit:
    mean = draws.flat("mean").astype(np.float64)
    spread = np.zeros_like(mean)
    places = [layout.names.index(name) for name in layout.varying]
    spread[:, places] = draws.flat("spread")
    rng = np.random.default_rng(np.random.SeedSequence([seed, 4]))
    person = mean + spread * rng.standard_normal(mean.shape)
    return PopulationFit(
        layout, mean, spread, person, diagnosis, draws.sampler, draws.seconds,
        len(block.people), block.most_choices, draws.processor_seconds,
    )  # fmt: skip


def save_population(
    out: str | Path, model: Model, mode: ModeFit, found: PopulationFit, priors: Priors,
    gathered: Gathered, command: str,
) -> None:  # fmt: skip
    """Put the mean and draws of a population into a model's folder.

    Raises
    ------
    HandreadError
        If the diagnostics speak against it, or nothing was fitted there before.
    """
    from handread.fitting.saving import load_card

    refuse_unless_sound(found.diagnosis)
    card = load_card(out)
    estimates = {each.path: each for each in mode.estimates}
    estimates |= {each.path: each for each in found.estimates(priors)}
    weights = with_estimates(model.weights, list(estimates.values()), card.name)
    diagnosis = found.diagnosis
    told = replace(
        card,
        command=command,
        games={**card.games, **{f"club_{key}": value for key, value in gathered.about.items()}},
        made_with=packages(("handread", "numpy", "scipy", "pymc", "arviz", "nutpie")),
        method="throws: mean of a population of people, sampled; scales and everything else: most "
        "probable weights over all choices of the games",
        diagnostics={
            **card.diagnostics, "rhat": diagnosis.rhat, "ess_bulk": diagnosis.ess_bulk,
            "ess_tail": diagnosis.ess_tail, "divergences": diagnosis.divergences,
            "people": found.n_people, "choices_of_each": found.n_choices,
            "largest_difference_to_the_mode_in_sd": max(
                (abs(z) for z in found.against(mode).values()), default=float("nan")
            ),
        },
    )  # fmt: skip
    save_model(out, model, weights, list(estimates.values()), told, draws=kept_draws(found))


def kept_draws(found: PopulationFit, n: int = KEPT_DRAWS) -> dict[str, NDArray[Any]]:
    """Draws that ship: evenly spaced, in single precision."""
    if len(found.mean) < 1:
        raise HandreadError("no draws to keep; sample first")
    places = np.linspace(0, len(found.mean) - 1, min(n, len(found.mean))).astype(int)
    return {
        "names": np.array(found.layout.names, dtype=np.str_),
        "mean": found.mean[places].astype(np.float32),
        "spread": found.spread[places].astype(np.float32),
        "person": found.person[places].astype(np.float32),
    }
