"""The plan of a study: a small TOML file."""

from __future__ import annotations

import hashlib
import json
import tomllib
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from handread.errors import HandreadError, ParseError, closest
from handread.shipped import NotShipped, shipped
from handread.simulate import Population, default_population, kind_names, people_of


@dataclass(frozen=True)
class StudyPlan:
    """What a study does; two studies with equal plans give the same bytes.

    Attributes
    ----------
    name
        Of the study.
    seed
        Master seed: all games and all resampling follow from it.
    card
        Card that ships, by name, or a file.
    population
        Who plays: ``"default"``, or a kind of player alone, by name.
    training, validation, test
        Games to count rates in, to be kept for choices, and to score.
    moments
        ``"own turns"``: a live seat is scored after each of its throws. ``"events"``: every
        live seat after every event.
    readers
        Forecasters by name.
    base
        The one that gains are over.
    floor
        A second base.
    versus
        The one that all others are compared with, paired by game.
    windows
        Forecasters whose claim and win forecasts are scored; over those of `base`.
    moves
        Forecasters whose claimed bits are held against realised ones.
    shares
        Those of `moves` that are split among clues.
    resamples
        Bootstrap sets of games.
    """

    name: str
    seed: int
    card: str = "house"
    population: str = "default"
    training: int = 200
    validation: int = 0
    test: int = 200
    moments: str = "own turns"
    readers: tuple[str, ...] = ("uniform", "base rates", "floor", "elimination", "lore")
    base: str = "base rates"
    floor: str = "floor"
    versus: str = "lore"
    windows: tuple[str, ...] = ("lore",)
    moves: tuple[str, ...] = ("lore",)
    shares: tuple[str, ...] = ()
    resamples: int = 2000

    def __post_init__(self) -> None:
        for name in ("base", "floor", "versus"):
            value = getattr(self, name)
            if value not in self.readers:
                raise HandreadError(f"{name} is {value!r}; {closest(value, self.readers)}")
        for name in ("windows", "moves", "shares"):
            accepted = self.moves if name == "shares" else self.readers
            for value in getattr(self, name):
                if value not in accepted:
                    raise HandreadError(f"{name} has {value!r}; {closest(value, accepted)}")
        if len(set(self.readers)) != len(self.readers):
            raise HandreadError(f"readers are {self.readers!r}; accepted: each name once")
        if self.moments not in ("own turns", "events"):
            raise HandreadError(
                f"moments is {self.moments!r}; accepted: 'own turns', 'events'"
            )  # fmt: skip
        if self.test < 2 or self.training < 1 or self.validation < 0 or self.resamples < 100:
            raise HandreadError(
                f"test={self.test!r}, training={self.training!r}, validation={self.validation!r}, "
                f"resamples={self.resamples!r}; accepted: 2, 1, 0 and 100 or more"
            )

    @property
    def hash(self) -> str:
        """Content hash, 16 hexadecimal digits."""
        text = json.dumps(asdict(self), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:16]


def load_plan(path: str | Path) -> StudyPlan:
    """Read a plan.

    Parameters
    ----------
    path
        A TOML file, or the name of a plan that ships ("quick", "standard").

    Returns
    -------
    StudyPlan

    Raises
    ------
    ParseError
        If the file is no TOML, names an unknown key or gives it a value of another type.

    Examples
    --------
    >>> load_plan("quick").test
    200
    """
    file = Path(path)
    if not file.is_file() and file.suffix == "" and file.parent == Path("."):
        try:
            file = shipped("data", "studies", f"{path}.toml")
        except NotShipped as error:
            raise HandreadError(f"no study plan {str(path)!r}: {error}") from None
    try:
        content = tomllib.loads(file.read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise ParseError(f"{file.name} is no TOML: {error}") from None
    known = {each.name: each for each in fields(StudyPlan)}
    values: dict[str, Any] = {}
    for key, value in content.items():
        if key not in known:
            raise ParseError(f"{file.name}: no key {key!r}; {closest(key, known)}")
        values[key] = _value(file.name, key, value, str(known[key].type))
    for key in ("name", "seed"):
        if key not in values:
            raise ParseError(f"{file.name}: {key} is missing; accepted: a plan with name and seed")
    return StudyPlan(**values)


def _value(file: str, key: str, value: Any, wanted: str) -> Any:
    listed = isinstance(value, list) and all(isinstance(each, str) for each in value)
    if wanted.startswith("tuple") and listed:
        return tuple(value)
    if wanted == "int" and isinstance(value, int) and not isinstance(value, bool):
        return value
    if wanted == "str" and isinstance(value, str):
        return value
    kinds = {"int": "a whole number", "str": "a text"}
    raise ParseError(
        f"{file}: {key} is {value!r}; accepted: {kinds.get(wanted, 'a list of texts')}"
    )  # fmt: skip


def population_named(name: str) -> Population:
    """Population of a plan: the default one, or people of one kind.

    Examples
    --------
    >>> population_named("chaser").shares
    (('chaser', 1.0),)
    """
    if name == "default":
        return default_population()
    if name in kind_names():
        return people_of(name)
    raise HandreadError(f"no population {name!r}; {closest(name, ('default', *kind_names()))}")
