"""Each plot draws on the axes that it is given, what it is given, and refuses what it cannot."""

from __future__ import annotations

import numpy as np
import pytest

from handread.errors import HandreadError
from handread.study import (
    bootstrap_band,
    estimate,
    honesty_by,
    lead_curve,
    null_band,
    reliability_curve,
)

matplotlib = pytest.importorskip("matplotlib")
matplotlib.use("Agg")
from matplotlib.axes import Axes  # noqa: E402
from matplotlib.figure import Figure  # noqa: E402

from handread.plots import (  # noqa: E402
    plot_bars,
    plot_bits_by_turn,
    plot_claimed_realised,
    plot_family_bands,
    plot_lead,
    plot_reliability,
)


@pytest.fixture
def ax() -> Axes:
    return Figure().add_subplot()


RNG = np.random.default_rng(7)
GAME = np.repeat(np.arange(30), 8)
PROB = RNG.random(240)
EVENT = (RNG.random(240) < PROB**2).astype(float)


def test_reliability_draws_its_curve_and_bands_on_the_axes_given(ax: Axes) -> None:
    curve = reliability_curve(PROB, EVENT, game=GAME)
    rng = np.random.default_rng(1)
    null = null_band(PROB, EVENT, game=GAME, rng=rng, resamples=50)
    boot = bootstrap_band(PROB, EVENT, game=GAME, rng=rng, resamples=50)
    assert plot_reliability(ax, curve, null=null, bootstrap=boot) is ax
    drawn = ax.lines[-1].get_xydata()
    np.testing.assert_array_equal(drawn, np.column_stack([curve.stated, curve.recalibrated]))
    assert "30 games" in ax.texts[0].get_text()


def test_reliability_refuses_a_band_of_the_other_kind(ax: Axes) -> None:
    curve = reliability_curve(PROB, EVENT, game=GAME)
    boot = bootstrap_band(PROB, EVENT, game=GAME, rng=np.random.default_rng(1), resamples=50)
    with pytest.raises(HandreadError, match="accepted: a 'null' band"):
        plot_reliability(ax, curve, null=boot)


def test_bits_by_turn_draws_every_value_and_interval(ax: Axes) -> None:
    rng = np.random.default_rng(2)
    told = {
        name: {t: estimate(RNG.random(240) + t, game=GAME, rng=rng, unit="bits") for t in (4, 8)}
        for name in ("lore", "floor")
    }
    assert plot_bits_by_turn(ax, told) is ax
    values = [list(line.get_ydata()) for line in ax.lines[1:]]
    assert values == [[told[n][t].value for t in (4, 8)] for n in ("lore", "floor")]
    assert {text.get_text() for text in ax.get_legend().get_texts()} == {"lore", "floor"}
    with pytest.raises(HandreadError, match="one reader or more"):
        plot_bits_by_turn(ax, {})


def test_claimed_against_realised_draws_a_point_a_clue(ax: Axes) -> None:
    by = np.where(np.arange(240) % 2 == 0, "use", "safety")
    told = honesty_by(PROB, PROB - 0.3, by, game=GAME, rng=np.random.default_rng(3))
    assert plot_claimed_realised(ax, told) is ax
    points = [line for line in ax.lines if line.get_marker() not in ("None", None, "")]
    assert [float(p.get_ydata()[0]) for p in points] == [t.realised.value for t in told.values()]


def test_lead_is_drawn_against_its_false_alarms(ax: Axes) -> None:
    prob = np.column_stack([PROB, 1.0 - PROB])
    truth = np.tile([1.0, 0.0], (240, 1))
    lead = lead_curve(
        prob, truth, game=GAME, seat=np.zeros(240), own_turn=np.tile(np.arange(8), 30),
        rng=np.random.default_rng(4), resamples=50,
    )  # fmt: skip
    assert plot_lead(ax, {"lore": lead}) is ax
    np.testing.assert_array_equal(ax.lines[0].get_xdata(), lead.wrong_game)
    np.testing.assert_array_equal(ax.lines[0].get_ydata(), lead.lead)


def test_bands_fill_the_height_and_marks_are_written(ax: Axes) -> None:
    prob = RNG.dirichlet(np.ones(3), size=6)
    got = plot_family_bands(
        ax, np.arange(1, 7), prob, ("a", "b", "other"), marks={3: "West shows red"}
    )  # fmt: skip
    assert got is ax
    tops = [band.get_paths()[0].vertices[:, 1].max() for band in ax.collections]
    assert max(tops) == pytest.approx(1.0)
    assert len(ax.collections) == 3
    assert "West shows red" in [text.get_text() for text in ax.texts]
    with pytest.raises(HandreadError, match="sums to 1"):
        plot_family_bands(ax, np.arange(6), prob * 2, ("a", "b", "other"))


def test_bars_lie_side_by_side_and_missing_ones_are_left_out(ax: Axes) -> None:
    told = {
        "lore": {"pairs": (0.5, 0.25, 0.75), "repeats": (-0.2, -0.4, 0.0)},
        "fitted": {"pairs": (1.0, 0.5, 1.5)},
    }
    assert plot_bars(ax, told, unit="bits") is ax
    bars = {(bar.get_width(), bar.get_y() < 0.5) for bar in ax.patches}
    assert bars == {(0.5, True), (-0.2, False), (1.0, True)}
    assert [label.get_text() for label in ax.get_yticklabels()] == ["pairs", "repeats"]
    upper = [bar for bar in ax.patches if bar.get_y() < 0.5]
    first, second = sorted(upper, key=lambda bar: float(bar.get_y()))
    assert first.get_y() + first.get_height() <= second.get_y()
    with pytest.raises(HandreadError, match="0 readers"):
        plot_bars(ax, {}, unit="bits")
