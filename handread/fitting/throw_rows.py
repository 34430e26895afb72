"""Throws as a walk gathers them, one choice after the other."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting import kernels
from handread.fitting.tables import OF_CHOICE, TYPES, ThrowTable
from handread.tiles import N_KINDS

Array = NDArray[np.float64]

#: Alternatives and entries for which there is room at first: those of most games.
_ALTERNATIVES: Final = 1 << 12
_ENTRIES: Final = 1 << 14
_OF_ALTERNATIVE: Final = {
    "kind": np.int8, "reach": np.float64, "constant": np.float32, "first_entry": np.int64,
}  # fmt: skip
_OF_ENTRY: Final = {"feature": np.int16, "value": np.float32}


class _Growing:
    """Arrays of one length that grow at their end.

    Parameters
    ----------
    types
        Type of each array.
    room
        Length for which there is room at first.
    """

    def __init__(self, types: dict[str, Any], room: int) -> None:
        self.names, self.n, self._room = tuple(types), 0, room
        self.arrays: list[NDArray[Any]] = [np.empty(room, each) for each in types.values()]

    def need(self, more: int) -> None:
        """Make room for so many more."""
        if self.n + more <= self._room:
            return
        self._room = 2 * (self.n + more)
        self.arrays = [np.resize(each[: self.n], self._room) for each in self.arrays]

    def all(self) -> dict[str, NDArray[Any]]:
        """Return what is there, by name."""
        return {
            name: each[: self.n].copy()
            for name, each in zip(self.names, self.arrays, strict=True)
        }  # fmt: skip


class ThrowRows:
    """Throws as they are gathered."""

    def __init__(self) -> None:
        self._choices: list[tuple[Any, ...]] = []
        self._ends: list[int] = [0]
        self._alternatives = _Growing(_OF_ALTERNATIVE, _ALTERNATIVES)
        self._entries = _Growing(_OF_ENTRY, _ENTRIES)

    def add(
        self, choice: tuple[Any, ...], within_reach: Array, codes: NDArray[np.uint8],
        scores: tuple[Array, Array],
    ) -> None:  # fmt: skip
        """Add one choice.

        Parameters
        ----------
        choice
            The columns of a choice, in the order of ``tables.OF_CHOICE``, but for the first: the
            kind thrown, which is within reach.
        within_reach, codes
            Expected copies and use code of each kind, shape (36,).
        scores
            Constant and tables as of ``Basis.tables``; not kept.
        """
        constant, tables = scores
        alternatives, entries = self._alternatives, self._entries
        alternatives.need(N_KINDS)
        entries.need(N_KINDS * len(tables))
        alternatives.n, entries.n = kernels.add_choice(
            within_reach, codes, constant, tables.transpose(2, 1, 0), alternatives.n, entries.n,
            *alternatives.arrays, *entries.arrays,
        )  # fmt: skip
        self._choices.append(choice)
        self._ends.append(alternatives.n)

    def table(self) -> ThrowTable:
        """Everything gathered so far."""
        columns = list(zip(*self._choices, strict=True)) or [()] * len(OF_CHOICE)
        out: dict[str, NDArray[Any]] = {
            name: np.array(values, dtype=TYPES[name])
            for name, values in zip(OF_CHOICE, columns, strict=True)
        }
        out |= self._alternatives.all() | self._entries.all()
        out["log_reach"] = np.log(out.pop("reach")).astype(TYPES["log_reach"])
        first = out["first_alternative"] = np.array(self._ends, dtype=np.int64)
        thrown = np.repeat(out["chosen"], np.diff(first))
        chosen = np.flatnonzero(out["kind"] == thrown) - first[:-1]
        out["chosen"] = chosen.astype(TYPES["chosen"])
        out["first_entry"] = np.append(out["first_entry"], np.int64(self._entries.n))
        return ThrowTable(**out)
