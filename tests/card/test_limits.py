"""Cards that explode and hostile files: refused soon, and with the hand that does it."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

from handread.card import CardError, compile_card, load_card, parse_card
from tests.peak import PEAK

MEGABYTE = 1 << 20
TOP = 'name = "Hostile"\n[[family]]\nname = "All"\n'


def hand(name: str, tiles: str) -> str:
    return f'[[family.hand]]\nname = "{name}"\ntiles = "{tiles}"\n'


def seconds_to_refuse(text: str, words: str) -> float:
    start = time.process_time()
    with pytest.raises(CardError, match=words):
        compile_card(parse_card(text))
    return time.process_time() - start


SOUND = hand("Sound", "kong n one suit, kong n+1 one suit, kong n+2 one suit, pair east")
WILD = {
    "numbers": ", ".join(f"single {letter} bam" for letter in "bcdefghijklmno"),
    "winds": ", ".join(["single any wind"] * 14),
    "suits": ", ".join(["single n any suit"] * 14),
    "either": ", ".join(["either single red or single green"] * 14),
    "all": "single b any suit, single c any suit, single d any suit, kong e any suit, "
    "quint any dragon, pair any wind where b is above c or d",
}


@pytest.mark.parametrize("tiles", WILD.values(), ids=WILD)
def test_a_card_that_explodes_is_refused_at_once_with_the_hand(tiles):
    text = TOP + SOUND + hand("Wild", tiles)
    words = r"hand 'Wild': leaves too many choices open; at most 20,000 targets"
    assert seconds_to_refuse(text, words) < 1.0


def test_the_hand_that_is_named_is_the_one_that_explodes():
    """It is not the last straw that is named."""
    wild = hand("Wild", "kong n any suit, kong m any suit, pung k any suit, pung any wind")
    others = [hand(f"Other {i}", "sextet n one suit, sextet m one suit, pair k one suit")
              for i in range(60)]  # fmt: skip
    text = TOP + SOUND + wild + "".join(others)
    assert seconds_to_refuse(text, "hand 'Wild': leaves too many choices open") < 1.0


def test_the_limit_counts_targets():
    tiles = "kong n one suit, kong m one suit, sextet flowers"
    card = parse_card(TOP + hand("Two", tiles))
    assert compile_card(card, limit=135).n_targets == 3 * (9 * 8 // 2 + 9)
    with pytest.raises(CardError, match="hand 'Two': brings the card to 135 targets; at most 134"):
        compile_card(card, limit=134)


def many(n: int, tiles: str) -> str:
    return TOP + "".join(hand(f"h{i}", tiles) for i in range(n))


HOSTILE = {
    "open brackets": ("[" * MEGABYTE, "heads no part of a card"),
    "dotted keys": (TOP + ("a." * 900 + "b = 1\n") * 580, "is no line of a card"),
    "a list that never ends": (
        TOP + "[rules]\nclaimable = [" + '"pung",' * 149_000, "the list of 'claimable'"),
    "one long word": (TOP + hand("h", "x" * (MEGABYTE - 100)), "a hand has at most 2000"),
    "a text that is never closed": (TOP + 'note = """' + "x\n" * 524_000, "never closed"),
    "hands without end": (many(18_000, "kong red"), "hand number 501; a card has at most 500"),
    "families without end": ("[[family]]\n" * 95_000, "a card has at most 100"),
    "long hands": (many(499, ("pung n bam, " * 160)[:1990]), "asks for 4|too many choices|group"),
    "heavy conditions": (
        many(450, "kong n bam, kong m bam, kong k bam, pair j bam where "
             + ", ".join(["n + m + k + j is above 3"] * 70)), "too many choices"),
    "bare lines": ("\n" * MEGABYTE, "no \\[\\[family\\]\\]"),
    "larger": ("#" * (MEGABYTE + 1), "a card has at most 1,048,576"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "words"), HOSTILE.values(), ids=HOSTILE)
def test_a_hostile_megabyte_is_refused_within_five_seconds(text, words):
    assert seconds_to_refuse(text, words) < 5.0


GROWTH = f"""{PEAK}
import sys
from handread.card import CardError, load_card
before = peak()
for path in sys.argv[1:]:
    try:
        load_card(path)
    except CardError:
        pass
print(peak() - before)
"""


def test_hostile_megabytes_take_less_than_a_hundred_megabytes(tmp_path):
    paths = [tmp_path / f"{name.replace(' ', '-')}.toml" for name in HOSTILE]
    for path, (text, _) in zip(paths, HOSTILE.values(), strict=True):
        path.write_text(text)
    command = [sys.executable, "-c", GROWTH, *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert int(done.stdout) < 100 * MEGABYTE


def test_a_file_over_the_limit_is_not_read(tmp_path):
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * (MEGABYTE + 1))
    with pytest.raises(CardError, match=r"large\.toml: has 1,048,577 bytes"):
        load_card(path)
