"""What ``handread fit`` does, as one value and one function."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from handread.errors import HandreadError
from handread.fitting.mode import ModeFit
from handread.fitting.posterior.club import ClubPlan, fit_population
from handread.fitting.posterior.fit import PopulationFit
from handread.fitting.posterior.onto import sample_onto
from handread.fitting.refits import write_refits
from handread.fitting.running import Progress, fit_games, round_folder
from handread.fitting.sources import Played, Recorded, Source, recorded
from handread.reading import Model
from handread.simulate import default_population
from handread.simulate.batch import Setting, club_of, shipped_name
from handread.simulate.game.table import TableRules


@dataclass(frozen=True)
class FitPlan:
    """What to fit, and where from.

    Attributes
    ----------
    out
        Folder of the model.
    games, seed
        Games to play where no file is given, and their master seed.
    card
        The card, by name or file, as the command takes it.
    records
        File of games with their truth; None to play them.
    start
        File of the weights to start from; None for the lore weights.
    rounds
        Times that the games are walked.
    refits
        Whether to tell what the fit hangs on, by fitting again.
    people, choices
        People of the sampled posterior and choices of each; 0 people for the mode alone.
    onto
        Folder of a fitted model beside whose weights the draws of people are laid; nothing else
        is fitted then. None for a fit from the start.
    work
        Folder for what is gathered on the way; beside `out` if None.
    workers
        Processes.
    """

    out: Path
    games: int = 1000
    seed: int = 20260701
    card: str = "house"
    records: Path | None = None
    start: Path | None = None
    rounds: int = 1
    refits: bool = False
    people: int = 0
    choices: int = 200
    onto: Path | None = None
    work: Path | None = None
    workers: int = 1

    @property
    def command(self) -> str:
        """The command that does it."""
        words = ["handread", "fit"]
        if self.onto is not None:
            words += ["--onto", f"models/{self.onto.name}", "--people", str(self.people)]
            words += ["--choices", str(self.choices), "--seed", str(self.seed)]
            return shlex.join([*words, "--card", self.card])
        if self.records is not None:
            words.append(self.records.name)
        else:
            words += ["--games", str(self.games), "--seed", str(self.seed)]
        words += ["--out", f"models/{self.out.name}", "--card", self.card]
        if self.start is not None:
            words += ["--start", self.start.name]
        words += ["--rounds", str(self.rounds)]
        if self.refits:
            words.append("--refits")
        if self.people:
            words += ["--people", str(self.people), "--choices", str(self.choices)]
        return shlex.join(words)

    @property
    def work_folder(self) -> Path:
        """Folder for what is gathered on the way."""
        place = self.onto or self.out
        return self.work or place.with_name(f"{place.name}-work")

    @property
    def club(self) -> ClubPlan:
        """People of the sampled posterior."""
        return ClubPlan(self.people, self.choices, self.seed, self.work_folder, self.workers)


@dataclass(frozen=True, eq=False)
class FitResult:
    """What was found.

    Attributes
    ----------
    plan
        What was asked.
    mode
        The most probable weights; None where people were sampled beside a model.
    population
        The sampled posterior; None where it was not asked for.
    """

    plan: FitPlan
    mode: ModeFit | None
    population: PopulationFit | None = None

    __hash__ = None  # type: ignore[assignment]  # holds arrays


def source_of(plan: FitPlan, model: Model) -> Source:
    """Games of a plan."""
    if plan.records is not None:
        return recorded(plan.records)
    return played(model, plan.games, plan.seed)


def training_seeds(seed: int, n_games: int) -> tuple[int, ...]:
    """Seeds of training games: no validation or test game of any study has one of them.

    The two lowest bits of a seed say what its game is for; those of training are 0.

    Examples
    --------
    >>> {number % 4 for number in training_seeds(1, 50)}
    {0}
    """
    found: dict[int, None] = {}
    block = 0
    while len(found) < n_games:
        words = np.random.SeedSequence([seed, 0, block]).generate_state(1024, np.uint64)
        found |= dict.fromkeys(4 * int(word >> np.uint64(13)) for word in words)
        block += 1
    return tuple(found)[:n_games]


def played(model: Model, n_games: int, seed: int, *, n_people: int = 0) -> Played:
    """Training games that play themselves.

    Parameters
    ----------
    model
        The model of a reading, for its card.
    n_games
        How many.
    seed
        Master seed.
    n_people
        People of a club that plays all of them; 0 for strangers at every table.
    """
    population = default_population()
    club = club_of(population, n_people, seed=seed) if n_people else ()
    setting = Setting(population, TableRules(), card_name=shipped_name(model.card), club=club)
    words = f"training seeds of master seed {seed}"
    return Played(setting, training_seeds(seed, n_games), words)


def carry_out(plan: FitPlan, model: Model, *, progress: Progress | None = None) -> FitResult:
    """Fit and write what a plan asks for.

    Parameters
    ----------
    plan
        What to do.
    model
        The model of the reading to start from.
    progress
        Called with what is being done, how much of it is done, and how much there is.

    Raises
    ------
    HandreadError
        If people are to be sampled beside a model, and none are asked for, or refits are.
    """
    if plan.onto is not None:
        if not plan.people:
            raise HandreadError(
                f"people={plan.people} beside {str(plan.onto)!r}; accepted: 1 or more"
            )
        if plan.refits:
            raise HandreadError(
                f"refits beside {str(plan.onto)!r}, where nothing is fitted anew; accepted: refits "
                "of a fit from the start"
            )
        beside = sample_onto(
            model, plan.onto, plan.club, command=plan.command, progress=progress
        )  # fmt: skip
        return FitResult(plan, None, beside)
    mode = fit_games(
        model, source_of(plan, model), plan.out, work=plan.work_folder, command=plan.command,
        rounds=plan.rounds, n_workers=plan.workers, progress=progress,
    )  # fmt: skip
    found = None
    if plan.people:
        found = fit_population(
            model, mode, plan.out, plan.club, command=plan.command, progress=progress
        )  # fmt: skip
    if plan.refits:  # last, since the folder is written anew before
        walked = round_folder(plan.work_folder, plan.rounds)
        tell = progress or (lambda what, done, total: None)
        write_refits(
            model, walked, plan.out, mode, seed=plan.seed, progress=lambda what: tell(what, 0, 1)
        )  # fmt: skip
    return FitResult(plan, mode, found)


def fit_lines(result: FitResult) -> list[str]:
    """What was found, in lines for a terminal."""
    lines = _mode_lines(result.mode) if result.mode is not None else []
    if result.population is not None:
        lines += result.population.lines()
    lines.append(f"written to {result.plan.onto or result.plan.out}")
    return lines


def _mode_lines(mode: ModeFit) -> list[str]:
    lines = [f"{mode.weights.name}: {mode.n_games} games, {mode.throws.weight:,.0f} throws"]
    lines += [
        f"{each.path:34} {each.start:8.3f} -> {each.value:8.3f} +- {each.sd:.3f}"
        for each in mode.estimates
    ]
    planned, anew, wrong = mode.aims
    lines.append(
        f"groups shown: {planned:.0f} as planned, {anew:.0f} for a plan taken up with them, "
        f"{wrong:.0f} that fit no plan"
    )
    return lines


__all__ = ["FitPlan", "FitResult", "Recorded", "carry_out", "fit_lines", "played", "source_of"]
