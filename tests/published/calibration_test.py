"""Calibration held to published values; the files beside this one hold the values.

Source: the calibration_*.csv files, each with its own source
Source: model-diagnostics 1.5.0, scikit-learn 1.9.1, statsmodels 0.15.0 as references (slow)
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from handread.study import binned_error, isotonic, murphy, reliability_curve, share_of_games

HERE = Path(__file__).parent


def lines(name: str) -> list[dict[str, str]]:
    text = (HERE / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in text if not line.startswith("#")))


def published() -> dict[str, float]:
    return {line["name"]: float(line["value"]) for line in lines("calibration_examples.csv")}


@pytest.mark.parametrize("series", ["scipy", "isoreg"])
def test_pool_adjacent_violators(series: str) -> None:
    """SciPy's docstring; R's isoreg example is from memory."""
    table = [line for line in lines("calibration_isotonic.csv") if line["series"] == series]
    values = np.array([float(line["value"]) for line in table])
    fitted = [float(line["fitted"]) for line in table]
    assert isotonic(values, np.ones(len(values))) == pytest.approx(fitted, abs=5e-9)


def test_corp_example() -> None:
    """Score, miscalibration, discrimination, uncertainty of reliabilitydiag's output."""
    curve = reliability_curve([0.4, 0.3, 0.2, 0.1, 0.5, 0.9], [0, 0, 0, 1, 1, 1])
    value, parts = published(), curve.brier
    assert parts.loss == pytest.approx(value["corp_score"], abs=5e-7)
    assert parts.miscalibration == pytest.approx(value["corp_miscalibration"], abs=5e-7)
    assert parts.discrimination == pytest.approx(value["corp_discrimination"], abs=5e-7)
    assert parts.uncertainty == pytest.approx(value["corp_uncertainty"], abs=5e-7)


@pytest.mark.parametrize("norm", ["mean", "square", "most"])
def test_binned_error(norm: str) -> None:
    """TorchMetrics, BinaryCalibrationError with two equal bins; four decimals."""
    told = binned_error(
        [0.25, 0.25, 0.55, 0.75, 0.75], [0, 0, 1, 1, 1], edges=(0, 0.5, 1), norm=norm
    )
    assert told == pytest.approx(published()[f"binned_{norm}"], abs=5e-5)


def test_bins_of_a_reliability_diagram() -> None:
    """scikit-learn, calibration_curve with three uniform bins."""
    prob = [0.1, 0.2, 0.3, 0.4, 0.65, 0.7, 0.8, 0.9, 1.0]
    parts = murphy(prob, [0, 0, 0, 0, 1, 1, 1, 1, 1], edges=np.linspace(0, 1, 4))
    value = published()
    for place in range(3):
        observed, stated = parts.observed[place], parts.stated[place]
        assert observed == pytest.approx(value[f"curve_observed_{place + 1}"], abs=1e-12)
        assert stated == pytest.approx(value[f"curve_stated_{place + 1}"], abs=1e-12)


@pytest.mark.parametrize(
    "line", lines("calibration_intervals.csv"), ids=lambda x: "-".join(x.values())
)
def test_newcombe(line: dict[str, str]) -> None:
    """95 % intervals of Newcombe's Table I, from memory."""
    told = share_of_games(int(line["hits"]), int(line["games"]), method=line["method"])
    assert told == pytest.approx((float(line["low"]), float(line["high"])), abs=6e-5)


@pytest.mark.slow
def test_intervals_against_statsmodels() -> None:
    """Reference package: statsmodels 0.15.0, proportion_confint."""
    from statsmodels.stats.proportion import proportion_confint

    for hits, games in [(0, 12), (1, 7), (5, 9), (200, 201), (30, 30)]:
        for method, theirs in (("wilson", "wilson"), ("clopper-pearson", "beta")):
            told = share_of_games(hits, games, level=0.9, method=method)
            expected = proportion_confint(hits, games, alpha=0.1, method=theirs)
            assert told == pytest.approx(expected, abs=1e-9)


@pytest.mark.slow
def test_corp_against_model_diagnostics() -> None:
    """Reference package: model-diagnostics 1.5.0, decompose, with and without weights."""
    from model_diagnostics.scoring import LogLoss, SquaredError, decompose

    rng = np.random.default_rng(3)
    prob = rng.uniform(0.02, 0.98, size=400)
    event = (rng.random(400) < prob**1.5).astype(float)
    game = rng.integers(25, size=400)
    weight = 1.0 / np.bincount(game)[game]
    worked = ([0.4, 0.3, 0.2, 0.1, 0.5, 0.9], [0.0, 0.0, 0.0, 1.0, 1.0, 1.0])
    for stated, happened, key, share in [
        (prob, event, None, None), (prob, event, game, weight), (*worked, None, None),
    ]:  # fmt: skip
        curve = reliability_curve(stated, happened, game=key)
        for parts, loss, unit in (
            (curve.brier, SquaredError(), 1.0), (curve.log, LogLoss(), np.log(2.0)),
        ):  # fmt: skip
            told = decompose(
                np.asarray(happened), np.asarray(stated), weights=share, scoring_function=loss
            )  # fmt: skip
            for name in ("miscalibration", "discrimination", "uncertainty"):
                assert getattr(parts, name) * unit == pytest.approx(told[name][0], abs=1e-9), name
            assert parts.loss * unit == pytest.approx(told["score"][0], abs=1e-9)


@pytest.mark.slow
def test_bins_against_scikit_learn() -> None:
    """Reference package: scikit-learn 1.9.1, calibration_curve."""
    from sklearn.calibration import calibration_curve

    rng = np.random.default_rng(5)
    prob = rng.random(500)
    event = (rng.random(500) < prob).astype(float)
    observed, stated = calibration_curve(event, prob, n_bins=10)
    parts = murphy(prob, event, edges=np.linspace(0, 1, 11))
    assert parts.observed == pytest.approx(observed, abs=1e-12)
    assert parts.stated == pytest.approx(stated, abs=1e-12)
