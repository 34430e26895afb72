"""Priors on disk: one file a card, under its content hash."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard


class Found(Protocol):
    """What a prior needs to be stored: from racks or from games."""

    @property
    def prior(self) -> NDArray[np.float64]:
        """Probability of each target, shape (n_targets,)."""

    @property
    def counts(self) -> NDArray[Any]:
        """What settled on each target, shape (n_targets,)."""

    @property
    def source(self) -> str:
        """Where it comes from, in words."""


def save_prior(card: CompiledCard, found: Found, folder: str | Path) -> Path:
    """Write a prior under the content hash of its card, where ``stored_prior`` looks for it.

    Parameters
    ----------
    card
        The card.
    found
        The prior.
    folder
        Where to write; made if it is not there.

    Returns
    -------
    pathlib.Path
        The file written; a write that is cut off leaves no file of that name.
    """
    path = Path(folder) / f"{card.hash}.npz"
    path.parent.mkdir(parents=True, exist_ok=True)
    partial = path.with_suffix(".part.npz")
    np.savez_compressed(
        partial,
        prior=found.prior.astype(np.float32),
        source=np.array(found.source),
        counts=found.counts.astype(np.float32),
        card=np.array(card.name),
    )
    partial.replace(path)
    return path
