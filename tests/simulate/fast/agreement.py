"""One game by both engines, held together: events, decisions, log probabilities, truth."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.simulate import (
    Person,
    Population,
    Private,
    Style,
    TableRules,
    View,
    kind_names,
    play_game,
)
from handread.simulate.fast.engine import Engine
from handread.simulate.fast.policies.anything import KIND as ANYTHING
from handread.simulate.fast.telling import decisions_of, play_fast
from handread.simulate.game.play import People
from handread.simulate.rules.deal import chairs

KINDS = {"anything": ANYTHING}


def people_of_population(population: Population, seed: int, seats: int = 4) -> People:
    rng = np.random.default_rng([seed, 77])
    drawn = [population.person(f"p{seat}", rng=rng) for seat in range(4)]
    return tuple(drawn[seat] if seat in chairs(seats) else None for seat in range(4))


def people_that_err(seed: int, seats: int = 4) -> People:
    """All kinds, careless and eager, so that every rule is met."""
    names = (*kind_names(), "anything")
    style = Style(
        carelessness=0.5, eagerness=0.9, caution=0.8, memory=0.8, bluff=0.3, slowness=1.4
    )  # fmt: skip
    return tuple(
        Person(f"c{seat}", names[(seat + seed) % len(names)], 1, style)
        if seat in chairs(seats)
        else None
        for seat in range(4)
    )


def hold_together(
    engine: Engine, people: People, seed: int, rules: TableRules | None = None
) -> tuple[int, int]:
    """Play a game by both engines; numbers of events and decisions."""
    met: list[tuple[int, str, int, float]] = []

    def watch(view: View, mind: Private, log_probs: NDArray[np.float64], action: int) -> None:
        met.append((view.seat, view.decision, action, float(log_probs[action])))

    slow = play_game(engine.card, people, seed=seed, rules=rules, watch=watch, kinds=KINDS)
    fast = play_fast(engine, people, seed=seed, rules=rules)
    for number, (one, other) in enumerate(zip(met, decisions_of(engine), strict=False)):
        assert one[:3] == other[:3], (seed, number, one, other)
        assert abs(one[3] - other[3]) < 1e-9, (seed, number, one, other)
    assert len(met) == len(decisions_of(engine))
    assert slow.record == fast.record
    for name in slow.truth.__dataclass_fields__:
        assert getattr(slow.truth, name) == getattr(fast.truth, name), (seed, name)
    assert slow == fast
    assert int(engine.t["breaches"]) == 0
    return len(slow.record.events), len(met)
