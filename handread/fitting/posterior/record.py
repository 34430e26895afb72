"""Checks of a sampled population as a small file beside its draws: ``checks.toml``."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Final

import numpy as np

from handread.clues.weights import Weights
from handread.fitting.affine import find_basis
from handread.fitting.gathering import Gathered, read_block
from handread.fitting.posterior.choices import linear_features
from handread.fitting.posterior.fit import PopulationFit, weight_of
from handread.fitting.posterior.predictive import population_units
from handread.fitting.posterior.sensitivity import Exchanged, exchange_prior
from handread.fitting.posterior.units import Predicted
from handread.fitting.priors import Priors
from handread.fitting.tables import joined
from handread.reading import Model

#: Games of the club whose throws are predicted, and populations drawn from prior and posterior.
CHECK_BLOCKS: Final = 4
CHECK_DRAWS: Final = 100
#: Factors by which the widths of all priors are changed.
FACTORS: Final = (0.5, 2.0)


def checks_of(
    model: Model, gathered: Gathered, found: PopulationFit, at: Weights, priors: Priors, *,
    seed: int,
) -> str:  # fmt: skip
    """Make all checks of a population, and tell them as a file.

    Parameters
    ----------
    model
        The model of the reading whose clues were fitted.
    gathered
        The club's games.
    found
        The population.
    at
        The weights as they were fitted for everybody, which the means are held against.
    priors
        Priors of the means.
    seed
        Of the people and throws that are predicted.
    """
    tables = joined(read_block(path) for path in gathered.paths[:CHECK_BLOCKS])
    linear = linear_features(find_basis(model.clues), priors, at.blocks)
    rng = np.random.default_rng(np.random.SeedSequence([seed, 5]))
    predicted = population_units(
        tables.throws, len(tables.people), linear, found, priors, n_draws=CHECK_DRAWS, rng=rng
    )  # fmt: skip
    exchanged = [exchange_prior(found, priors, factor) for factor in FACTORS]
    return checks_text(found, at, exchanged, predicted, tables.n_games)


def checks_text(
    found: PopulationFit, at: Weights, exchanged: Sequence[Exchanged],
    predicted: Sequence[Predicted], n_games: int,
) -> str:  # fmt: skip
    """Checks as TOML.

    Parameters
    ----------
    found
        The population.
    at
        The weights as they were fitted for everybody.
    exchanged
        The means under priors of other widths.
    predicted
        Figures of play, predicted.
    n_games
        Games that these are of.
    """
    lines = [
        "# Checks of the draws beside. Means and spreads of the population in nats; mode: the one",
        "# weight for everybody, before its knobs were turned; away: mean less mode, in standard",
        "# deviations of the mean. narrower, wider: move of the mean, in the same, with the widths",
        "# of all priors halved and doubled, the means taken as jointly normal.",
    ]  # fmt: skip
    away = found.against_weights(at)
    for i, name in enumerate(found.layout.names):
        mean, spread = found.mean[:, i], found.spread[:, i]
        told = {
            "mean": mean.mean(), "sd": mean.std(ddof=1), "mode": weight_of(at, name),
            "away": away[name],
        }  # fmt: skip
        if spread.any():
            told |= {"between_people": spread.mean(), "between_people_sd": spread.std(ddof=1)}
        for each in exchanged:
            told["narrower" if each.factor < 1 else "wider"] = each.normal[i]
        values = ", ".join(f"{key} = {value:.4g}" for key, value in told.items())
        lines += ["", f"[weights.{name}]", *values.split(", ")]
    for each in exchanged:
        where = "narrower" if each.factor < 1 else "wider"
        lines += [
            "", f"[priors.{where}]", "# by weighted draws the prior of the spreads changes, too",
            f"factor = {each.factor}", f"effective_draws = {each.effective:.0f}",
            f"most_of_means_normal = {np.abs(each.normal).max():.3g}",
            f"most_of_means_weighted = {np.abs(each.weighted).max():.3g}",
            f"most_of_spreads_weighted = {np.abs(each.spread).max():.3g}",
        ]  # fmt: skip
    lines += [
        "", "[play]", "# Seen in the club's games, and lower, middle and upper end of what people",
        f"# drawn anew from prior and posterior would throw there: {_levels(predicted)} per cent.",
        f"games = {n_games}", f"inside = {sum(unit.inside for unit in predicted)}",
        f"of = {len(predicted)}",
    ]  # fmt: skip
    for unit in predicted:
        lines += [
            "", "[[play.figures]]", f"name = {json.dumps(unit.name)}", f"seen = {unit.seen:.4g}",
            f"prior = {_ends(unit.prior)}", f"posterior = {_ends(unit.posterior)}",
        ]  # fmt: skip
    return "\n".join(lines) + "\n"


def _levels(predicted: Sequence[Predicted]) -> str:
    """The levels in per cent: all figures have the same."""
    low, middle, high = (predicted[0] if predicted else Predicted).levels
    return f"{100 * low:g}, {100 * middle:g} and {100 * high:g}"


def _ends(values: tuple[float, float, float]) -> str:
    return "[" + ", ".join(f"{value:.4g}" for value in values) + "]"
