"""Who plays: kinds of player in given shares, and a distribution of styles over people."""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict, dataclass, fields
from typing import Final

import numpy as np

from handread.errors import HandreadError, closest
from handread.simulate.player import Style
from handread.simulate.registry import kind_named, kind_names
from handread.simulate.truth import Person

#: Parameters of a style that are factors; the others are shares, 0 to 1.
_FACTORS: Final = ("temperature", "slowness")


@dataclass(frozen=True)
class Spread:
    """Distribution of one style parameter over people.

    Attributes
    ----------
    centre
        Median.
    sd
        Standard deviation of its logit (of its logarithm for temperature and slowness).
    """

    centre: float
    sd: float


@dataclass(frozen=True)
class Population:
    """People who may sit down at a table.

    Attributes
    ----------
    name
        Stored with every game.
    shares
        Kind of player and its share; the shares sum to 1.
    styles
        Distribution of each parameter of ``Style``, independent of each other and of the
        kind; those not named are the same for everybody, at the default of ``Style``.
    """

    name: str
    shares: tuple[tuple[str, float], ...]
    styles: tuple[tuple[str, Spread], ...] = ()

    def __post_init__(self) -> None:
        for kind, _ in self.shares:
            if kind not in kind_names():
                accepted = closest(kind, kind_names())
                raise HandreadError(f"population {self.name!r}: no kind {kind!r}; {accepted}")
        total = sum(share for _, share in self.shares)
        if not np.isclose(total, 1.0) or any(share < 0 for _, share in self.shares):
            raise HandreadError(f"population {self.name!r}: shares sum to {total!r}; accepted: 1")
        names = [each.name for each in fields(Style)]
        for parameter, _ in self.styles:
            if parameter not in names:
                accepted = closest(parameter, names)
                raise HandreadError(f"population {self.name!r}: no {parameter!r}; {accepted}")

    @property
    def hash(self) -> str:
        """Content hash with the versions of its kinds, 16 hexadecimal digits."""
        said = asdict(self) | {"versions": [kind_named(kind).version for kind, _ in self.shares]}
        return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:16]

    def person(self, key: str, *, rng: np.random.Generator) -> Person:
        """Draw a person.

        Parameters
        ----------
        key
            Pseudonymous key.
        rng
            Source of kind and style.

        Examples
        --------
        >>> from handread.simulate import default_population
        >>> person = default_population().person("p1", rng=np.random.default_rng(1))
        >>> 0 < person.style.memory < 1
        True
        """
        odds = np.cumsum([share for _, share in self.shares])
        place = int(np.searchsorted(odds / odds[-1], rng.random(), side="right"))
        kind = self.shares[place][0]
        drawn: dict[str, float] = {}
        normal = rng.standard_normal(len(self.styles)).tolist()
        for (parameter, spread), away in zip(self.styles, normal, strict=True):
            if parameter in _FACTORS:
                drawn[parameter] = round(spread.centre * math.exp(spread.sd * away), 4)
            else:
                logit = math.log(spread.centre / (1 - spread.centre)) + spread.sd * away
                drawn[parameter] = round(1 / (1 + math.exp(-logit)), 4)
        return Person(key, kind, kind_named(kind).version, Style(**drawn))


#: How people differ; guesses.
STYLES: Final = (
    ("temperature", Spread(1.0, 0.3)),
    ("flexibility", Spread(0.5, 0.8)),
    ("eagerness", Spread(0.5, 0.8)),
    ("caution", Spread(0.5, 0.8)),
    ("thrift", Spread(0.6, 0.8)),
    ("taste", Spread(0.4, 0.8)),
    ("memory", Spread(0.95, 0.6)),
    ("carelessness", Spread(0.01, 0.7)),
    ("bluff", Spread(0.1, 0.8)),
    ("slowness", Spread(1.0, 0.4)),
)


def default_population() -> Population:
    """The population that tables are drawn from unless another is named.

    It is frozen: whoever changes kinds, shares or styles makes another one with a name of its
    own, so that players and clues are never changed together. All figures are guesses, tuned so
    that the tables look like what players report.

    >>> default_population().name
    'population/1'
    """
    shares = (
        ("chaser", 0.24), ("weigher", 0.28), ("guarded", 0.1), ("planner", 0.08),
        ("novice", 0.18), ("quiet", 0.12),
    )  # fmt: skip
    return Population(name="population/1", shares=shares, styles=STYLES)


def people_of(kind: str) -> Population:
    """Population of one kind alone, with the styles of the default one.

    >>> people_of("chaser").shares
    (('chaser', 1.0),)
    """
    return Population(f"{kind} only", ((kind, 1.0),), STYLES)
