"""Models on disk: whole or not at all, read back as they were, refused when clues have moved on."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from typer import Typer
from typer.testing import CliRunner

from handread.cli.fit import fit
from handread.clues import load_weights
from handread.errors import HandreadError
from handread.fitting import saving
from handread.fitting.gathering import Gathered
from handread.fitting.mode import Estimate, ModeFit
from handread.fitting.plan import FitPlan
from handread.fitting.posterior.diagnose import Diagnosis
from handread.fitting.posterior.fit import KEPT_DRAWS, PopulationFit, save_population
from handread.fitting.posterior.model import Layout
from handread.fitting.priors import Priors
from handread.fitting.running import fit_games
from handread.fitting.saving import ModelCard, check_model, load_card, save_model
from handread.fitting.sources import Played
from handread.fitting.versions import versions_of
from tests.fitting.games import SETTING, small_model

WEIGHTS = replace(
    small_model().weights.replace({"use.pair": -1.25}), name="measured", measured=True
)
FOUND = [Estimate("use.pair", -1.25, 0.1, -2.2, 900.0)]


def card() -> ModelCard:
    return ModelCard(
        name="measured", command="handread fit --games 10", games={"games": 10, "seeds": "some"},
        card_name="small", card_hash=small_model().card.hash, versions=versions_of(small_model()),
        made_with={"numpy": "2"}, method="by hand", diagnostics={"rhat": 1.001},
        weaknesses=("one", 'two "quoted"'),
    )  # fmt: skip


def test_a_model_comes_back_as_it_went(tmp_path: Path) -> None:
    draws = {"mean": np.ones((3, 2), dtype=np.float32)}
    folder = save_model(tmp_path / "m", small_model(), WEIGHTS, FOUND, card(), draws=draws)
    back = load_weights(folder / "weights.toml")
    assert back.hash == WEIGHTS.hash
    assert back.measured
    assert back["use"]["pair"] == -1.25
    assert load_card(folder) == card()
    text = (folder / "weights.toml").read_text()
    assert "fitted: plus or minus 0.1, 900 observations; prior at -2.2" in text
    assert "held: scripted in simulated seats; left at 0" in text
    with np.load(folder / "draws.npz") as held:
        assert np.array_equal(held["mean"], draws["mean"])
    assert check_model(folder, small_model()) == card()


def test_a_model_of_other_clues_is_refused_with_the_command(tmp_path: Path) -> None:
    versions = {**versions_of(small_model()), "use": 0}
    folder = save_model(
        tmp_path / "m", small_model(), WEIGHTS, FOUND,
        replace(card(), versions={**versions_of(small_model())}),
    )  # fmt: skip
    text = saving.card_text(replace(card(), versions=versions))
    (folder / "model.toml").write_text(text)
    with pytest.raises(HandreadError, match=r"use 0 \(here 1\); fit it anew: handread fit --games"):
        check_model(folder, small_model())


def test_a_write_that_fails_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = save_model(tmp_path / "m", small_model(), WEIGHTS, FOUND, card())
    before = (folder / "weights.toml").read_bytes()
    monkeypatch.setattr(saving, "MOST_BYTES", 10)
    other = replace(WEIGHTS.replace({"use.pair": -9.0}), name="measured")
    with pytest.raises(HandreadError, match="accepted: 10 or fewer"):
        save_model(folder, small_model(), other, FOUND, card())
    assert (folder / "weights.toml").read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["m"]


def test_a_folder_that_holds_something_else_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "m").mkdir()
    (tmp_path / "m" / "notes.txt").write_text("mine")
    with pytest.raises(HandreadError, match="holds no model"):
        save_model(tmp_path / "m", small_model(), WEIGHTS, FOUND, card())
    assert (tmp_path / "m" / "notes.txt").read_text() == "mine"


@pytest.fixture(scope="module")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ModeFit, list[str]]:
    """A model of four games, walked twice."""
    place, told = tmp_path_factory.mktemp("fit"), list[str]()
    found = fit_games(
        small_model(), Played(SETTING, (3, 4, 5, 6), "four seeds"), place / "tiny",
        work=place / "work", command="handread fit", rounds=2,
        progress=lambda what, done, total: told.append(what),
    )  # fmt: skip
    return place / "tiny", found, told


def test_games_become_a_model(tiny: tuple[Path, ModeFit, list[str]]) -> None:
    folder, found, told = tiny
    assert "walking, round 2 of 2" in told
    weights = load_weights(folder / "weights.toml")
    assert weights.hash == found.weights.hash
    assert weights.name == "tiny"
    assert load_card(folder).games["games"] == 4
    changed = {each.path for each in found.estimates}
    for block, held in small_model().weights.blocks.items():
        for name, value in held.items():
            if f"{block}.{name}" not in changed:
                assert weights[block][name] == value
    for name in ("take_early", "jokers_0", "undecided"):
        assert 0 < weights["claims"][name] < 1
    assert sum(weights["destination"][n] for n in ("near", "hand", "family", "anywhere")) == (
        pytest.approx(1.0)
    )
    assert check_model(folder, small_model()).command == "handread fit"


def population(diagnosis: Diagnosis) -> PopulationFit:
    rng = np.random.default_rng(3)
    names = ("use.pair", "use.kong", "availability.power")
    mean = np.array([-1.0, -2.5, 0.6]) + 0.01 * rng.normal(size=(900, 3))
    spread = np.abs(np.array([0.4, 0.2, 0.0]) + 0.01 * rng.normal(size=(900, 3)))
    spread[:, 2] = 0.0
    person = mean + spread * rng.normal(size=(900, 3))
    layout = Layout(names, names[:2])
    return PopulationFit(layout, mean, spread, person, diagnosis, "pymc", 1.0, 20, 30)


def test_a_population_goes_into_the_folder_of_its_model(
    tiny: tuple[Path, ModeFit, list[str]], tmp_path: Path
) -> None:
    folder, found, _ = tiny
    out = tmp_path / "tiny"
    shutil.copytree(folder, out)
    priors = Priors(small_model().weights)
    unsound = population(Diagnosis(1.2, 900.0, 900.0, 0, ("a", "b", "c")))
    sound = population(Diagnosis(1.001, 900.0, 800.0, 0, ("a", "b", "c")))
    gathered = Gathered((), {"games": 7})
    with pytest.raises(HandreadError, match=r"R-hat 1\.200"):
        save_population(out, small_model(), found, unsound, priors, gathered, "handread fit")
    assert load_weights(out / "weights.toml").hash == found.weights.hash
    save_population(out, small_model(), found, sound, priors, gathered, "handread fit --people 20")
    weights, told = load_weights(out / "weights.toml"), load_card(out)
    assert weights["use"]["pair"] == pytest.approx(-1.0, abs=0.01)
    assert weights["claims"] == found.weights["claims"]
    assert weights["use"]["scale_late"] == found.weights["use"]["scale_late"]
    assert told.command == "handread fit --people 20"
    assert told.diagnostics["rhat"] == 1.001
    assert told.diagnostics["people"] == 20
    assert told.games["club_games"] == 7
    with np.load(out / "draws.npz") as held:
        assert held["person"].shape == (KEPT_DRAWS, 3)
        assert held["names"].tolist() == list(sound.layout.names)
        assert held["person"][:, 0].std() > held["mean"][:, 0].std()
    assert sum(file.stat().st_size for file in out.iterdir()) < saving.MOST_BYTES
    assert "between people 0.40" in "\n".join(sound.lines())


def test_the_command_fits_and_says_what_it_found(tmp_path: Path) -> None:
    app = Typer()
    app.command()(fit)
    out = tmp_path / "small-fit"
    result = CliRunner().invoke(app, ["--out", str(out), "--games", "4", "--card", "small"])
    assert result.exit_code == 0, result.output
    assert "small-fit: 4 games" in result.output
    assert "use.pair" in result.output
    assert "groups shown:" in result.output
    assert "--games 4" in load_card(out).command


def test_a_plan_says_its_command() -> None:
    plan = FitPlan(Path("models/x"), games=5, seed=3, people=20, choices=50, rounds=2)
    assert plan.command == (
        "handread fit --games 5 --seed 3 --out models/x --card house --rounds 2 "
        "--people 20 --choices 50"
    )
    assert plan.work_folder.name == "x-work"
