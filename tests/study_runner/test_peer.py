"""The peer: features follow the table, relabellings are symmetries, trees say what they said."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from itertools import permutations, product
from pathlib import Path

import msgspec
import numpy as np
import pytest

import handread as hr
from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate import SimulatedGame, simulate_games
from handread.study.forecasters import forecaster_named, row_names
from handread.study.forecasters.stored import StoredReader, stored_reader
from handread.study.forecasters.trained import empty_training
from handread.study.peer import (
    FEATURES,
    FeatureKeeper,
    PeerPlan,
    Trees,
    feature_names,
    kind_symmetries,
    peer_of,
    train_peer,
    trees_of,
    with_sums,
)
from handread.study.peer.features import BLOCKS, relabelled
from handread.study.peer.gathering import Rows, gather_rows, rows_of_game
from handread.study.peer.training import SHARES, augmented
from handread.study.peer.trees import trees_from
from handread.study.running import watch_game
from handread.study.truth import truth_rows
from handread.table.events import AnyEvent, Discard, Expose, Redeem
from handread.table.play import apply, start
from handread.tiles import JOKER, number_of, suit_of

MIRRORED = """
name = "A card that mirrors"
[[family]]
name = "Ends"
[[family.hand]]
name = "Low end"
tiles = "kong 1 bam, kong 2 bam, kong 3 bam, pair flowers"
points = 25
[[family.hand]]
name = "High end"
tiles = "kong 9 bam, kong 8 bam, kong 7 bam, pair flowers"
points = 25
[[family]]
name = "Middle"
[[family.hand]]
name = "Five"
tiles = "kong 5 crak, kong 5 dot, kong red, pair white"
points = 25
"""


@pytest.fixture(scope="module")
def card() -> CompiledCard:
    return hr.load_card("small")


@pytest.fixture(scope="module")
def game(card: CompiledCard) -> SimulatedGame:
    return next(simulate_games(card, n_games=1, seed=95))


# --- symmetries ---


def by_hand(card: CompiledCard) -> set[tuple[int, ...]]:
    """Symmetries found by relabelling every target, tile by tile."""

    def moved(kind: int, suits: tuple[int, ...], mirror: bool) -> int:
        if suit_of(kind) is not None:
            number = 10 - number_of(kind) if mirror else number_of(kind)  # type: ignore[operator]
            return suits[suit_of(kind)] * 9 + number - 1  # type: ignore[index]
        return 31 + suits[kind - 31] if 31 <= kind < 34 else kind

    def content(kinds: list[int]) -> list[object]:
        return sorted(
            (
                card.hands[card.hand_of[t]].family, card.hands[card.hand_of[t]].concealed,
                card.hands[card.hand_of[t]].points,
                sorted(
                    (kinds[k], int(n), bool(j))
                    for k, n, j in zip(card.group_kind[t], card.group_size[t],
                                       card.group_joker[t], strict=True) if n
                ),
            )
            for t in range(card.n_targets)
        )  # fmt: skip

    now = content(list(range(36)))
    found = set()
    for suits, mirror in product(permutations(range(3)), (False, True)):
        kinds = [moved(kind, suits, mirror) for kind in range(36)]
        if content(kinds) == now:
            found.add(tuple(kinds))
    return found


@pytest.mark.parametrize(("name", "n"), [("small", 6), ("harbour", 2), ("mirrored", 2)])
def test_symmetries_are_those_found_tile_by_tile(name: str, n: int, tmp_path: Path) -> None:
    if name == "mirrored":
        (tmp_path / "mirrored.toml").write_text(MIRRORED, encoding="utf-8")
        card = hr.load_card(str(tmp_path / "mirrored.toml"))
    else:
        card = hr.load_card(name)
    found = kind_symmetries(card)
    assert {tuple(kinds) for kinds in found.tolist()} == by_hand(card)
    assert len(found) == n
    assert found[0].tolist() == list(range(36))
    if name == "mirrored":  # 1 bam becomes 9 bam, and no suit moves
        assert found[1][0] == 8
        assert found[1][9] == 17


# --- features ---


def features_after(
    card: CompiledCard, header: hr.Header, events: list[AnyEvent]
) -> np.ndarray:  # fmt: skip
    keeper, state = FeatureKeeper(card, header), start(header, card.rules)
    for event in events:
        state = apply(state, event)
        keeper.observe(event, state)
    return np.array([keeper.features(seat) for seat in range(4)])


def test_features_are_counted_by_hand(card: CompiledCard) -> None:
    events: list[AnyEvent] = [
        Discard(0, 4), Discard(1, 30, drawn=True), Discard(2, 4, drawn=False),
        Expose(0, 3, 1), Discard(0, 8), Discard(1, JOKER, drawn=True),
    ]  # fmt: skip
    found = features_after(card, hr.Header(), events)
    names = feature_names()

    def of(seat: int, name: str) -> float:
        return float(found[seat][names.index(name)])

    assert len(names) == len(set(names)) == with_sums(found).shape[1]
    assert found.shape == (4, FEATURES)
    assert of(0, "thrown early: 5 bam") == 1
    assert of(0, "own turns since thrown: 5 bam") == 1
    assert of(0, "own turns since thrown: 9 bam") == 0
    assert np.isnan(of(0, "own turns since thrown: 1 bam"))
    assert of(0, "shown: 5 bam") == 3
    assert of(0, "jokers shown as: 5 bam") == 1
    assert of(1, "shown by others: 5 bam") == 3
    assert of(1, "thrown by others: 5 bam") == 2
    assert of(0, "seen by all: 5 bam") == 3  # its own first, and two in the group
    # the first 5 bam went by seats 1, 2 and 3; the second was taken by 0 and went by 1 and 3
    assert [of(seat, "let pass: 5 bam") for seat in range(4)] == [0, 2, 1, 2]
    assert [of(seat, "throws let pass") for seat in range(4)] == [1, 3, 3, 4]
    assert (of(1, "drawn tiles thrown"), of(2, "rack tiles thrown")) == (2, 1)
    assert of(1, "last throw drawn") == 1
    assert np.isnan(of(0, "last throw drawn"))
    assert of(0, "own turns since a group") == 1
    assert (of(0, "own turns"), of(0, "groups shown"), of(1, "groups of others")) == (2, 1, 1)
    sums = with_sums(found)
    assert sums[0, names.index("thrown bams")] == 2
    assert sums[0, names.index("thrown, number 9")] == 1
    assert sums[1, names.index("thrown winds")] == 1
    assert sums[0, names.index("thrown odd")] == 2
    assert sums[0, names.index("kinds thrown")] == 2


def test_features_of_a_relabelled_game_are_relabelled_features(
    card: CompiledCard, game: SimulatedGame
) -> None:
    kinds = kind_symmetries(card)[3]
    events = list(game.record.public("floor"))
    moved = [
        msgspec.structs.replace(event, kind=int(kinds[event.kind]))
        if isinstance(event, Discard | Redeem) and event.kind is not None
        else event
        for event in events[:-1]
    ]
    header = game.record.header
    one, other = features_after(card, header, events[:-1]), features_after(card, header, moved)
    np.testing.assert_array_equal(relabelled(one, kinds), other)
    assert not np.array_equal(one, other, equal_nan=True)
    half = len(BLOCKS) * 36
    np.testing.assert_array_equal(one[:, half:], other[:, half:])
    rows = Rows(one.astype(np.float16), np.arange(4, dtype=np.int16), np.arange(4), np.ones(4))
    features, label = augmented(rows, kind_symmetries(card), 1000)
    assert len(features) == len(label) == 24
    np.testing.assert_array_equal(features[12:16], with_sums(other))
    assert len(augmented(rows, kind_symmetries(card), 9)[1]) == 8
    assert len(augmented(rows, kind_symmetries(card), 3)[1]) == 3


def test_rows_are_one_own_turn_of_each_seat(card: CompiledCard, game: SimulatedGame) -> None:
    rows = rows_of_game(card, game, 7)
    assert 1 <= len(rows) <= 4
    assert set(rows.game.tolist()) == {7}
    events, state = list(game.record.public("floor")), start(game.record.header, card.rules)
    possible = []
    for place, event in enumerate(events):
        state = apply(state, event, card)
        if isinstance(event, Discard) and state.live[event.seat]:
            shown = state.exposures[event.seat]
            truth, _, _ = truth_rows(card, game, event.seat, place + 1, shown)
            found = features_after(card, game.record.header, events[: place + 1])[event.seat]
            possible.append((found.astype(np.float16), set(np.flatnonzero(truth).tolist())))
    for features, label in zip(rows.features, rows.label.tolist(), strict=True):
        assert any(
            np.array_equal(features, held, equal_nan=True) and label in labels
            for held, labels in possible
        )


def test_blocks_of_rows_are_gathered_once(tmp_path: Path) -> None:
    seeds = (4, 8, 12)
    first = gather_rows("small", "default", seeds, work=tmp_path)
    stamp = {file: file.stat().st_mtime_ns for file in tmp_path.rglob("*.bin")}
    assert gather_rows("small", "default", seeds, work=tmp_path) == first
    assert {file: file.stat().st_mtime_ns for file in tmp_path.rglob("*.bin")} == stamp
    with pytest.raises(HandreadError, match="holds work for"):
        gather_rows("small", "chaser", seeds, work=tmp_path)


# --- trees ---


@pytest.fixture(scope="module")
def grown() -> tuple[object, Trees, np.ndarray]:
    from sklearn.ensemble import HistGradientBoostingClassifier
    from threadpoolctl import threadpool_limits

    rng = np.random.default_rng(6)
    rows = rng.integers(0, 4, size=(300, 6)).astype(np.float32)
    rows[rng.random(rows.shape) < 0.2] = np.nan
    label = np.where(np.nan_to_num(rows[:, 0]) > 1, 2, np.where(rows[:, 1] > 2, 5, 3))
    with threadpool_limits(1):
        model = HistGradientBoostingClassifier(max_iter=6, early_stopping=False)
        model.fit(rows, label)
    return model, trees_of(model), rows


def plain(trees: Trees, row: np.ndarray) -> np.ndarray:
    """The same sum by recursion, node by node."""

    def leaf(first: int, node: int) -> float:
        if trees.left[node] < 0:
            return float(trees.value[node])
        x = row[trees.feature[node]]
        left = bool(trees.missing_left[node]) if np.isnan(x) else x <= trees.threshold[node]
        return leaf(first, first + int(trees.left[node] if left else trees.right[node]))

    score = trees.start.copy()
    for place, first in enumerate(trees.first.tolist()):
        score[place % len(score)] += leaf(first, first)
    prob = np.exp(score - score.max())
    return prob / prob.sum()


def test_trees_say_what_the_package_says(grown: tuple[object, Trees, np.ndarray]) -> None:
    model, trees, rows = grown
    said = trees.probabilities(rows)
    np.testing.assert_allclose(said, model.predict_proba(rows), atol=1e-12)  # type: ignore[attr-defined]
    np.testing.assert_allclose(said[:20], [plain(trees, row) for row in rows[:20]], atol=1e-12)
    staged = list(model.staged_predict_proba(rows))  # type: ignore[attr-defined]
    np.testing.assert_allclose(trees.up_to(2).probabilities(rows), staged[1], atol=1e-12)
    assert trees.classes.tolist() == [2, 3, 5]
    assert trees_from(trees.to_bytes(), "here") == trees
    assert trees.to_bytes() == trees.to_bytes()


def test_files_that_are_no_trees_are_refused(grown: tuple[object, Trees, np.ndarray]) -> None:
    _, trees, _ = grown
    out = io.BytesIO()
    np.savez(out, **{name: getattr(trees, name) for name in vars(trees)} | {
        "classes": np.array([print], dtype=object)})  # fmt: skip
    for content in (b"", b"nothing", out.getvalue()):
        with pytest.raises(HandreadError, match="there holds no trees"):
            trees_from(content, "there")
    right = trees.right.copy()
    right[int(np.flatnonzero(trees.left >= 0)[0])] = 0  # back to where it came from: no end
    with pytest.raises(HandreadError, match="out of their tree, or back"):
        trees_from(replace(trees, right=right).to_bytes(), "there")
    with pytest.raises(HandreadError, match="out of their tree, or back"):
        trees_from(replace(trees, left=trees.left + 10_000).to_bytes(), "there")


# --- the peer ---


@pytest.fixture(scope="module")
def trained(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("peer")
    plan = PeerPlan("small", games=16, held=8, seed=3, minutes=0.01)
    _, curve = train_peer(plan, out=folder / "peer", work=folder / "work")
    assert [point.games for point in curve] == [4, 8, 16] == [int(16 * s) for s in SHARES]
    assert all(point.low <= point.gain <= point.high for point in curve)
    assert {point.stopped for point in curve} <= {"no better", "time"}
    return folder / "peer"


def test_a_stored_peer_is_a_forecaster(
    trained: Path, card: CompiledCard, game: SimulatedGame
) -> None:
    held = stored_reader("peer", "peer", str(trained), card="small")
    reader = forecaster_named("peer", card, empty_training(card), stored={"peer": held})
    said = watch_game(card, game, {"peer": reader}, number=0).beliefs["peer"]
    assert min(row.min() for row in said) > 0
    assert len({row.tobytes() for row in said}) > 3
    assert len(said[0]) == len(row_names(card))
    told = json.loads((trained / "peer.json").read_text(encoding="utf-8"))
    assert told["card_hash"] == card.hash
    assert told["plan"]["seed"] == 3
    assert len(told["curve"]) == 3


def test_a_peer_of_something_else_is_refused(trained: Path, card: CompiledCard) -> None:
    held = stored_reader("peer", "peer", str(trained))
    with pytest.raises(HandreadError, match="train it anew: handread study peer"):
        peer_of(held, hr.load_card("harbour"))
    files = dict(held.files)
    for name in files:
        less = tuple((key, value) for key, value in held.files if key != name)
        with pytest.raises(HandreadError, match="'peer' is no peer"):
            peer_of(StoredReader("peer", "peer", less), card)
    with pytest.raises(HandreadError, match="was trained on card"):
        peer_of(held, card).open(hr.load_card("harbour"), hr.Header())


def test_a_peer_learns_what_is_there_to_learn(card: CompiledCard) -> None:
    """Rows of a world of our own: the suit thrown most names the family."""
    from handread.study.peer.training import _grow

    rng = np.random.default_rng(8)
    n = 1200
    features = np.zeros((n, FEATURES), dtype=np.float16)
    label = rng.integers(3, size=n)
    for row, suit in enumerate(label):
        thrown = np.where(rng.random(8) < 0.8, suit, rng.integers(3, size=8)) * 9
        np.add.at(features[row], thrown + rng.integers(9, size=8), 1)
    rows = Rows(features, label.astype(np.int16), np.arange(n) // 4, np.full(n, 8, np.int16))
    few, rest = rows.where(rows.game < 200), rows.where(rows.game >= 200)
    plan = PeerPlan("small", minutes=0.05)
    from handread.study.peer.training import _threads

    with _threads(1):
        harbour = hr.load_card("harbour")  # two symmetries: bam and crak are the same to it
        _, point = _grow(harbour, few, rest, 200, plan, 3.0)
    assert point.low > 0.3
