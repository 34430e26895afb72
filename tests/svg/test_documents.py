"""Documents: valid, self-contained, described, the same for the same input, nothing outside."""

import ast
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import FrozenInstanceError
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread import svg
from handread.svg.markup import clean, number, shortened, width_of
from tests.svg.drawn import SVG, parts, pictures, written

HOSTILE = '<script>alert(\'&"x")</script>]]>&#0;\x00\x0b\ufffe\ud800 <!-- --> 東家'


@settings(max_examples=60, deadline=None)
@given(pictures())
def test_every_picture_is_a_document_that_says_what_it_shows(picture):
    picture.svg.encode()  # no lone surrogates
    root = ET.fromstring(picture.svg)
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    name, *facts = picture.text.split("\n")
    title = root.find(f"{SVG}title")
    assert (title.text or "") == name == root.get("aria-label")
    desc = root.find(f"{SVG}desc")
    if facts:
        assert desc.text == "\n".join(facts)
        assert root.get("aria-describedby") == desc.get("id")
    else:
        assert desc is None
        assert root.get("aria-describedby") is None
    ids = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(ids) == len(set(ids)) == 1 + bool(facts)


@settings(max_examples=60, deadline=None)
@given(pictures())
def test_nothing_is_fetched_or_run(picture):
    root = ET.fromstring(picture.svg)
    plain = {"svg", "g", "rect", "circle", "line", "path", "polygon", "text", "title", "desc"}
    assert {node.tag.removeprefix(SVG) for node in root.iter()} <= plain
    for node in root.iter():
        for attribute, value in node.attrib.items():
            assert not re.match(r"on|style|.*href|class", attribute)
            if attribute not in ("aria-label",):
                assert "url(" not in value


@settings(max_examples=60, deadline=None)
@given(pictures())
def test_everything_lies_inside_the_document(picture):
    root = ET.fromstring(picture.svg)
    width, height = float(root.get("width")), float(root.get("height"))
    assert root.get("viewBox") == f"0 0 {root.get('width')} {root.get('height')}"
    for part in parts(picture):
        if part.tag == "rect":
            left, top, right, bottom = part.box()
            assert left >= 0
            assert top >= 0
            assert right <= width + 0.01
            assert bottom <= height + 0.01
        if part.tag == "text":
            x, y = part.point()
            size, bold = float(part.node.get("font-size")), part.node.get("font-weight") == "bold"
            room = width_of(part.node.text or "", size, bold=bold)
            left = x if part.node.get("text-anchor") == "start" else x - room / 2
            assert left >= 0
            assert left + room <= width + 0.01
            assert size * 0.7 <= y <= height


def test_tiles_do_not_overlap():
    thrown = [(n % 4, n % 36, None) for n in range(60)]
    shown = [[(4, 6, 2), (9, 3, 0)], [(1, 5, 0)], [(2, 14, 1)], [(33, 4, 0), (34, 8, 0)]]
    picture = svg.table(thrown, shown, (3, 9, 14, 13), racks={1: range(9), 2: range(14)})
    boxes = [
        part.box()
        for part in parts(picture)
        if part.tag == "rect" and part.node.get("height") == "56.5"
    ]
    assert len(boxes) == 60 + 6 + 3 + 5 + 14 + 4 + 8 + 9 + 14
    for n, (left, top, right, bottom) in enumerate(boxes):
        for left2, top2, right2, bottom2 in boxes[:n]:
            apart = right <= left2 or right2 <= left or bottom <= top2 or bottom2 <= top
            assert apart


@pytest.mark.parametrize(
    "draw",
    [
        lambda title: svg.tile(3, title=title),
        lambda title: svg.row([[3]], title=title),
        lambda title: svg.rack([3], title=title),
        lambda title: svg.floor([(0, 3, None)], title=title),
        lambda title: svg.live_counts([0] * 36, title=title),
        lambda title: svg.table(title=title),
    ],
)
def test_hostile_titles_stay_text(draw):
    picture = draw(HOSTILE)
    root = ET.fromstring(picture.svg)
    kept = '<script>alert(\'&"x")</script>]]>&#0;\ufffd\ufffd\ufffd\ufffd <!-- --> 東家'
    assert root.get("aria-label") == kept == picture.text.split("\n")[0]
    assert f"{SVG}script" not in {node.tag for node in root.iter()}
    assert not any("<!--" in (node.tail or "") for node in root.iter())


def test_a_title_is_drawn_and_cut_where_it_is_long_but_whole_in_words():
    assert "The joker" in written(svg.tile(35, title="The joker"))
    picture = svg.tile(35, title="a title " * 40)
    assert picture.text.split("\n")[0] == ("a title " * 40).strip()
    (cut,) = [text for text in written(picture) if text.startswith("a title")]
    assert cut.endswith("…")
    assert len(cut) < 30


