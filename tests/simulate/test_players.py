"""Players state probabilities, act by one draw from them, and show the habits they document."""

from __future__ import annotations

from dataclasses import dataclass, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy.stats import chisquare

from handread.card import CompiledCard
from handread.errors import HandreadError
from handread.simulate import (
    Habit,
    PlayCard,
    Player,
    Private,
    Style,
    View,
    check_player,
    kind_named,
    kinds,
)
from handread.simulate.actions import DECISIONS, NO
from handread.simulate.choice import Scores, log_probabilities, pick, with_slips
from handread.simulate.contract import Broken, Met, meet_decisions
from handread.simulate.kinds import (
    chance,
    chaser,
    guarded,
    novice,
    outlook,
    planner,
    quiet,
    weigher,
)
from handread.simulate.kinds.common import EARLY_REDEEM, early_scores
from handread.tiles import JOKER
from tests.simulate.wild import Wild

KINDS = [kind.name for kind in kinds()]


@pytest.fixture(scope="module")
def met(small: PlayCard) -> dict[str, list[Met]]:
    return {
        kind.name: meet_decisions(kind, small, seed=5, n_games=2) for kind in kinds()
    }  # fmt: skip


@pytest.mark.parametrize("name", KINDS)
def test_the_contract_holds(name: str) -> None:
    import handread as hr

    assert check_player(kind_named(name), hr.load_card("small"), seed=1, n_games=2) > 200


def test_the_contract_holds_for_the_test_kind() -> None:
    import handread as hr

    assert check_player(Wild(), hr.load_card("small")) > 100


def chi_square(player: Player, view: View, private: Private, n: int, seed: int) -> float:
    """P value of drawn actions against the stated probabilities; rare ones pooled."""
    rng = np.random.default_rng(seed)
    probs = np.exp(player.log_probs(view, private))
    actions = [player.act(view, private, u) for u in rng.random(n)]
    counts = np.bincount(actions, minlength=len(probs)).astype(np.float64)
    assert counts[probs == 0].sum() == 0
    often = probs * n >= 5
    observed, expected = counts[often], n * probs[often]
    if n - expected.sum() > 0.5:
        observed = np.append(observed, n - observed.sum())
        expected = np.append(expected, n - expected.sum())
    if len(expected) < 2:
        return 1.0
    return float(chisquare(observed, expected * n / expected.sum()).pvalue)


def hardest(found: list[Met], decision: str) -> Met | None:
    """The decision of this sort with the most even odds, among those met."""
    same = [one for one in found if one.view.decision == decision]
    spread = [
        np.sum(-np.exp(lp) * np.where(np.isfinite(lp), lp, 0.0))
        for lp in (one.player.log_probs(one.view, one.private) for one in same[:200])
    ]
    return same[int(np.argmax(spread))] if same else None


