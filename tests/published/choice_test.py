"""The choice likelihood, the same gather that scores a throw, on an open data set.

Source: the choice_modes.* files, each with its own source
"""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from handread.clues.kernels import gather_many, gather_throws
from handread.tiles import N_KINDS

HERE = Path(__file__).parent
BOOK: dict[str, Any] = tomllib.loads((HERE / "choice_modes.toml").read_text(encoding="utf-8"))
MODES = ("air", "train", "bus", "car")
NAMES = tuple(BOOK["coefficients"])
Array = NDArray[np.float64]


def travellers() -> tuple[Array, NDArray[np.int64]]:
    """Attributes of each mode for each traveller, shape (210, 4, 6), and the mode chosen."""
    text = (HERE / "choice_modes.csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in text if not line.startswith("#")))
    values = np.zeros((210, len(MODES), len(NAMES)))
    chosen = np.full(210, -1)
    for row in rows:
        i, m = int(row["traveller"]) - 1, MODES.index(row["mode"])
        constants = [float(row["mode"] == name) for name in NAMES[:3]]
        income = float(row["hinc"]) * (row["mode"] == "air")
        values[i, m] = [*constants, float(row["gc"]), float(row["ttme"]), income]
        if row["chosen"] == "1":
            chosen[i] = m
    return values, chosen


VALUES, CHOSEN = travellers()


def table_of(coefficients: Array) -> tuple[Array, NDArray[np.uint8]]:
    """Odds of each mode as a table of codes and kinds: one code per traveller, kinds 0 to 3."""
    table = np.zeros((210, N_KINDS))
    table[:, : len(MODES)] = np.exp(VALUES @ coefficients)
    codes = np.repeat(np.arange(210, dtype=np.uint8)[:, None], N_KINDS, axis=1)
    return table, codes


def probs(coefficients: Array) -> Array:
    """Probability of each mode for each traveller, by the gather of a throw."""
    table, codes = table_of(coefficients)
    return np.stack([gather_throws(table, codes, mode) for mode in range(len(MODES))], axis=1)


def log_likelihood(coefficients: Array) -> float:
    return float(np.log(probs(coefficients)[np.arange(210), CHOSEN]).sum())


PRINTED = np.array([BOOK["coefficients"][name] for name in NAMES])


def constants_only() -> Array:
    """Coefficients of the model with constants alone: the log of the shares against car."""
    shares = np.bincount(CHOSEN, minlength=4) / 210
    return np.concatenate([np.log(shares[:3] / shares[3]), np.zeros(3)])


def test_everybody_chose_one_mode_and_the_shares_are_as_printed() -> None:
    assert CHOSEN.min() == 0
    shares = np.bincount(CHOSEN, minlength=4) / 210
    assert shares == pytest.approx([BOOK["shares"][mode] for mode in MODES], abs=5e-8)


def test_the_log_likelihood_at_the_printed_estimates() -> None:
    assert log_likelihood(PRINTED) == pytest.approx(BOOK["log_likelihood"], abs=5e-5)
    assert log_likelihood(np.zeros(6)) == pytest.approx(-210 * np.log(4), abs=1e-9)


def test_fit_against_constants_alone_is_as_printed() -> None:
    base = log_likelihood(constants_only())
    best = log_likelihood(PRINTED)
    assert 1 - best / base == pytest.approx(BOOK["mcfadden_r2"], abs=5e-6)
    assert 2 * (best - base) == pytest.approx(BOOK["chi_square"], abs=5e-3)


def test_the_printed_estimates_are_the_optimum_to_their_precision() -> None:
    """Newton's step from the printed values, with gradient and Hessian from the gathered sums."""
    table, codes = table_of(PRINTED)
    total = gather_many(table[None], codes)[0]
    np.testing.assert_allclose(probs(PRINTED).sum(axis=1), 1.0, rtol=1e-13)
    shares = table[:, : len(MODES)] / total[:, None]
    mean = np.einsum("im,imk->ik", shares, VALUES)
    gradient = (VALUES[np.arange(210), CHOSEN] - mean).sum(axis=0)
    spread = VALUES - mean[:, None]
    hessian = np.einsum("im,imk,iml->kl", shares, spread, spread)
    step = np.linalg.solve(hessian, gradient)
    assert np.abs(step).max() < 2e-5
    assert log_likelihood(PRINTED + step) >= log_likelihood(PRINTED)
