"""Tables and beliefs in the middle of games at random."""

from __future__ import annotations

import numpy as np

from handread.card.compiled import CompiledCard
from handread.reading import Belief, Model, start_belief
from handread.reading.belief import show
from handread.table import Record, TableState, apply, start
from handread.table.events import AnyEvent, Correct
from tests.support.random_play import Habits, random_record

#: Players who claim, redeem and mend their groups often.
BUSY = Habits(claim=0.8, dead=0.01, win=0.01, correct=0.3, pass_tiles=False)


def states_of(record: Record, card: CompiledCard) -> list[TableState]:
    """The table before the first event and after each."""
    states = [start(record.header, card.rules)]
    for event in record.events:
        states.append(apply(states[-1], event, card))
    return states


def part_of_game(
    seed: int, card: CompiledCard, most_throws: int
) -> tuple[TableState, list[AnyEvent]]:
    """A table in the middle of a random game, and what followed until a seat threw too often."""
    rng = np.random.default_rng(seed)
    record = random_record(rng, card, habits=BUSY)
    states = states_of(record, card)
    first = int(rng.integers(0, max(len(record.events) - 12, 1)))
    while first and isinstance(record.events[first], Correct):
        first -= 1
    until = first
    while until < len(record.events):
        turns = zip(states[until + 1].turns, states[first].turns, strict=True)
        if max(now - then for now, then in turns) > most_throws:
            break
        until += 1
    return states[first], list(record.events[first:until])


def random_beliefs(model: Model, state: TableState, seed: int) -> tuple[Belief, ...]:
    """Beliefs at random over what each seat's groups allow."""
    rng = np.random.default_rng(seed)
    beliefs = []
    for seat in range(4):
        belief = show(model, start_belief(model, seat), state.exposures[seat])
        allowed = np.concatenate([belief.fits, [True] * 3])
        probs = rng.dirichlet(np.ones(model.n_rows)) * allowed
        beliefs.append(belief.with_probs(probs / probs.sum()))
    return tuple(beliefs)
