"""The plan of a cross-policy matrix: a small TOML file."""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, Final

from handread.errors import HandreadError, ParseError, closest
from handread.simulate import default_population, kind_names
from handread.study.running.plan import StudyPlan, plan_content, plan_value

#: The trainer whose reader is every row's base.
BASE: Final = "base rates"


@dataclass(frozen=True)
class MatrixPlan:
    """What a matrix does; equal plans give the same bytes.

    Attributes
    ----------
    name
        Of the matrix.
    seed
        Master seed.
    card
        Card that ships, by name, or a file.
    kinds
        Kinds to test on; empty for those of the default population.
    rows
        Populations to train on, as a study names them; empty for every kind alone and, where
        there are three kinds or more, all but each.
    trainers
        What is trained on each row, by name; ``"base rates"`` is always there.
    training
        Games of each row.
    prior_games
        Games of each row, played through the passes, that its prior is counted in.
    test
        Games of each kind.
    turns
        Own turns that are scored; empty for all.
    resamples
        Bootstrap sets of games.
    """

    name: str
    seed: int
    card: str = "house"
    kinds: tuple[str, ...] = ()
    rows: tuple[str, ...] = ()
    trainers: tuple[str, ...] = ("elimination", "lore")
    training: int = 200
    prior_games: int = 2000
    test: int = 100
    turns: tuple[int, ...] = ()
    resamples: int = 2000

    def __post_init__(self) -> None:
        for kind in self.kinds:
            if kind not in kind_names():
                raise HandreadError(f"kinds has {kind!r}; {closest(kind, kind_names())}")
        if self.test < 2 or min(self.training, self.prior_games) < 1 or self.resamples < 100:
            raise HandreadError(
                f"test={self.test!r}, training={self.training!r}, prior_games="
                f"{self.prior_games!r}, resamples={self.resamples!r}; accepted: 2, 1, 1 and 100 "
                "or more"
            )

    @property
    def columns(self) -> tuple[str, ...]:
        """Kinds that are tested on."""
        return self.kinds or tuple(kind for kind, _ in default_population().shares)

    @property
    def populations(self) -> tuple[str, ...]:
        """Populations that are trained on; every column's own kind is among them."""
        columns = self.columns
        mixtures = tuple(f"all but {kind}" for kind in columns) if len(columns) > 2 else ()
        wanted = self.rows or (*columns, *mixtures)
        return tuple(dict.fromkeys((*columns, *wanted)))

    @property
    def all_trainers(self) -> tuple[str, ...]:
        """Trainers, the base first."""
        return tuple(dict.fromkeys((BASE, *self.trainers)))

    @property
    def readers(self) -> tuple[str, ...]:
        """Names of all readers."""
        return tuple(
            reader_name(trainer, row) for row in self.populations for trainer in self.all_trainers
        )

    def column_plan(self, kind: str) -> StudyPlan:
        """Plan of the study whose games are those of one kind, watched by all readers."""
        base = reader_name(BASE, kind)
        return StudyPlan(
            name=f"{self.name}, {kind}", seed=self.seed, card=self.card, population=kind,
            training=1, test=self.test, readers=self.readers, base=base, floor=base, versus=base,
            windows=(), moves=(), resamples=self.resamples, turns=self.turns,
        )  # fmt: skip

    def row_plan(self, row: str) -> StudyPlan:
        """Plan of the study whose training games are those of one row."""
        return StudyPlan(
            name=f"{self.name}, {row}", seed=self.seed, card=self.card, population=row,
            training=self.training, test=2, readers=(BASE,), base=BASE, floor=BASE, versus=BASE,
            windows=(), moves=(),
        )  # fmt: skip


def reader_name(trainer: str, row: str) -> str:
    """Name of the reader that a trainer makes of a row.

    >>> reader_name("elimination", "all but chaser")
    'elimination of all but chaser'
    """
    return f"{trainer} of {row}"


def knows(row: str, kind: str) -> bool:
    """Whether games of a kind are among those of a row.

    >>> knows("all but chaser", "chaser"), knows("default", "chaser"), knows("weigher", "chaser")
    (False, True, False)
    """
    from handread.study.running.plan import population_named

    return any(name == kind and share > 0 for name, share in population_named(row).shares)


def load_matrix_plan(path: str | Path) -> MatrixPlan:
    """Read a plan.

    Parameters
    ----------
    path
        A TOML file, or the name of a plan that ships (``"matrix"``).

    Raises
    ------
    ParseError
        If the file is no TOML, names an unknown key or gives it a value of another type.

    Examples
    --------
    >>> load_matrix_plan("matrix").name
    'matrix'
    """
    file, content = plan_content(path)
    known = {each.name: each for each in fields(MatrixPlan)}
    values: dict[str, Any] = {}
    for key, value in content.items():
        if key not in known:
            raise ParseError(f"{file.name}: no key {key!r}; {closest(key, known)}")
        values[key] = plan_value(file.name, key, value, str(known[key].type))
    for key in ("name", "seed"):
        if key not in values:
            raise ParseError(f"{file.name}: {key} is missing; accepted: a plan with name and seed")
    return MatrixPlan(**values)
