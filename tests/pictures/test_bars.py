"""Bars of the 36 kinds: every number said, bars as long as the numbers, readable."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import handread as hr
from handread import svg
from handread.svg.bars import WIDTH
from handread.svg.markup import width_of
from handread.tiles import COPIES, KINDS
from tests.svg.drawn import SVG, parts, written
from tests.svg.test_looks import contrast

shares = st.lists(st.floats(0, 1), min_size=36, max_size=36)


def bars(picture):
    """Length of each kind's bar, as a share of the whole."""
    found, drawn = [], parts(picture)
    for place, part in enumerate(drawn):
        if part.tag == "rect" and part.node.get("height") == "7":
            width = float(part.node.get("width"))
            if part.node.get("stroke"):
                assert width == WIDTH - 1
                following = drawn[place + 1] if place + 1 < len(drawn) else part
                fill = following.tag == "rect" and following.node.get("height") == "7"
                found.append(0.0 if not fill or following.node.get("stroke") else
                             float(following.node.get("width")) / width)  # fmt: skip
    return found


@settings(max_examples=12)
@given(shares)
@example([0.0, 0.005, 0.995, 1.0, *[0.5] * 32])
def test_every_number_is_drawn_and_said(probs):
    picture = svg.probabilities(probs)
    assert np.allclose(bars(picture), probs, atol=0.006)
    said = picture.text.split("\n", 2)[2]  # after the name and the highest
    for kind, prob in zip(KINDS, probs, strict=True):
        (number,) = re.findall(rf"(?<!\d){kind} ((?:under |over )?\d+ %)", said)
        value = float(number.split()[-2])
        if number.startswith("under"):
            assert 0 < prob <= 0.005
        elif number.startswith("over"):
            assert 0.995 <= prob < 1  # so that 100 % is said of 1 alone
        else:
            assert abs(value - 100 * prob) <= 0.5
            assert (value == 0) == (prob == 0)
            assert (value == 100) == (prob == 1)
        assert number.replace("under ", "<").replace("over ", ">") in written(picture)


@settings(max_examples=12)
@given(shares)
def test_expected_copies_are_shares_of_the_copies_in_the_set(parts_of):
    expected = np.array(parts_of) * COPIES
    picture = svg.expected_copies(expected)
    assert np.allclose(bars(picture), parts_of, atol=0.006)
    said = picture.text.split("\n", 2)[2]
    for kind, value, copies in zip(KINDS, expected, COPIES, strict=True):
        (number,) = re.findall(rf"(?<!\d){kind} (\d+\.\d) of {copies}\b", said)
        assert abs(float(number) - value) <= 0.05 + 1e-9


def test_the_highest_come_first_in_words():
    probs = np.full(36, 0.1)
    probs[[31, 4, 35, 0, 20]] = 0.9, 0.8, 0.7, 0.6, 0.5
    highest = svg.probabilities(probs).text.splitlines()[1]
    assert highest == "Highest: green 90 %, 5 bam 80 %, joker 70 %, 1 bam 60 %, 3 dot 50 %."
    assert svg.probabilities([0] * 36).text.splitlines()[1] == "Highest: none."


@pytest.mark.parametrize("draw", [svg.probabilities, svg.expected_copies])
@pytest.mark.parametrize("value", [1.0, 0.001, 0.996, 0.5])
def test_readable_on_its_own_ground_and_nothing_runs_over(draw, value):
    picture = draw([value] * 36, title="A title")
    root = ET.fromstring(picture.svg)
    width, height = float(root.get("width")), float(root.get("height"))
    assert width <= 640
    drawn = parts(picture)
    ends = {}
    for place, part in enumerate(drawn):
        if part.tag == "rect":
            left, top, right, bottom = part.box()
            assert min(left, top) >= 0
            assert right <= width + 0.01
            assert bottom <= height + 0.01
        if part.tag != "text":
            continue
        x, y = part.point()
        size = float(part.node.get("font-size"))
        assert size >= 12
        bold = part.node.get("font-weight") == "bold"
        room = width_of(part.node.text, size, bold=bold)
        left = x if part.node.get("text-anchor") == "start" else x - room / 2
        assert left >= ends.get(y, 0), part.node.text
        ends[y] = left + room
        grounds = [
            under.node.get("fill")
            for under in drawn[:place]
            if under.tag == "rect" and under.box()[0] < x + 1 < under.box()[2]
            and under.box()[1] < y - size * 0.35 < under.box()[3]
        ]  # fmt: skip
        assert contrast(part.node.get("fill"), grounds[-1]) >= 4.5  # WCAG 2.1, 1.4.3


def test_likely_and_unlikely_kinds_differ_without_colour():
    picture = svg.probabilities([0.004] * 18 + [0.006] * 18)
    numbers = [part.node for part in parts(picture) if part.tag == "text" and "%" in part.node.text]
    assert [node.get("font-weight") for node in numbers] == [None] * 18 + ["bold"] * 18


@pytest.mark.parametrize("draw", [svg.probabilities, svg.expected_copies])
@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([0.5] * 35, ": got 35 items"),
        ([0.5] * 4 + [4.2] + [0.5] * 31, ", 5 bam: got 4.2; .* is a number from 0 to [14]"),
        ([float("nan")] * 36, ", 1 bam: got nan"),
        ([-0.1] * 36, ", 1 bam: got -0.1"),
        (["5"] * 36, ", 1 bam: got '5'"),
        ([True] * 36, ", 1 bam: got True"),
        ("none", ": got 'none'"),
    ],
)
def test_values_out_of_range_are_named(draw, values, words):
    with pytest.raises(hr.HandreadError, match=f"^{draw.__name__}{words}"):
        draw(values)


def test_rounding_over_one_is_cut_off():
    assert svg.probabilities([1 + 1e-12] * 36) == svg.probabilities([1] * 36)


def test_copies_of_another_set():
    copies = [4] * 34 + [0, 10]
    text = svg.expected_copies([0.0] * 35 + [10], copies).text
    assert "flower 0.0 of 0, joker 10.0 of 10." in text
    with pytest.raises(hr.HandreadError, match=r"expected_copies, flower: got 0.5; .* 0 to 0"):
        svg.expected_copies([0.0] * 34 + [0.5, 0], copies)


def test_a_document_as_the_others_are():
    picture = svg.probabilities(np.linspace(0, 1, 36), title="<needs>")
    root = ET.fromstring(picture.svg)
    assert root.get("role") == "img"
    assert root.get("aria-label") == "<needs>" == root.find(f"{SVG}title").text
    assert root.find(f"{SVG}desc").text == "\n".join(picture.text.split("\n")[1:])
    assert picture == svg.probabilities(np.linspace(0, 1, 36), title="<needs>")
    tags = {node.tag.removeprefix(SVG) for node in root.iter()}
    assert tags <= {"svg", "g", "rect", "line", "text", "title", "desc"}
    assert len(picture.svg) < 30_000
