"""Priors that ship: found by the content hash of the card."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.weights import Weights
from handread.errors import HandreadError
from handread.reading.model import Model, build_model
from handread.shipped import shipped


def stored_prior(card: CompiledCard) -> tuple[NDArray[np.float64], str] | None:
    """Prior that ships for a card, shape (n_targets,), with its source; None without one."""
    try:
        path = shipped("models", "priors", f"{card.hash}.npz")
    except HandreadError:
        return None
    with np.load(path, allow_pickle=False) as file:
        return np.array(file["prior"], dtype=np.float64), str(file["source"])


def stored_model(card: CompiledCard, weights: Weights | None = None) -> Model:
    """Model of a card with the prior that ships for it, else equal weight per hand."""
    found = stored_prior(card)
    if found is None:
        return build_model(card, weights=weights)
    return build_model(card, weights=weights, prior=found[0], prior_source=found[1])
