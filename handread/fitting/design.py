"""What walks of many games share: the reading's model, and its terms taken apart."""

from __future__ import annotations

from dataclasses import dataclass

from handread.fitting.affine import Basis
from handread.fitting.arriving import Arrivals
from handread.fitting.asking import unit_model
from handread.reading import Model


@dataclass(frozen=True)
class Design:
    """What walks of many games share.

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
    """

    model: Model
    unit: Model
    basis: Basis
    arrivals: Arrivals

    __hash__ = None  # type: ignore[assignment]  # holds arrays


def make_design(model: Model) -> Design:
    """Put together what walks of many games share."""
    from handread.fitting.affine import find_basis

    return Design(model, unit_model(model), find_basis(model.clues), Arrivals(model))
