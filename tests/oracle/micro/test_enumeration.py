"""The exact posterior of a micro-game is exact: against a plain joint filter and against play."""

from __future__ import annotations

from collections import Counter, defaultdict
from functools import lru_cache

import numpy as np
import pytest

from handread.clues.claims import SHAPES
from handread.table import check
from handread.table.events import AnyEvent, Discard, Expose
from tests.oracle.micro.dense import dense_after, dense_deal, small_card
from tests.oracle.micro.exact import Joint, acts, deal, next_events
from tests.oracle.micro.game import (
    DETACHED,
    PLAIN,
    RACK_LED,
    Array,
    Game,
    Habits,
    micro_game,
    open_card,
)
from tests.oracle.micro.measure import distances, log2
from tests.oracle.micro.play import Known, Played, play
from tests.oracle.micro.player import Stance
from tests.oracle.micro.variants import Variant

CLOSE = 1e-10
#: Games of the frequency checks, and the events played of each.
N_PLAYED, OPENING = 2500, 2

TWO = small_card([0, 1, 4, 6, 11], {"1 bam": 3, "2 bam": 3, "east": 3, "flower": 3, "joker": 2})
THREE = small_card([0, 4], {"1 bam": 4, "2 bam": 3, "east": 3, "joker": 4})
#: Games for the plain joint filter, and seeds of which one at least holds a claim.
SMALL = {
    "two seats, plain": (micro_game((1, 2), habits=PLAIN, card=TWO), (2, 11)),
    "two seats, rack-led": (micro_game((0, 3), 0, habits=RACK_LED, card=TWO), (7, 9)),
    "three seats, rack-led": (micro_game((0, 1, 3), 1, habits=RACK_LED, card=THREE), (1,)),
}


def walk(game: Game, played: Played) -> list[Joint]:
    """The exact filter before each event, and after the last."""
    out = [deal(game)]
    for event, state in zip(played.events, played.states, strict=False):
        assert isinstance(event, Discard | Expose)
        out.append(acts(out[-1], state, event)[-1].after)
    return out


@pytest.mark.parametrize("habits", [DETACHED, PLAIN, RACK_LED])
def test_before_the_first_event_the_posterior_is_the_readers_start(habits: Habits) -> None:
    """So the reader's prior is the right one, for the seat that holds a fifth tile as well."""
    game = micro_game((0, 1, 3), 1, habits=habits)
    joint = deal(game)
    assert joint.log_prob() == pytest.approx(0.0, abs=CLOSE)
    for seat in game.seats:
        np.testing.assert_allclose(joint.rows(seat), game.model.start, atol=CLOSE)


@pytest.mark.parametrize("habits", [PLAIN, RACK_LED])
def test_the_stated_players_chances_sum_to_one(habits: Habits) -> None:
    game = micro_game((0, 1, 3), 1, habits=habits)
    played = play(game, rng=np.random.default_rng(41))
    for event, state in zip(played.events, played.states, strict=False):
        assert isinstance(event, Discard | Expose)
        stance = Stance(game, state, event.seat)
        racks = game.racks[5 - 3 * len(state.exposures[event.seat])]
        for table in stance.throws(racks):
            np.testing.assert_allclose(table.sum(axis=2), 1.0, atol=CLOSE)
            assert (table[np.broadcast_to((racks == 0)[:, None, :], table.shape)] == 0).all()
        leaves = stance.leaves(racks)
        assert ((leaves >= 0) & (leaves <= 1)).all()
        moved = stance.arrives(racks, leaves)
        np.testing.assert_allclose(moved.sum(axis=1), leaves.sum(axis=1), atol=CLOSE)
        takes = stance.takes(racks, int(game.used[0])).sum(axis=2)
        assert ((takes >= 0) & (takes <= 1 + CLOSE)).all()


@pytest.mark.parametrize("name", SMALL)
def test_the_factored_filter_is_the_plain_joint_filter(name: str) -> None:
    game, seeds = SMALL[name]
    claims = 0
    for seed in seeds:
        played = play(game, rng=np.random.default_rng(seed))
        dense = dense_deal(game)
        for event, state, joint in zip(
            played.events, played.states, walk(game, played)[1:], strict=False
        ):
            assert isinstance(event, Discard | Expose)
            claims += isinstance(event, Expose)
            dense = dense_after(dense, state, event)
            assert joint.log_prob() == pytest.approx(dense.log_prob(), abs=CLOSE)
            for seat in game.seats:
                np.testing.assert_allclose(joint.marginal(seat), dense.marginal(seat), atol=CLOSE)
    assert claims, "no claim was made: choose another seed"


@pytest.mark.parametrize("seats", [(0, 2), (1, 2, 3)])
def test_the_chances_of_all_next_events_sum_to_one(seats: tuple[int, ...]) -> None:
    game = micro_game(seats, habits=RACK_LED, card=open_card())
    played = play(game, rng=np.random.default_rng(11))
    for state, joint in list(zip(played.states, walk(game, played), strict=True))[::4]:
        found = next_events(joint, state)
        assert sum(prob for _, prob in found) == pytest.approx(1.0, abs=CLOSE)
        for event, prob in found:
            assert event is None or prob == 0 or not impossible(state, event)


