"""The contract of a throw clue, and the registry that finds them.

A clue is one module in ``handread.clues.throws`` (or an entry point of the group
``handread.clues``) with a value ``CLUE``. Adding one changes no other file.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.context import Context
from handread.table.events import Discard
from handread.tiles import N_KINDS
from handread.values import FrozenMap

Table = NDArray[np.float64]
Score = Callable[[Context, Mapping[str, float]], Table]
Mark = Callable[[Context, Discard, Mapping[str, float]], tuple[Table, Table] | None]


def no_score(context: Context, weights: Mapping[str, float]) -> Table:
    """Score that says nothing: zeros of shape (n_codes, 36)."""
    return np.zeros((N_CODES, N_KINDS))


def no_mark(
    context: Context, event: Discard, weights: Mapping[str, float]
) -> tuple[Table, Table] | None:
    """Mark that says nothing."""
    return None


@dataclass(frozen=True)
class Clue:
    """One block of terms in the likelihood of a throw.

    Attributes
    ----------
    name
        Unique; also the name of its block of weights in a model file.
    version
        Goes up with every change of behaviour; stored with every result.
    about
        What the clue is, one line.
    fits, fits_not
        How it speaks in a ledger for and against a family; may use ``{seat}``, ``{tile}``,
        ``{family}``.
    against
        What would speak against it later; may use the same words.
    group
        Dependency group: clues that look at the same side of a throw.
    strength
        The trade's own word for it: strong, fair, weak or lore.
    source
        Where the rule comes from.
    defaults
        Starting weights, in nats.
    keep
        Scores of each use code and kind on a turn that keeps the plan, nats, shape (16, 36).
    change
        The same on a turn that changes the plan, by the use in the old plan.
    mark
        What an optional note beside the throw says (drawn or held, rack position, pause): log
        probability of the note given the throw, by the use code of the tile thrown, on a turn
        that keeps and on one that changes the plan, two arrays of shape (16,); None where
        nothing was noted.
    cap
        Largest size of any score, nats: larger ones are cut.
    looks_at
        Names of what `keep` and `change` look at in the context, where that is so little that
        their tables can be kept for the next time; None to ask the clue at each throw.
    mark_looks_at
        The same of `mark`, which looks at the event beside.
    mark_reads
        Names of what `mark` reads in the event, where its answers can be kept; None to ask the
        clue at each throw.
    counts
        For a clue that does not name all that it looks at: an array of counts in the context of
        which the scores of each kind look at that kind's own count alone, and the count from which
        on more makes no difference. Their tables can be kept count by count.
    counts_beside
        What such a clue looks at beside the counts.
    """

    name: str
    version: int
    about: str
    fits: str
    fits_not: str
    against: str
    group: str
    strength: str
    defaults: Mapping[str, float]
    keep: Score
    change: Score = no_score
    mark: Mark = no_mark
    cap: float = 6.0
    source: str = "common practice, no source"
    order: int = field(default=50)
    looks_at: tuple[str, ...] | None = None
    mark_looks_at: tuple[str, ...] | None = None
    mark_reads: tuple[str, ...] | None = None
    counts: tuple[str, int] | None = None
    counts_beside: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "defaults", FrozenMap(dict(self.defaults)))


@lru_cache(maxsize=1)
def registry() -> tuple[Clue, ...]:
    """Every throw clue that can be found, in a fixed order.

    Returns
    -------
    tuple of Clue
        Sorted by their `order`, then by name.

    Raises
    ------
    ValueError
        If two clues have one name.

    Examples
    --------
    >>> "use" in [clue.name for clue in registry()]
    True
    """
    from importlib.metadata import entry_points

    package = importlib.import_module("handread.clues.throws")
    modules = [
        importlib.import_module(f"{package.__name__}.{found.name}")
        for found in pkgutil.iter_modules(package.__path__)
    ]
    clues: list[Clue] = [module.CLUE for module in modules if hasattr(module, "CLUE")]
    clues += [point.load() for point in entry_points(group="handread.clues")]
    names = [clue.name for clue in clues]
    if repeated := {name for name in names if names.count(name) > 1}:
        raise ValueError(f"clues registered twice: {sorted(repeated)}; every name once")
    return tuple(sorted(clues, key=lambda clue: (clue.order, clue.name)))
