"""Readers by what they are told."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from handread.errors import HandreadError, closest
from handread.study.forecasters.contract import Forecaster, Oracle
from handread.study.forecasters.model import ModelReader
from handread.study.inputs.seated import SeatedReader
from handread.study.inputs.tally import Heap, Tally
from handread.study.inputs.telling import Missing, ToldLess, without_draws, without_passes

Named = Callable[[str], Forecaster | Oracle]
Wrapper = Callable[[Forecaster, str], Forecaster]

#: What a record may lack, by name.
INPUTS: Final[dict[str, Wrapper]] = {
    "drawn": lambda inner, name: ToldLess(inner, without_draws, name),
    "passes": lambda inner, name: ToldLess(inner, without_passes, name),
    "order": lambda inner, name: Tally(inner, name=name),
    "order and throwers": lambda inner, name: Heap(inner, name),
    "5 % of turns": lambda inner, name: Missing(inner, 0.05, name),
    "20 % of turns": lambda inner, name: Missing(inner, 0.20, name),
}


def knowing_less(name: str, named: Named) -> Forecaster | Oracle | None:
    """Reader of a name such as ``"lore less passes"`` or ``"lore seated"``.

    Parameters
    ----------
    name
        The whole name.
    named
        Gives the reader of the first part.

    Returns
    -------
    Forecaster, Oracle or None
        None where the name has neither form.

    Raises
    ------
    HandreadError
        If there is no such input, or the reader cannot be told so.
    """
    inner, _, lacking = name.partition(" less ")
    if lacking:
        if lacking not in INPUTS:
            raise HandreadError(f"no input {lacking!r} in {name!r}; {closest(lacking, INPUTS)}")
        found = named(inner)
        if isinstance(found, Oracle):
            raise HandreadError(f"{inner!r} sees what lies hidden; accepted: a forecaster")
        return INPUTS[lacking](found, name)
    inner = name.removesuffix(" seated")
    if inner != name:
        found = named(inner)
        if not isinstance(found, ModelReader):
            raise HandreadError(f"{inner!r} cannot be seated; accepted: a reader with a model")
        return SeatedReader(found.model, name)
    return None
