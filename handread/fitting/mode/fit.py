"""All weights of a model at their most probable values, from games that were walked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final, overload

from handread.clues.weights import Weights
from handread.fitting.affine import find_basis
from handread.fitting.gathering import Gathered
from handread.fitting.mode.answers import fit_passes, fit_redeems, fit_start, fit_wins
from handread.fitting.mode.claims import fit_claims
from handread.fitting.mode.search import Estimate
from handread.fitting.mode.throws import ThrowFit, Throws, fit_throws
from handread.fitting.mode.turns import fit_drawn, fit_hazard, fit_moves
from handread.fitting.priors import Priors
from handread.fitting.tables import Columns, ThrowTable, read_columns, read_throws
from handread.reading import Model

#: Throws are held in memory up to so many bytes, and read anew at every look beyond.
MOST_BYTES: Final = 3_000_000_000


@dataclass(frozen=True, eq=False)
class ModeFit:
    """Weights at their most probable values.

    Attributes
    ----------
    weights
        All of them, measured.
    estimates
        One for each weight that was found.
    throws
        The fit of the throws, with its covariance.
    aims
        Exposures as planned, aimed anew at the claim, and misplayed.
    n_games
        Games.
    """

    weights: Weights
    estimates: tuple[Estimate, ...]
    throws: ThrowFit
    aims: tuple[float, float, float]
    n_games: int


class _Stored(Sequence[ThrowTable]):
    """Throws of blocks on disk, read anew at every look."""

    def __init__(self, paths: tuple[Path, ...]) -> None:
        self.paths = paths

    def __len__(self) -> int:
        return len(self.paths)

    @overload
    def __getitem__(self, place: int) -> ThrowTable: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[ThrowTable]: ...
    def __getitem__(self, place: int | slice) -> ThrowTable | Sequence[ThrowTable]:
        if isinstance(place, slice):
            return _Stored(self.paths[place])
        return read_throws(self.paths[place])


def throws_of(gathered: Gathered, *, n_workers: int = 1) -> Throws:
    """Throws of all blocks, in memory where they fit."""
    stored = _Stored(gathered.paths)
    size = sum(path.stat().st_size for path in gathered.paths)
    return Throws(stored if size > MOST_BYTES else list(stored), n_workers=n_workers)


def fit_mode(
    model: Model,
    gathered: Gathered,
    *,
    priors: Priors | None = None,
    name: str = "fitted",
    n_workers: int = 1,
    progress: Callable[[str], None] | None = None,
) -> ModeFit:
    """Find the most probable weights of a model.

    Parameters
    ----------
    model
        The model of the reading with whose contexts the games were walked.
    gathered
        The games.
    priors
        Centres and widths; None for the weights of the model and the widths of ``WIDTHS``.
    name
        Of the fitted weights.
    n_workers
        Threads; the fit does not depend on it.
    progress
        Called with the name of each part before it is fitted.
    """
    priors = priors or Priors(model.weights)
    tell = progress or (lambda part: None)
    columns = read_columns(gathered.paths)
    tell("throws")
    thrown = fit_throws(find_basis(model.clues), priors, throws_of(gathered, n_workers=n_workers))
    estimates = list(thrown.estimates)
    for part, found in _parts(columns, priors, n_workers):
        tell(part)
        estimates += found()
    aims = columns["aims"]
    counted = [float(aims["weight"][aims["how"] == how].sum()) for how in range(3)]
    return ModeFit(
        weights=with_estimates(model.weights, estimates, name),
        estimates=tuple(estimates),
        throws=thrown,
        aims=(counted[0], counted[1], counted[2]),
        n_games=sum(int(n) for n in columns["games"]["n_games"]),
    )


def _parts(
    columns: dict[str, Columns], priors: Priors, n_workers: int
) -> list[tuple[str, Callable[[], list[Estimate]]]]:
    return [
        ("drawn or held", lambda: fit_drawn(columns["drawn"], priors)),
        ("plans left", lambda: fit_hazard(columns["hazard"], priors)),
        ("where they go", lambda: fit_moves(columns["moves"], priors)),
        (
            "claims",
            lambda: fit_claims(columns["claims"], priors, columns["aims"], n_workers=n_workers),
        ),
        ("wins", lambda: fit_wins(columns["wins"], priors)),
        ("redeems", lambda: fit_redeems(columns["redeems"], priors)),
        ("passes", lambda: fit_passes(columns["passes"], priors)),
        ("start", lambda: fit_start(columns["start"], priors)),
    ]


def with_estimates(weights: Weights, estimates: list[Estimate], name: str) -> Weights:
    """Weights with those that were found put in their places, and called measured."""
    changed = weights.replace({each.path: each.value for each in estimates})
    return replace(changed, name=name, measured=True)


__all__ = ["MOST_BYTES", "ModeFit", "fit_mode", "throws_of", "with_estimates"]
