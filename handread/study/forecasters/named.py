"""Forecasters by the names that a study plan uses."""

from __future__ import annotations

from collections.abc import Callable

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, closest
from handread.study.forecasters.contract import Forecaster, Oracle
from handread.study.forecasters.guesses import Uniform
from handread.study.forecasters.model import lore_reader
from handread.study.forecasters.oracle import RackOracle
from handread.study.forecasters.trained import BaseRates, Elimination, StructuralFloor, Training

#: Names of forecasters in a plan; a clue's name follows the last two.
NAMES = (
    "uniform", "base rates", "floor", "elimination", "lore", "rack oracle",
    "lore without <clue>", "lore with <clue> twice",
)  # fmt: skip


def forecaster_named(
    name: str, card: CompiledCard, training: Training, *, shares: bool = False
) -> Forecaster | Oracle:
    """Forecaster of a name.

    Parameters
    ----------
    name
        One of ``NAMES``.
    card
        The card.
    training
        Counts of training games, for those that need them.
    shares
        Whether moves of a model are split among its clues.

    Raises
    ------
    HandreadError
        If there is none.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.study.forecasters import empty_training
    >>> card = hr.load_card("small")
    >>> forecaster_named("lore without use", card, empty_training(card)).name
    'lore without use'
    """
    fixed: dict[str, Callable[[Training], Forecaster]] = {
        "base rates": BaseRates, "floor": StructuralFloor, "elimination": Elimination,
    }  # fmt: skip
    if name == "uniform":
        return Uniform()
    if name in fixed:
        return fixed[name](training)
    if name == "rack oracle":
        return RackOracle()
    if name == "lore":
        return lore_reader(card, shares=shares)
    if name.startswith("lore without "):
        return lore_reader(card, without=name.removeprefix("lore without "), shares=shares)
    if name.startswith("lore with ") and name.endswith(" twice"):
        clue = name.removeprefix("lore with ").removesuffix(" twice")
        return lore_reader(card, twice=clue, shares=shares)
    raise HandreadError(f"no forecaster {name!r}; {closest(name, NAMES)}")
