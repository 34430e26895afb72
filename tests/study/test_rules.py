"""Rules of thumb: their list, their strengths, and readings taken apart by rule."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import handread as hr
from handread.clues import load_weights, registry
from handread.errors import HandreadError
from handread.fitting import Estimate
from handread.fitting.saving import weights_text
from handread.reading import Model, stored_model
from handread.shipped import shipped
from handread.simulate import SimulatedGame, simulate_games
from handread.study import MomentFrame, Moments, UpdateFrame
from handread.study.forecasters import ModelReader, empty_training, forecaster_named, lore_reader
from handread.study.rules import (
    PARTS,
    RULES,
    Rule,
    bits_by_part,
    by_rule,
    gains_of_parts,
    minding,
    part_names,
    spreads_of,
    strength_table,
    verdict,
    without_part,
)
from handread.study.running import Asked, GameLines, watch_game

#: Parts of a move that belong to no clue about a throw.
TERMS = ("claims", "refusals", "wins", "redeems", "passes", "elsewhere", "change of plan")


@pytest.fixture(scope="module")
def lore() -> Model:
    return stored_model(hr.load_card("small"), load_weights())


@pytest.fixture(scope="module")
def game() -> SimulatedGame:
    return next(iter(simulate_games(hr.load_card("small"), n_games=1, seed=71)))


def watched(
    readers: dict[str, ModelReader], game: SimulatedGame, moves: tuple[str, ...] = ()
) -> GameLines:
    card = next(iter(readers.values())).model.card
    return watch_game(card, game, readers, number=0, asked=Asked(moves=moves))


def test_every_rule_has_a_weight_a_part_and_a_reason_and_every_clue_a_rule() -> None:
    words = load_weights().blocks
    parts = {part for clue in registry() for part in part_names(clue)}
    for rule in RULES:
        for path in filter(None, (rule.weight, rule.beyond, rule.times)):
            block, name = path.split(".")
            assert name in words[block], path
        assert rule.part in parts | set(TERMS), rule.part
        assert rule.why
    assert parts | set(TERMS) == {rule.part for rule in RULES}
    assert len({rule.name for rule in RULES}) == len(RULES)


def test_a_part_holds_weights_of_its_clue_and_none_is_left_out(lore: Model) -> None:
    apart = by_rule(lore)
    for clue, parts in PARTS.items():
        held = {name for name in lore.weights[clue] if not name.startswith("scale_")}
        told = [name for names in parts.values() for name in names]
        assert sorted(told) == sorted(held)
        for name in held:
            values = [apart.weights[f"{clue}: {part}"][name] for part in parts]
            assert sum(values) == lore.weights[clue][name]
            assert np.count_nonzero(values) <= 1


def test_a_reading_taken_apart_believes_the_same_and_its_shares_add_up(
    lore: Model, game: SimulatedGame
) -> None:
    readers = {
        "whole": ModelReader("whole", lore, True),
        "apart": ModelReader("apart", by_rule(lore), True),
    }  # fmt: skip
    lines = watched(readers, game, ("whole", "apart"))
    whole, apart = (np.array(lines.beliefs[name]) for name in readers)
    assert np.abs(whole - apart).max() < 1e-12
    frame = UpdateFrame(pd.DataFrame(lines.updates)).frame
    frame["clue"] = frame["clue"].str.split(": ").str[0]
    keys = ["seat", "event", "clue"]
    told = [frame[frame["reader"] == name].groupby(keys, observed=True) for name in readers]
    for column in ("bits_claimed", "bits_realised"):
        first, second = (each[column].sum() for each in told)
        assert set(first.index) == set(second.index)
        assert np.abs(first - second).max() < 1e-7
        assert first.abs().sum() > 1.0, "nothing was moved, so nothing was compared"


def test_leaving_out_all_parts_of_a_clue_leaves_it_out(lore: Model, game: SimulatedGame) -> None:
    left = by_rule(lore)
    for part in PARTS["use"]:
        left = without_part(left, f"use: {part}")
    readers = {
        "left": ModelReader("left", left), "without": lore_reader(lore.card, without="use"),
        "lore": ModelReader("lore", lore),
        "pairs": ModelReader("pairs", without_part(lore, "use: pairs")),
    }  # fmt: skip
    said = watched(readers, game).beliefs
    assert np.abs(np.array(said["left"]) - said["without"]).max() < 1e-12
    assert np.abs(np.array(said["pairs"]) - said["lore"]).max() > 1e-3
    assert np.abs(np.array(said["pairs"]) - said["left"]).max() > 1e-3


def test_notes_are_minded_when_they_get_a_weight(lore: Model, game: SimulatedGame) -> None:
    readers = {
        "lore": ModelReader("lore", lore), "pause": ModelReader("pause", minding(lore, "pause"))
    }  # fmt: skip
    said = watched(readers, game).beliefs
    assert np.abs(np.array(said["pause"]) - said["lore"]).max() > 1e-3
    with pytest.raises(HandreadError, match="no notes 'use'"):
        minding(lore, "use")


def test_readers_by_rule_have_names() -> None:
    card = hr.load_card("small")

    def named(name: str) -> object:
        return forecaster_named(name, card, empty_training(card))

    for name in (
        "lore by rule",
        "lore without use: pairs",
        "lore without use",
        "lore minding pause",
    ):
        found = named(name)
        assert isinstance(found, ModelReader)
        assert found.name == name
    with pytest.raises(HandreadError, match=r"no clue or part 'use: pear'.*use: pairs"):
        named("lore without use: pear")
    with pytest.raises(HandreadError, match="'uniform' has no clues"):
        named("uniform by rule")


@pytest.mark.parametrize(
    ("lore", "fitted", "error", "said"),
    [
        (0.4, 0.39, 0.02, "holds"), (0.4, 0.9, 0.02, "holds"),
        (-2.2, -1.3, 0.02, "weaker than said"),
        (-2.2, -1.5, 0.2, "holds"), (0.4, 0.09, 0.01, "nothing in it"),
        (0.4, 0.3, 0.2, "nothing in it"), (0.4, -0.3, 0.02, "the other way round"),
        (0.4, 0.3, float("nan"), ""), (0.0, 0.3, 0.02, ""),
    ],
)  # fmt: skip
def test_verdicts(lore: float, fitted: float, error: float, said: str) -> None:
    rule = Rule("a rule", "use: pairs", "use.pair", "emergent", "a reason")
    assert verdict(rule, lore, fitted, error) == said
    for origin in ("scripted", "partly scripted"):
        scripted = Rule("a rule", "use: pairs", "use.pair", origin, "a reason")
        assert verdict(scripted, lore, fitted, error) == ""


def test_strength_and_its_error_on_each_scale() -> None:
    weights = load_weights().replace({"passes.stop_formed": 0.2, "passes.stop_undecided": 0.5})
    odds = Rule("stop", "passes", "passes.stop_formed", "scripted", "", "passes.stop_undecided",
                "log odds")  # fmt: skip
    assert odds.strength(weights) == pytest.approx(np.log(0.25))
    spread = {"passes.stop_formed": 0.016, "passes.stop_undecided": 0.05}
    assert odds.error(weights, spread) == pytest.approx(np.hypot(0.1, 0.2))
    log = Rule("stop", "passes", "passes.stop_formed", "scripted", "", scale="log")
    assert log.strength(weights) == pytest.approx(np.log(0.2))
    assert log.error(weights, spread) == pytest.approx(0.08)
    scaled = Rule("one", "use: singles", "use.single", "emergent", "", times="use.scale_early")
    assert scaled.strength(weights) == pytest.approx(-1.6 * 0.6)
    assert scaled.error(weights, {"use.single": 0.5}) == pytest.approx(0.3)
    assert np.isnan(scaled.error(weights, {}))
    with pytest.raises(HandreadError, match=r"has 'nat'.*nats"):
        Rule("one", "use", "use.single", "emergent", "", scale="nat")


def test_standard_errors_are_read_from_the_words_that_a_fit_writes(tmp_path: Path) -> None:
    weights = load_weights()
    found = [Estimate("use.pair", -1.25, 0.0375, -2.2, 100.0)]
    file = tmp_path / "weights.toml"
    file.write_text(weights_text(weights, found, {}), encoding="utf-8")
    assert spreads_of(file) == {"use.pair": 0.037} or spreads_of(file) == {"use.pair": 0.038}
    assert spreads_of(shipped("models", "lore", "weights.toml")) == {}


def test_the_table_of_strengths_quotes_the_lore() -> None:
    table = strength_table()
    assert list(table.index) == [rule.name for rule in RULES]
    row = table.loc["a needed pair is kept"]
    assert row["words"].startswith("strong: pairs cannot be made with jokers")
    fitted = load_weights(shipped("models", "default", "weights.toml"))["use"]
    assert row["fitted"] == pytest.approx(fitted["pair"] * fitted["scale_middle"])
    told = table["verdict"] != ""
    assert told.any()
    assert set(table.loc[told, "origin"]) == {"emergent"}


def test_bits_of_parts_add_up_by_game() -> None:
    lines = [
        {"reader": "lore by rule", "game": game, "seat": "East", "event": event, "kind": "throw",
         "clue": clue, "bits_claimed": claimed, "bits_realised": realised}
        for game, event, clue, claimed, realised in (
            (1, 1, "all", 1.0, 0.5), (1, 1, "use: pairs", 0.75, 0.25), (1, 1, "rest", 0.25, 0.25),
            (1, 2, "use: pairs", 0.25, 0.25), (2, 1, "all", 0.5, 0.0), (2, 1, "demand", 0.5, -1.0),
            (2, 2, "exposure", -1.0, 0.5), (2, 2, "claims", 2.0, 0.5),
        )
    ]  # fmt: skip
    told = bits_by_part(
        UpdateFrame(pd.DataFrame(lines)), ["lore by rule"], rng=np.random.default_rng(1)
    )
    assert set(told.index.get_level_values("part")) == {"use: pairs", "demand", "claims"}
    pairs = told.loc["use: pairs", "lore by rule"]
    assert (pairs["claimed"], pairs["realised"], pairs["updates"]) == (0.5, 0.25, 2)
    assert told.loc[("demand", "lore by rule"), "realised"] == -0.5
    claims = told.loc["claims", "lore by rule"]
    assert (claims["claimed"], claims["realised"]) == (0.5, 0.5), "with what it rules out"


def test_gains_of_parts_are_paired_and_signed() -> None:
    def moments(prob: list[float], games: list[int]) -> Moments:
        n = len(games)
        return Moments(
            rows=("evens", "other"), prob=[[p, 1 - p] for p in prob], truth=[[1, 0]] * n,
            game=games, seat=["East"] * n, event=list(range(n)), own_turn=[1] * n,
            turns_to_end=[0] * n, exposures=[0] * n,
        )  # fmt: skip

    table = MomentFrame.from_moments({
        "default by rule": moments([0.5, 0.5, 0.5], [1, 1, 2]),
        "default without demand": moments([0.25, 0.5, 0.25], [1, 1, 2]),
        "default minding pause": moments([0.25, 0.25, 0.25], [1, 1, 2]),
    })  # fmt: skip
    told = gains_of_parts(table, "default by rule", rng=np.random.default_rng(1))
    assert told.loc["demand", "gain"] == pytest.approx(0.75)
    assert told.loc["pause", "gain"] == pytest.approx(-1.0)
    assert told["games"].tolist() == [2, 2]
