"""A sampled population beside a fitted model that stays as it is.

The weights that readings use may have been turned on held-out games after the fit. People are
sampled around the weights as they were fitted, and only the draws and what the model card says of
them are added to the folder.
"""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Final

import numpy as np

from handread.clues.context import PHASES
from handread.clues.weights import Weights, load_weights
from handread.errors import HandreadError
from handread.fitting.gathering import Gathered, put
from handread.fitting.posterior.club import ClubPlan, Progress, club_of_model, sample_club
from handread.fitting.posterior.diagnose import refuse_unless_sound
from handread.fitting.posterior.fit import PopulationFit, kept_draws
from handread.fitting.posterior.record import checks_of
from handread.fitting.priors import Priors
from handread.fitting.saving import MOST_BYTES, ModelCard, card_text, check_model
from handread.fitting.versions import packages
from handread.reading import Model

#: What a model card says of the draws beside the weights.
METHOD: Final = (
    "; beside them draws of a population of people, sampled around the weights as they were fitted"
)


def as_fitted(weights: Weights, card: ModelCard) -> Weights:
    """Weights as they were before their knobs were turned on held-out games.

    Parameters
    ----------
    weights
        Of a model's folder.
    card
        Its card, which says how far the knobs were turned; for a model that was not tuned the
        weights come back as they are.
    """
    power = float(card.diagnostics.get("factor_of_use", 1.0))
    shift = float(card.diagnostics.get("shift_of_log_odds_of_leaving", 0.0))
    scales = {f"use.scale_{phase}": weights["use"][f"scale_{phase}"] / power for phase in PHASES}
    added = float(card.diagnostics.get("added_to_elsewhere", 0.0))
    base, elsewhere = weights["hazard"]["base"] - shift, weights["elsewhere"]["power"] - added
    return weights.replace({"hazard.base": base, "elsewhere.power": elsewhere, **scales})


def sample_onto(
    model: Model, folder: str | Path, club: ClubPlan, *, command: str,
    priors: Priors | None = None, progress: Progress | None = None,
) -> PopulationFit:  # fmt: skip
    """Sample a population of people, and lay its draws beside the weights of a folder.

    Parameters
    ----------
    model
        The model of the reading that the fit started from: its weights are the centres of the
        priors.
    folder
        A fitted model, tuned or not. Its weights are not changed; the club's games are walked
        with the contexts of a reading by them.
    club
        The people.
    command
        The command that does it, for the model card.
    priors
        Centres and widths; None for the weights of `model` and the widths of ``WIDTHS``.
    progress
        Called as the work goes on.

    Raises
    ------
    HandreadError
        If the folder holds no model or one of other clues, or if the draws cannot be trusted; it
        then keeps what it had.
    """
    from handread.reading import build_model

    card, stored = check_model(folder, model), load_weights(Path(folder) / "weights.toml")
    reading = build_model(
        model.card, weights=stored, prior=model.prior, prior_source=model.prior_source,
        clues=model.clues,
    )  # fmt: skip
    source, gathered = club_of_model(reading, club, progress=progress)
    at = as_fitted(stored, card)
    held = priors or Priors(model.weights)
    found = sample_club(reading, at, gathered, source, held, club, progress=progress)
    checks = checks_of(reading, gathered, found, at, held, seed=club.seed)
    add_draws(folder, card_with(card, found, at, gathered, command), found, checks)
    return found


def add_draws(
    folder: str | Path, card: ModelCard, found: PopulationFit, checks: str
) -> None:  # fmt: skip
    """Lay the draws of a population beside weights that stay as they are.

    Parameters
    ----------
    folder
        The model's folder.
    card
        Its card, which says of the draws.
    found
        The population.
    checks
        Content of ``checks.toml``.

    Raises
    ------
    HandreadError
        If the diagnostics speak against the draws, or the folder would be too large; it then
        keeps what it had.
    """
    refuse_unless_sound(found.diagnosis)
    held = BytesIO()
    np.savez_compressed(held, allow_pickle=False, **kept_draws(found))
    new = {
        "draws.npz": held.getvalue(), "checks.toml": checks.encode(),
        "model.toml": card_text(card).encode(),
    }  # fmt: skip
    place = Path(folder)
    size = sum(len(content) for content in new.values())
    size += sum(file.stat().st_size for file in place.iterdir() if file.name not in new)
    if size > MOST_BYTES:
        raise HandreadError(f"model of {size} bytes; accepted: {MOST_BYTES} or fewer")
    for name, content in new.items():
        put(place / name, content)


def card_with(
    card: ModelCard, found: PopulationFit, at: Weights, gathered: Gathered, command: str
) -> ModelCard:
    """Model card that says of the draws beside the weights how they came about."""
    diagnosis, away = found.diagnosis, found.against_weights(at)
    # said once, however often people are sampled anew
    before = card.command.split(" && handread fit --onto ")[0]
    games = {name: value for name, value in card.games.items() if not name.startswith("club_")}
    return replace(
        card,
        command=f"{before} && {command}",
        games={**games, **{f"club_{name}": value for name, value in gathered.about.items()}},
        made_with={**card.made_with, **packages(("pymc", "pytensor", "arviz", "nutpie", "numba"))},
        method=card.method.removesuffix(METHOD) + METHOD,
        diagnostics={
            **card.diagnostics, "rhat": diagnosis.rhat, "ess_bulk": diagnosis.ess_bulk,
            "ess_tail": diagnosis.ess_tail, "divergences": diagnosis.divergences,
            "people": found.n_people, "choices_of_each": found.n_choices,
            "draws": len(found.mean), "sampling_seconds": round(found.seconds, 1),
            "sampling_processor_seconds": round(found.processor_seconds, 1),
            "largest_difference_to_the_mode_in_sd": max(map(abs, away.values())),
        },
    )  # fmt: skip
