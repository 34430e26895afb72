"""Payment, actions and the command."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from handread.cli.simulate import simulate
from handread.errors import HandreadError
from handread.simulate import read_games
from handread.simulate.actions import (
    DECISIONS,
    N_CLAIMS,
    N_REDEEMS,
    Group,
    action_words,
    claim_action,
    group_of,
    n_actions,
    redeem_action,
    redeem_of,
)
from handread.simulate.rules.claims import possible_groups
from handread.simulate.rules.payment import payments
from handread.tiles import parse_tiles


@pytest.mark.parametrize(
    ("thrower", "jokerless", "takes", "paid"),
    [
        (3, False, True, (90, -30, -30, -30 * 1)),
        (None, False, True, (180, -60, -60, -60)),
        (None, True, True, (360, -120, -120, -120)),
        (None, True, False, (180, -60, -60, -60)),
        (1, True, True, (240, -120, -60, -60)),
    ],
)
def test_payments(
    thrower: int | None, jokerless: bool, takes: bool, paid: tuple[int, ...]
) -> None:  # fmt: skip
    """Thrower double, others single; drawn, all double; jokerless doubles unless none can be."""
    if thrower == 3:
        paid = (120, -30, -30, -60)
    found = payments(30, winner=0, thrower=thrower, jokerless=jokerless, takes_jokers=takes)
    assert found == paid


def test_empty_seats_pay_nothing() -> None:
    found = payments(
        25, winner=0, thrower=2, jokerless=False, takes_jokers=True,
        seated=(True, False, True, False),
    )  # fmt: skip
    assert found == (50, 0, -50, 0)


def test_every_action_has_one_number() -> None:
    claims = {claim_action(size, jokers) for size in range(1, 7) for jokers in range(6)}
    assert claims == set(range(2, N_CLAIMS))
    assert group_of(claim_action(5, 4)) == Group(5, 4)
    redeems = {redeem_action(owner, kind) for owner in range(4) for kind in range(36)}
    assert redeems == set(range(1, N_REDEEMS))
    assert all(redeem_of(redeem_action(o, k)) == (o, k) for o in range(4) for k in (0, 35))
    for decision in DECISIONS:
        for action in range(n_actions(decision, 10)):
            assert action_words(decision, action)
    with pytest.raises(HandreadError, match="no decision 'thorw'; did you mean 'throw'"):
        n_actions("thorw", 3)
    with pytest.raises(HandreadError, match="action 1 shows no group"):
        group_of(1)
    with pytest.raises(HandreadError, match="action 0 is no redeem"):
        redeem_of(0)


@pytest.mark.parametrize(
    ("rack", "sizes", "groups"),
    [
        ("2x 5 bam", (3, 4), [(3, 0)]),
        ("3x 5 bam, joker", (3, 4, 5), [(3, 0), (3, 1), (4, 0), (4, 1), (5, 1)]),
        ("3x joker", (3, 4, 5), [(3, 2), (4, 3)]),
        ("5 bam", (3,), []),
    ],
)
def test_groups_of_naturals_and_any_number_of_jokers(
    rack: str, sizes: tuple[int, ...], groups: list[tuple[int, int]]
) -> None:
    found = possible_groups(parse_tiles(rack), 4, sizes, 13)
    assert [(group_of(a).size, group_of(a).jokers) for a in found] == groups


def test_one_tile_is_left_to_throw() -> None:
    assert possible_groups(parse_tiles("2x 5 bam"), 4, (3,), 2) == []
    assert possible_groups(parse_tiles("2x 5 bam, red"), 4, (3,), 3) != []


@pytest.fixture
def run() -> object:
    app = typer.Typer()
    app.command()(simulate)
    runner = CliRunner()
    return lambda *args: runner.invoke(app, list(args), catch_exceptions=False)


def test_the_command_summarises(run: object) -> None:
    done = run("--games", "6", "--seed", "3", "--card", "small", "--summary", "--json")  # type: ignore[operator]
    said = json.loads(done.stdout)
    assert said["n_games"] == 6
    assert said["seed"] == 3
    text = run("--games", "6", "--seed", "3", "--card", "small", "--summary").stdout  # type: ignore[operator]
    assert "6 games, seed 3, population 'population/1'" in text
    assert "band: players' report" in text


def test_the_command_writes_games(run: object, tmp_path: Path) -> None:
    out = tmp_path / "games.jsonl"
    done = run("--games", "3", "--card", "small", "--kind", "chaser", "--out", str(out))  # type: ignore[operator]
    assert "3 games, seed 1, population 'chaser only'" in done.stdout
    games = list(read_games(out))
    assert len(games) == 3
    assert {person.kind for game in games for person in game.truth.people if person} == {"chaser"}


def test_the_command_wants_one_thing(run: object) -> None:
    with pytest.raises(HandreadError, match="--summary, --out FILE or --columns FOLDER"):
        run("--games", "3", "--card", "small")  # type: ignore[operator]
