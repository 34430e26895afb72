"""The novice: what it knows of the card, and what it does at tables made by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from handread.simulate import PlayCard, Player, Style, people_of
from handread.simulate.actions import NO, claim_action, redeem_action
from handread.simulate.kinds import novice
from handread.simulate.view import blank
from handread.table.state import Exposure
from handread.tiles import FLOWER, KINDS, parse_tiles
from tests.simulate.views import mind_on, targets_of, view_of

BAM = [KINDS.index(f"{number} bam") for number in range(1, 10)]


def styles(n: int) -> list[Style]:
    rng = np.random.default_rng(3)
    return [people_of("novice").person("p", rng=rng).style for _ in range(n)]


def probabilities(player: Player, view: object, mind: object) -> np.ndarray:
    return np.exp(player.log_probs(view, mind))  # type: ignore[arg-type]


def who_knows(card: PlayCard, *names: str, but: tuple[str, ...] = ()) -> Style:
    """A person who knows some hands and not others."""
    for style in styles(400):
        known = novice.known_targets(card, style)
        if all(known[targets_of(card, name)].all() for name in names) and not any(
            known[targets_of(card, name)].any() for name in but
        ):
            return replace(style)
    raise AssertionError(names)


# --- what it knows ---


@pytest.mark.parametrize("n_hands", [1, 2, 3, 10, 33, 57, 64, 65])
def test_the_order_of_learning_is_a_permutation(n_hands: int) -> None:
    for key in (0, 1, 77, 123_456_789, novice.N_KEYS - 1):
        found = [novice.place_of(hand, key, n_hands) for hand in range(n_hands)]
        assert sorted(found) == list(range(n_hands))
        plain = [novice.place_of.py_func(hand, key, n_hands) for hand in range(n_hands)]
        assert found == plain


@pytest.mark.parametrize("name", ["small", "harbour", "house_play"])
def test_a_person_knows_a_third_to_three_fifths_of_the_hands(
    name: str, request: pytest.FixtureRequest
) -> None:
    card: PlayCard = request.getfixturevalue(name)
    n_hands = len(np.unique(card.card.hand_of))
    for style in styles(40):
        known = novice.known_targets(card, style)
        hands = np.unique(card.card.hand_of[known])
        assert 0.35 * n_hands <= len(hands) < 0.6 * n_hands + 1
        assert np.array_equal(known, np.isin(card.card.hand_of, hands))  # hands are known whole


def test_what_is_known_goes_with_the_person_and_with_nothing_else(house_play: PlayCard) -> None:
    people = styles(300)
    first = [novice.known_targets(house_play, style) for style in people]
    novice.memory_of.cache_clear()
    again = [novice.known_targets(house_play, replace(style)) for style in people]
    assert all(np.array_equal(one, other) for one, other in zip(first, again, strict=True))
    assert len({one.tobytes() for one in first}) == len(people)
    near = replace(people[0], thrift=people[0].thrift + 1e-4)
    assert not np.array_equal(first[0], novice.known_targets(house_play, near))


def test_every_hand_is_known_to_some_and_not_to_others(house_play: PlayCard) -> None:
    """Of 300 people about 47 in 100 know a hand: five standard errors to either side."""
    first = np.flatnonzero(np.diff(house_play.card.hand_of, prepend=-1))
    share = np.mean([novice.known_targets(house_play, s)[first] for s in styles(300)], axis=0)
    half = (novice.LEAST_KNOWN + novice.MOST_KNOWN) / 2
    off = 5 * math.sqrt(half * (1 - half) / 300)
    assert half - off < share.min() < share.max() < half + off + 1 / len(first)


# --- what it plans ---


def test_it_plans_only_hands_that_it_knows(small: PlayCard) -> None:
    view = view_of(small, "plan", "2x 1 bam, 3x 2 bam, 3x 3 bam, 2x flower, east, 5 dot, 7 dot")
    for style in styles(20):
        found = probabilities(Player(novice.KIND, style, small), view, blank(small.n_targets))
        known = novice.known_targets(small, style)
        assert found[:-2][known].sum() == pytest.approx(1.0)


def test_it_looks_a_hand_up_when_none_that_it_knows_fits(small: PlayCard) -> None:
    style = who_knows(small, "Gale", but=("Two kongs",))
    shown = (Exposure(FLOWER, 6, 0),)
    view = view_of(small, "plan", "2x 2 bam, 2 crak, 4x east, 5 dot", shown=shown)
    found = probabilities(Player(novice.KIND, style, small), view, blank(small.n_targets))
    assert found[targets_of(small, "Two kongs")].sum() == pytest.approx(1.0)
    nothing = view_of(small, "plan", "2x 2 bam, 2 crak, 4x east", shown=(Exposure(FLOWER, 5, 0),))
    found = probabilities(Player(novice.KIND, style, small), nothing, blank(small.n_targets))
    assert found[small.n_targets] == 1.0


def test_it_leaves_a_plan_that_is_gone_but_late(small: PlayCard) -> None:
    rack = "2x 1 bam, 2x 2 bam, 3 bam, 2x flower, east, 2x 5 dot, 3x 7 crak"
    moved = []
    for flexibility in (0.1, 0.3, 0.5, 0.7, 0.9):  # other people know other hands
        style = replace(Style(), flexibility=flexibility)
        known = novice.known_targets(small, style)
        nobody = Player(novice.KIND, style, small)
        for plan in np.flatnonzero(known):
            bare = np.flatnonzero(~small.targets.joker[plan] & (small.targets.size[plan] > 0))
            wanted = {int(small.targets.kind[plan, j]) for j in bare} - {FLOWER}
            lacking = [kind for kind in wanted if not parse_tiles(rack)[kind]]
            if not lacking:
                continue
            mind, lost = mind_on(small, int(plan)), KINDS[lacking[0]]
            before, still, after = (
                probabilities(nobody, view_of(small, "plan", rack, floor=floor), mind)[plan]
                for floor in ("", f"2x {lost}", f"4x {lost}")
            )
            assert after <= still
            moved.append((before, after))
    assert len(moved) > 3
    assert max(before - after for before, after in moved) > 0.1  # it leaves
    assert max(after for _, after in moved) > 0.1  # and clings


def test_scarcity_of_anything_else_is_not_seen(small: PlayCard) -> None:
    plan = int(targets_of(small, "Two kongs")[0])
    rack, player = "2x 2 bam, 2 crak, 3x flower, east, 5 dot", Player(novice.KIND, Style(), small)
    mind = mind_on(small, plan)
    empty = probabilities(player, view_of(small, "plan", rack), mind)
    full = view_of(small, "plan", rack, floor="2x 2 bam, 3x 2 crak, 4x flower, 8x joker")
    assert np.array_equal(probabilities(player, full, mind), empty)


# --- what it throws and claims ---


def test_lone_tiles_go_before_pairs_that_are_no_use(small: PlayCard) -> None:
    plan = int(targets_of(small, "Long step")[0])
    rack = "2x 1 bam, 2 bam, 3x 3 bam, east, 7 dot, 2x 9 dot, 3x 6 crak, flower"
    player, mind = Player(novice.KIND, Style(), small), mind_on(small, plan)
    early = probabilities(player, view_of(small, "throw", rack, turns=2), mind)
    late = probabilities(player, view_of(small, "throw", rack, turns=20), mind)
    lone, pair = KINDS.index("7 dot"), KINDS.index("9 dot")
    assert late[lone] == pytest.approx(late[KINDS.index("east")])
    assert late[lone] > 4 * late[pair] > 4 * late[KINDS.index("6 crak")] > 4 * late[BAM[0]]
    assert late[FLOWER] == pytest.approx(late[lone])
    assert early[FLOWER] > 3 * early[lone]


def test_it_shows_the_smaller_group_where_both_fit(small: PlayCard) -> None:
    both = [t for t in targets_of(small, "Long step") if small.targets.kind[t, 0] == BAM[0]]
    sizes = {int(t): int(small.targets.size[t, 0]) for t in both}
    plan = next(t for t, size in sizes.items() if size == 3)
    kong = next(
        t for t in range(small.n_targets) if not small.targets.concealed[t]
        and any(small.targets.kind[t] == BAM[0]) and 4 in small.targets.size[t][
            small.targets.kind[t] == BAM[0]]
    )  # fmt: skip
    legal = [NO, claim_action(3, 0), claim_action(4, 0), claim_action(3, 1)]
    view = view_of(small, "claim", "4x 1 bam, joker, 3 bam", legal=legal, offered=BAM[0])
    player = Player(novice.KIND, Style(eagerness=0.5), small)
    found = probabilities(player, view, mind_on(small, plan, [kong]))
    assert found[NO] < 0.1  # eager
    assert found[claim_action(3, 0)] > found[claim_action(4, 0)] > 0.001
    assert found[claim_action(3, 1)] > 0.3 * found[claim_action(3, 0)]  # a joker is cheap
    aside = probabilities(player, view, mind_on(small, kong, [plan]))
    assert aside[claim_action(3, 0)] < found[claim_action(3, 0)]
    known_only = probabilities(player, view, mind_on(small, kong))
    assert known_only[claim_action(3, 0)] < 0.01  # fits nothing in mind: a slip


def test_it_notices_a_redeem_now_and_then(small: PlayCard) -> None:
    plan = int(targets_of(small, "Long step")[0])
    east = KINDS.index("east")
    view = view_of(
        small, "redeem", "1 bam, east, 3 bam", legal=[NO, redeem_action(0, east)],
        others=[Exposure(east, 4, 1)],
    )  # fmt: skip
    found = probabilities(Player(novice.KIND, Style(), small), view, mind_on(small, plan))
    assert 0.2 < found[redeem_action(0, east)] < 0.4
