"""From games to a fitted model on disk, in one call."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Final

from handread.errors import HandreadError
from handread.fitting.gathering import Gathered, gather
from handread.fitting.mode import ModeFit, fit_mode
from handread.fitting.priors import Priors
from handread.fitting.saving import ModelCard, save_model
from handread.fitting.sources import Source
from handread.fitting.versions import packages, versions_of
from handread.reading import Model

#: Called with what is being done, how much of it is done, and how much there is.
Progress = Callable[[str, int, int], None]

#: What every fit of simulated games shares.
WEAKNESSES: Final = (
    "fitted on simulated players: it says what they do, not what people do",
    "plans are known from the simulation; a seat that still searches counts as undecided",
    "contexts are those of a reading with the weights that the fit started from",
)


def fit_games(
    model: Model,
    source: Source,
    out: str | Path,
    *,
    work: str | Path,
    command: str,
    rounds: int = 1,
    n_workers: int = 1,
    priors: Priors | None = None,
    progress: Progress | None = None,
) -> ModeFit:
    """Walk games, find the most probable weights, and write the model.

    Parameters
    ----------
    model
        The model of the reading to start from.
    source
        The games.
    out
        Folder of the model.
    work
        Folder for what the walks gather; a run that was broken off goes on from there.
    command
        The command that makes the model again, for its card.
    rounds
        Times that games are walked: from the second on with the contexts of a reading by the
        weights found before, and before the last on an eighth of the games. The priors stay
        where they were.
    n_workers
        Processes.
    priors
        Centres and widths; None for the weights of `model` and the widths of ``WIDTHS``.
    progress
        Called as the work goes on.

    Returns
    -------
    ModeFit

    Raises
    ------
    HandreadError
        If there are no games, or fewer than one round is asked for.
    """
    if source.n_games < 1 or rounds < 1:
        raise HandreadError(f"games={source.n_games}, rounds={rounds}; accepted: 1 or more")
    name = Path(out).name
    held = priors or Priors(model.weights)
    tell = progress or (lambda what, done, total: None)
    current = model
    for number in range(1, rounds + 1):
        what = f"walking, round {number} of {rounds}"
        gathered = gather(
            current, source, round_folder(work, number), n_workers=n_workers,
            n_games=source.n_games if number == rounds else first_games(source.n_games),
            progress=partial(tell, what),
        )  # fmt: skip
        fit = fit_mode(
            current,
            gathered,
            priors=held,
            name=name,
            n_workers=n_workers,
            progress=lambda part: tell(part, 0, 1),
        )
        current = reweighted(model, fit)
    save_model(out, model, fit.weights, fit.estimates, card_of(model, gathered, fit, command))
    return fit


def round_folder(work: str | Path, number: int) -> Path:
    """Folder of the blocks of one round of walks, from 1 on."""
    return Path(work) / f"round-{number}"


def first_games(n_games: int) -> int:
    """Games of a round before the last, which is for contexts alone.

    >>> first_games(4000), first_games(100)
    (500, 100)
    """
    return min(n_games, max(n_games // 8, 200))


def reweighted(model: Model, fit: ModeFit) -> Model:
    """The same model of a reading with the weights found."""
    from handread.reading import build_model

    return build_model(
        model.card, weights=fit.weights, prior=model.prior, prior_source=model.prior_source,
        clues=model.clues,
    )  # fmt: skip


def card_of(model: Model, gathered: Gathered, fit: ModeFit, command: str) -> ModelCard:
    """Model card of a fit by the mode."""
    planned, anew, misplayed = fit.aims
    shown = max(planned + anew + misplayed, 1.0)
    return ModelCard(
        name=fit.weights.name,
        command=command,
        games=gathered.about,
        card_name=model.card.name,
        card_hash=model.card.hash,
        versions=versions_of(model),
        made_with=packages(("handread", "numpy", "scipy")),
        method="most probable weights under the priors, all choices of the games; no sampler",
        diagnostics={
            "throws": fit.throws.weight,
            "log_lik_per_throw": fit.throws.log_lik / max(fit.throws.weight, 1.0),
            "share_of_exposures_aimed_anew": anew / shown,
            "share_of_exposures_misplayed": misplayed / shown,
        },
        weaknesses=WEAKNESSES,
    )