@pytest.mark.parametrize(
    "n", [3_000, pytest.param(100_000, marks=pytest.mark.slow)]
)  # fmt: skip
@pytest.mark.parametrize("name", KINDS)
def test_actions_follow_the_stated_probabilities(
    met: dict[str, list[Met]], name: str, n: int
) -> None:
    for seed, (decision, share) in enumerate({"throw": 1, "claim": 10, "plan": 10}.items()):
        one = hardest(met[name], decision)
        assert one is not None
        draws = max(n // share, 1_000)
        p = chi_square(one.player, one.view, one.private, draws, seed=seed)
        assert p > 1e-4, (decision, p)


def test_every_sort_of_decision_is_met(met: dict[str, list[Met]]) -> None:
    found = {one.view.decision for many in met.values() for one in many}
    assert found | {"mend", "early", "call"} >= set(DECISIONS)
    assert len(found) >= len(DECISIONS) - 2


@pytest.mark.parametrize("name", KINDS)
def test_policies_are_the_same_uncompiled(
    met: dict[str, list[Met]], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Written once, in loops that a compiler takes: compiled and plain state the same."""
    sample = [one for decision in DECISIONS for one in
              [one for one in met[name] if one.view.decision == decision][::17][:6]]  # fmt: skip
    fast = [one.player.log_probs(one.view, one.private) for one in sample]
    n = 0
    for module in (chaser, weigher, guarded, planner, outlook, chance, novice, quiet):
        for word, value in list(vars(module).items()):
            if hasattr(value, "py_func"):
                monkeypatch.setattr(module, word, value.py_func)
                n += 1
    assert n > 10
    for one, stated in zip(sample, fast, strict=True):
        plain = one.player.log_probs(one.view, one.private)
        assert plain == pytest.approx(stated, abs=2e-6), one.view.decision


@pytest.mark.parametrize("name", KINDS)
def test_a_player_sees_only_what_its_view_holds(
    met: dict[str, list[Met]], name: str
) -> None:  # fmt: skip
    """Views are rebuilt from copies: the answer is the same, so nothing else was looked at."""
    for one in met[name][::40]:
        view = replace(one.view, rack=one.view.rack.copy(), legal=one.view.legal.copy())
        again = Player(one.player.kind, one.player.style, one.player.card)
        first = one.player.log_probs(one.view, one.private)
        assert np.array_equal(first, again.log_probs(view, one.private))


def test_habits_are_documented() -> None:
    for kind in kinds():
        origins = {habit.origin for habit in kind.habits}
        assert origins == {"scripted", "emergent"}
        assert len({habit.name for habit in kind.habits}) == len(kind.habits)
        assert all(habit.about for habit in kind.habits)
        assert kind.weights_mean
        assert kind.about
    with pytest.raises(HandreadError, match=r"'learned'.*'scripted' or 'emergent'"):
        Habit("x", "learned", "y")


def test_chasers_commit_at_once_and_weighers_late(met: dict[str, list[Met]]) -> None:
    first = {
        name: [one.private.plan >= 0 for one in met[name]
               if one.view.decision == "throw" and one.view.own_turns < 2]
        for name in KINDS
    }  # fmt: skip
    assert np.mean(first["chaser"]) == 1.0
    assert np.mean(first["weigher"]) < 0.95


def test_a_joker_that_serves_is_thrown_last(met: dict[str, list[Met]]) -> None:
    for name in ("chaser", "weigher"):
        for one in met[name]:
            early = one.view.decision == "throw" and one.view.own_turns < 10
            if early and one.view.rack[JOKER] and one.private.plan >= 0:
                probs = np.exp(one.player.log_probs(one.view, one.private))
                assert probs[JOKER] < 0.35


def test_nobody_claims_for_an_exposure_once_folded(met: dict[str, list[Met]]) -> None:
    folded = [one for one in met["guarded"] if one.private.mode == "folded"]
    assert folded
    for one in folded:
        if one.view.decision == "claim" and one.view.distance > 1:
            assert one.player.log_prob(one.view, one.private, NO) == pytest.approx(0.0)


def test_style_moves_behaviour_as_documented(small: PlayCard, met: dict[str, list[Met]]) -> None:
    """Eager players claim more, hot ones spread their throws, thrifty ones keep jokers back."""
    claims = [
        one for one in met["weigher"]
        if one.view.decision == "claim" and one.view.distance > 1
        and np.isfinite(one.player.log_probs(one.view, one.private)[2:]).any()
    ]  # fmt: skip
    eager = _mean_no(claims, eagerness=0.95), _mean_no(claims, eagerness=0.05)
    assert eager[0] < eager[1]
    throws = [one for one in met["weigher"] if one.view.decision == "throw"][::5]
    assert _mean_top(throws, temperature=0.5) > _mean_top(throws, temperature=2.0)


def _with(one: Met, **style: float) -> Player:
    return Player(one.player.kind, replace(one.player.style, **style), one.player.card)


def _mean_no(found: list[Met], **style: float) -> float:
    return float(
        np.mean([np.exp(_with(one, **style).log_prob(one.view, one.private, NO)) for one in found])
    )


def _mean_top(found: list[Met], **style: float) -> float:
    return float(
        np.mean(
            [np.exp(_with(one, **style).log_probs(one.view, one.private)).max() for one in found]
        )
    )


def test_an_action_that_is_not_legal_is_refused(met: dict[str, list[Met]]) -> None:
    one = next(one for one in met["chaser"] if one.view.decision == "throw")
    barred = int(np.flatnonzero(~one.view.legal)[0])
    with pytest.raises(HandreadError, match=f"action {barred} at decision 'throw'; accepted"):
        one.player.log_prob(one.view, one.private, barred)


# --- the contract bites ---


@dataclass(frozen=True)
class Noisy(Wild):
    """Decides by something that it does not state."""

    calls: Any = None

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        self.calls.n += 1
        return np.linspace(0, 1, len(view.legal)) * (self.calls.n % 3)


@dataclass(frozen=True)
class Certain(Wild):
    """Gives no legal action a finite score."""

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        return np.where(view.legal, -np.inf, 0.0)


@dataclass(frozen=True)
class Loose(Wild):
    """Its weights do not sum to one."""

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        found = super().settle(card, style, view, private, action)
        return replace(found, weights=found.weights * 0.5)


def test_the_contract_finds_breaches() -> None:
    import handread as hr

    card: CompiledCard = hr.load_card("small")
    with pytest.raises(Broken, match="asked twice"):
        check_player(Noisy(calls=SimpleNamespace(n=0)), card)
    with pytest.raises(HandreadError, match="no legal action has a finite score"):
        check_player(Certain(), card)
    with pytest.raises(Broken, match=r"weights sum to .*0\.5"):
        check_player(Loose(), card)
    with pytest.raises(Broken, match="documents no habits"):
        check_player(replace(Wild(), habits=()), card)


# --- choice ---


def test_the_inverse_cdf_runs_in_the_order_of_the_actions() -> None:
    log_probs = log_probabilities(np.log([0.2, 0.5, 0.3]), np.array([True, False, True]))
    assert np.exp(log_probs) == pytest.approx([0.4, 0.0, 0.6], abs=1e-6)
    edge = float(np.exp(log_probs[0]))
    assert pick(log_probs, 0.0) == 0
    assert pick(log_probs, np.nextafter(edge, 0) - 1e-12) == 0
    assert pick(log_probs, edge + 1e-12) == 2
    assert pick(log_probs, np.nextafter(1.0, 0)) == 2


def test_scores_are_rounded_so_that_engines_agree() -> None:
    legal = np.ones(3, dtype=bool)
    one = log_probabilities(np.array([0.1234561, 2.0, -1.0]), legal)
    other = log_probabilities(np.array([0.1234561 + 3e-8, 2.0, -1.0 - 3e-8]), legal)
    assert np.array_equal(one, other)


def test_slips_share_their_rate() -> None:
    slips = np.array([False, True, True, False])
    probs = np.exp(log_probabilities(with_slips(np.array([1.0, 9.0, 9.0, 0.0]), slips, 0.02),
                                     np.ones(4, dtype=bool)))  # fmt: skip
    assert probs[slips] == pytest.approx([0.01, 0.01], abs=1e-6)
    assert probs[0] / probs[3] == pytest.approx(np.e, rel=1e-4)
    assert np.isneginf(with_slips(np.zeros(4), slips, 0.0)[slips]).all()


def test_no_action_at_all_is_said_aloud() -> None:
    with pytest.raises(HandreadError, match="no legal action has a finite score"):
        log_probabilities(np.array([-np.inf, 0.0]), np.array([True, False]))


# --- the registry ---


def test_other_packages_can_bring_kinds(monkeypatch: pytest.MonkeyPatch) -> None:
    found = [Wild()]

    def entry_points(*, group: str) -> list[SimpleNamespace]:
        assert group == "handread.players"
        return [SimpleNamespace(load=lambda kind=kind: kind) for kind in found]

    monkeypatch.setattr("importlib.metadata.entry_points", entry_points)
    names = [kind.name for kind in kinds.__wrapped__()]
    assert names == sorted([*KINDS, "wild"])
    found.append(Wild())
    with pytest.raises(HandreadError, match=r"registered twice: .*'wild'"):
        kinds.__wrapped__()


@pytest.mark.parametrize("n_ways", [1, 3])
def test_a_redeem_before_drawing_is_as_rare_as_stated(n_ways: int) -> None:
    """However many redeems are on offer, the slip has its stated rate, and no more."""
    legal = np.zeros(144, dtype=bool)
    legal[[0, *range(5, 5 + n_ways)]] = True
    view = SimpleNamespace(legal=legal)
    scores = early_scores(Style(carelessness=0.02), view)  # type: ignore[arg-type]
    probs = np.exp(log_probabilities(scores, legal))
    assert 1.0 - probs[0] == pytest.approx(EARLY_REDEEM * 0.02, abs=1e-6)
