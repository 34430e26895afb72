"""What walks of many games share: the reading's model, and its terms taken apart."""

from __future__ import annotations

from dataclasses import dataclass

from handread.fitting.affine import Basis, find_basis
from handread.fitting.arriving import Arrivals
from handread.fitting.asking import Unit, unit_of
from handread.fitting.kept import Kept
from handread.reading import Model


@dataclass(frozen=True)
class Design:
    """What walks of many games share.

    The fields stay; what `kept` holds grows as the clues are asked, and the tables that it gives
    are good until its next call. ``design_of`` gives everybody in a process the same design, so one
    walk at a time may use it.

    Attributes
    ----------
    model
        The model of the reading whose contexts are used.
    unit
        The same with every rate at 1.
    basis
        Products of weights in the scores of throws.
    arrivals
        Where seats go that change their plan, part by part.
    kept
        What the clues were asked before.
    """

    model: Model
    unit: Unit
    basis: Basis
    arrivals: Arrivals
    kept: Kept

    __hash__ = None  # type: ignore[assignment]  # holds arrays


def make_design(model: Model) -> Design:
    """Put together what walks of many games share."""
    basis = find_basis(model.clues)
    kept = Kept(basis, tuple(model.weights["hazard"]))
    return Design(model, unit_of(model.weights), basis, Arrivals(model), kept)


_DESIGNS: list[Design] = []


def design_of(model: Model) -> Design:
    """Design of this process for a model; the last one is kept, since it takes as long as games."""
    if not _DESIGNS or _DESIGNS[0].model != model:
        _DESIGNS[:] = [make_design(model)]
    return _DESIGNS[0]
