"""The compiled card: what is kept, what is left out, and its content hash."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.card import CardError, compile_card, format_card, load_card, parse_card, read_card
from tests.card.slow import can_be_dealt, compiled_targets

TOP = 'name = "Test"\n[[family]]\nname = "First"\n'


def hand(name: str, tiles: str, more: str = "") -> str:
    return f'[[family.hand]]\nname = "{name}"\ntiles = "{tiles}"\n{more}\n'


def compiled(*hands: str, rules: str = ""):
    return compile_card(parse_card(f'name = "Test"\n{rules}\n' + TOP[14:] + "".join(hands)))


# --- what the tile set can supply ---


@pytest.mark.parametrize(
    ("tiles", "jokers", "targets"),
    [
        ("sextet red, kong green, kong white", 8, 1),
        ("sextet red, sextet green, pair white", 4, 1),
        ("sextet red, sextet green, pair white", 3, 0),
        ("pung red, pair red, kong green, quint flower", 0, 0),  # five reds, no joker
        ("pung red, pair red, kong green, quint flower", 1, 1),
        ("pair red, pair red, pair red, kong green, kong east", 8, 0),  # six reds in pairs
        ("quint red without jokers, quint green, kong east", 8, 0),
        ("sextet flower without jokers, kong red, kong east", 0, 1),
        ("kong red without jokers, pair red, kong green, kong east", 8, 0),
        ("single red, quint red, kong east, kong west", 2, 1),
        ("single red, quint red, kong east, kong west", 1, 0),
    ],
)
def test_targets_that_no_set_supplies_are_left_out(tiles, jokers, targets):
    sound = hand("Sound", "sextet flower, kong 1 bam, kong 2 bam")
    card = compiled(hand("Trial", tiles), sound, rules=f"[rules]\njokers = {jokers}")
    assert int((card.hand_of == 0).sum()) == targets
    assert int((card.hand_of == 1).sum()) == 1


def test_a_card_without_any_target_is_refused():
    with pytest.raises(CardError, match="no hand has a target that the tile set can supply"):
        compiled(hand("Trial", "pair red, pair red, pair red, kong green, kong east"))


# --- each target once ---


def test_targets_that_two_hands_share_stand_under_the_first():
    card = compiled(
        hand("Even", "kong n one suit, kong n other suit, sextet flower where n is even"),
        hand("All", "sextet flower, kong n one suit, kong n other suit"),
        hand("Quiet", "sextet flower, kong 2 bam, kong 2 dot", "concealed = true"),
        hand("Joined", "sextet flower, kong 2 bam, pair 2 dot, pair 2 dot"),
    )
    counts = np.bincount(card.hand_of, minlength=4)
    assert counts.tolist() == [12, 15, 1, 1]  # other groups or concealed: another target
    assert {t[0][0] for t in compiled_targets(card, 0)} == {f"{n} {s}" for n in (2, 4, 6, 8)
                                                            for s in ("bam", "crak")}  # fmt: skip


def test_groups_stand_in_the_order_of_the_card():
    card = compiled(hand("Trial", "pung n one suit, sextet flower, quint n+1 one suit"))
    assert card.group_size.tolist() == [[3, 6, 5]] * card.n_targets
    assert (card.group_kind[:, 1] == 34).all()


# --- content hash ---

PLAIN = """name = "Test"
[[family]]
name = "First"
[[family.hand]]
name = "One"
tiles = "kong of n in one suit, pung of n + 1 in one suit, pung of red, kong of flower"
points = 25
"""
SAME = [
    "# remark\n" + PLAIN,
    PLAIN.replace("\n", "\r\n"),
    PLAIN.replace(" = ", "   =\t").replace("[[family]]", "  [[family]]  # first"),
    PLAIN.replace("kong of n in one", "KONG n one").replace("of flower", "flowers"),
    PLAIN.replace('tiles = "', 'tiles = """\n').replace('flower"', '\nflower"""'),
    PLAIN.replace("points = 25\n", 'note = "the usual"\n'),
    PLAIN.replace('"Test"\n', '"Test"\n[rules]\njokers = 8\n'),
    PLAIN.replace('"First"', "'First'\nnote = 'x'"),
]
OTHER = [
    PLAIN.replace("Test", "Trial"),
    PLAIN.replace("First", "Second"),
    PLAIN.replace("One", "Two"),
    PLAIN.replace("25", "30"),
    PLAIN.replace("points", "concealed = true\npoints"),
    PLAIN.replace("red,", "red without jokers,"),
    PLAIN.replace("red", "white"),
    PLAIN.replace("flower", "flower where n is odd"),
    PLAIN.replace('"Test"\n', '"Test"\n[rules]\njokers = 10\n'),
    PLAIN.replace('"Test"\n', '"Test"\n[rules]\nclaimable = ["kong"]\n'),
]


