"""Priors of the weights: centred on the weights that a fit starts from, with a stated width.

The width is a standard deviation on the scale on which a weight is free: nats for scores and log
odds, log odds for probabilities. A weight of width 0 is held where it is: a reference that the
others are measured against, or one about which simulated games must not be asked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from handread.clues.weights import Weights
from handread.errors import HandreadError, closest
from handread.values import FrozenMap

#: Widths by block, or by ``block.weight`` where one differs; nats or log odds.
WIDTHS: Final = FrozenMap({
    "availability": 0.3,
    # scores of throws
    "use": 1.0, "demand": 0.5, "winds_and_dragons": 0.7, "flowers": 0.7, "repeats": 0.7,
    "middle": 0.7, "safety": 0.7, "following": 0.5, "siblings": 0.7, "joker_thrown": 0.7,
    "use.scale_early": 0.3, "use.scale_late": 0.3, "use.joker_wanted": 1.5,
    "use.joker_unwanted": 1.5, "use.joker_no_plan": 1.5, "winds_and_dragons.undecided_share": 0.5,
    "siblings.scale_middle": 0.3, "siblings.scale_late": 0.3, "drawn_or_held": 1.0,
    # log odds of leaving a plan, and where seats go
    "hazard": 1.0, "destination": 1.0,
    # rates
    "claims": 1.0, "wins": 1.0, "wins.per_turn": 0.15, "wins.per_exposure": 0.7,
    "redeems": 1.0, "passes": 1.0, "start": 1.0, "claims.misplay": 2.0,
    # references, and what simulated games cannot tell
    "use.scale_middle": 0.0, "siblings.scale_early": 0.0, "hazard.middle": 0.0,
    "claims.size_4": 0.0, "claims.voiced": 0.0, "claims.voiced_idle": 0.0, "hazard.missed": 0.0,
    "wins.in_error": 0.0, "wins.late": 0.0, "passes.received": 0.0, "passes.kept_pass": 0.0,
    "passes.kept_turn": 0.0, "start.own_rack": 0.0, "elsewhere": 0.0, "pause": 0.0,
    "rack_position": 0.0,
})  # fmt: skip
#: Why each weight of width 0 is held.
HELD: Final = FrozenMap({
    "use.scale_middle": "the reference of the scales",
    "siblings.scale_early": "the reference of the scales",
    "hazard.middle": "the reference of the phases",
    "claims.size_4": "the reference of the sizes",
    "claims.voiced": "claims said and withdrawn are not simulated",
    "claims.voiced_idle": "claims said and withdrawn are not simulated",
    "hazard.missed": "about the recorder, not the seats",
    "wins.in_error": "about the table's errors; kept above 0",
    "wins.late": "too rare to be fitted by the thousand games",
    "passes.received": "seen from a seat only",
    "passes.kept_pass": "seen from a seat only",
    "passes.kept_turn": "seen from a seat only",
    "start.own_rack": "seen from a seat only",
    "elsewhere": "about what the others had; turned on held-out games",
    "pause": "scripted in simulated seats; left at 0 until real records are there",
    "rack_position": "scripted in simulated seats; left at 0 until real records are there",
})  # fmt: skip


@dataclass(frozen=True)
class Priors:
    """Centre and width of every weight.

    Attributes
    ----------
    centre
        The weights that the priors are centred on.
    widths
        By block, or by ``block.weight`` where one differs.
    factor
        Multiplies every width: for a look at how much the prior matters.
    """

    centre: Weights
    widths: Mapping[str, float] = field(default_factory=lambda: WIDTHS)
    factor: float = 1.0

    __hash__ = None  # type: ignore[assignment]  # holds weights

    def __post_init__(self) -> None:
        known = [*self.centre.blocks]
        known += [f"{b}.{name}" for b, held in self.centre.blocks.items() for name in held]
        for path in self.widths:
            if path not in known:
                raise HandreadError(f"width of {path!r}: no such weight; {closest(path, known)}")
        if not self.factor > 0 or not np.isfinite(self.factor):
            raise HandreadError(f"factor={self.factor!r}; accepted: above 0")

    def width(self, path: str) -> float:
        """Width of a weight, ``block.weight``.

        Examples
        --------
        >>> from handread.clues import load_weights
        >>> priors = Priors(load_weights())
        >>> priors.width("use.pair"), priors.width("use.scale_middle")
        (1.0, 0.0)
        """
        block = path.split(".")[0]
        for name in (path, block):
            if name in self.widths:
                return float(self.widths[name]) * self.factor
        return self.factor

    def value(self, path: str) -> float:
        """Centre of a weight, ``block.weight``."""
        block, name = path.split(".")
        return float(self.centre[block][name])

    def free(self, block: str) -> tuple[str, ...]:
        """Weights of a block that are not held, ``block.weight``."""
        paths = (f"{block}.{name}" for name in self.centre[block])
        return tuple(path for path in paths if self.width(path) > 0)
