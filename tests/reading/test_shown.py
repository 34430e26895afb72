"""What follows from the groups that a seat has shown is worked out once, whoever asks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import handread as hr
from handread.clues import registry
from handread.clues.codes import match_exposures
from handread.clues.wants import wants_of
from handread.reading import start_belief, throwing
from handread.reading.belief import show
from handread.reading.kernel import masked
from handread.reading.looking import Seen
from handread.reading.model import Model
from handread.table.state import Exposure
from handread.testing import random_context


def fresh() -> Model:
    return hr.build_model(hr.load_card("small"))


def test_what_is_kept_is_what_would_be_worked_out() -> None:
    model = fresh()
    first = start_belief(model, 0)
    for exposures in ((Exposure(4, 3, 0),), (Exposure(4, 3, 1), Exposure(9, 4, 0)), ()):
        for _ in range(2):
            belief = show(model, first, exposures)
            fits, left = match_exposures(model.card, exposures)
            np.testing.assert_array_equal(belief.fits, fits)
            np.testing.assert_array_equal(belief.left, left)
            assert belief.wants == wants_of(model.card, left, model.nearby)
            assert belief.kernel == masked(model.kernel, fits, np.eye(4))
            assert belief.exposures == exposures
            assert belief.probs is first.probs


def test_the_last_few_are_kept_and_the_others_forgotten() -> None:
    model = fresh()
    start = model.shown(())
    held = [model.shown((Exposure(kind, 3, 0),)) for kind in range(9)]
    assert model.shown(()) is start
    assert model.shown((Exposure(8, 3, 0),)) is held[8]
    for kind in range(9, 24):
        model.shown((Exposure(kind, 3, 0),))
    assert model.shown((Exposure(8, 3, 0),)) is held[8]
    assert model.shown((Exposure(0, 3, 0),)) is not held[0]


def test_tables_are_kept_up_to_a_limit_whatever_a_clue_looks_at(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A clue may look at what is hardly ever the same twice."""
    monkeypatch.setattr(throwing, "MOST_KEPT", 5)
    clues = tuple(replace(clue, looks_at=("within_reach",), counts=None) for clue in registry()[:2])
    model, plain = hr.build_model(hr.load_card("small"), clues=clues), fresh()
    belief, rng = start_belief(model, 0), np.random.default_rng(5)
    contexts = [random_context(rng) for _ in range(9)]
    for context in [*contexts, contexts[0]]:
        seen = Seen(model, belief, context, context.unseen, np.ones(model.card.n_targets))
        odds = throwing.throw_odds(seen)
        keep, change = (
            sum(getattr(clue, side)(context, plain.weights[clue.name]) for clue in clues)
            for side in ("keep", "change")
        )
        reach = np.exp(throwing.availability(seen))[:, None, None]
        np.testing.assert_allclose(odds, reach * np.exp(np.stack([keep, change]).T), atol=1e-12)
        assert len(model.kept) <= 5
        assert len(model.kept_scores) <= 5
