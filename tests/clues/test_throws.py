"""The contract of the throw clues, held over the registry, and the direction of each rule."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from handread.clues import Clue, Context, Use, load_weights, registry
from handread.clues.codes import N_CODES, NEEDED, SPARE
from handread.table.events import Discard
from handread.testing import ContractError, check_clue, random_context
from handread.tiles import FIRST_WIND, FLOWER, JOKER, N_KINDS

CLUES = {clue.name: clue for clue in registry()}
LORE = load_weights()
SEEDS = range(8)
NOTES = [
    {"drawn": True}, {"drawn": False}, {"position": "middle"}, {"position": "end"},
    {"pause": 0.0}, {"pause": 30.0}, {},
]  # fmt: skip


def keep(name: str, **changes: object) -> np.ndarray:
    context = random_context(np.random.default_rng(1), **changes)
    return np.asarray(CLUES[name].keep(context, LORE[name]))


def change(name: str, **changes: object) -> np.ndarray:
    context = random_context(np.random.default_rng(1), **changes)
    return np.asarray(CLUES[name].change(context, LORE[name]))


@pytest.fixture(params=CLUES, ids=str)
def clue(request: pytest.FixtureRequest) -> Clue:
    return CLUES[request.param]


# --- the contract ---


@pytest.mark.parametrize("seed", SEEDS)
def test_scores_are_finite_tables_of_codes_and_kinds(clue: Clue, seed: int) -> None:
    context = random_context(np.random.default_rng(seed))
    before = [np.array(getattr(context, field.name), copy=True) for field in fields(context)]
    for score in (clue.keep, clue.change):
        table = score(context, LORE[clue.name])
        again = score(context, LORE[clue.name])
        assert table.shape == (N_CODES, N_KINDS)
        assert np.isfinite(table).all()
        np.testing.assert_array_equal(table, again)
    for field, old in zip(fields(context), before, strict=True):
        np.testing.assert_array_equal(np.array(getattr(context, field.name)), old)


def test_the_contract(clue: Clue) -> None:
    check_clue(clue, rng=np.random.default_rng(17))


def test_the_contract_catches_what_it_should(clue: Clue) -> None:
    def crooked(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        table = np.zeros((N_CODES, N_KINDS))
        table[0, 4] = sum(weights.values()) and 0.1
        return table

    with pytest.raises(ContractError, match="not relabelled with the suits"):
        check_clue(replace(clue, keep=crooked), rng=np.random.default_rng(17))


def test_the_contract_catches_a_clue_that_looks_at_more_than_it_says(clue: Clue) -> None:
    def by_wall(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        size = min(context.wall, 90) / 100
        return np.full((N_CODES, N_KINDS), size if any(weights.values()) else 0.0)

    def noted(context: Context, event: Discard, weights: Mapping[str, float]) -> Any:
        return (np.full(N_CODES, -0.1 * context.threat),) * 2

    rng = np.random.default_rng(17)
    with pytest.raises(ContractError, match="looks at more than \\('turn',\\)"):
        check_clue(replace(clue, keep=by_wall, looks_at=("turn",)), rng=rng)
    with pytest.raises(ContractError, match="mark: looks at more than"):
        check_clue(replace(clue, mark=noted, mark_looks_at=("phase",)), rng=rng)


def test_the_contract_catches_a_clue_that_counts_more_than_it_says() -> None:
    repeats, safety, held = CLUES["repeats"], CLUES["safety"], CLUES["drawn_or_held"]
    assert repeats.counts == ("own_thrown", 2)

    def by_sum(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        size = min(context.own_thrown.sum(), 30) / 100
        return np.full((N_CODES, N_KINDS), size * weights["needed"])

    liars = (
        replace(repeats, counts=("own_thrown", 1)), replace(repeats, keep=by_sum),
        replace(repeats, change=by_sum), replace(safety, counts_beside=("few_left",)),
        replace(safety, counts_beside=("last_unclaimed",)), replace(safety, counts=("unseen", 3)),
    )  # fmt: skip
    for liar in liars:
        with pytest.raises(ContractError, match="looks at more than each kind's count"):
            check_clue(liar, rng=np.random.default_rng(17))
    with pytest.raises(ContractError, match="mark: reads more than \\('pause',\\)"):
        check_clue(replace(held, mark_reads=("pause",)), rng=np.random.default_rng(17))


def test_the_contract_catches_what_hangs_on_a_weight_of_zero() -> None:
    """Defaults of 0 hide what they multiply: marks, scores and what both look at."""
    pause, tidying = CLUES["pause"], CLUES["winds_and_dragons"]
    assert pause.defaults["weight"] == tidying.defaults["middle"] == 0.0

    def by_wall(context: Context, event: Discard, weights: Mapping[str, float]) -> Any:
        if event.pause is None or weights["weight"] == 0.0:
            return None
        return (np.full(N_CODES, -0.01 * weights["weight"] * context.wall),) * 2

    def likely(context: Context, event: Discard, weights: Mapping[str, float]) -> Any:
        return (np.full(N_CODES, weights["weight"]),) * 2

    def by_threat(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        return np.full((N_CODES, N_KINDS), weights["middle"] * context.threat)

    liars = {
        "mark: looks at more than \\(\\)": replace(pause, mark=by_wall, mark_looks_at=()),
        "mark: log probabilities": replace(pause, mark=likely, mark_looks_at=None),
        "looks at more than \\('phase',\\)": replace(tidying, keep=by_threat),
    }
    for words, liar in liars.items():
        with pytest.raises(ContractError, match=words):
            check_clue(liar, rng=np.random.default_rng(17))


def test_scores_with_all_weights_zero_say_nothing(clue: Clue) -> None:
    context = random_context(np.random.default_rng(3))
    silent = dict.fromkeys(clue.defaults, 0.0)
    assert not clue.keep(context, silent).any()
    assert not clue.change(context, silent).any()


def test_a_clue_states_what_it_is(clue: Clue) -> None:
    assert clue.version >= 1
    assert clue.about.endswith(".")
    assert clue.source
    assert clue.strength in ("strong", "fair", "weak", "lore")
    for words in (clue.fits, clue.fits_not, clue.against):
        assert set(re.findall(r"{(\w+)}", words)) <= {"seat", "tile", "family"}
    assert set(LORE[clue.name]) == set(clue.defaults)


@pytest.mark.parametrize("note", NOTES, ids=str)
def test_marks_are_log_probabilities_by_use_code(clue: Clue, note: dict[str, object]) -> None:
    context = random_context(np.random.default_rng(5))
    marks = clue.mark(context, Discard(context.seat, 4, **note), LORE[clue.name])
    for mark in marks or ():
        assert mark.shape == (N_CODES,)
        assert np.isfinite(mark).all()
        assert mark.max() <= 1e-12


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    ("name", "outcomes"),
    [
        ("drawn_or_held", [{"drawn": True}, {"drawn": False}]),
        ("rack_position", [{"position": "middle"}, {"position": "end"}]),
        ("pause", [{"pause": 0.0}, {"pause": 1e6}]),
    ],
)
def test_the_outcomes_of_a_note_sum_to_one(
    name: str, outcomes: list[dict[str, object]], seed: int
) -> None:
    context = random_context(np.random.default_rng(seed))
    weights = dict(LORE[name]) | ({"weight": 1.0} if "weight" in LORE[name] else {})
    marks = [CLUES[name].mark(context, Discard(0, 4, **note), weights) for note in outcomes]
    for turn in (0, 1):
        total = sum(np.exp(mark[turn]) for mark in marks if mark is not None)
        np.testing.assert_allclose(total, 1.0, rtol=1e-12)


@pytest.mark.parametrize("name", ["rack_position", "pause"])
def test_notes_that_nobody_has_fitted_weigh_nothing(name: str) -> None:
    context = random_context(np.random.default_rng(2))
    event = Discard(0, 4, position="middle", pause=60.0)
    assert CLUES[name].mark(context, event, LORE[name]) is None


# --- the rules: common practice, no source ---


def test_what_is_needed_is_kept_and_more_so_later() -> None:
    early, late = keep("use", turn=0), keep("use", turn=20)
    for use in NEEDED:
        assert (early[use, :JOKER] < early[Use.NOT_NEEDED, :JOKER]).all()
        assert (late[use, :JOKER] < early[use, :JOKER]).all()
    assert (early[Use.DEAD, :JOKER] > early[Use.PAIR, :JOKER]).all()
    assert (early[Use.PAIR, :JOKER] < early[Use.SINGLE, :JOKER]).all()


def test_a_joker_is_thrown_least_by_plans_that_want_it() -> None:
    table = keep("use")
    assert table[Use.JOKER_WANTED, JOKER] < table[Use.JOKER_UNWANTED, JOKER] < 0


def test_on_a_changing_turn_the_old_plan_goes() -> None:
    assert (change("use")[list(NEEDED), :JOKER] > 0).all()
    broken = change("middle")
    five, one = 4, 0
    assert broken[Use.PAIR, five] > broken[Use.PAIR, one] > broken[Use.SINGLE, one]


def test_winds_and_dragons_go_first_and_seldom_last() -> None:
    winds = slice(FIRST_WIND, FLOWER)
    early, late = keep("winds_and_dragons", turn=1), keep("winds_and_dragons", turn=20)
    assert (early[Use.NOT_NEEDED, winds] > 0).all()
    assert (late[Use.NOT_NEEDED, winds] < 0).all()
    assert not early[Use.NOT_NEEDED, :FIRST_WIND].any()
    assert not early[list(NEEDED)].any()


def test_flowers_without_use_go_early() -> None:
    early, late = keep("flowers", turn=1), keep("flowers", turn=20)
    for use in SPARE:
        assert early[use, FLOWER] > 0 > late[use, FLOWER]
    assert not np.delete(early, FLOWER, axis=1).any()
    assert change("flowers")[Use.PUNG, FLOWER] > 0


def test_a_repeat_speaks_against_plans_that_need_the_kind() -> None:
    own = np.zeros(N_KINDS, dtype=np.int64)
    own[[4, 5]] = 1, 2
    table = keep("repeats", own_thrown=own)
    assert table[Use.PUNG, 5] < table[Use.PUNG, 4] < table[Use.PUNG, 6] == 0
    assert table[Use.NOT_NEEDED, 4] > 0


def test_kinds_that_the_card_asks_for_are_held_back() -> None:
    demand = np.linspace(-1, 1, N_KINDS)
    table = keep("demand", demand=demand)
    for use in (Use.NOT_NEEDED, Use.UNDECIDED):
        assert (np.diff(table[use, :JOKER]) < 0).all()


def test_a_defending_seat_throws_what_has_been_seen() -> None:
    seen = np.zeros(N_KINDS, dtype=np.int64)
    seen[[3, 4, 5]] = 1, 2, 3
    table = keep("safety", seen=seen, last_unclaimed=None)
    assert table[Use.DEFENDING, 5] > table[Use.DEFENDING, 4] > table[Use.DEFENDING, 3] > 0
    followed = keep("safety", seen=seen, last_unclaimed=7)
    assert followed[Use.DEFENDING, 7] > table[Use.DEFENDING, 7]
    others = [use for use in Use if use != Use.DEFENDING]
    assert not table[others].any()
