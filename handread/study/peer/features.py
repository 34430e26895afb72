"""Features of the public record about one seat: what anybody who watches could count.

Blocks of 36 hold a number for each kind, so that a relabelling of the kinds is a permutation of
their columns; other features do not change under one. Sums over kinds follow from the blocks.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.table.events import (
    AnyEvent,
    Discard,
    Expose,
    Header,
    Passed,
    Redeem,
    Stopped,
    Voiced,
    WallGame,
)
from handread.table.play import start
from handread.table.state import TableState
from handread.tiles import FIRST_DRAGON, FIRST_WIND, FLOWER, N_KINDS

Array = NDArray[np.float32]

#: Version of the features; a peer trained on others is refused.
VERSION: Final = 1
#: Last own turn of the early and of the middle phase.
EARLY: Final = 4
MIDDLE: Final = 9

#: Features with a number for each kind.
BLOCKS: Final = (
    "thrown early", "thrown in the middle", "thrown late", "own turns since thrown",
    "seen by all", "thrown by others", "shown", "jokers shown as", "shown by others", "let pass",
)  # fmt: skip
#: Features of the seat as a whole.
PLAIN: Final = (
    "own turns", "wall", "place after the dealer", "groups shown", "jokers in groups",
    "own turns since a group", "throws let pass", "drawn tiles thrown", "rack tiles thrown",
    "last throw drawn", "claims lost", "blind passes", "courtesy tiles", "stopped the second round",
    "second round", "redeems", "groups of others", "others playing",
)  # fmt: skip
#: Sums over kinds.
SUMS: Final = (
    *(f"{what} {group}" for what in ("thrown", "let pass", "shown", "thrown by others")
      for group in ("bams", "craks", "dots", "winds", "dragons")),
    *(f"thrown, number {number}" for number in range(1, 10)),
    "thrown odd", "thrown even", "thrown low", "thrown middle", "thrown high", "kinds thrown",
)  # fmt: skip

#: Columns before sums are added.
FEATURES: Final = len(BLOCKS) * N_KINDS + len(PLAIN)

_GROUPS: Final = (
    slice(0, 9), slice(9, 18), slice(18, 27), slice(FIRST_WIND, FIRST_DRAGON),
    slice(FIRST_DRAGON, FLOWER),
)  # fmt: skip


def feature_names() -> tuple[str, ...]:
    """Names of all columns, sums included.

    >>> len(feature_names()), feature_names()[-1]
    (449, 'kinds thrown')
    """
    from handread.tiles import KINDS

    blocks = [f"{block}: {kind}" for block in BLOCKS for kind in KINDS]
    totals = [f"thrown: {kind}" for kind in KINDS]
    return (*blocks, *PLAIN, *totals, *SUMS)


class FeatureKeeper:
    """Count what a table shows, seat by seat, as its events pass.

    Parameters
    ----------
    card
        The card; only its set of tiles is used.
    header
        Of the record.
    """

    def __init__(self, card: CompiledCard, header: Header) -> None:
        self._state = start(header, card.rules)
        self._dealer = header.dealer
        self._thrown = np.zeros((4, 3, N_KINDS), dtype=np.float32)
        self._last = np.full((4, N_KINDS), np.nan, dtype=np.float32)
        self._passed = np.zeros((4, N_KINDS), dtype=np.float32)
        self._group_at = np.full(4, np.nan, dtype=np.float32)
        self._notes = {
            name: np.zeros(4, dtype=np.float32)
            for name in ("drawn", "rack", "last", "lost", "blind", "courtesy", "stopped", "redeems")
        }
        self._notes["last"][:] = np.nan
        self._second = 0.0

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event; `state` is the table after it."""
        before, self._state = self._state, state
        if before.window is not None and isinstance(event, Discard | Redeem | WallGame | Expose):
            self._let_pass(before, event)
        if isinstance(event, Discard):
            self._throw(event)
        elif isinstance(event, Expose):
            self._group_at[event.seat] = state.turns[event.seat]
        elif isinstance(event, Redeem):
            self._notes["redeems"][event.seat] += 1
        elif isinstance(event, Voiced):
            self._notes["lost"][event.seat] += 1
        elif isinstance(event, Passed):
            self._pass(event)
        elif isinstance(event, Stopped) and event.seat is not None:
            self._notes["stopped"][event.seat] = 1

    def _let_pass(self, before: TableState, event: AnyEvent) -> None:
        """Seats to which the throw lay open and that did not take it."""
        if before.window is None:
            return
        thrown = before.floor[before.window]
        for seat in range(4):
            taker = isinstance(event, Expose) and event.seat == seat
            if before.live[seat] and seat != thrown.seat and not taker:
                self._passed[seat, thrown.kind] += 1

    def _throw(self, event: Discard) -> None:
        seat, turn = event.seat, self._state.turns[event.seat]
        phase = 0 if turn <= EARLY else 1 if turn <= MIDDLE else 2
        self._thrown[seat, phase, event.kind] += 1
        self._last[seat, event.kind] = turn
        if event.drawn is not None:
            self._notes["drawn" if event.drawn else "rack"][seat] += 1
        self._notes["last"][seat] = np.nan if event.drawn is None else event.drawn

    def _pass(self, event: Passed) -> None:
        self._second = max(self._second, float(event.step.startswith("second")))
        for name, counts in (("blind", event.blind), ("courtesy", event.counts)):
            if counts is not None:
                self._notes[name] += np.array(counts, dtype=np.float32)

    def features(self, seat: int) -> Array:
        """Features of a seat now, sums left out; NaN where there is nothing, shape (378,)."""
        state, notes = self._state, self._notes
        out = np.empty(FEATURES, dtype=np.float32)
        blocks = out[: len(BLOCKS) * N_KINDS].reshape(len(BLOCKS), N_KINDS)
        turn = state.turns[seat]
        blocks[:3] = self._thrown[seat]
        blocks[3] = turn - self._last[seat]
        blocks[4] = state.seen
        blocks[5] = self._thrown.sum(axis=(0, 1)) - self._thrown[seat].sum(axis=0)
        blocks[6:9] = 0.0
        for other, groups in enumerate(state.exposures):
            for group in groups:
                if other == seat:
                    blocks[6, group.kind] += group.size
                    blocks[7, group.kind] += group.jokers
                else:
                    blocks[8, group.kind] += group.size
        blocks[9] = self._passed[seat]
        shown = state.exposures[seat]
        out[len(BLOCKS) * N_KINDS :] = (
            turn, state.wall, (seat - self._dealer) % 4, len(shown),
            sum(group.jokers for group in shown), turn - self._group_at[seat],
            self._passed[seat].sum(), notes["drawn"][seat], notes["rack"][seat],
            notes["last"][seat], notes["lost"][seat], notes["blind"][seat],
            notes["courtesy"][seat], notes["stopped"][seat], self._second,
            notes["redeems"][seat], sum(len(g) for g in state.exposures) - len(shown),
            sum(state.live) - state.live[seat],
        )  # fmt: skip
        return out


