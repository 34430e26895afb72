"""The quiet: what a group tells, against brute force, and what it does at tables made by hand."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest

from handread.simulate import PlayCard, Player, Private, Style, View
from handread.simulate.actions import NO, claim_action, redeem_action
from handread.simulate.kinds import quiet
from handread.simulate.view import blank
from handread.table.state import Exposure
from handread.tiles import JOKER, KINDS, parse_tiles
from tests.simulate.plain import Shown, groups_of, left_after
from tests.simulate.views import mind_on, targets_of, view_of


@pytest.fixture(params=["small", "harbour"])
def card(request: pytest.FixtureRequest) -> PlayCard:
    found: PlayCard = request.getfixturevalue(request.param)
    return found


def rows(shown: Shown) -> np.ndarray:
    ordered = sorted(shown, key=lambda group: group[2] == 0)
    return np.array(ordered, dtype=np.int64).reshape(-1, 3)


def probabilities(view: View, mind: Private, card: PlayCard, **style: float) -> np.ndarray:
    return np.exp(Player(quiet.KIND, Style(**style), card).log_probs(view, mind))


def hands_by_brute_force(card: PlayCard, shown: Shown) -> int:
    """Hands with a target that some way of taking groups away leaves standing."""
    fitting = [t for t in range(card.n_targets) if left_after(card.card, t, shown) is not None]
    return len({int(card.card.hand_of[t]) for t in fitting})


def some_exposures(card: PlayCard) -> Iterator[Shown]:
    """Exposures that some target allows, and one that none does."""
    rng = np.random.default_rng(8)
    for _ in range(12):
        target = int(rng.integers(card.n_targets))
        groups = [group for group in groups_of(card.card, target) if group[1] >= 3]
        if len(groups) >= 2:
            chosen = rng.permutation(len(groups))[:2]
            yield [(groups[i][0], groups[i][1], int(rng.integers(0, 2))) for i in chosen]
    yield [(0, 3, 0), (33, 6, 1)]


# --- what a group tells ---


def test_telling_is_the_log_ratio_of_the_hands_left(card: PlayCard) -> None:
    for shown in some_exposures(card):
        steps = [rows(shown[:n]) for n in range(3)]
        counts = [hands_by_brute_force(card, shown[:n]) for n in range(3)]
        assert counts[0] == len(np.unique(card.card.hand_of))
        hand_of = card.card.hand_of
        assert [quiet.hands_left(card.targets, hand_of, one) for one in steps] == counts
        for n in (0, 1):
            expected = math.log(max(counts[n], 1) / max(counts[n + 1], 1))
            told = quiet.telling(card, steps[n], steps[n + 1])
            assert told == pytest.approx(expected)
            assert told >= 0


def test_a_claim_pays_for_what_it_tells(small: PlayCard, monkeypatch: pytest.MonkeyPatch) -> None:
    """The toll is the log odds that come back when telling costs nothing."""
    plan = int(targets_of(small, "Two houses")[0])
    kind = int(small.targets.kind[plan, 0])
    action = claim_action(int(small.targets.size[plan, 0]), 0)
    view = view_of(
        small, "claim", f"4x {KINDS[kind]}, east", legal=[NO, action], offered=kind, distance=2
    )
    with_toll = probabilities(view, mind_on(small, plan), small)
    monkeypatch.setattr(quiet, "TELLING", 0.0)
    free = probabilities(view, mind_on(small, plan), small)
    group = (kind, int(small.targets.size[plan, 0]), 0)
    told = math.log(hands_by_brute_force(small, []) / hands_by_brute_force(small, [group]))
    assert told > 0
    monkeypatch.undo()
    odds = [math.log(found[action] / found[NO]) for found in (free, with_toll)]
    assert odds[0] - odds[1] == pytest.approx(quiet.TELLING * told, abs=1e-4)


# --- what it plans ---


def test_concealed_hands_are_worth_more_and_no_others(small: PlayCard) -> None:
    words = "2x 1 bam, 2x 2 bam, 3x 3 bam, 2x flower, east, 5 dot, 7 dot"
    rack = parse_tiles(words).astype(np.uint8)
    live = (small.targets.copies - rack).astype(np.float64)
    none = np.zeros((0, 3), dtype=np.int64)
    worth, short = quiet.worth_quiet(small.targets, rack, none, live, 1.0)
    nowhere = np.zeros_like(small.targets.concealed)
    nowhere.flags.writeable = False
    plain = small.targets._replace(concealed=nowhere)
    other, _ = quiet.worth_quiet(plain, rack, none, live, 1.0)
    hidden = small.targets.concealed & np.isfinite(worth)
    assert hidden.any()
    assert (short[hidden] > 0).all()
    assert (worth[hidden] > other[hidden]).all()
    assert np.array_equal(worth[~hidden], other[~hidden])


def test_a_hand_of_naturals_is_worth_more_than_one_of_jokers(small: PlayCard) -> None:
    plan = int(targets_of(small, "Long step")[0])
    whole = np.asarray(small.card.demand[plan]).astype(np.uint8)
    many = int(np.argmax(whole))
    none = np.zeros((0, 3), dtype=np.int64)
    live = small.targets.copies.astype(np.float64)
    found = []
    for jokers in range(4):
        rack = whole.copy()
        rack[many] -= jokers
        rack[JOKER] += jokers
        worth, short = quiet.worth_quiet(small.targets, rack, none, live, 1.0)
        assert short[plan] == 0
        found.append(float(worth[plan]))
    less = [quiet.JOKERED * min(n, quiet.MOST_JOKERED) for n in range(4)]
    assert found[0] - np.array(found) == pytest.approx(less)


def test_it_commits_when_near_and_not_before(small: PlayCard) -> None:
    plan = int(targets_of(small, "Long step")[0])
    tiles = np.repeat(np.arange(36), small.card.demand[plan])
    rng = np.random.default_rng(1)
    open_odds = []
    for held in (3, 7, 11, 13):
        chosen = rng.permutation(tiles)[:held]
        rack = ", ".join([*(KINDS[kind] for kind in chosen), "7 dot", "4 crak"])
        view = view_of(small, "plan", rack)
        open_odds.append(probabilities(view, blank(small.n_targets), small)[small.n_targets])
    assert open_odds == sorted(open_odds, reverse=True)
    assert open_odds[0] > 0.9 > 0.2 > open_odds[-1]


# --- what it throws, claims, redeems ---


def test_of_tiles_not_needed_it_throws_what_shows_least(small: PlayCard) -> None:
    plan = int(targets_of(small, "Long step")[0])
    rack = "2x 1 bam, 2 bam, 3x 3 bam, 9 bam, 7 dot, 6 crak, 2x 9 dot, east, joker"
    mind, kinds = mind_on(small, plan), KINDS.index
    early = probabilities(view_of(small, "throw", rack, floor="7 dot", turns=1), mind, small)
    late = probabilities(view_of(small, "throw", rack, turns=20), mind, small)
    assert early[kinds("7 dot")] > 1.5 * early[kinds("6 crak")]  # it lies there
    assert late[kinds("9 bam")] > 1.5 * late[kinds("7 dot")]  # its own long suit
    assert late[kinds("9 dot")] == pytest.approx(late[kinds("7 dot")])
    assert early[kinds("9 dot")] < 0.5 * early[kinds("7 dot")]  # kept together at first
    assert late[kinds("1 bam")] < 0.001
    assert late[JOKER] < 0.001


def test_it_claims_when_nearly_done(small: PlayCard) -> None:
    plan = int(targets_of(small, "Two houses")[0])
    kind, size = int(small.targets.kind[plan, 0]), int(small.targets.size[plan, 0])
    plain, joker = claim_action(size, 0), claim_action(size, 1)
    rack = f"3x {KINDS[kind]}, joker, east"
    found = [
        probabilities(
            view_of(small, "claim", rack, legal=[NO, plain, joker], offered=kind, distance=far),
            mind_on(small, plan), small,
        )
        for far in (1, 2, 3, 5, 7)
    ]  # fmt: skip
    claims = [1.0 - one[NO] for one in found]
    assert claims == sorted(claims, reverse=True)
    assert claims[0] > 0.8
    assert claims[-1] < 0.05
    assert all(one[joker] < 0.5 * one[plain] for one in found)


def test_a_concealed_plan_shows_nothing(small: PlayCard) -> None:
    plan = int(targets_of(small, "Quiet step")[0])
    kind = int(small.targets.kind[plan, 0])
    view = view_of(
        small, "claim", f"2x {KINDS[kind]}, east", legal=[NO, claim_action(3, 0)], offered=kind,
        distance=1,
    )  # fmt: skip
    assert probabilities(view, mind_on(small, plan), small)[NO] > 0.99


def test_it_redeems_what_it_does_not_need(small: PlayCard) -> None:
    plan = int(targets_of(small, "Two kongs")[0])
    needed, idle = int(small.targets.kind[plan, 0]), KINDS.index("east")
    for kind, least, most in ((idle, 0.9, 1.0), (needed, 0.0, 0.4)):
        action = redeem_action(0, kind)
        view = view_of(
            small, "redeem", f"{KINDS[kind]}, 5 dot, 7 dot", legal=[NO, action],
            others=[Exposure(kind, 4, 1)],
        )  # fmt: skip
        assert least <= probabilities(view, mind_on(small, plan), small)[action] <= most
