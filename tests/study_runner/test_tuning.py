"""Three knobs of a model, turned on held-out games."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from handread.clues import load_weights
from handread.errors import HandreadError
from handread.fitting.saving import load_card, save_model
from handread.study.tuning import TRIED, Knobs, scores_of, tune, turned, write_tuned
from tests.fitting.games import small_model
from tests.fitting.test_saving import FOUND, WEIGHTS, card


def test_knobs_move_what_they_say_and_nothing_else() -> None:
    lore = load_weights()
    after = turned(lore, Knobs(0.1, -0.5, 1.4))
    moved = {
        f"{block}.{name}"
        for block, held in lore.blocks.items()
        for name, value in held.items()
        if after[block][name] != value
    }
    assert moved == {
        "elsewhere.power", "hazard.base", "use.scale_early", "use.scale_middle", "use.scale_late",
    }  # fmt: skip
    assert after["use"]["scale_late"] == pytest.approx(1.4 * lore["use"]["scale_late"])
    assert turned(lore, Knobs()).blocks == lore.blocks


def test_the_best_on_validation_games_is_chosen(tmp_path: Path) -> None:
    """With plans left far too readily, the knob goes back; the scores are those of the games."""
    loose = WEIGHTS.replace({"hazard.base": -0.5})
    found = tune(loose, card="small", n_games=4, seed=9)
    assert found.knobs.shift < 0
    assert found.knobs.shift in TRIED["shift"]
    best = max(found.tried, key=lambda knobs: found.tried[knobs])
    assert best == found.knobs
    again = scores_of(turned(loose, best), "small", "default", 9, 4)
    assert found.tried[best] == pytest.approx(again.mean())
    assert found.gain.value == pytest.approx(
        again.mean() - scores_of(loose, "small", "default", 9, 4).mean()
    )
    folder = save_model(tmp_path / "fit", small_model(), loose, FOUND, card())
    out = write_tuned(folder, tmp_path / "tuned", found)
    told = load_weights(out / "weights.toml")
    assert told.blocks == turned(loose, best).blocks
    assert told.measured
    assert "turned on held-out games" in (out / "weights.toml").read_text()
    assert load_card(out).diagnostics["shift_of_log_odds_of_leaving"] == found.knobs.shift
    with pytest.raises(HandreadError, match="accepted: a new folder"):
        write_tuned(folder, out, found)


def test_one_game_is_too_few() -> None:
    with pytest.raises(HandreadError, match="accepted: 2 or more"):
        tune(load_weights(), n_games=1)
    assert np.isfinite(scores_of(load_weights(), "small", "default", 1, 1)).all()