def relabelled(features: Array, kinds: NDArray[np.int8]) -> Array:
    """Features of the same table with the kinds relabelled.

    Parameters
    ----------
    features
        Without sums, shape (n_rows, 378).
    kinds
        The kind that each kind becomes, shape (36,).

    Returns
    -------
    numpy.ndarray
        Shape (n_rows, 378).
    """
    n = len(BLOCKS) * N_KINDS
    out = features.copy()
    blocks = features[:, :n].reshape(len(features), len(BLOCKS), N_KINDS)
    moved = np.empty_like(blocks)
    moved[:, :, kinds] = blocks
    out[:, :n] = moved.reshape(len(features), n)
    return out


def with_sums(features: Array) -> Array:
    """Features with sums over kinds behind them, which trees cannot make for themselves.

    Parameters
    ----------
    features
        Without sums, shape (n_rows, 378).

    Returns
    -------
    numpy.ndarray
        Shape (n_rows, 449), in the order of ``feature_names``.
    """
    n = len(BLOCKS) * N_KINDS
    blocks = features[:, :n].reshape(len(features), len(BLOCKS), N_KINDS)
    thrown = blocks[:, :3].sum(axis=1)
    columns = [
        part[:, group].sum(axis=1)
        for part in (thrown, blocks[:, 9], blocks[:, 6], blocks[:, 5])
        for group in _GROUPS
    ]
    numbers = thrown[:, :FIRST_WIND].reshape(len(features), 3, 9).sum(axis=1)
    columns += [*numbers.T, numbers[:, 0::2].sum(axis=1), numbers[:, 1::2].sum(axis=1)]
    columns += [numbers[:, i : i + 3].sum(axis=1) for i in (0, 3, 6)]
    columns.append((thrown > 0).sum(axis=1).astype(np.float32))
    sums = np.stack(columns, axis=1)
    return np.concatenate([features, thrown, sums], axis=1, dtype=np.float32)
