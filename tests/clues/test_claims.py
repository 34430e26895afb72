"""Claims, wins, redeems and changes of plan as probabilities, against counting by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from handread.card import parse_card
from handread.card.compile import compile_card
from handread.card.compiled import CompiledCard
from handread.clues import Use, load_weights
from handread.clues.claims import ANEW, SHAPES, can_make, claim_table, possible_shapes, shape_index
from handread.clues.codes import N_CODES, match_exposures
from handread.clues.hazard import destinations, prob_leaving
from handread.clues.holding import prob_copies
from handread.clues.redeems import redeem_probs, redeem_rates
from handread.clues.wins import prob_ready, prob_win_drawn, prob_win_on
from handread.reading import build_model, start_belief
from handread.reading.holdings import surroundings
from handread.reading.likelihood import claims, see
from handread.table import Exposure, replay
from handread.table.events import Discard
from handread.testing import random_context
from handread.tiles import JOKER, MOST_COPIES, parse_kind
from tests.oracle.toy import start_beliefs

LORE = load_weights()
SEEDS = range(12)
CLAIMABLE = (3, 4, 5, 6)


# --- groups ---


def test_what_can_be_made_is_counted_over_all_holdings() -> None:
    """Nine tiles, three of the kind and two jokers, a hand of four: every hand, one by one."""
    tiles = ["k"] * 3 + ["j"] * 2 + ["x"] * 4
    hands = list(combinations(range(9), 4))
    copies, jokers = np.zeros(MOST_COPIES + 1), np.zeros(MOST_COPIES + 1)
    for hand in hands:
        copies[sum(tiles[i] == "k" for i in hand)] += 1 / len(hands)
        jokers[sum(tiles[i] == "j" for i in hand)] += 1 / len(hands)
    np.testing.assert_allclose(prob_copies(3, 9, 4), copies, atol=1e-14)
    made = can_make(copies, jokers)
    assert made[shape_index(3, 0)] == pytest.approx(copies[2:].sum())
    assert made[shape_index(3, 1)] == pytest.approx(copies[1] * jokers[1:].sum())
    assert made[shape_index(4, 2)] == pytest.approx(copies[1] * jokers[2:].sum())
    assert made[shape_index(6, 5)] == 0
    for size in CLAIMABLE:
        assert sum(made[shape_index(size, j)] for j in range(size)) <= 1 + 1e-12


@pytest.mark.parametrize("seed", SEEDS)
def test_claims_are_probabilities(seed: int) -> None:
    context = random_context(np.random.default_rng(seed))
    for kind in (0, 4, 30, 34):
        possible = possible_shapes(context, kind, CLAIMABLE)
        table = claim_table(context, kind, possible, LORE["claims"])
        assert table.min() >= 0
        sizes = [max(mask.bit_count(), 1) for mask in range(16)] + [1] * 4
        taken = table.sum(axis=1) / sizes
        assert (taken[:16] + taken[ANEW]).max() <= 1
        assert taken.max() <= 1
        assert not table[:, ~possible].any()
        assert not table[0].any()


def test_a_thrown_joker_can_be_shown_by_nobody() -> None:
    context = random_context(np.random.default_rng(0))
    assert not possible_shapes(context, JOKER, CLAIMABLE).any()


@pytest.mark.parametrize("concealed", range(1, 14))
def test_a_group_leaves_a_tile_to_throw(concealed: int) -> None:
    context = random_context(np.random.default_rng(1), concealed=concealed, known_jokers=0)
    plenty = replace(context, unseen=np.full(36, 8))
    possible = possible_shapes(plenty, 4, CLAIMABLE)
    for (size, _), there in zip(SHAPES, possible, strict=True):
        assert there == (size - 1 < concealed)


def test_jokers_known_to_be_there_come_on_top() -> None:
    """A seat whose only tiles are two known jokers and one other can show no natural pung."""
    unseen = np.zeros(36, dtype=np.int64)
    unseen[[4, 5]] = 3, 4
    context = random_context(
        np.random.default_rng(2), unseen=unseen, pool=7, concealed=3, known_jokers=2, turn=0,
        within_reach=np.where(np.arange(36) == JOKER, 2.0, unseen / 7),
    )  # fmt: skip
    possible = possible_shapes(context, 4, CLAIMABLE)
    table = claim_table(context, 4, possible, LORE["claims"])
    assert table[1, shape_index(3, 0)] == 0, "two naturals among one unknown tile"
    assert table[1, shape_index(3, 1)] > 0
    assert table[1, shape_index(3, 2)] > 0


CROWDED = """
name = "A card with two groups of one kind, of which one bars jokers"
[[family]]
name = "Only"
[[family.hand]]
name = "Barred and open"
tiles = "pung 1 bam without jokers, kong 1 bam, kong 5 bam, pung 9 bam"
[[family.hand]]
name = "Plain"
tiles = "pung 1 bam, kong 3 bam, kong 5 bam, pung 9 bam"
"""


@pytest.mark.parametrize("copies", [1, 2, 3])
def test_a_row_shows_at_most_one_group(copies: int) -> None:
    """Late, when nearly all unseen tiles are with one seat, the chances still sum to 1 at most."""
    card = compile_card(parse_card(CROWDED))
    model = build_model(card)
    state = replay([Discard(0, 0)], card=card)
    beliefs = start_beliefs(model)
    seen = see(model, beliefs[1], state, surroundings(model, beliefs, state))
    unseen = np.zeros(36, dtype=np.int64)
    unseen[[0, JOKER, 20]] = copies, 8, 4
    pool = int(unseen.sum())
    concealed = min(13, pool)
    context = replace(
        seen.context, unseen=unseen, pool=pool, concealed=concealed, turn=24,
        within_reach=unseen * concealed / pool,
    )  # fmt: skip
    would = claims(replace(seen, context=context), 0)
    assert would.takes().max() <= 1


# --- exposures ---

FLOWERS = """
name = "A card with two pungs of flowers"
[[family]]
name = "Only"
[[family.hand]]
name = "Open first"
tiles = "pung flowers, pung flowers without jokers, kong 5 bam, kong 6 bam"
[[family.hand]]
name = "Barred first"
tiles = "pung flowers without jokers, pung flowers, kong 5 bam, kong 7 bam"
[[family.hand]]
name = "Both barred"
tiles = "pung flowers without jokers, pung flowers without jokers, kong 5 bam, kong 8 bam"
[[family.hand]]
name = "Hidden"
tiles = "pung flowers, pung flowers, kong 5 bam, kong 9 bam"
concealed = true
"""


def allowed(card: CompiledCard, g: int, shown: tuple[Exposure, ...]) -> bool:
    """Whether some group of the target's own can be given to each group shown."""
    groups = [
        (int(card.group_kind[g, j]), int(card.group_size[g, j]), bool(card.group_joker[g, j]))
        for j in np.flatnonzero(card.group_size[g])
    ]

    def place(rest: tuple[Exposure, ...], free: list[tuple[int, int, bool]]) -> bool:
        if not rest:
            return True
        first = rest[0]
        fitting = [
            group
            for group in free
            if group[:2] == (first.kind, first.size) and (group[2] or not first.jokers)
        ]
        return any(
            place(rest[1:], [*free[: free.index(g)], *free[free.index(g) + 1 :]]) for g in fitting
        )

    return place(shown, groups) and not (card.concealed[g] and shown)


