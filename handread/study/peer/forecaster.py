"""A trained peer as a forecaster."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.study.forecasters.contract import Array, row_names
from handread.study.forecasters.stored import StoredReader
from handread.study.peer.features import VERSION, FeatureKeeper, with_sums
from handread.study.peer.trees import Trees, trees_from
from handread.table.events import AnyEvent, Header
from handread.table.state import TableState
from handread.values import ArrayValue

#: Version of the form of a stored peer.
FORMAT: Final = 1
#: Share of every belief that is spread evenly: a row never met in training is not impossible.
SPREAD: Final = 1e-3


class _Counting:
    """A peer at one table."""

    def __init__(self, peer: Peer, card: CompiledCard, header: Header) -> None:
        self.peer, self.n_rows = peer, len(row_names(card))
        self.keeper = FeatureKeeper(card, header)

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.keeper.observe(event, state)

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        said = self.peer.believe(self.keeper.features(seat)[None], self.n_rows)
        return np.asarray(said[0])


@dataclass(frozen=True, eq=False)
class Peer(ArrayValue):
    """Boosted trees over features of the public record.

    Attributes
    ----------
    trees
        What was trained; its classes are rows.
    card_hash
        Card that it was trained for.
    name
        How results call it.
    """

    trees: Trees
    card_hash: str
    name: str = "peer"

    def open(self, card: CompiledCard, header: Header) -> _Counting:
        """Sit down at a table before its first event.

        Raises
        ------
        HandreadError
            If it was trained for another card.
        """
        if card.hash != self.card_hash:
            raise HandreadError(
                f"reader {self.name!r} was trained on card {self.card_hash}, the table plays "
                f"{card.hash} ({card.name!r}); accepted: the same card"
            )
        return _Counting(self, card, header)

    def believe(self, features: np.ndarray[Any, np.dtype[np.float32]], n_rows: int) -> Array:
        """Probability of each row, shape (n_moments, n_rows).

        Parameters
        ----------
        features
            As a ``FeatureKeeper`` gives them, shape (n_moments, 378).
        n_rows
            Rows of a belief.
        """
        said = np.full((len(features), n_rows), SPREAD / n_rows)
        said[:, self.trees.classes] += (1.0 - SPREAD) * self.trees.probabilities(
            with_sums(features)
        )
        return np.asarray(said / said.sum(axis=1, keepdims=True))


def peer_of(found: StoredReader, card: CompiledCard) -> Peer:
    """Peer of a stored reader.

    Parameters
    ----------
    found
        Its files: ``peer.json`` with what it was trained on, ``trees.npz`` with plain arrays.
    card
        The card to be read.

    Raises
    ------
    HandreadError
        If the files are of another format or version of the features, or for another card.
    """
    files = dict(found.files)
    try:
        told = json.loads(files["peer.json"])
        held = (told["format"], told["features"], told["card_hash"])
        trees = trees_from(files["trees.npz"], f"trees.npz of reader {found.name!r}")
    except (KeyError, TypeError, ValueError) as error:
        if isinstance(error, HandreadError):
            raise
        raise HandreadError(f"reader {found.name!r} is no peer: {error!r}") from None
    if held != (FORMAT, VERSION, card.hash):
        raise HandreadError(
            f"peer {found.name!r} has format {held[0]!r}, features {held[1]!r} and card "
            f"{held[2]!r}; accepted: {FORMAT}, {VERSION} and {card.hash!r}; train it anew: "
            "handread study peer"
        )
    if trees.classes.max(initial=0) >= len(row_names(card)) or trees.classes.min(initial=0) < 0:
        raise HandreadError(f"peer {found.name!r} speaks of rows that the card has not")
    return Peer(trees, card.hash, found.name)
