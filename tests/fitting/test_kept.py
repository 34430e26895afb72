"""A walk that keeps what it asked, held to one that asks everything anew, in the plain way."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pytest

from handread.clues import load_weights, registry
from handread.clues.context import Context
from handread.errors import HandreadError
from handread.fitting import kernels, throw_rows
from handread.fitting.affine import find_basis, made_up_context
from handread.fitting.asking import leaving_odds, note_odds
from handread.fitting.design import design_of, make_design
from handread.fitting.kept import CHECK, Kept, KeptTables
from handread.fitting.walk import walk_game
from tests.fitting.games import small_game, small_model, with_weights
from tests.fitting.plain_walk import asking_anew

LORE = load_weights()


def test_a_walk_that_keeps_tells_what_one_that_asks_anew_tells(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    model = with_weights(small_model(), {"hazard.base": -1.5, "claims.take_late": 0.4})
    design, seeds = make_design(model), (3, 4, 11)
    kept = [walk_game(design, small_game(seed)).arrays() for seed in seeds]
    anew = asking_anew(design, monkeypatch)
    for seed, fast in zip(seeds, kept, strict=True):
        slow = walk_game(anew, small_game(seed)).arrays()
        assert fast.keys() == slow.keys()
        for name, values in slow.items():
            assert fast[name].dtype == values.dtype, name
            if values.dtype.kind == "f":
                assert np.abs(fast[name] - values).max(initial=0.0) <= 1e-12, name
            else:
                assert np.array_equal(fast[name], values), name


def test_kept_tables_are_those_of_the_basis() -> None:
    """Asked in any order, with clues that say something at weights of 0 among them."""

    def aloof(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        return np.full((16, 36), context.threat + weights["a"] * context.wall)

    proto = next(clue for clue in registry() if clue.name == "pause")
    odd = [
        replace(proto, name=name, defaults={"a": 0.0}, keep=aloof, looks_at=view)
        for name, view in (("odd", ("threat", "wall")), ("odder", None))
    ]

    def by_count(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        each = np.minimum(context.own_thrown, 2) + 10.0 * (context.threat > 2)
        score = np.tile(each * weights["a"] + each * (context.threat > 1), (16, 1))
        score[context.threat :] = 0.0  # codes turn up one after the other
        return score

    odd += [
        replace(
            proto, name="counted", defaults={"a": 0.0}, keep=by_count, looks_at=None,
            counts=("own_thrown", 2), counts_beside=("threat",),
        )
    ]  # fmt: skip
    basis, rng = find_basis((*registry()[-8:], *odd)), np.random.default_rng(4)
    assert {"repeats", "safety"} < {clue.name for clue in basis.clues}
    sides = {side: KeptTables(basis, side) for side in ("keep", "change")}
    contexts = [made_up_context(rng=rng) for _ in range(6)]
    contexts[1] = replace(contexts[1], threat=0)
    for number in rng.integers(0, 6, 40):
        side = ("keep", "change")[int(rng.integers(2))]
        constant, tables = sides[side].tables(contexts[number])
        told = basis.tables(contexts[number], side)
        assert np.abs(constant - told[0]).max() <= 1e-12
        assert np.abs(tables - told[1]).max() <= 1e-12


def test_notes_and_rates_of_leaving_are_kept_by_what_they_look_at() -> None:
    names, rng = tuple(LORE["hazard"]), np.random.default_rng(5)
    basis = find_basis(registry())
    kept, note = Kept(basis, names), next(c for c in registry() if c.name == "drawn_or_held")
    for _ in range(60):
        context = made_up_context(rng=rng)
        blocked = rng.integers(0, 14, 5)
        told, found = leaving_odds(context, blocked, names), kept.leaving(context)
        assert np.array_equal(found.constant[blocked], told.constant)
        assert np.array_equal(found.slopes[blocked], told.slopes)
        assert np.array_equal(found.rate, told.rate)
        assert kept.notes(note, context) == note_odds(note, context)
        unnamed = replace(note, mark_looks_at=None)
        assert kept.notes(unnamed, context) == note_odds(note, context)


@pytest.mark.parametrize("add", [kernels.add_choice, kernels.add_choice_plain])
def test_entries_are_all_that_is_not_zero(
    add: Callable[..., tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kernels, "add_choice", add)
    monkeypatch.setattr(throw_rows, "_ENTRIES", 400)  # so that arrays have to grow
    rng, gathered, told = np.random.default_rng(6), throw_rows.ThrowRows(), []
    for number in range(30):
        tables = rng.normal(size=(9, 16, 36)) * (rng.random((9, 16, 36)) < 0.3)
        reach, constant = rng.random(36) * (rng.random(36) < 0.7), rng.normal(size=(16, 36))
        codes = rng.integers(0, 16, 36).astype(np.uint8)
        thrown = int(rng.choice(np.flatnonzero(reach)))
        choice = (thrown, 0.5, 0, 1, 1, 3, 0, number + 7, number % 2 == 0)
        gathered.add(choice, reach, codes, (constant, tables))
        told.append((thrown, np.flatnonzero(reach), reach, codes, constant, tables))
    table = gathered.table()
    assert table.row.tolist() == list(range(7, 37))
    assert table.first_entry[-1] == len(table.value) == np.count_nonzero(table.value)
    for number, (thrown, kinds, reach, codes, constant, tables) in enumerate(told):
        here = slice(*table.first_alternative[number : number + 2])
        found, dense = table.dense(number, 9)
        assert np.array_equal(found, kinds)
        assert found[table.chosen[number]] == thrown
        assert np.array_equal(dense, tables[:, codes[kinds], kinds].T.astype(np.float32))
        assert np.array_equal(table.log_reach[here], np.log(reach[kinds]).astype(np.float32))
        assert np.array_equal(
            table.constant[here], constant[codes[kinds], kinds].astype(np.float32)
        )


@pytest.mark.parametrize("fill", [kernels.fill_by_count, kernels.fill_by_count_plain])
def test_tables_by_count_are_put_together_kind_by_kind(fill: Callable[..., None]) -> None:
    rng = np.random.default_rng(9)
    by_count, counts = rng.normal(size=(3, 36, 4, 2)), rng.integers(0, 6, 36)
    tables, codes = np.zeros((36, 16, 7)), np.array([1, 2, 7, 15])
    fill(by_count, codes, counts, 4, tables)
    for kind, count in enumerate(counts):
        assert np.array_equal(tables[kind, codes, 4:6], by_count[min(count, 2), kind])
    assert np.count_nonzero(tables) == 36 * 4 * 2


def test_a_process_makes_one_design_for_equal_models() -> None:
    model = small_model()
    again = pickle.loads(pickle.dumps(model))
    assert design_of(again) is design_of(model)
    other = with_weights(model, {"hazard.base": -1.0})
    assert design_of(other).model is other


def test_a_clue_without_a_view_is_asked_where_its_codes_are_at_hand() -> None:
    asked: list[float] = []
    proto = next(clue for clue in registry() if clue.name == "pause")

    def folded(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        asked.append(context.wall)
        score = np.zeros((16, 36))
        score[13] = weights["a"] * (1 + context.wall)
        return score

    clue = replace(proto, name="folded", defaults={"a": 0.0}, keep=folded, looks_at=None)
    basis, rng = find_basis((clue,)), np.random.default_rng(7)
    assert basis.scored("keep", [0]) == [1 << 13]
    kept = KeptTables(basis, "keep")
    for _ in range(3):
        context = made_up_context(rng=rng)
        asked.clear()
        kept.tables(context, np.array([2, 0, 9, 2], dtype=np.uint8))
        kept.tables(context, np.full(36, 14, dtype=np.uint8))
        assert not asked
        kept.tables(context, np.full(36, 13, dtype=np.uint8))
        assert asked
        n_asked = len(asked)
        assert (kept.tables(context)[1] == basis.tables(context, "keep")[1]).all()
        assert len(asked) == n_asked + 3  # by the basis alone


def test_a_clue_is_checked_now_and_then(monkeypatch: pytest.MonkeyPatch) -> None:
    """What no made-up context shows, a walk finds out."""
    proto = next(clue for clue in registry() if clue.name == "pause")

    def rarely(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        score = np.full((16, 36), weights["a"])
        score[5] = 0.0
        if context.wall == 777:
            score[2] *= weights["a"]
        if context.wall == 778:
            score[5] = weights["a"]
        return score

    clue = replace(proto, name="rarely", defaults={"a": 0.0}, keep=rarely, looks_at=None)
    basis, context = find_basis((clue,)), made_up_context(rng=np.random.default_rng(8))
    for odd, words in ((777, "no sum of products"), (778, "only in rare contexts")):
        kept = KeptTables(basis, "keep")
        for wall in range(CHECK):
            kept.tables(replace(context, wall=wall))
        with pytest.raises(HandreadError, match=words):
            kept.tables(replace(context, wall=odd))


def test_a_clue_that_looks_at_more_than_its_counts_is_named() -> None:
    proto = next(clue for clue in registry() if clue.name == "pause")

    def more(context: Context, weights: Mapping[str, float]) -> np.ndarray:
        return weights["a"] * np.tile(context.own_thrown + context.wall, (16, 1))

    clue = replace(
        proto, name="more", defaults={"a": 0.0}, keep=more, looks_at=None, counts=("own_thrown", 2)
    )
    kept, context = (
        KeptTables(find_basis((clue,)), "keep"), made_up_context(rng=np.random.default_rng(8))
    )  # fmt: skip
    with pytest.raises(HandreadError, match="more than each kind's count of 'own_thrown'"):
        kept.tables(replace(context, own_thrown=np.arange(36)))
