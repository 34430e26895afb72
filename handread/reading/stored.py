"""What ships for a reading: priors, found by the content hash of the card, and weights."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.weights import Weights, load_weights
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


def default_weights() -> Weights:
    """Weights of the default model that ships, fitted to games; the lore weights without one.

    Examples
    --------
    >>> default_weights().name in ("default", "lore")
    True
    """
    try:
        path = shipped("models", "default", "weights.toml")
    except HandreadError:
        return load_weights()
    return load_weights(path)


def stored_model(card: CompiledCard, weights: Weights | None = None) -> Model:
    """Model of a card with the prior that ships for it, else equal weight per hand.

    Parameters
    ----------
    card
        The card.
    weights
        Weights of the clues; None for ``default_weights``.
    """
    found, held = stored_prior(card), weights or default_weights()
    if found is None:
        return build_model(card, weights=held)
    return build_model(card, weights=held, prior=found[0], prior_source=found[1])
