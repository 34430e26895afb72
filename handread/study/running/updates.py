"""Claimed and realised bits of the updates of one game, worked out for all of them at once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from handread.study.forecasters.contract import Move
from handread.study.information import bits_claimed, bits_realised, bits_shared

Columns = dict[str, Any]


class Update(NamedTuple):
    """One move of a reader's belief, with what was true when it was made.

    Attributes
    ----------
    reader
        Name of the reader.
    game
        Number of the game.
    event
        Events on record.
    move
        The move.
    truth
        Weights of the true rows, shape (n_rows,).
    """

    reader: str
    game: int
    event: int
    move: Move
    truth: NDArray[np.float64]

    @property
    def keys(self) -> Columns:
        """Where the update stands."""
        return {"reader": self.reader, "game": self.game, "seat": self.move.seat,
                "event": self.event, "kind": self.move.what}  # fmt: skip


def update_lines(updates: Sequence[Update]) -> list[Columns]:
    """Lines of the updates of a game: each whole, then by clue where that was asked for.

    Parameters
    ----------
    updates
        In order.
    """
    if not updates:
        return []
    before = np.stack([update.move.before for update in updates])
    after = np.stack([update.move.after for update in updates])
    truths = np.stack([update.truth for update in updates])
    claimed, realised = bits_claimed(before, after), bits_realised(before, after, truths)
    lines: list[Columns] = []
    for update, said, done in zip(updates, claimed.tolist(), realised.tolist(), strict=True):
        bits = {"bits_claimed": said, "bits_realised": done}
        lines.append(update.keys | {"clue": "all"} | bits)
        if update.move.sources:
            lines += _parts(update, said, done)
    return lines


def _parts(update: Update, claimed: float, realised: float) -> Iterator[Columns]:
    """Lines of the clues of one update, and of what they leave.

    Refusals before the throw change how far plans drift, which is no clue's.
    """
    move, keys = update.move, update.keys
    said = bits_shared(move.shares[None], move.after[None])[0]
    done = bits_shared(move.shares[None], update.truth[None])[0]
    parts = [*zip(move.sources, said.tolist(), done.tolist(), strict=True)]
    parts.append(("rest", claimed - float(said.sum()), realised - float(done.sum())))
    for clue, of_claimed, of_realised in parts:
        yield keys | {"clue": clue, "bits_claimed": of_claimed, "bits_realised": of_realised}