_FLOWER, _FIVE = parse_kind("flower"), parse_kind("5 bam")


@pytest.mark.parametrize(
    "shown",
    [
        (),
        ((_FLOWER, 3, 0),),
        ((_FLOWER, 3, 1),),
        ((_FLOWER, 3, 0), (_FLOWER, 3, 1)),
        ((_FLOWER, 3, 1), (_FLOWER, 3, 0)),
        ((_FLOWER, 3, 0), (_FLOWER, 3, 0)),
        ((_FLOWER, 3, 1), (_FLOWER, 3, 2)),
        ((_FIVE, 4, 2), (_FLOWER, 3, 0)),
        ((_FIVE, 3, 0),),
    ],
    ids=str,
)
def test_a_target_allows_groups_that_it_has_whatever_their_order(
    shown: tuple[tuple[int, int, int], ...],
) -> None:
    card = compile_card(parse_card(FLOWERS))
    exposures = tuple(Exposure(*each) for each in shown)
    fits, left = match_exposures(card, exposures)
    assert fits.tolist() == [allowed(card, g, exposures) for g in range(card.n_targets)]
    for g in np.flatnonzero(fits):
        assert left[g].sum() == (card.group_size[g] > 0).sum() - len(shown)


def test_a_belief_starts_with_nothing_shown() -> None:
    card = compile_card(parse_card(FLOWERS))
    belief = start_belief(build_model(card), 2)
    assert belief.fits.all()
    assert belief.left.sum() == (card.group_size > 0).sum()


