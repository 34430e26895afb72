"""The commands about cards, as they are typed."""

from __future__ import annotations

import re

import pytest
import typer
from typer.testing import CliRunner

from handread.card import CardError, card_template, load_card, target_words
from handread.cli.card import app


def run(*words: str, status: int = 0, width: int = 80) -> str:
    result = CliRunner().invoke(app, list(words), env={"COLUMNS": "80"})
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == status, result.output
    assert all(len(line) <= width for line in result.output.splitlines())
    return result.output


@pytest.mark.parametrize("words", [("check", "house"), ("house",)])
def test_check_describes_a_card_on_one_screen(words):
    output = run(*words)
    card = load_card("house")
    assert len(output.splitlines()) < 24  # a line is left for the next prompt
    assert f"8 families, {len(card.hands)} hands, {card.n_targets:,} targets" in output
    assert f"\nhash {card.hash}\n" in output
    for index, name in enumerate(card.families):
        hands = [line.name for line in card.hands if line.family == index]
        own = int((card.family_of == index).sum())
        row = rf"{re.escape(name)} +{len(hands)} +{own} +\d+% +\w+ +{re.escape(hands[0])}"
        assert re.search(row, output), name
    assert card.hands[1].name not in output
    assert "bam to crak, crak to bam" in output
    assert "--full lists every hand" in output
    assert output.rstrip().endswith("No errors")


@pytest.mark.parametrize("words", [("check", "house", "--full"), ("house", "--full")])
def test_check_lists_every_hand_when_asked(words):
    output = run(*words)
    card = load_card("house")
    for index, line in enumerate(card.hands):
        own = int((card.hand_of == index).sum())
        assert re.search(rf"{re.escape(line.name)} +\w+ +{own} +{line.points}\b", output), line.name
    assert "Demand: copies of a kind in a target" in output
    assert "--full" not in output
    assert output.rstrip().endswith("No errors")


def test_check_tells_errors_and_says_so_in_its_status(tmp_path):
    path = tmp_path / "mine [draft].toml"
    path.write_text(
        'name = "Mine [bold]"\n[[family]]\nname = "A [red]"\n'
        '[[family.hand]]\nname = "Good [1]"\ntiles = "sextet flower, kong 1 bam, kong 2 bam"\n'
        '[[family.hand]]\nname = "Bad"\ntiles = "pair red, pair red, pair red, quint 1 bam, '
        'pung east"\n'
        '[[family.hand]]\nname = "Twice"\ntiles = "kong 1 bam, sextet flower, kong 2 bam"\n'
    )
    output = " ".join(run(str(path), status=1).split())
    for words in (
        "Mine [bold]", "A [red]", "Good [1]", "2 errors",
        "mine [draft].toml, line 9, hand 'Bad': the tile set cannot supply any of its targets",
        "'Good [1]' and 'Twice': 1, identical",
    ):  # fmt: skip
        assert words in output
    # hands with something to look at are listed without being asked for
    assert re.search(r"Bad A \[red\] 0 1 ", output)
    assert re.search(r"Twice A \[red\] 0 1 ", output)


def test_check_explains_a_mistake(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text('name = "Mine"\n[[family]]\nname = "A"\n[[family.hand]]\nname = "B"\n'
                    'tiles = "pong red"\n')  # fmt: skip
    with pytest.raises(CardError, match=r"mine\.toml, line 6, hand 'B', group 1: word 1, 'pong'"):
        run(str(path))


def test_new_prints_or_writes_the_template(tmp_path):
    assert run("new") == card_template()
    path = tmp_path / "club.toml"
    assert "Wrote" in run("new", str(path), width=500)  # a path is never broken
    assert path.read_text(encoding="utf-8") == card_template()
    assert "No errors" in run("check", str(path))
    with pytest.raises(CardError, match="cannot be written: File exists"):
        run("new", str(path))
    assert path.read_text(encoding="utf-8") == card_template()


def test_show_prints_racks_in_words():
    card = load_card("harbour")
    line = card.hands[4]
    output = run("show", line.name.lower(), "--card", "harbour", "--racks", "2")
    joined = " ".join(output.split())
    own = (card.hand_of == 4).nonzero()[0]
    assert joined.startswith(
        f"{line.name} {card.families[line.family]}, open, {line.points} points"
    )
    assert line.words in joined
    assert f"2 of {len(own)} racks" in joined
    assert ", ".join(target_words(card, int(own[0]))) in joined
    with pytest.raises(CardError, match="no hand 'nothing'"):
        run("show", "nothing")


def test_diff_says_what_changed(tmp_path):
    assert "The cards are the same: 57 hands" in run("diff", "house", "house")
    path = tmp_path / "mine.toml"
    path.write_text(card_template().replace("points = 40", "points = 45"), encoding="utf-8")
    before = tmp_path / "before.toml"
    before.write_text(card_template(), encoding="utf-8")
    output = run("diff", str(before), str(path))
    assert "changed: Numbers that make ten\n    points 40 to 45\n5 hands are the same" in output


def test_the_commands_stand_under_a_larger_program():
    program = typer.Typer()
    program.add_typer(app, name="card")
    program.command("other")(lambda: None)
    for words in (["card", "house"], ["card", "check", "house"]):
        result = CliRunner().invoke(program, words)
        assert result.exit_code == 0
        assert "No errors" in result.output


def test_without_words_the_commands_are_listed():
    result = CliRunner().invoke(app, [])
    for name in ("check", "new", "show", "diff"):
        assert name in result.output
