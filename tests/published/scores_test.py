"""Scores held to published values; the files beside this one hold the values.

Source: the scores_*.csv files, each with its own source
Source: scoringrules 0.10.0 and scikit-learn 1.9.1 as reference packages (slow)
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from handread.study import (
    bits_log_score,
    brier_score,
    discrimination,
    isotonic,
    murphy,
    reliability_curve,
)

HERE = Path(__file__).parent


def lines(name: str) -> list[dict[str, str]]:
    text = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in text if not line.startswith("#")))


def published(name: str) -> dict[str, float]:
    return {line["name"]: float(line["value"]) for line in lines(name)}


def two_rows(prob: np.ndarray) -> np.ndarray:
    return np.stack([1.0 - prob, prob], axis=1)


def test_finley() -> None:
    """Finley's tornado forecasts: accuracy .966 as printed; the Brier score and its parts.

    CAWCR verification pages for the table and for 96.6 %.
    """
    table = lines("scores_finley.csv")
    number = [int(line["number"]) for line in table]
    forecast = np.repeat([float(line["forecast"]) for line in table], number)
    event = np.repeat([float(line["event"]) for line in table], number)
    assert len(event) == 2803
    parts = murphy(forecast, event)
    assert 1.0 - parts.brier == pytest.approx(0.966, abs=6e-4)
    assert parts.brier == pytest.approx(95 / 2803, abs=1e-12)
    assert parts.brier == pytest.approx(
        parts.reliability - parts.resolution + parts.uncertainty, abs=1e-12
    )
    # never saying tornado is right in 98.2 %
    assert 1.0 - murphy(np.zeros(2803), event).brier == pytest.approx(0.982, abs=6e-4)
    whole = brier_score(two_rows(forecast), two_rows(event)) / 2.0
    assert whole.mean() == pytest.approx(parts.brier, abs=1e-12)


@pytest.mark.parametrize("series", ["24 h rain", "24 h heavy", "48 h rain", "48 h heavy"])
def test_tampere(series: str) -> None:
    """Murphy's parts of the Tampere forecasts, all five figures as printed (CAWCR, POP3)."""
    table = [line for line in lines("scores_tampere.csv") if line["series"] == series]
    prob, event = [], []
    for line in table:
        number, events = int(line["number"]), int(line["events"])
        prob += [float(line["forecast"])] * number
        event += [1.0] * events + [0.0] * (number - events)
    assert len(prob) == 346
    parts = murphy(prob, event)
    (printed,) = [x for x in lines("scores_tampere_parts.csv") if x["series"] == series]
    for name in ("brier", "reliability", "resolution", "uncertainty", "skill"):
        assert getattr(parts, name) == pytest.approx(float(printed[name]), abs=6e-4), name
    # bins of one value each, given as edges, are the same decomposition
    edges = np.append(np.arange(11) / 10 - 0.05, 1.05)
    assert murphy(prob, event, edges=edges).reliability == pytest.approx(parts.reliability)
    # CORP splits the same score, with the same uncertainty
    corp = reliability_curve(prob, event).brier
    assert corp.loss == pytest.approx(parts.brier, abs=1e-12)
    assert corp.uncertainty == pytest.approx(parts.uncertainty, abs=1e-12)
    assert corp.miscalibration <= parts.reliability + 1e-12


def test_docstring_values_of_scikit_learn() -> None:
    """Brier score and log loss as printed in the docstrings (scikit-learn 1.9.1)."""
    value = published("scores_examples.csv")
    prob, event = np.array([0.1, 0.9, 0.8, 0.3]), np.array([0.0, 1.0, 1.0, 0.0])
    assert murphy(prob, event).brier == pytest.approx(value["brier_binary"], abs=1e-12)
    both = brier_score(two_rows(prob), two_rows(event)).mean()
    assert both == pytest.approx(value["brier_binary_two_rows"], abs=1e-12)
    rows = np.array([[0.8, 0.1, 0.1], [0.2, 0.7, 0.1], [0.2, 0.2, 0.6]])
    three = brier_score(rows, np.eye(3)).mean()
    assert three == pytest.approx(value["brier_three_rows"], abs=1e-12)
    of_truth = two_rows(np.array([0.9, 0.9, 0.8, 0.65]))
    bits = bits_log_score(of_truth, np.tile([0.0, 1.0], (4, 1))).mean()
    assert -bits * np.log(2.0) == pytest.approx(value["log_loss_nats"], abs=5e-6)


def test_mason_and_graham() -> None:
    """Rank discrimination of Mason and Graham's forecasts; 0.875 is from memory."""
    event = [0, 0, 0, 1, 1, 1, 0, 1, 1, 0, 0, 0, 0, 1, 1]
    prob = [
        0.928, 0.576, 0.008, 0.944, 0.832, 0.816, 0.136, 0.584, 0.032, 0.016, 0.28, 0.024, 0.0,
        0.984, 0.952,
    ]  # fmt: skip
    expected = published("scores_examples.csv")["roc_area"]
    assert discrimination(prob, event) == pytest.approx(expected, abs=1e-12)


@pytest.mark.slow
def test_against_scoringrules_and_scikit_learn() -> None:
    """Reference packages: scoringrules 0.10.0, scikit-learn 1.9.1."""
    import scoringrules
    from sklearn.isotonic import IsotonicRegression
    from sklearn.metrics import brier_score_loss, log_loss, roc_auc_score

    rng = np.random.default_rng(12)
    prob = rng.random(300)
    event = (rng.random(300) < prob).astype(float)
    # log score of p = 0.3 where it happened: 1.2039728 nats; Brier 0.49
    one = np.array([0.3])
    assert scoringrules.log_score(np.array([1.0]), one)[0] == pytest.approx(1.2039728, abs=5e-8)
    ours = -bits_log_score(two_rows(prob), two_rows(event)) * np.log(2.0)
    assert ours == pytest.approx(scoringrules.log_score(event, prob), abs=1e-9)
    ours = brier_score(two_rows(prob), two_rows(event)) / 2.0
    assert ours == pytest.approx(scoringrules.brier_score(event, prob), abs=1e-12)
    assert ours.mean() == pytest.approx(brier_score_loss(event, prob), abs=1e-12)
    assert discrimination(prob, event) == pytest.approx(roc_auc_score(event, prob), abs=1e-12)

    many = rng.dirichlet(np.ones(6), size=200)
    row = rng.integers(6, size=200)
    bits = -bits_log_score(many, np.eye(6)[row]).mean()
    nats = log_loss(row, many, labels=range(6))
    assert bits * np.log(2.0) == pytest.approx(nats, abs=1e-9)

    weight = rng.random(300) + 0.1
    fitted = IsotonicRegression().fit_transform(np.arange(300), prob, sample_weight=weight)
    assert isotonic(prob, weight) == pytest.approx(fitted, abs=1e-9)
