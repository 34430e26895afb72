"""A rule of thumb: what it says, the weights that stand for it, and where a habit comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from handread.clues.weights import Weights
from handread.errors import HandreadError, closest

#: How a strength is read off weights: scores in nats, log odds or logarithms of probabilities.
SCALES: Final = ("nats", "log odds", "log")
#: Where a habit of the simulated players comes from.
ORIGINS: Final = ("emergent", "partly scripted", "scripted")

#: Nats below which a rule moves odds by less than a tenth, and is called nothing.
NOTHING: Final = 0.1
#: Share of the strength that lore gives a rule, below which it is called weaker than said.
WEAKER: Final = 0.75
#: Standard errors by which a strength must differ.
ERRORS: Final = 2.0


@dataclass(frozen=True)
class Rule:
    """One rule of thumb that a clue, or another term of the reading, puts into numbers.

    Its strength is what one weight says, or what it says beyond another one, in nats: of the
    score of a throw, of the odds of a probability, or of a probability.

    Attributes
    ----------
    name
        The rule in a few words.
    part
        The part of a reading that it belongs to, as ``bits_by_part`` names them; the change of
        plan of a turn has no bits of its own.
    weight
        The weight that stands for it, ``"block.name"``.
    beyond
        The weight that it is held against; empty for none.
    scale
        One of ``SCALES``.
    times
        A weight by which both are multiplied; empty for none.
    origin
        One of ``ORIGINS``: whether the simulated players have the habit from constants written
        in for it, in all kinds of player or in some, or from what they aim at.
    why
        What in the players says so.
    """

    name: str
    part: str
    weight: str
    origin: str
    why: str
    beyond: str = ""
    scale: str = "nats"
    times: str = ""

    def __post_init__(self) -> None:
        for value, accepted in ((self.scale, SCALES), (self.origin, ORIGINS)):
            if value not in accepted:
                raise HandreadError(f"rule {self.name!r} has {value!r}; {closest(value, accepted)}")

    def strength(self, weights: Weights) -> float:
        """Strength of the rule under some weights, nats.

        Examples
        --------
        >>> from handread.clues import load_weights
        >>> rule = Rule("pairs", "use: pairs", "use.pair", "emergent", "", times="use.scale_middle")
        >>> rule.strength(load_weights())
        -2.2
        """
        said = self._nats(_value(weights, self.weight))
        if self.beyond:
            said -= self._nats(_value(weights, self.beyond))
        return said * (_value(weights, self.times) if self.times else 1.0)

    def error(self, weights: Weights, spread: dict[str, float]) -> float:
        """Standard error of the strength, nats; NaN where a weight has none.

        Parameters
        ----------
        weights
            The fitted weights.
        spread
            Standard error of each weight, by ``"block.name"``; they are taken as independent.
        """
        total = 0.0
        for path in (self.weight, self.beyond):
            if path:
                here = _value(weights, path)
                slope = {"nats": 1.0, "log": here, "log odds": here * (1.0 - here)}[self.scale]
                total += (spread.get(path, float("nan")) / slope) ** 2
        return float(np.sqrt(total)) * (_value(weights, self.times) if self.times else 1.0)

    def _nats(self, value: float) -> float:
        if self.scale == "nats":
            return value
        odds = value / (1.0 - value) if self.scale == "log odds" else value
        return float(np.log(odds))


def _value(weights: Weights, path: str) -> float:
    block, name = path.split(".")
    return weights[block][name]


def verdict(rule: Rule, lore: float, fitted: float, error: float) -> str:
    """What the fit says of a rule; nothing where the players have the habit from a constant.

    Parameters
    ----------
    rule
        The rule.
    lore, fitted
        Its strength as lore has it, and as fitted, nats.
    error
        Standard error of the fitted strength, nats.

    Returns
    -------
    str
        ``"holds"``, ``"weaker than said"``, ``"nothing in it"`` (under a tenth of a nat, or not
        two standard errors from 0), ``"the other way round"``; empty for rules that are scripted,
        wholly or partly, and for those without a standard error.

    Examples
    --------
    >>> rule = Rule("pairs are kept", "use: pairs", "use.pair", "emergent", "")
    >>> verdict(rule, -2.2, -1.3, 0.02), verdict(rule, -2.2, -2.0, 0.02)
    ('weaker than said', 'holds')
    >>> verdict(rule, -2.2, -0.05, 0.01), verdict(rule, -2.2, 0.3, 0.01)
    ('nothing in it', 'the other way round')
    """
    if rule.origin != "emergent" or not np.isfinite(error) or lore == 0.0:
        return ""
    if abs(fitted) < max(NOTHING, ERRORS * error):
        return "nothing in it"
    if fitted * lore < 0.0:
        return "the other way round"
    if abs(fitted) + ERRORS * error < WEAKER * abs(lore):
        return "weaker than said"
    return "holds"
