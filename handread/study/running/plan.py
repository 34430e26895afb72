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

#: Names of stored readers with their folders.
Folders = tuple[tuple[str, str], ...]


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
    turns
        Own turns that are scored; empty for all.
    few
        Readers that watch the first `few_games` games alone, since they take long.
    few_games
        How many that is.
    purpose
        Which games are watched: ``"test"``, or ``"validation"`` where something is fitted to what
        readers say.
    models, peers, pools
        Names of readers that are stored, each with its folder: fitted models, discriminative
        peers, pooled readers. A folder is looked for from where the study is run, then among
        what ships.
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
    turns: tuple[int, ...] = ()
    few: tuple[str, ...] = ()
    few_games: int = 0
    purpose: str = "test"
    models: Folders = ()
    peers: Folders = ()
    pools: Folders = ()

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
        if self.purpose not in ("test", "validation"):
            raise HandreadError(f"purpose is {self.purpose!r}; accepted: 'test', 'validation'")
        self._check_few()
        if self.moments not in ("own turns", "events"):
            raise HandreadError(
                f"moments is {self.moments!r}; accepted: 'own turns', 'events'"
            )  # fmt: skip
        if self.test < 2 or self.training < 1 or self.validation < 0 or self.resamples < 100:
            raise HandreadError(
                f"test={self.test!r}, training={self.training!r}, validation={self.validation!r}, "
                f"resamples={self.resamples!r}; accepted: 2, 1, 0 and 100 or more"
            )

    def _check_few(self) -> None:
        whole = [name for name in self.readers if name not in (self.base, self.floor, self.versus)]
        for name in self.few:
            if name not in whole:
                raise HandreadError(f"few has {name!r}; {closest(name, whole)}")
        if bool(self.few) != bool(self.few_games) or not 0 <= self.few_games <= self.test:
            raise HandreadError(
                f"few={self.few!r}, few_games={self.few_games!r}; accepted: neither, or readers "
                f"and 1 to {self.test} games"
            )
        if any(turn < 1 for turn in self.turns):
            raise HandreadError(f"turns is {self.turns!r}; accepted: own turns from 1")

    def watching(self, number: int) -> tuple[str, ...]:
        """Readers that watch the game of a number, in the order of `readers`."""
        if number < self.few_games:
            return self.readers
        return tuple(name for name in self.readers if name not in self.few)

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
    file, content = plan_content(path)
    known = {each.name: each for each in fields(StudyPlan)}
    values: dict[str, Any] = {}
    for key, value in content.items():
        if key not in known:
            raise ParseError(f"{file.name}: no key {key!r}; {closest(key, known)}")
        values[key] = plan_value(file.name, key, value, str(known[key].type))
    for key in ("name", "seed"):
        if key not in values:
            raise ParseError(f"{file.name}: {key} is missing; accepted: a plan with name and seed")
    return StudyPlan(**values)


def plan_content(path: str | Path) -> tuple[Path, dict[str, Any]]:
    """File of a plan and what it holds.

    Parameters
    ----------
    path
        A TOML file, or the name of a plan that ships; ``data/studies/NAME.toml`` is one too.

    Raises
    ------
    HandreadError
        If there is no such file, or it is no TOML.
    """
    file = Path(path)
    if not file.is_file() and file.parent in (Path("."), Path("data/studies")):
        try:
            file = shipped("data", "studies", f"{file.stem}.toml")
        except NotShipped as error:
            raise HandreadError(f"no study plan {str(path)!r}: {error}") from None
    try:
        return file, tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise HandreadError(f"no study plan {str(path)!r}: {error}") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise ParseError(f"{file.name} is no TOML: {error}") from None


def plan_value(file: str, key: str, value: Any, wanted: str) -> Any:
    """Value of a key of a plan in the type that its field has.

    Parameters
    ----------
    file, key
        Where it stands, for the message.
    value
        What the file says.
    wanted
        Annotation of the field.

    Raises
    ------
    ParseError
        If it is of another type.

    Examples
    --------
    >>> plan_value("x.toml", "models", {"default": "models/default"}, "Folders")
    (('default', 'models/default'),)
    """
    if wanted == "Folders" and isinstance(value, dict):
        if all(isinstance(each, str) for each in value.values()):
            return tuple(value.items())
    elif wanted.startswith("tuple[") and isinstance(value, list):
        kind = int if "int" in wanted else str
        if all(type(each) is kind for each in value):
            return tuple(value)
    elif wanted in ("int", "str") and type(value).__name__ == wanted:
        return value
    kinds = {
        "int": "a whole number", "str": "a text", "Folders": "a table of names and folders",
        "tuple[int, ...]": "a list of whole numbers",
    }  # fmt: skip
    raise ParseError(
        f"{file}: {key} is {value!r}; accepted: {kinds.get(wanted, 'a list of texts')}"
    )  # fmt: skip


def population_named(name: str) -> Population:
    """Population of a plan: the default one, people of one kind, or all but one.

    ``"all but KIND"`` is the default one without a kind, the shares of the others scaled up.

    Examples
    --------
    >>> population_named("chaser").shares
    (('chaser', 1.0),)
    >>> "chaser" in dict(population_named("all but chaser").shares)
    False
    """
    whole = default_population()
    if name == "default":
        return whole
    if name in kind_names():
        return people_of(name)
    shares = dict(whole.shares)
    if name.startswith("all but ") and shares.pop(left_out := name[8:], None) is not None:
        if not shares:
            raise HandreadError(f"population {name!r} is empty: all are {left_out!r}")
        total = sum(shares.values())
        scaled = tuple((kind, share / total) for kind, share in shares.items())
        return Population(name, scaled, whole.styles)
    names = ("default", *kind_names(), *(f"all but {kind}" for kind, _ in whole.shares))
    raise HandreadError(f"no population {name!r}; {closest(name, names)}")
