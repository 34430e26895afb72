"""What a fit hangs on, as the file beside its weights tells it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from handread.errors import HandreadError
from handread.fitting.gathering import gather
from handread.fitting.mode import fit_mode
from handread.fitting.plan import FitPlan, carry_out
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


def test_the_file_is_there_after_a_fit_and_refused_where_nothing_is_fitted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("handread.fitting.refits.refits_of", lambda *_, **__: "told = true\n")
    plan = FitPlan(tmp_path / "model", games=3, card="small", refits=True, work=tmp_path / "work")
    carry_out(plan, small_model())
    assert (tmp_path / "model" / "weights.toml").exists()
    assert tomllib.loads((tmp_path / "model" / "refits.toml").read_text()) == {"told": True}
    beside = FitPlan(tmp_path / "x", onto=tmp_path / "model", people=2, refits=True)
    with pytest.raises(HandreadError, match=r"refits beside .*accepted: refits of a fit"):
        carry_out(beside, small_model())