@pytest.mark.parametrize("text", SAME)
def test_the_hash_does_not_hear_remarks_and_spaces(text):
    assert text != PLAIN
    card = compile_card(parse_card(text))
    assert card.hash == compile_card(parse_card(PLAIN)).hash
    assert card == compile_card(parse_card(PLAIN))


@pytest.mark.parametrize("text", OTHER)
def test_the_hash_hears_every_change_of_content(text):
    assert text != PLAIN
    assert compile_card(parse_card(text)) != compile_card(parse_card(PLAIN))


def test_the_hash_hears_the_letters_of_names_not_their_bytes():
    one, two = "Caf\N{LATIN SMALL LETTER E WITH ACUTE}", "Cafe\N{COMBINING ACUTE ACCENT}"
    cards = [compile_card(parse_card(PLAIN.replace("First", name))) for name in (one, two)]
    assert cards[0].hash == cards[1].hash


def test_the_hash_is_what_its_definition_says():
    """Recomputed from the public fields, number by number."""
    card = compile_card(parse_card(PLAIN))
    said = {
        "format": 1,
        "name": "Test",
        "families": ["First"],
        "hands": [
            {
                "name": "One", "family": 0, "concealed": False, "points": 25,
                "words": "kong of n in one suit, pung of n + 1 in one suit, pung of red, "
                         "kong of flower",
            }
        ],
        "copies": [4] * 34 + [8, 8],
        "hand_size": 14,
        "claimable": [3, 4, 5, 6],
    }  # fmt: skip
    digest = hashlib.sha256(json.dumps(said, sort_keys=True).encode())
    for hand_number in card.hand_of.tolist():
        digest.update(hand_number.to_bytes(4, "big"))
    for kinds, sizes, jokers in zip(
        card.group_kind.tolist(), card.group_size.tolist(), card.group_joker.tolist(), strict=True
    ):
        for kind, size, joker in zip(kinds, sizes, jokers, strict=True):
            digest.update(((kind + 1) * 16 + size * 2 + joker).to_bytes(2, "big"))
    assert card.hash == digest.hexdigest()[:16]


def test_the_hash_is_the_same_in_another_process():
    names = ["house", "harbour", "small"]
    code = "import sys; from handread.card import load_card\n"
    code += "print(*[load_card(name).hash for name in sys.argv[1:]])"
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", code, *names],
            env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert done.stdout.split() == [load_card(name).hash for name in names]


@settings(max_examples=12)
@given(st.sampled_from(["house", "harbour", "small"]), st.randoms())
def test_a_card_written_back_compiles_to_the_same(name, random):
    lines = format_card(read_card(name)).splitlines()
    for _ in range(5):
        lines.insert(random.randrange(len(lines)), random.choice(["", "# remark", "  "]))
    assert compile_card(parse_card("\n".join(lines))).hash == load_card(name).hash


# --- the rules of a club ---


def test_hand_size_and_rules_are_the_club_s():
    rules = '[rules]\nhand_size = 8\njokers = 2\nflowers = 4\nclaimable = ["quint", "pung"]'
    card = compiled(hand("Small", "kong n one suit, kong flower"), rules=rules)
    assert card.rules.hand_size == 8
    assert card.rules.claimable == (3, 5)
    assert card.rules.n_tiles == 34 * 4 + 4 + 2
    assert card.n_targets == 27


def test_every_shipped_target_can_be_dealt():
    for name in ("house", "harbour", "small"):
        card = load_card(name)
        jokers, flowers = int(card.rules.copies[35]), int(card.rules.copies[34])
        for index in range(len(card.hands)):
            found = compiled_targets(card, index)
            assert found
            assert all(can_be_dealt(target, jokers, flowers) for target in found)
