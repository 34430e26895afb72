"""The walk in the plain way: everything asked anew, of all rows; what the fast walk is held to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from handread.clues.claims import N_MASKS, OPEN_TO, SHAPES, holdings
from handread.clues.context import Context
from handread.clues.contract import Clue
from handread.fitting import kernels, walk
from handread.fitting.affine import Basis
from handread.fitting.asking import Leaving, Notes, leaving_odds, note_odds, unit_weights
from handread.fitting.design import Design
from handread.fitting.minds import Mind, Passage, SimulatedMinds, mind_of
from handread.reading.likelihood import Claims, Seen, claims
from handread.simulate.view import STATES

WITH_JOKERS = np.array([jokers > 0 for _, jokers in SHAPES])


def asking_anew(design: Design, patch: pytest.MonkeyPatch) -> Design:
    """Design whose walks ask anew; what else is fast in a walk is patched to be plain."""
    patch.setattr(walk, "Offer", WholeOffer)
    patch.setattr(walk, "Uses", WholeUses)
    patch.setattr(walk, "passage", plain_passage)
    patch.setattr(kernels, "add_choice", kernels.add_choice_plain)
    patch.setattr(SimulatedMinds, "at", plain_at)
    patch.setattr(SimulatedMinds, "settled", plain_settled)
    anew = AskedAnew(design.basis, tuple(design.model.weights["hazard"]))
    return replace(design, kept=anew)  # type: ignore[arg-type]


class AskedAnew:
    """Stands in for ``Kept``: nothing is kept."""

    def __init__(self, basis: Basis, hazard: tuple[str, ...]) -> None:
        self.basis, self.hazard = basis, hazard

    def tables(
        self, context: Context, side: str, codes: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
        return self.basis.tables(context, side)

    def leaving(self, context: Context) -> Leaving:
        return leaving_odds(context, np.arange(30), self.hazard)

    def notes(self, clue: Clue, context: Context) -> Notes | None:
        return note_odds(clue, context)


class WholeUses:
    """Stands in for ``Uses``: the codes of all rows."""

    def __init__(self, seen: Seen) -> None:
        self.seen = seen

    def codes(self, row: int) -> np.ndarray:
        return self.seen.codes[row]

    def blocked(self, row: int) -> int:
        return int(self.seen.blocked[row]) if row < len(self.seen.blocked) else 0


class WholeOffer:
    """Stands in for ``Offer``: the claims of all rows under a unit model."""

    def __init__(self, asked: Claims, look: Callable[[], Seen], weights: object) -> None:
        seen, kind = look(), asked.kind
        unit = replace(seen.model, weights=unit_weights(seen.model.weights))
        self.seen, self.would = seen, claims(replace(seen, model=unit), kind)
        self.possible, found = self.would.possible, holdings(seen.context, kind)
        self.held = found.kept, found.any_plan, found.jokers

    def answer(self, row: int) -> SimpleNamespace:
        would, share = self.would, self.would.share[row]
        plain, mixed = (int(rows[row]) for rows in would.rows)
        allowed = np.where(WITH_JOKERS, would.table[mixed], would.table[plain]) * share
        opened = would.possible.astype(float)
        if plain < N_MASKS:
            opened = np.where(WITH_JOKERS, OPEN_TO[mixed], OPEN_TO[plain]) * opened * share
        return SimpleNamespace(
            allowed=allowed, open=opened, completes=float(would.win[row]), able=allowed.any()
        )


def plain_mind(source: SimulatedMinds, seat: int, found: np.ndarray, fits: np.ndarray) -> object:
    moments = source.game.truth.moments
    if source.game.truth.people[seat] is None or len(found) == 0:
        return None
    row, state = int(found[-1]), moments.state_words(int(found[-1]))
    if state == STATES[-1]:
        return None
    here = slice(int(moments.first[row]), int(moments.first[row + 1]))
    targets, weights, plan = moments.target[here], moments.weight[here], int(moments.plan[row])
    if plan >= 0:
        plan, targets, weights = -1, np.array([plan]), np.ones(1)
    return mind_of(source.card, state, plan, targets, weights, fits)


def plain_at(source: SimulatedMinds, seat: int, n_events: int, fits: np.ndarray) -> object:
    moments = source.game.truth.moments
    found = np.flatnonzero((moments.seat == seat) & (moments.at < max(n_events, 1)))
    return plain_mind(source, seat, found, fits)


def plain_settled(source: SimulatedMinds, seat: int, first: int) -> object:
    moments = source.game.truth.moments
    found = np.flatnonzero((moments.seat == seat) & (moments.at <= first))
    after = np.flatnonzero(moments.at[found] == first)
    if len(after) > 1:
        found = found[: after[0] + 1]
    return plain_mind(source, seat, found, np.ones(source.card.n_targets, dtype=bool))


def plain_passage(before: Mind, after: Mind) -> Passage:
    n = int(max(before.rows.max(), after.rows.max())) + 1
    old, new = before.dense(n), after.dense(n)
    kept = np.minimum(old, new)
    gone, come = old - kept, new - kept
    moved = [(i, j, gone[i] * come[j] / gone.sum())
             for i in np.flatnonzero(gone) for j in np.flatnonzero(come)
             if gone.sum() > 1e-9]  # fmt: skip
    moved = [each for each in moved if each[2] > 1e-6]
    both = np.intersect1d(before.rows, after.rows)
    total = kept.sum() + sum(weight for *_, weight in moved)
    left = np.array([each[:2] for each in moved], dtype=np.int64).reshape(-1, 2)
    weights = np.array([weight for *_, weight in moved]) / total
    return Passage(both, kept[both] / total, left, weights)