# --- wins, redeems, changes ---


@pytest.mark.parametrize("seed", SEEDS)
def test_wins_are_probabilities_and_never_impossible(seed: int) -> None:
    rng = np.random.default_rng(seed)
    context, weights = random_context(rng), LORE["wins"]
    share, finish = rng.random(20), rng.random(20)
    for win in (
        prob_win_on(share, finish, context, weights),
        prob_win_drawn(finish, context, weights),
    ):
        assert win.shape == (23,)
        assert (win > 0).all()
        assert (win < 1).all()
    later = replace(context, turn=context.turn + 1)
    assert prob_ready(later, weights) > prob_ready(context, weights)


@pytest.mark.parametrize("seed", SEEDS)
def test_each_redeem_and_none_sum_to_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rates = rng.random((15, 3)) * (rng.random((15, 3)) < 0.7)
    rates[0] = 0.0
    each, none = redeem_probs(rates)
    np.testing.assert_allclose(each.sum(axis=1) + none, 1.0, rtol=1e-13)
    assert none[0] == 1
    assert ((each > 0) == (rates > 0)).all()
    found = redeem_rates(random_context(rng), int(rng.integers(34)), LORE["redeems"])
    assert found.shape == (N_CODES,)
    assert ((found >= 0) & (found <= 1)).all()


def test_a_needed_natural_is_seldom_given() -> None:
    rates = redeem_rates(random_context(np.random.default_rng(4)), 5, LORE["redeems"])
    assert rates[Use.PAIR] < rates[Use.NOT_NEEDED] <= rates[Use.EXPOSED]


@pytest.mark.parametrize("seed", SEEDS)
def test_where_a_seat_goes_sums_to_one(seed: int) -> None:
    context = random_context(np.random.default_rng(seed))
    rows = destinations(context, LORE["destination"])
    np.testing.assert_allclose(rows.sum(axis=1), 1.0, rtol=1e-13)
    assert (rows >= 0).all()
    assert rows[1, 1] == rows[2, 2] == rows[3, 3] == 0, "whoever leaves does not stay"


@pytest.mark.parametrize("seed", SEEDS)
def test_blocked_plans_are_left_sooner(seed: int) -> None:
    context = random_context(np.random.default_rng(seed))
    found = prob_leaving(context, np.array([0, 1, 2, 3]), LORE["hazard"])
    assert found.shape == (7,)
    assert found[0] < found[1] < found[2] == found[3] < 1
    shown = replace(context, n_exposed=context.n_exposed + 1)
    assert prob_leaving(shown, np.array([0]), LORE["hazard"])[0] < found[0]


# --- who can hold it ---


@pytest.mark.parametrize(
    ("copies", "pool", "reach"), [(-1, 10, 5), (4, 3, 2), (17, 50, 13), (2, 10, -1)]
)
def test_counts_that_cannot_be_are_refused(copies: int, pool: int, reach: int) -> None:
    with pytest.raises(ValueError, match="are needed"):
        prob_copies(copies, pool, reach)
