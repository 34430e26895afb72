"""A clue registered under a second name, with weights refitted, changes nothing that counts."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import handread as hr
from handread.fitting.gathering import gather
from handread.fitting.mode import fit_mode
from handread.fitting.plan import played
from handread.fitting.priors import Priors
from handread.fitting.running import reweighted
from handread.simulate import simulate_games
from handread.study import bits_log_score
from handread.study.forecasters import ModelReader, lore_reader
from handread.study.running import watch_game

TRAINING, HELD_OUT = 150, 80


@pytest.mark.slow
def test_a_clue_counted_twice_and_refitted_moves_the_gain_by_less_than_a_hundredth(
    tmp_path: Path,
) -> None:
    """On 80 games of the small card, new to both; with the weights as they are it costs more."""
    card = hr.load_card("small")
    readers: dict[str, ModelReader] = {
        "as it is": lore_reader(card, name="as it is"),
        "twice as it is": lore_reader(card, twice="use", name="twice as it is"),
    }
    for name, twice in (("once", None), ("twice", "use")):
        model = lore_reader(card, twice=twice).model
        gathered = gather(model, played(model, TRAINING, 77), tmp_path / name)
        fit = fit_mode(model, gathered, priors=Priors(model.weights), name=name)
        readers[name] = ModelReader(name, reweighted(model, fit))
    scores = []
    for number, game in enumerate(simulate_games(card, n_games=HELD_OUT, seed=4_000_777)):
        lines = watch_game(card, game, readers, number=number)
        truth = np.array([moment["truth"] for moment in lines.moments])
        scores.append([bits_log_score(np.array(lines.beliefs[r]), truth).mean() for r in readers])
    as_it_is, twice_as_it_is, once, twice_refitted = np.array(scores).mean(axis=0)
    assert abs(twice_refitted - once) < 0.01
    assert as_it_is - twice_as_it_is > 0.03
