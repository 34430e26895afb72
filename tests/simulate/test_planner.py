"""The planner: its chances against a plain reckoning, and what it does at hand-made tables."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binom

from handread.simulate import PlayCard, Player, Private, Style, View, kind_named
from handread.simulate.actions import N_CLAIMS, N_REDEEMS, claim_action, redeem_action
from handread.simulate.contract import meet_decisions
from handread.simulate.kernels import shortfall
from handread.simulate.kinds import chance
from handread.simulate.kinds.outlook import ATTENTION, Outlook, demand
from handread.simulate.kinds.planner import pick_rivals
from handread.simulate.view import blank
from handread.table.state import Exposure, Thrown
from handread.tiles import JOKER, KINDS
from handread.values import evolve

PLANNER = kind_named("planner")
USUAL = Style()

# --- chances ---


def tables(live: Any, own: float, others: float) -> tuple[Any, Any, Any]:
    made = np.zeros((36, 17)), np.zeros((36, 17)), np.zeros(17)
    chance.chance_tables(np.asarray(live, dtype=np.float64), own, others, *made, np.zeros((17, 17)))
    return made


def by_engine(
    asked: list[tuple[int, int, int]], jokers: tuple[int, int], own: float, others: float,
    *, concealed: bool = False,
) -> float:  # fmt: skip
    """Chance by ``log_chance``; `asked` has copies left, missing bare and open, of each kind."""
    live, rack = np.zeros(36), np.zeros(36, dtype=np.int64)
    rack[JOKER], live[JOKER] = jokers
    need = np.zeros((len(asked), 2), dtype=np.int8)
    for k, (copies, bare, opened) in enumerate(asked):
        live[k], rack[k] = copies, k % 2
        need[k] = bare, opened
        need[k, 0 if bare else 1] += k % 2  # a copy held is one more wanted
    kinds = np.arange(len(asked), dtype=np.int8)
    found = chance.log_chance(
        len(asked), kinds, need, rack, concealed, *tables(live, own, others),
        np.zeros(chance.ROOM), 0.0,
    )  # fmt: skip
    return float(np.exp(found))


def by_hand(
    asked: list[tuple[int, int, int]], jokers: tuple[int, int], own: float, others: float,
    *, concealed: bool = False,
) -> float:  # fmt: skip
    """The same chance, summed over every number of copies drawn and thrown."""
    last = sum(a[1] for a in asked) + max(sum(a[2] for a in asked) - jokers[0], 0) == 1
    total = 0.0
    ways = [list(product(range(copies + 1), (False, True))) for copies, _, _ in asked]
    for way in product(*ways):
        p, lacking, paired = 1.0, 0, True
        for (copies, bare, opened), (drawn, thrown) in zip(asked, way, strict=True):
            none_thrown = (1 - others) ** (copies - drawn)
            p *= binom.pmf(drawn, copies, own) * (1 - none_thrown if thrown else none_thrown)
            paired &= drawn + (thrown and last) >= bare
            taken = thrown and (last or not concealed)
            lacking += max(opened - max(drawn - bare, 0) - taken, 0)
        if paired:
            total += p * binom.sf(lacking - jokers[0] - 1, jokers[1], own)
    return float(total)


CASES = [
    [(3, 0, 1)],
    [(3, 1, 0)],
    [(4, 2, 0), (2, 0, 2)],
    [(1, 0, 3), (3, 0, 2), (2, 1, 0)],
    [(4, 1, 2), (2, 0, 1)],
    [(0, 0, 2), (4, 0, 4)],
    [(4, 1, 3), (3, 2, 0), (3, 0, 1)],
]


@pytest.mark.parametrize("asked", CASES)
@pytest.mark.parametrize("jokers", [(0, 0), (0, 5), (1, 4), (3, 2)])
@pytest.mark.parametrize("concealed", [False, True])
def test_the_chance_is_the_sum_over_all_that_may_come(
    asked: list[tuple[int, int, int]], jokers: tuple[int, int], concealed: bool
) -> None:
    for own, others in ((0.0, 0.0), (0.15, 0.3), (0.6, 0.05)):
        plain = by_hand(asked, jokers, own, others, concealed=concealed)
        found = by_engine(asked, jokers, own, others, concealed=concealed)
        assert found == pytest.approx(plain, abs=1e-10)


def test_a_half_forgotten_copy_is_there_half_the_time() -> None:
    live = np.full(36, 2.5)
    came, _, tail = tables(live, 0.3, 0.2)
    either = (binom.pmf(range(17), 2, 0.3) + binom.pmf(range(17), 3, 0.3)) / 2
    assert came[5] == pytest.approx(either, abs=1e-12)
    assert tail == pytest.approx(1 - np.cumsum(either) + either, abs=1e-9)


def test_chances_grow_with_copies_with_rates_and_with_jokers() -> None:
    rng = np.random.default_rng(3)
    for _ in range(200):
        n = int(rng.integers(1, 5))
        asked = [tuple(rng.integers([0, 0, 0], [5, 3, 4]).tolist()) for _ in range(n)]
        jokers = int(rng.integers(0, 3)), int(rng.integers(0, 6))
        own, others = rng.uniform(0.02, 0.5, 2)
        before = by_engine(asked, jokers, own, others)
        more = [(asked[0][0] + 1, *asked[0][1:]), *asked[1:]]
        for better in (
            by_engine(more, jokers, own, others),
            by_engine(asked, jokers, own + 0.1, others),
            by_engine(asked, jokers, own, others + 0.1),
            by_engine(asked, (jokers[0], jokers[1] + 1), own, others),
        ):
            assert better >= before - 1e-12
        assert 0 <= before <= 1 + 1e-12


def test_a_longer_wall_brings_more() -> None:
    live = np.full(36, 2.0)
    rates = [chance.come_rates(live, wall, 4, 0.8, 0.6) for wall in (0, 10, 50, 90)]
    assert rates[0] == (0.0, 0.0)
    assert all(one[0] < two[0] and one[1] < two[1] for one, two in pairwise(rates))
    assert rates[3][0] == pytest.approx(0.8 * 90 / 4 / 72)
    assert rates[3][1] == pytest.approx(0.6 * 3 * rates[3][0])


def test_what_is_complete_is_certain_and_what_lacks_copies_is_not(small: PlayCard) -> None:
    targets, every = small.targets, np.arange(small.n_targets)
    rng = np.random.default_rng(1)
    for g in rng.choice(small.n_targets, 12, replace=False):
        rack = small.card.demand[g].astype(np.int64)
        none = np.zeros((0, 3), dtype=np.int64)
        made = tables(np.zeros(36), 0.2, 0.2)
        found = chance.log_chances(targets, every, rack, none, *made)
        done = shortfall(targets, rack.astype(np.uint8), none) == 0
        assert done[g]
        assert np.array_equal(found == 0.0, done)  # no copies are left for any other
        assert np.isneginf(found[~done]).all()


# --- at the table ---


@pytest.fixture(scope="module")
def start(small: PlayCard) -> View:
    """The first view of a game, to be changed at will."""
    return meet_decisions(PLANNER, small, seed=11_001)[0].view


def rack_of(**tiles: int) -> NDArray[np.uint8]:
    rack = np.zeros(36, dtype=np.uint8)
    for words, n in tiles.items():
        rack[KINDS.index(words.replace("_", " ").strip())] = n
    return rack


def view_of(
    start: View, decision: str, rack: NDArray[np.uint8], *, wall: int = 90,
    floor: dict[str, int] | None = None, legal: Any = None, offered: str = "",
    shown: tuple[tuple[Exposure, ...], ...] = ((), (), (), ()),
) -> View:  # fmt: skip
    lying = [KINDS.index(words) for words, n in (floor or {}).items() for _ in range(n)]
    if offered:
        lying.append(KINDS.index(offered))
    state = evolve(
        start.state, wall=wall, floor=tuple(Thrown(3, k) for k in lying), exposures=shown,
        live=(True,) * 4,
    )  # fmt: skip
    return View(
        decision, 0, state, rack, rack > 0 if legal is None else legal, distance=2,
        offered=KINDS.index(offered) if offered else None,
    )  # fmt: skip


def target_of(card: PlayCard, rack: NDArray[np.uint8], decision: View) -> int:
    return int(shortfall(card.targets, rack, decision.shown).argmin())


def settled(card: PlayCard, view: View, plan: int) -> Private:
    look = replace(view, decision="plan", legal=np.ones(card.n_targets + 2, dtype=bool))
    player = Player(PLANNER, USUAL, card)
    return player.transition(look, blank(card.n_targets), plan)


def probs(card: PlayCard, view: View, mind: Private, style: Style = USUAL) -> Any:
    return np.exp(Player(PLANNER, style, card).log_probs(view, mind))


# near to a pair of 1 bam and kongs of 2 bam, 3 bam and flowers
STEPS = {"_1_bam": 2, "_2_bam": 3, "_3_bam": 4, "flower": 3}
# about as near to pungs of 1 bam and 2 bam and kongs of 3 bam and 4 bam
BETWEEN = {"_1_bam": 2, "_2_bam": 3, "_3_bam": 3, "_4_bam": 2, "flower": 2}


def claim_of(card: PlayCard, start: View, style: Style = USUAL, **how: Any) -> float:
    """Probability of showing four flowers with one that was thrown."""
    legal = np.zeros(N_CLAIMS, dtype=bool)
    legal[[0, claim_action(4, 0)]] = True
    view = view_of(start, "claim", rack_of(**STEPS, north=1), legal=legal, offered="flower", **how)
    mind = settled(card, view, target_of(card, view.rack, view))
    return float(probs(card, view, mind, style)[claim_action(4, 0)])


def test_it_leaves_the_easy_group_and_claims_the_scarce_one(small: PlayCard, start: View) -> None:
    easy, scarce = claim_of(small, start), claim_of(small, start, floor={"flower": 4, "joker": 6})
    assert easy < 0.1
    assert scarce > 0.9
    assert claim_of(small, start, wall=14) > 0.9  # with few draws left no group is easy


def test_eagerness_lowers_the_toll(small: PlayCard, start: View) -> None:
    kept, eager = (
        claim_of(small, start, Style(eagerness=e), wall=40, floor={"flower": 2}) for e in (0, 1)
    )
    assert kept < eager


def test_it_plans_for_what_can_still_come(small: PlayCard, start: View) -> None:
    rack = rack_of(**BETWEEN, north=1)
    legal = np.ones(small.n_targets + 2, dtype=bool)
    view = view_of(start, "plan", rack, legal=legal)
    g = target_of(small, rack, view)
    fresh = probs(small, view, blank(small.n_targets))
    assert fresh.argmax() == g
    gone = replace(view, state=view_of(start, "plan", rack, floor={"2 bam": 1, "joker": 8}).state)
    assert probs(small, gone, blank(small.n_targets))[g] == 0.0
    other = int(np.argsort(fresh)[-2])
    held = probs(small, view, settled(small, view, other))
    assert 0 < fresh[other] < held[other]  # leaving a plan costs something


def test_no_chance_at_all_leaves_it_open(small: PlayCard, start: View) -> None:
    legal = np.ones(small.n_targets + 2, dtype=bool)
    rack = rack_of(north=4, east=4, south=4, west=2)
    view = view_of(start, "plan", rack, wall=0, legal=legal)
    assert probs(small, view, blank(small.n_targets))[small.n_targets] == 1.0
    mind = Player(PLANNER, USUAL, small).transition(view, blank(small.n_targets), small.n_targets)
    assert mind.plan == -1
    assert mind.weights == pytest.approx(1 / small.n_targets)


def test_it_looks_no_farther_than_it_says(small: PlayCard, start: View) -> None:
    rack = rack_of(**STEPS, north=1)
    view = view_of(start, "plan", rack)
    value, short = Outlook(small, USUAL, view, blank(small.n_targets)).survey()
    assert np.isfinite(value).any()
    assert short[np.isfinite(value)].max() <= short.min() + ATTENTION
    far = int(short.argmax())
    value, _ = Outlook(small, USUAL, view, settled(small, view, far)).survey()
    assert np.isfinite(value[far])  # it does not lose sight of its plan


def test_it_keeps_what_rivals_would_use_but_less_than_what_the_plan_uses(
    small: PlayCard, start: View
) -> None:  # fmt: skip
    """4 bam would serve the longer step, a north nothing near."""
    view = view_of(start, "throw", rack_of(**BETWEEN, north=1))
    mind = settled(small, view, target_of(small, view.rack, view))
    use = np.zeros(36)
    for g in np.flatnonzero(mind.wide):
        use[small.targets.kind[g, : small.targets.n[g]]] += mind.wide[g]
    assert mind.weights[mind.plan] == 1.0
    assert 1 < np.count_nonzero(mind.wide) <= 3
    found = probs(small, view, mind)
    north, rival, own = (KINDS.index(words) for words in ("north", "4 bam", "2 bam"))
    assert use[north] == 0 < use[rival] < use[own]
    hedged = replace(mind, wide=mind.weights)
    assert found[own] < found[rival]
    assert found[rival] < probs(small, view, hedged)[rival]  # without rivals it would go


def test_it_sheds_what_others_want_early_and_holds_it_late(small: PlayCard, start: View) -> None:
    rack = rack_of(**STEPS)
    view = view_of(start, "throw", rack)
    mind = settled(small, view, target_of(small, rack, view))
    mind = replace(mind, wide=mind.weights)
    used = np.flatnonzero(small.card.demand[mind.plan])
    wanted = demand(small.targets)
    idle = [k for k in np.argsort(wanted) if k not in used and k != JOKER]
    cold, hot = int(idle[0]), int(idle[-1])
    assert wanted[hot] > wanted[cold] + 0.05
    rack[[cold, hot]] = 1
    early, late = (
        probs(small, view_of(start, "throw", rack, wall=wall), mind) for wall in (95, 5)
    )  # fmt: skip
    assert early[hot] > early[cold]
    assert late[hot] < late[cold]
    both = tuple(Exposure(KINDS.index(words), 4, 0) for words in ("8 crak", "9 crak"))
    ready = view_of(start, "throw", rack, wall=95, shown=((), both, (), ()))
    assert Outlook(small, USUAL, ready, mind).push() < Outlook(small, USUAL, view, mind).push()


def test_it_redeems_for_a_tile_that_its_plan_lacks(small: PlayCard, start: View) -> None:
    north, bam = KINDS.index("north"), KINDS.index("1 bam")
    shown = ((), (Exposure(north, 4, 1), Exposure(bam, 4, 1)), (), ())
    legal = np.zeros(N_REDEEMS, dtype=bool)
    legal[[0, redeem_action(1, north), redeem_action(1, bam)]] = True
    view = view_of(start, "redeem", rack_of(**STEPS, north=1), legal=legal, shown=shown)
    found = probs(small, view, settled(small, view, target_of(small, view.rack, view)))
    assert found[redeem_action(1, north)] > 0.9
    assert found[redeem_action(1, bam)] < 1e-3  # the pair takes no joker


def test_rivals_are_the_few_best_that_are_not_far_below() -> None:
    value = np.array([-3.0, -1.0, -1.5, -np.inf, -1.2, -1.1])
    wide = np.full(6, np.nan)
    pick_rivals(value, np.arange(6), 2, wide)
    assert set(np.flatnonzero(wide)) == {1, 2, 5}
    assert wide.sum() == pytest.approx(1.0)
    assert wide[2] > wide[1] > wide[5]
    pick_rivals(np.array([-1.0, -9.0]), np.arange(2), 0, wide[:2])
    assert wide[:2].tolist() == [1.0, 0.0]
