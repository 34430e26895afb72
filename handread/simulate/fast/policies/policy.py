"""What a kind of player provides to the compiled engine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import cache
from operator import attrgetter, itemgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.simulate.fast.compiled import fingerprint
from handread.simulate.fast.layout import N_PARAMS, OWN
from handread.simulate.player import Style

_JUDGE = ("pair_cost", "joker_cost", "aware", "points", "hidden", "spread", "stay", "every")
#: Numbers of a style, in order; the first eight are named in ``layout``.
_STYLE = tuple(each.name for each in fields(Style) if isinstance(each.default, float))
_DEFAULT = dict.fromkeys(_JUDGE, 0.0) | {"pair_cost": 1.0, "hidden": 1.0, "spread": 1.0}
_style_of, _judge_of = attrgetter(*_STYLE), itemgetter(*_JUDGE)


@cache
def _unit_of(unit: Callable[[int], Any]) -> Any:
    return unit(fingerprint())


def no_constants(kind: Any, style: Style) -> tuple[float, ...]:
    """Constants of a kind that needs none beyond the style."""
    return ()


@dataclass(frozen=True)
class Policy:
    """One kind of player, compiled.

    Attributes
    ----------
    of
        Class of the kind.
    unit
        From a fingerprint to the kind as an ``entry``, which is asked for the scores of a plan,
        for the mind after it, and for the scores of every other decision.
    judgement
        From kind and style to the numbers by which it judges the way to a target; those not
        named are 0, but `pair_cost`, `hidden` and `spread`, which are 1.
    constants
        From kind and style to its own constants, in ``t.params`` from OWN on.
    """

    of: type[Any]
    unit: Callable[[int], Any]
    judgement: Callable[[Any, Style], dict[str, float]]
    constants: Callable[[Any, Style], tuple[float, ...]] = no_constants

    @property
    def address(self) -> int:
        """Where the unit lies, compiled at the first call."""
        return int(_unit_of(self.unit).address)

    def params(self, kind: Any, style: Style) -> NDArray[np.float64]:
        """Style and constants as ``TABLE.params`` holds them, shape (N_PARAMS,)."""
        row = np.zeros(N_PARAMS)
        row[: len(_STYLE)] = _style_of(style)
        own = self.constants(kind, style)
        row[OWN : OWN + len(own)] = own
        return row

    def judge(self, kind: Any, style: Style) -> NDArray[np.float64]:
        """Judgement as ``TABLE.judge`` holds it, shape (N_JUDGE,)."""
        return np.array(_judge_of(_DEFAULT | self.judgement(kind, style)))
