"""Where plans go, part by part: held to the kernel of a reading that has one part alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import handread as hr
from handread.fitting.arriving import PARTS, Arrivals
from handread.reading import Model, stored_model
from handread.reading.kernel import masked


def plain_parts(model: Model, fits: np.ndarray, old: int) -> np.ndarray:
    """Probability of every new target by each part, -1 where it has nowhere to go."""
    out = np.empty((len(PARTS), len(fits)))
    start = np.zeros(model.n_rows)
    start[old] = 1.0
    for part, shares in enumerate(np.eye(len(PARTS))):
        kernel = masked(replace(model.kernel, shares=tuple(shares)), fits, np.eye(4))
        arriving = kernel.forward(start)[: len(fits)]
        nowhere = kernel.stuck[old] > 0 or not arriving.any()
        out[part] = -1.0 if nowhere else arriving
    return out


@pytest.mark.parametrize("name", ["small", "house"])
def test_parts_are_those_of_the_kernel_of_a_reading(name: str) -> None:
    model, rng = stored_model(hr.load_card(name)), np.random.default_rng(3)
    arrivals, nowhere = Arrivals(model), 0
    n = model.card.n_targets
    for share in (1.0, 0.3, 0.01, 2 / n, 1 / n):
        for _ in range(8):
            fits = rng.random(n) < share
            old = int(rng.integers(n)) if rng.random() < 0.5 or not fits.any() else int(
                rng.choice(np.flatnonzero(fits))
            )  # fmt: skip
            plain = plain_parts(model, fits, old)
            news = [
                *rng.integers(n, size=20),
                *model.kernel.near[old, :5],
                *np.flatnonzero(fits)[:9],
            ]
            for new in (int(each) for each in news if each != old):
                found = arrivals.parts(fits, old, new)
                # another order of the same sums: equal but for rounding
                assert found.tolist() == pytest.approx(plain[:, new].tolist(), rel=1e-12, abs=0)
            nowhere += int((plain[:, 0] == -1).sum())
            only = float(fits[old] and fits.sum() == 1)
            assert arrivals.returning(fits, old) == only
    assert nowhere > 5
