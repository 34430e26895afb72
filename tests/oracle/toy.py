"""A card small enough to enumerate, with a model in which plans change often."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from handread.card import load_card
from handread.card.compiled import CompiledCard
from handread.clues import load_weights
from handread.reading import Belief, Model, build_model, start_belief, update
from handread.reading.evidence import Evidence
from handread.reading.kernel import change_kernel
from handread.table import TableState, apply
from handread.table.events import AnyEvent
from handread.tiles import parse_kind

#: Near targets kept: fewer than there are, so that the choice of the nearest matters.
N_NEAR = 5
#: Weights under which everything happens often enough to be seen at 1e-10.
LIVELY = {
    "hazard.base": -1.2, "hazard.per_exposure": -0.3, "hazard.defending": 0.15,
    "hazard.other": 0.2, "hazard.missed": 0.25, "wins.in_error": 0.004,
    "wins.ready": -0.7, "wins.draws_it": 0.2,
    "claims.misplay": 0.03, "destination.undecided": 0.2, "destination.other": 0.1,
    "claims.voiced_idle": 0.05, "pause.weight": 1.0, "rack_position.weight": 1.0,
    "destination.defending": -1.0, "destination.near": 0.4, "destination.hand": 0.2,
    "destination.family": 0.15, "destination.anywhere": 0.3, "start.defending": 0.1,
    "start.other": 0.07, "availability.power": 0.8, "claims.held_copies": 0.4,
    "claims.held_jokers": -0.3, "claims.anew": 0.06,
}  # fmt: skip

Beliefs = tuple[Belief, ...]


def kinds(*words: str) -> list[int]:
    """Kinds of tiles given in words."""
    return [parse_kind(word) for word in words]


@lru_cache(maxsize=1)
def toy_card() -> CompiledCard:
    """The card of ``toy.toml``."""
    card = load_card(Path(__file__).with_name("toy.toml"))
    assert card.n_targets == 14
    return card


@lru_cache(maxsize=1)
def toy_model() -> Model:
    """The toy card under an uneven prior, lively weights and a short list of near targets."""
    card = toy_card()
    prior = np.random.default_rng(20).dirichlet(np.full(card.n_targets, 1.5))
    model = build_model(card, prior=prior, weights=load_weights().replace(LIVELY))
    kernel = change_kernel(card, model.prior, model.weights["destination"], n_near=N_NEAR)
    return replace(model, kernel=kernel)


def start_beliefs(model: Model) -> Beliefs:
    """Beliefs about the four seats before their first event."""
    return tuple(start_belief(model, seat) for seat in range(4))


def observe_all(
    model: Model, beliefs: Beliefs, state: TableState, events: list[AnyEvent]
) -> tuple[Beliefs, TableState, tuple[Evidence, ...], list[Beliefs]]:
    """Update by every event; also the beliefs after each of them."""
    log, after_each = [], []
    for event in events:
        after = apply(state, event, model.card)
        beliefs, evidence = update(model, beliefs, event, state, after)
        state = after
        log.append(evidence)
        after_each.append(beliefs)
    return beliefs, state, tuple(log), after_each
