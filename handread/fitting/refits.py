"""What a fit hangs on, found by fitting again: ``refits.toml`` beside the weights.

Each clue is left out in turn, and the widths of all priors are halved and doubled.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from handread.fitting.affine import find_basis
from handread.fitting.checks import Shift, prior_shifts
from handread.fitting.gathering import Gathered, put, read_block
from handread.fitting.mode import ModeFit
from handread.fitting.mode.throws import Throws
from handread.fitting.posterior.compare import DRAWS, Worth, worth_of_clues
from handread.fitting.posterior.shim import most_shape
from handread.fitting.priors import Priors
from handread.reading import Model

#: Blocks of games by which clues are left out; all of them would say no more, and take longer.
CLUE_BLOCKS: Final = 40
#: Factors by which the widths of all priors are changed.
FACTORS: Final = (0.5, 2.0)
#: Weights told of each change of the priors: those that move most.
MOST_MOVED: Final = 10


def refits_of(
    model: Model, gathered: Gathered, fit: ModeFit, priors: Priors, *, seed: int,
    progress: Callable[[str], None] | None = None,
) -> str:  # fmt: skip
    """Fit again and again, and tell what changed as a file.

    Parameters
    ----------
    model
        The model of the reading with whose contexts the games were walked.
    gathered
        The games.
    fit
        The fit as it was made.
    priors
        Its priors.
    seed
        Of the draws around each mode.
    progress
        Called with what is fitted next.
    """
    tell = progress or (lambda what: None)
    some = replace(gathered, paths=gathered.paths[:CLUE_BLOCKS])
    tables = [read_block(path) for path in some.paths]
    tell("clues left out")
    worths = worth_of_clues(
        find_basis(model.clues), priors, Throws([each.throws for each in tables]),
        rng=np.random.default_rng(np.random.SeedSequence([seed, 7])),
    )  # fmt: skip
    shifts = []
    for factor in FACTORS:
        tell(f"priors times {factor:g}")
        shifts.append(prior_shifts(model, gathered, fit, priors, factor=factor))
    games = sum(each.n_games for each in tables)
    return "\n".join([*_clue_lines(worths, games), *_prior_lines(shifts, fit.n_games)]) + "\n"


def write_refits(
    model: Model, folder: Path, out: Path, fit: ModeFit, *, seed: int,
    progress: Callable[[str], None] | None = None,
) -> None:  # fmt: skip
    """Tell what a fit hangs on in a file beside its weights.

    Parameters
    ----------
    model
        The model of the reading that the fit started from; its weights are the centres of the
        priors.
    folder
        Blocks of the games that were walked last.
    out
        Folder of the fitted model.
    fit, seed, progress
        See ``refits_of``.
    """
    gathered = Gathered(tuple(sorted(folder.glob("block-*.npz"))), {})
    told = refits_of(model, gathered, fit, Priors(model.weights), seed=seed, progress=progress)
    put(out / "refits.toml", told.encode())


def _clue_lines(worths: Sequence[Worth], n_games: int) -> Iterator[str]:
    yield "# What the fit beside hangs on, by fitting again."
    yield ""
    yield "[clues]"
    yield "# Expected log predictive density of the throws of a game left out (Pareto-smoothed, by"
    yield "# game, around the mode), nats. Of each clue: what that loses over all games when the"
    yield "# clue is left out and the rest is fitted anew, with its standard error. A worst_k above"
    yield "# most_k says that the figure is rough."
    yield f"games = {n_games}"
    yield f"draws = {DRAWS}"
    yield f"most_k = {most_shape(DRAWS):.3g}"
    for each in worths:
        if not each.name:
            yield f"elpd = {each.elpd:.6g}"
            yield f"worst_k = {each.worst_k:.3g}"
    for each in worths:
        if each.name:
            yield f"\n[clues.{each.name}]"
            yield f"loses = {each.difference:.4g}"
            yield f"standard_error = {each.standard_error:.3g}"
            yield f"worst_k = {each.worst_k:.3g}"


def _prior_lines(shifts: Sequence[Sequence[Shift]], n_games: int) -> Iterator[str]:
    yield "\n[priors]"
    yield "# Weights that move most when the widths of all priors are changed and everything is"
    yield "# fitted anew; moved: in standard deviations of the fit."
    yield f"games = {n_games}"
    for factor, moved in zip(FACTORS, shifts, strict=True):
        yield f"\n[priors.{'narrower' if factor < 1 else 'wider'}]"
        yield f"factor = {factor:g}"
        yield f"weights = {len(moved)}"
        yield f"moved_by_half_a_deviation = {sum(abs(each.shift) > 0.5 for each in moved)}"
        for each in moved[:MOST_MOVED]:
            block, name = each.path.split(".")
            told = f"fitted = {each.value:.4g}, then = {each.then:.4g}, moved = {each.shift:.3g}"
            yield f"{block}.{name} = {{ {told} }}"
