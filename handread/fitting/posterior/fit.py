"""A population, sampled from a block of choices, checked and written into a model's folder."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.weights import Weights
from handread.errors import HandreadError
from handread.fitting.gathering import Gathered
from handread.fitting.mode import Estimate, ModeFit
from handread.fitting.mode.fit import with_estimates
from handread.fitting.posterior.diagnose import Diagnosis, diagnose, refuse_unless_sound
from handread.fitting.posterior.model import Layout, first_layout, population_model
from handread.fitting.posterior.rough import Block
from handread.fitting.posterior.sampling import Draws, draw
from handread.fitting.priors import Priors
from handread.fitting.saving import save_model
from handread.fitting.versions import packages
from handread.reading import Model
from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Draws of the population that ship.
KEPT_DRAWS: Final = 400


@dataclass(frozen=True, eq=False)
class PopulationFit(ArrayValue):
    """A population, sampled.

    Attributes
    ----------
    layout
        Which weights differ between people.
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


def weight_of(weights: Weights, path: str) -> float:
    """Weight by its path, ``block.weight``."""
    block, name = path.split(".")
    return float(weights[block][name])


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
        Which weights differ between people; None for ``first_layout``.
    at
        Weights near which the people are, shape (n_names,); None for the centres of the priors.
    sampling
        Arguments of ``draw``.
    """
    options = dict(sampling or {})
    if layout is None:
        centre = np.array([priors.value(name) for name in block.names])
        layout = first_layout(block, centre if at is None else at)
    draws = draw(
        population_model(block, priors, layout, at=at), seed=seed,
        names=("mean", "spread", "own"), **options,
    )  # fmt: skip
    names = tuple(name for name in ("mean", "spread", "own") if name in draws.values)
    return _found(draws, layout, diagnose(draws, names), seed, block)


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
