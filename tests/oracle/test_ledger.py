"""The ledger adds up, and the shares of the clues are the integrals that they are said to be."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from handread.reading import Model, Reader, SeatEvidence, update
from handread.reading.evidence import Evidence
from handread.reading.ledger import Entry, ledger_of
from handread.table import TableState, apply, start
from handread.table.events import AnyEvent, Correct, Discard
from handread.tiles import N_KINDS
from tests.oracle.games import part_of_game, random_beliefs
from tests.oracle.paths import kernel
from tests.oracle.plain import Side
from tests.oracle.plain_card import PlainCard
from tests.oracle.scenarios import SCENARIOS, Scenario
from tests.oracle.toy import observe_all, start_beliefs, toy_card, toy_model

Array = NDArray[np.float64]
MIDPOINTS = 20_000


def by_family(model: Model, probs: Array) -> Array:
    """Probability of each family and of the rows without a target, by a plain loop."""
    card = model.card
    sums = [0.0] * (len(card.families) + 3)
    for row, prob in enumerate(probs):
        if row < card.n_targets:
            sums[card.hands[card.hand_of[row]].family] += float(prob)
        else:
            sums[len(card.families) + row - card.n_targets] += float(prob)
    return np.array(sums)


def check_entry(model: Model, entry: Entry) -> None:
    """Parts add up for every family; what is excluded is excluded by exactly one of them.

    The drift by family is the drift, summed.
    """
    before = by_family(model, entry.seat.before.probs)
    after = by_family(model, entry.seat.after.probs)
    drifted = by_family(model, entry.drifted)
    np.testing.assert_allclose(entry.drifted_by_family, drifted, rtol=0, atol=1e-12)
    for row, name in enumerate(model.row_names):
        bits = [float(part.bits[row]) for part in entry.parts]
        place = f"event {entry.number}, {name}: {[(p.source, p.bits[row]) for p in entry.parts]}"
        assert not any(np.isnan(bits)), place
        if before[row] > 0 and after[row] > 0:
            assert sum(bits) == pytest.approx(np.log2(after[row] / before[row]), abs=1e-9), place
        elif before[row] > 0:
            assert sum(np.isneginf(bits)) == 1, place
        assert not any(np.isposinf(bits)), place


def entries_of(model: Model, log: tuple[Evidence, ...]) -> list[Entry]:
    return [entry for seat in range(4) for entry in ledger_of(model, log, seat).entries]


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda s: s.name.split(",")[0])
def test_parts_add_up(scenario: Scenario) -> None:
    model = toy_model()
    state = start(None, model.card.rules)
    for event in scenario.events[: scenario.unread]:
        state = apply(state, event, model.card)
    events = list(scenario.events[scenario.unread :])
    _, _, log, _ = observe_all(model, start_beliefs(model), state, events)
    for entry in entries_of(model, log):
        check_entry(model, entry)


@pytest.mark.parametrize("seed", range(8))
def test_parts_add_up_at_random_states(seed: int) -> None:
    model = toy_model()
    state, events = part_of_game(seed, toy_card(), 4)
    _, _, log, _ = observe_all(model, random_beliefs(model, state, seed), state, events)
    for entry in entries_of(model, log):
        check_entry(model, entry)


def test_a_ledger_with_a_mended_group_is_valid_json() -> None:
    model = toy_model()
    reader = Reader(model.card, model=model)
    scenario = next(s for s in SCENARIOS if any(isinstance(e, Correct) for e in s.events))
    for event in scenario.events:
        reader.observe(event)
    seat = next(e.seat for e in scenario.events if isinstance(e, Correct))
    json.dumps(reader.reading(seat).to_dict(), allow_nan=False)
    frame = reader.reading(seat).ledger.to_frame()
    assert np.isfinite(frame["bits"]).all()


# --- shares of the clues by brute force ---


class Path:
    """One throw with every score of a clue scaled by s, on a grid of midpoints of [0, 1]."""

    def __init__(self, side: Side, held: Array, event: Discard) -> None:
        model = side.model
        self.model, self.held, self.kind = model, held, event.kind
        self.s = (np.arange(MIDPOINTS) + 0.5) / MIDPOINTS
        self.codes = np.array(side.codes)
        self.hazard = np.array(side.leaving)
        self.kernel = np.array(kernel(side))
        reach = side.context.within_reach
        self.there = np.flatnonzero(reach > 0)
        self.base = model.weights["availability"]["power"] * np.log(reach[self.there])
        none = np.zeros(self.codes.max() + 1)
        each = [(clue, model.weights[clue.name]) for clue in model.clues]
        marks = [clue.mark(side.context, event, w) or (none, none) for clue, w in each]
        self.keep = [(np.array(clue.keep(side.context, w)), m[0]) for (clue, w), m in
                     zip(each, marks, strict=True)]  # fmt: skip
        self.change = [(np.array(clue.change(side.context, w)), m[1]) for (clue, w), m in
                       zip(each, marks, strict=True)]  # fmt: skip

    def throw(self, scores: list[tuple[Array, Array]], row: int) -> tuple[Array, list[Array]]:
        """Probability of the throw along the path, and its slope through each clue."""
        kinds, codes = self.there, self.codes[row]
        by_clue = [score[codes[kinds], kinds] for score, _ in scores]
        notes = [float(mark[codes[self.kind]]) for _, mark in scores]
        odds = np.exp(self.base[:, None] + np.outer(sum(by_clue), self.s))
        shares = odds / odds.sum(axis=0)
        at = int(np.flatnonzero(kinds == self.kind)[0])
        prob = shares[at] * np.exp(sum(notes) * self.s)
        slopes = [
            prob * (c[at] - c @ shares + note) if c.any() or note else np.zeros(MIDPOINTS)
            for c, note in zip(by_clue, notes, strict=True)
        ]
        return prob, slopes

    def shares(self) -> Array:
        """Bits of each clue for each row by family."""
        n_rows = len(self.held)
        stays = [self.throw(self.keep, row) for row in range(n_rows)]
        goes = [self.throw(self.change, row) for row in range(n_rows)]
        joint = self.arrive([prob for prob, _ in stays], [prob for prob, _ in goes])
        out = []
        for c in range(len(self.keep)):
            slope = self.arrive([s[c] for _, s in stays], [s[c] for _, s in goes])
            whole = slope.sum(axis=0) / joint.sum(axis=0)
            out.append([self.share(slope[rows], joint[rows], whole) for rows in self.families()])
        return np.array(out) / np.log(2.0)

    def share(self, slope: Array, joint: Array, whole: Array) -> float:
        inside = joint.sum(axis=0)
        return float((slope.sum(axis=0) / inside - whole).mean()) if inside.all() else 0.0

    def arrive(self, stays: list[Array], goes: list[Array]) -> Array:
        """Rows after the turn, along the path."""
        stay = (1.0 - self.hazard) * self.held
        go = self.kernel.T * (self.hazard * self.held)
        return np.asarray(stay[:, None] * np.array(stays) + go @ np.array(goes))

    def families(self) -> list[list[int]]:
        """Rows of the belief in each row by family."""
        n = len(self.held)
        names = [int(by_family(self.model, np.eye(n)[row]).argmax()) for row in range(n)]
        return [
            [row for row, family in enumerate(names) if family == wanted]
            for wanted in range(len(self.model.row_names))
        ]


def one_throw(seed: int) -> tuple[Model, TableState, Discard, SeatEvidence, Evidence]:
    """A throw in a random game, and what it said of the seat that threw."""
    model = toy_model()
    state, events = part_of_game(seed, toy_card(), 4)
    beliefs = random_beliefs(model, state, seed)
    seen: list[tuple[TableState, Discard, SeatEvidence, Evidence]] = []
    for event in events:
        after = apply(state, event, model.card)
        beliefs, evidence = update(model, beliefs, event, state, after)
        if isinstance(event, Discard):
            about = next(part for part in evidence.seats if part.seat == event.seat)
            seen.append((state, event, about, evidence))
        state = after
    state, event, about, evidence = seen[seed % len(seen)]
    return model, state, event, about, evidence


@pytest.mark.parametrize("seed", range(2))
def test_shares_of_the_clues_are_integrals_along_the_path(seed: int) -> None:
    model, state, event, about, evidence = one_throw(seed + 20)
    shown = tuple((g.kind, g.size, g.jokers) for g in about.before.exposures)
    side = Side(PlainCard(model), state, evidence.around, event.seat, shown, acting=True)
    probs = about.before.probs.copy()
    for observed in about.observed[:-1]:
        probs = observed.step.keep * probs  # what it let pass before its turn
    none, drawn = side.redeems()[1], side.wins_drawn()
    held = probs * np.array(none) * (1.0 - np.array(drawn))
    expected = Path(side, held / held.sum(), event).shares()
    parts = {part.source: part.bits for part in Entry(model, evidence, about).parts}
    after = by_family(model, about.after.probs)
    for c, clue in enumerate(model.clues):
        found = np.where(after > 0, parts[clue.name], 0.0)
        wanted = np.where(after > 0, expected[c], 0.0)
        np.testing.assert_allclose(found, wanted, rtol=0, atol=1e-7, err_msg=clue.name)
    assert any(np.abs(parts[clue.name]).max() > 1e-3 for clue in model.clues)


def test_without_clues_nothing_is_shared_out() -> None:
    """With every score at zero the clues' shares are zero: the quiet turn and the drift remain."""
    model = toy_model()
    silent = {
        f"{clue.name}.{name}": 0.0 for clue in model.clues for name in model.weights[clue.name]
    }
    still = replace(model, weights=model.weights.replace(silent))
    events: list[AnyEvent] = [Discard(0, 5), Discard(1, N_KINDS - 5)]
    state = start(None, model.card.rules)
    _, _, log, _ = observe_all(still, start_beliefs(still), state, events)
    for entry in entries_of(still, log):
        for part in entry.parts:
            if part.source in {clue.name for clue in model.clues}:
                assert np.abs(part.bits).max() < 1e-12