def impossible(state: object, event: AnyEvent) -> list[str]:
    """What makes an event impossible at a table; a breach of the card's hands does not."""
    reasons = check(state, event)  # type: ignore[arg-type]
    return [reason.words for reason in reasons if reason.kind == "impossible"]


# --- against play ---


@lru_cache(maxsize=1)
def openings() -> tuple[Game, list[Played]]:
    """Many games of rack-led players at three seats, broken off after the opening."""
    game = micro_game((0, 1, 3), 1, habits=RACK_LED, card=open_card())
    rng, known = np.random.default_rng(43), Known()
    return game, [play(game, rng=rng, most=OPENING, known=known) for _ in range(N_PLAYED)]


def fits(counts: Array, probs: Array) -> bool:
    """Pearson's statistic of counts within four standard errors of its mean, rare cells pooled."""
    expected = counts.sum() * probs
    rare = expected < 5.0
    seen = np.append(counts[~rare], counts[rare].sum())
    due = np.append(expected[~rare], expected[rare].sum())
    seen, due = seen[due > 0], due[due > 0]
    statistic, df = float(((seen - due) ** 2 / due).sum()), len(seen) - 1
    return statistic < df + 4.0 * np.sqrt(2.0 * df)


def test_openings_come_as_often_as_enumerated() -> None:
    """First, second and third events of the games, claims among them."""
    game, played = openings()
    due: dict[tuple[AnyEvent, ...], float] = {(): 1.0}
    for length in range(2):
        longer: dict[tuple[AnyEvent, ...], float] = {}
        for begun, prob in due.items():
            example = next((p for p in played if p.events[:length] == begun), None)
            if example is None:
                continue
            joint = walk(game, example)[length]
            for event, chance in next_events(joint, example.states[length]):
                assert event is not None
                longer[(*begun, event)] = prob * chance
        due = longer
        seen = Counter(p.events[: length + 1] for p in played)
        assert set(seen) <= set(due)
        counts = np.array([seen[begun] for begun in due], dtype=float)
        assert fits(counts, np.array(list(due.values())))
    assert sum(n for begun, n in seen.items() if isinstance(begun[-1], Expose)) > 20


def test_families_after_an_opening_are_as_often_as_enumerated() -> None:
    """Rows by family of every seat, among the games that began alike."""
    game, played = openings()
    alike: dict[tuple[AnyEvent, ...], list[Played]] = defaultdict(list)
    for each in played:
        alike[each.events].append(each)
        alike[each.events[:1]].append(each)
    checked = 0
    for begun, among in sorted(alike.items(), key=lambda pair: -len(pair[1]))[:12]:
        joint = walk(game, among[0])[len(begun)]
        for seat in game.seats:
            rows = [each.rows[len(begun) - 1][seat] for each in among]
            seen = game.model.by_family(
                np.bincount(rows, minlength=game.model.n_rows).astype(float)
            )
            assert fits(seen, game.model.by_family(joint.rows(seat)))
            checked += 1
    assert checked == 36
    assert any(isinstance(event, Expose) for begun in alike for event in begun)


@pytest.mark.slow
@pytest.mark.parametrize("habits", [PLAIN, RACK_LED])
def test_the_posterior_is_calibrated_over_whole_games(habits: Habits) -> None:
    """Each row's mean probability, and the mean log score, against what they say of themselves."""
    game = micro_game((0, 2), habits=habits, card=open_card())
    found = distances(game, {"reader": (game.model, Variant())}, range(4000, 4400))
    truth = np.eye(found.exact.shape[1])[found.truth]
    exact_score = -log2(found.exact)[np.arange(len(truth)), found.truth]
    excess = np.column_stack([truth - found.exact, exact_score - found.entropy[:, 1]])
    assert (np.abs(standard_errors(excess, found.game)) < 3.5).all()
    # The same figure tells the reader from a posterior.
    readers = (exact_score + found.lost[:, 0] - found.entropy[:, 0])[:, None]
    assert standard_errors(readers, found.game)[0] > 3.5


def standard_errors(excess: Array, game: Array) -> Array:
    """Sum of each column in its own standard errors, moments of a game taken together."""
    sums = np.array([excess[game == one].sum(axis=0) for one in np.unique(game)])
    return sums.sum(axis=0) / (sums.std(axis=0, ddof=1) * np.sqrt(len(sums)))


def test_shapes_that_no_rule_allows_are_never_shown() -> None:
    """Kongs and more may not be claimed here, and the last throw of the wall is nobody's."""
    game = micro_game((0, 2), card=open_card())
    played = play(game, rng=np.random.default_rng(11))
    stance = Stance(game, played.states[1], game.seats[0])
    takes = stance.takes(game.racks[4], int(game.used[0]))
    sizes = np.array([size for size, _ in SHAPES])
    assert takes[:, :, sizes == 3].any()
    assert not takes[:, :, sizes != 3].any()
    last = Stance(game, played.states[-1], game.seats[0])
    assert played.states[-1].wall == 0
    assert not last.takes(game.racks[4], int(game.used[0])).any()
