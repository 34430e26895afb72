"""Whether draws can be trusted; a model whose draws cannot is not saved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from handread.errors import HandreadError
from handread.fitting.posterior import shim
from handread.fitting.posterior.sampling import Draws

#: Largest R-hat and least effective sample sizes, bulk and tail, of a posterior that ships.
MOST_RHAT: Final = 1.01
LEAST_ESS: Final = 400.0


@dataclass(frozen=True)
class Diagnosis:
    """What the diagnostics say of some draws.

    Attributes
    ----------
    rhat
        Largest R-hat.
    ess_bulk, ess_tail
        Least effective sample sizes.
    divergences
        Transitions that diverged.
    worst
        Variables with the largest R-hat and the least sizes, by name and place.
    """

    rhat: float
    ess_bulk: float
    ess_tail: float
    divergences: int
    worst: tuple[str, str, str]

    @property
    def faults(self) -> tuple[str, ...]:
        """What speaks against trusting the draws, in words."""
        told = []
        if not self.rhat < MOST_RHAT:
            told.append(f"R-hat {self.rhat:.3f} of {self.worst[0]}, below {MOST_RHAT} is needed")
        for what, value, where in (
            ("bulk", self.ess_bulk, self.worst[1]), ("tail", self.ess_tail, self.worst[2]),
        ):  # fmt: skip
            if not value > LEAST_ESS:
                told.append(f"{what} ESS {value:.0f} of {where}, above {LEAST_ESS:.0f} is needed")
        if self.divergences:
            told.append(f"{self.divergences} divergences, 0 are needed")
        return tuple(told)


def diagnose(draws: Draws, names: tuple[str, ...] | None = None) -> Diagnosis:
    """Look at R-hat, effective sample sizes and divergences.

    Parameters
    ----------
    draws
        The draws.
    names
        Variables to look at; None for all.
    """
    rhat, bulk, tail = (0.0, ""), (np.inf, ""), (np.inf, "")
    for name in names or tuple(draws.values):
        values = draws.values[name]
        if values.size == 0:
            continue
        found = shim.rhat(values)
        # nan, where chains do not move at all, is a fault
        rhat = max(rhat, _largest(name, np.where(np.isnan(found), np.inf, found)))
        for method, least in (("bulk", bulk), ("tail", tail)):
            sizes = shim.ess(values, method)
            sizes = np.where(np.isnan(sizes), 0.0, sizes)
            lowest = _largest(name, -sizes)
            least = min(least, (-lowest[0], lowest[1]))
            if method == "bulk":
                bulk = least
            else:
                tail = least
    return Diagnosis(
        rhat[0], bulk[0], tail[0], int(draws.diverging.sum()), (rhat[1], bulk[1], tail[1])
    )


def _largest(name: str, values: np.ndarray) -> tuple[float, str]:
    place = np.unravel_index(int(np.argmax(values)), values.shape)
    where = f"{name}[{', '.join(str(i) for i in place)}]" if place else name
    return float(values[place]), where


def refuse_unless_sound(diagnosis: Diagnosis) -> None:
    """Refuse a posterior that cannot be trusted.

    Raises
    ------
    HandreadError
        If a diagnostic is outside its bound; the message names each.
    """
    if diagnosis.faults:
        raise HandreadError(
            f"posterior not saved: {'; '.join(diagnosis.faults)}; sample longer, or with a higher "
            "target_accept"
        )