def test_names_of_people_are_escaped_and_told():
    picture = svg.table(people=["<i>", "b & c", "", "d\nd"])
    assert {"<i>", "b & c", "d d"} <= set(written(picture))
    assert "East (<i>)." in picture.text
    assert "South (b & c)." in picture.text
    assert "West." in picture.text


def test_the_same_input_gives_the_same_bytes_in_another_process():
    code = "from handread import svg; print(svg.rack([1, 5], [(3, 4, 1)], title='t').svg)"
    env = {"PYTHONHASHSEED": "7", "PYTHONPATH": ":".join(sys.path)}
    other = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env)
    assert other.stdout.strip() == svg.rack([1, 5], [(3, 4, 1)], title="t").svg


def test_ids_follow_the_content():
    def mark(picture):
        return ET.fromstring(picture.svg).find(f"{SVG}title").get("id")

    assert mark(svg.tile(1)) == mark(svg.tile(1))
    marks = {mark(svg.tile(kind)) for kind in range(36)}
    assert len(marks) == 36
    assert all(re.fullmatch("hr-[0-9a-f]{12}-title", found) for found in marks)


def test_numpy_values_draw_the_same_picture():
    counts = np.zeros(36, dtype=np.uint8)
    counts[[4, 30]] = 2
    kinds = np.repeat(np.arange(36), counts)
    assert svg.rack(kinds) == svg.rack([4, 4, 30, 30])
    assert svg.live_counts(counts) == svg.live_counts(counts.tolist())
    assert svg.table(live=np.ones(4, dtype=bool)) == svg.table()


def test_a_picture_is_a_value_that_shows_itself():
    picture = svg.tile(4)
    assert picture == svg.tile(4) != svg.tile(5)
    assert hash(picture) == hash(svg.tile(4))
    with pytest.raises(FrozenInstanceError):
        picture.text = ""
    assert str(picture) == "5 bam"
    assert picture._repr_svg_() == picture.svg
    page = ET.fromstring(picture._repr_html_())
    assert page.attrib.pop("style") == "max-width:100%;height:auto"
    assert page.attrib == ET.fromstring(picture.svg).attrib
    whole = picture._repr_mimebundle_()
    assert whole == {
        "text/html": picture._repr_html_(),
        "image/svg+xml": picture.svg,
        "text/plain": "5 bam",
    }
    assert set(picture._repr_mimebundle_(include={"image/svg+xml"})) == {"image/svg+xml"}
    assert set(picture._repr_mimebundle_(exclude=["text/html"])) == {"image/svg+xml", "text/plain"}


@given(st.text())
def test_clean_text_fits_into_xml(text):
    shown = clean(text)
    assert clean(shown) == shown
    root = ET.fromstring(svg.tile(0, title=text).svg)
    assert root.find(f"{SVG}title").text == (shown or "1 bam")


@given(st.text(max_size=30), st.floats(20, 400), st.booleans())
def test_shortened_text_fits(text, most, bold):
    shown = shortened(text, 12, most, bold=bold)
    assert width_of(shown, 12, bold=bold) <= most
    assert shown == text or text.startswith(shown[:-1])


@given(st.floats(-1e4, 1e4))
def test_coordinates_are_written_to_two_decimals(value):
    assert abs(float(number(value)) - value) <= 0.005 + 1e-9
    assert re.fullmatch(r"-?\d+(\.\d{1,2})?", number(value))
    assert number(value) != "-0"


def test_the_folder_knows_tiles_and_errors_only():
    found = set()
    for file in Path(svg.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.ImportFrom):
                found.add(node.module)
            if isinstance(node, ast.Import):
                found |= {name.name for name in node.names}
    ours = {name for name in found if name.startswith("handread")}
    assert all(
        name in ("handread.tiles", "handread.errors") or name.startswith("handread.svg")
        for name in ours
    )
    assert {name.split(".")[0] for name in found - ours} <= set(sys.stdlib_module_names)


def test_words_on_one_line_do_not_run_into_each_other():
    taken = [(n % 4, n, (n + 1) % 4) for n in range(36)]
    names = ["a long pseudonymous key"] * 4
    for picture in (svg.floor(taken), svg.live_counts([4] * 36, certain=False), svg.table(
        taken, [[(27, 3, 1), (34, 2, 0), (30, 6, 2)]] * 4, people=names, holder=1
    )):  # fmt: skip
        ends = {}
        for part in sorted(parts(picture), key=lambda p: p.x):
            if part.tag != "text":
                continue
            x, y = part.point()
            size, bold = float(part.node.get("font-size")), part.node.get("font-weight") == "bold"
            room = width_of(part.node.text, size, bold=bold)
            left = x if part.node.get("text-anchor") == "start" else x - room / 2
            assert left >= ends.get(y, 0), part.node.text
            ends[y] = left + room
