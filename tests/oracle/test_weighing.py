"""The compiled pass from a joint probability to a belief against plain sums."""

from __future__ import annotations

import math

import numpy as np
import pytest

from handread.clues.hazard import destinations
from handread.errors import ImpossibleEvidence
from handread.reading import start_belief
from handread.reading.evidence import Observed
from handread.reading.step import Step
from handread.reading.updates import observe_one
from handread.reading.weighing import normalise, weigh
from handread.testing import random_context
from tests.oracle.toy import toy_model


@pytest.mark.parametrize("n_rows", [1, 2, 3, 4, 5, 37, 1704])
def test_a_belief_is_weighed_as_by_plain_sums(n_rows: int) -> None:
    rng = np.random.default_rng(n_rows)
    keep, probs, out = rng.random(n_rows), rng.dirichlet(np.ones(n_rows)), np.empty(n_rows)
    total = weigh(keep, probs, out)
    assert total == pytest.approx(math.fsum(keep * probs), rel=1e-14)
    np.testing.assert_allclose(out, keep * probs / math.fsum(keep * probs), rtol=1e-14)
    joint = keep * probs
    assert normalise(joint) == total
    np.testing.assert_array_equal(joint, out)


@pytest.mark.parametrize("size", [1e-12, 1e-299, 1e-305, 1e300])
def test_what_can_hardly_be_is_a_belief_all_the_same(size: float) -> None:
    keep, probs, out = np.full(5, size), np.array([0.1, 0.2, 0.3, 0.15, 0.25]), np.empty(5)
    assert weigh(keep, probs, out) == pytest.approx(size, rel=1e-14)
    np.testing.assert_allclose(out, probs, rtol=1e-14)


@pytest.mark.parametrize("joint", [[0.0, 0.0], [0.1, np.nan], [0.1, np.inf]])
def test_what_has_no_sum_is_left_as_it_is(joint: list[float]) -> None:
    rows = np.array(joint)
    total = normalise(rows)
    assert not 0.0 < total < np.inf
    np.testing.assert_array_equal(rows, joint)


def some_steps(rng: np.random.Generator) -> list[Step]:
    model = toy_model()
    keep, move, leak = rng.random((3, model.n_rows)) / 3
    where = destinations(random_context(rng), model.weights["destination"])
    kernel = start_belief(model, 0).kernel.with_destinations(where)
    to = rng.dirichlet(np.ones(model.n_rows))
    return [
        Step(keep), Step(keep, move, kernel), Step(keep, leak=leak),
        Step(keep, move, kernel, leak, to),
    ]  # fmt: skip


@pytest.mark.parametrize("seed", range(3))
def test_a_step_advances_a_belief_as_it_is_carried_forward(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for step in some_steps(rng):
        belief = rng.dirichlet(np.ones(len(step.keep)))
        joint = step.forward(belief)
        probs, prob = step.advance(belief)
        assert prob == pytest.approx(math.fsum(joint), rel=1e-13)
        np.testing.assert_allclose(probs, joint / math.fsum(joint), rtol=1e-13)
        assert not probs.flags.writeable
        after, log_prob = observe_one(
            start_belief(toy_model(), 0).with_probs(belief), Observed("refuse", 0, 4, step)
        )
        np.testing.assert_array_equal(after.probs, probs)
        assert log_prob == math.log(prob)


@pytest.mark.parametrize("rate", [0.0, np.nan, np.inf])
def test_what_cannot_be_is_said_aloud(rate: float) -> None:
    belief = start_belief(toy_model(), 2)
    observed = Observed("refuse", 2, 4, Step(np.full(len(belief.probs), rate)))
    with pytest.raises(ImpossibleEvidence, match=r"event 7: refuse of 5 bam by West"):
        observe_one(belief, observed, 7)
