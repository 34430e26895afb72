"""What follows from the groups that a seat has shown is worked out once, whoever asks."""

from __future__ import annotations

import numpy as np

import handread as hr
from handread.clues.codes import match_exposures
from handread.clues.wants import wants_of
from handread.reading import start_belief
from handread.reading.belief import show
from handread.reading.kernel import masked
from handread.reading.model import Model
from handread.table.state import Exposure


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
