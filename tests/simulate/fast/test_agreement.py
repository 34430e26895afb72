"""Both engines play the same game from the same seed, event for event, log_prob for log_prob."""

from __future__ import annotations

from collections import Counter

import pytest

import handread as hr
from handread.simulate import (
    PlayCard,
    TableRules,
    default_population,
    kind_names,
    people_of,
    play_card,
)
from handread.simulate.fast.engine import Engine
from handread.simulate.fast.policies import POLICIES
from handread.simulate.registry import kinds
from tests.oracle.micro.game import micro_card
from tests.simulate.fast.agreement import (
    KINDS,
    hold_together,
    people_of_population,
    people_that_err,
)

# compiling takes a minute or two, once for each change of the sources
pytestmark = pytest.mark.slow

#: Seeds that nothing was tuned on.
FIRST_SEED = 741_000
#: Changes of the rules that the engines must both follow.
RULES = (
    TableRules(),
    TableRules(switches=("no correction", "last exposure")),
    TableRules(switches=("no second round", "no win over exposure")),
    TableRules(switches=("no blind pass", "no dead swap"), heard=False),
    TableRules(dead_hands=False),
)


def audited(card: PlayCard) -> Engine:
    """Engine whose distances are recomputed in full and compared at every decision."""
    return Engine(card, kinds=KINDS, audit=True, keep_decisions=True)


@pytest.fixture(scope="module")
def engines() -> dict[str, Engine]:
    made = {name: audited(play_card(hr.load_card(name))) for name in ("house", "small", "harbour")}
    made["small"].play(people_that_err(0), seed=0)  # compiles the units, if they are not cached
    return made


def test_every_kind_is_compiled() -> None:
    assert {type(kind) for kind in kinds()} <= {policy.of for policy in POLICIES}


def test_a_dozen_games(engines: dict[str, Engine]) -> None:
    met: Counter[str] = Counter()
    for seed in range(FIRST_SEED, FIRST_SEED + 4):
        for name, engine in engines.items():
            rules = RULES[seed % len(RULES)]
            met["small"] += hold_together(engine, people_that_err(seed), seed, rules)[0]
            if name != "harbour":
                people = people_of_population(default_population(), seed)
                met[name] += hold_together(engine, people, seed)[0]
    for name in kind_names():
        hold_together(engines["small"], people_of_population(people_of(name), 1), FIRST_SEED)
    for seats in (2, 3):
        people = people_that_err(seats, seats)
        hold_together(engines["small"], people, FIRST_SEED, RULES[0])
    assert met["house"] > 200


def test_more_room_is_found_where_a_game_needs_it(small: PlayCard) -> None:
    """A game that outgrows its numbers is played again with more of them, and stays the same."""
    engine, narrow = audited(small), audited(small)
    people = people_that_err(3)
    hold_together(engine, people, FIRST_SEED)
    narrow.lists = narrow.lists._replace(
        uniforms=narrow.lists.uniforms[:40].copy(), entry_target=narrow.lists.entry_target[:60],
    )  # fmt: skip
    hold_together(narrow, people, FIRST_SEED)
    assert len(narrow.lists.uniforms) > 40


@pytest.mark.slow
@pytest.mark.parametrize("name", [*kind_names(), "all"])
def test_hundreds_of_games_of_every_kind(engines: dict[str, Engine], name: str) -> None:
    population = default_population() if name == "all" else people_of(name)
    n_events = 0
    for seed in range(FIRST_SEED + 100, FIRST_SEED + 300):
        people = people_of_population(population, seed)
        n_events += hold_together(engines["house"], people, seed)[0]
    assert n_events > 10_000


@pytest.mark.slow
@pytest.mark.parametrize("card", ["small", "harbour"])
@pytest.mark.parametrize("seats", [2, 3, 4])
def test_hundreds_of_games_on_other_cards(
    engines: dict[str, Engine], card: str, seats: int
) -> None:  # fmt: skip
    for seed in range(FIRST_SEED + 400, FIRST_SEED + 500):
        rules = RULES[seed % len(RULES)]
        hold_together(engines[card], people_that_err(seed, seats), seed, rules)
        people = people_of_population(default_population(), seed, seats)
        hold_together(engines[card], people, seed, rules)


@pytest.mark.slow
@pytest.mark.parametrize("seats", [2, 3])
def test_micro_games(seats: int) -> None:
    """Tables small enough to list every rack, played by every kind of player."""
    engine = audited(play_card(micro_card()))
    met: Counter[str] = Counter()
    for seed in range(FIRST_SEED + 600, FIRST_SEED + 660):
        people = people_that_err(seed, seats)
        met["events"] += hold_together(engine, people, seed)[0]
        people = people_of_population(default_population(), seed, seats)
        met["events"] += hold_together(engine, people, seed)[0]
    assert met["events"] > 500
