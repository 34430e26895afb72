"""What a fit hangs on, as the file beside its weights tells it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from handread.fitting.gathering import gather
from handread.fitting.mode import fit_mode
from handread.fitting.plan import FitPlan
from handread.fitting.priors import Priors
from handread.fitting.refits import MOST_MOVED, refits_of
from handread.fitting.sources import Played
from tests.fitting.games import SETTING, small_model


def test_the_command_tells_of_refits_where_they_are_asked_for() -> None:
    assert "--refits" in FitPlan(Path("x"), refits=True).command
    assert "--refits" not in FitPlan(Path("x")).command


@pytest.mark.slow
def test_refits_are_told_of_every_clue_and_both_ways_of_the_priors(tmp_path: Path) -> None:
    pytest.importorskip("arviz")
    model, priors = small_model(), Priors(small_model().weights)
    gathered = gather(model, Played(SETTING, tuple(range(60))), tmp_path / "g")
    fit = fit_mode(model, gathered, priors=priors)
    told = tomllib.loads(refits_of(model, gathered, fit, priors, seed=1))
    assert told["clues"]["games"] == 60
    clues = {name: held for name, held in told["clues"].items() if isinstance(held, dict)}
    assert "use" in clues
    assert "safety" in clues
    assert clues["use"]["loses"] == max(each["loses"] for each in clues.values()) > 0
    fitted = {each.path: each for each in fit.estimates}
    for way in ("narrower", "wider"):
        held = told["priors"][way]
        assert held["weights"] == len(fit.estimates)
        moves = _moves(held)
        assert len(moves) == MOST_MOVED
        for path, move in moves:
            away = (move["then"] - fitted[path].value) / fitted[path].sd
            assert move["moved"] == pytest.approx(away, rel=0.05, abs=0.05)
    # a narrower prior holds the weights nearer to where it is centred
    for path, move in _moves(told["priors"]["narrower"]):
        assert abs(move["then"] - priors.value(path)) <= abs(move["fitted"] - priors.value(path))


def _moves(held: dict[str, dict[str, dict[str, float]]]) -> list[tuple[str, dict[str, float]]]:
    return [
        (f"{block}.{name}", move)
        for block, of in held.items() if isinstance(of, dict) for name, move in of.items()
    ]  # fmt: skip
