"""Hands of a card: the racks drawn are those in words; files are never lost."""

import re
import xml.etree.ElementTree as ET

import pytest
from typer.testing import CliRunner

import handread as hr
from handread.card import CardError, example_racks
from handread.card.picture import hand_picture, write_picture
from handread.cli.card import app
from handread.tiles import KINDS
from tests.svg.drawn import SVG, faces, written

HOUSE = hr.house_card()
CARD = """
name = "Barred"
[[family]]
name = "A"
[[family.hand]]
name = "Barred one"
tiles = "kong red without jokers, kong 1 bam, sextet flower"
[[family.hand]]
name = "Hidden"
tiles = "sextet flower, kong 1 bam, kong red"
"""


@pytest.mark.parametrize("hand", [hand.name for hand in HOUSE.hands])
def test_the_racks_are_those_in_words(hand):
    picture = hand_picture(HOUSE, hand, 2)
    racks = example_racks(HOUSE, hand, 2)
    assert faces(picture) == [KINDS[kind] for rack in racks for kind in rack.tiles]
    lines = picture.text.splitlines()
    assert lines[0] == hand
    told = [line for line in lines if line.startswith("Rack ")]
    assert len(told) == len(racks)
    for line, rack in zip(told, racks, strict=True):
        singles = sum(group.startswith("single ") for group in rack.groups)
        others = [group for group in rack.groups if not group.startswith("single ")]
        for group in others:
            assert group in line
        kinds = re.findall(r"singles? of ([^,.]+)", line)
        said = [kind for words in kinds for kind in re.findall(r"\d \w+|[a-z]+", words)]
        assert len(said) == singles


def test_a_picture_of_a_hand_is_a_document(tmp_path):
    picture = hand_picture(HOUSE, "ROUNDABOUT")
    root = ET.fromstring(picture.svg)
    assert root.get("aria-label") == "Roundabout"
    assert root.find(f"{SVG}desc").text == "\n".join(picture.text.split("\n")[1:])
    assert "Crossings, open, 30 points; 3 of 54 racks" in written(picture)
    assert float(root.get("width")) <= 760
    assert len(picture.svg) < 60_000
    assert picture == hand_picture(HOUSE, "Roundabout", 3)


def test_groups_that_jokers_may_not_enter_say_so(tmp_path):
    path = tmp_path / "card.toml"
    path.write_text(CARD, encoding="utf-8")
    picture = hand_picture(hr.load_card(path), "Barred one")
    assert written(picture).count("kong, no jokers") == 1
    assert written(picture).count("kong") == 1
    assert "kong of red without jokers, kong of 1 bam, sextet of flower." in picture.text


def test_no_hand_and_no_rack_are_told(tmp_path):
    with pytest.raises(CardError, match=r"no hand 'Roundabuot'.*Roundabout"):
        hand_picture(HOUSE, "Roundabuot")
    path = tmp_path / "card.toml"
    path.write_text(CARD.replace(" without jokers", ""), encoding="utf-8")
    card = hr.load_card(path)
    (name,) = [n for n in ("Barred one", "Hidden") if not example_racks(card, n)]
    with pytest.raises(CardError, match=f"hand '{name}' has no rack of its own"):
        hand_picture(card, name)


def test_a_file_is_written_once(tmp_path):
    path = tmp_path / "a.svg"
    first, second = hand_picture(HOUSE, "Border", 1), hand_picture(HOUSE, "Border", 2)
    write_picture(first, path)
    assert path.read_text(encoding="utf-8") == first.svg + "\n"
    with pytest.raises(hr.HandreadError, match=r"a\.svg' is there already .* --force"):
        write_picture(second, path)
    assert path.read_text(encoding="utf-8") == first.svg + "\n"
    write_picture(second, path, force=True)
    assert path.read_text(encoding="utf-8") == second.svg + "\n"
    for name in ("a.png", "a"):
        with pytest.raises(hr.HandreadError, match=r"accepted: a name\.svg"):
            write_picture(first, tmp_path / name)
    with pytest.raises(hr.HandreadError, match="cannot be written: No such file"):
        write_picture(first, tmp_path / "nowhere" / "a.svg")


def run(*words, status=0):
    result = CliRunner().invoke(app, list(words), env={"COLUMNS": "80"})
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == status
    return result.output


def test_the_command_draws_what_it_says(tmp_path):
    path = tmp_path / "roundabout.svg"
    output = run("show", "roundabout", "--racks", "2", "--picture", str(path))
    assert f"Wrote {path}: a picture of 2 racks of Roundabout." in output
    assert path.read_text(encoding="utf-8") == hand_picture(HOUSE, "Roundabout", 2).svg + "\n"
    before = path.read_bytes()
    with pytest.raises(hr.HandreadError, match="is there already"):
        run("show", "Border", "--picture", str(path))
    assert path.read_bytes() == before
    run("show", "Border", "--picture", str(path), "--force")
    assert b"Border" in path.read_bytes()


@pytest.mark.parametrize("hand", [hand.name for hand in HOUSE.hands[::6]])
def test_racks_in_words_break_between_groups(hand):
    output = run("show", hand, "--racks", "2")
    assert all(len(line) <= 80 for line in output.splitlines())
    racks = output.split("racks\n", 1)[1]
    for line in racks.splitlines():
        assert re.match(r"  [12]\. |     \S", line)
        assert not re.search(r" (of|\d)$", line)  # no tile is torn apart
