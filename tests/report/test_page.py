"""Pages of studies and matrices: complete in themselves, well formed, and true to the figures."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from typer.testing import CliRunner

from handread.cli.app import app
from handread.errors import HandreadError
from handread.report.page import write_page
from handread.report.page.figures import Dot, by_turn, intervals, lead, shaded, ticks
from handread.report.page.markup import document, number, section, span, table
from handread.study.matrix import MatrixPlan, read_matrix, run_matrix
from handread.study.running import StudyPlan, read_result, run_study

PLAN = StudyPlan(
    name="tiny <b>", seed=35, card="small", training=3, test=5, resamples=100,
    readers=("base rates", "floor", "elimination", "lore"), moves=("lore",), windows=("lore",),
)  # fmt: skip
MATRIX = MatrixPlan(
    "tiny", 36, card="small", kinds=("chaser", "guarded"), training=2, prior_games=2, test=2,
    trainers=("elimination",), resamples=100,
)  # fmt: skip
#: Elements that stand alone.
_ALONE = {"meta", "br"}


class Tree(HTMLParser):
    """Which elements a page has, and whether each is closed where it should be."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in _ALONE:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, tag
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pages") / "study"
    run_study(PLAN, out=folder)
    return folder


@pytest.fixture(scope="module")
def pages(study: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    matrix = tmp_path_factory.mktemp("pages") / "matrix"
    run_matrix(MATRIX, out=matrix)
    return {
        folder.name: write_page(folder).read_text(encoding="utf-8") for folder in (study, matrix)
    }


@pytest.mark.parametrize("name", ["study", "matrix"])
def test_a_page_is_whole_and_loads_nothing(name: str, pages: dict[str, str]) -> None:
    page, tree = pages[name], Tree()
    tree.feed(page)
    tree.close()
    assert tree.open == []
    names = {tag for tag, _ in tree.tags}
    assert not names & {"script", "link", "img", "iframe", "object", "embed", "base", "a"}
    for _, attributes in tree.tags:
        assert not {"src", "href", "onclick", "onload", "style"} & set(attributes)
    assert not re.search(r"url\(|@import|https?://(?!www\.w3\.org/2000/svg)", page)
    assert page.startswith("<!DOCTYPE html>")
    assert ("meta", {"charset": "utf-8"}) in tree.tags
    assert any(attributes.get("name") == "viewport" for _, attributes in tree.tags)
    assert "<b>" not in page, "a plan's name is no markup"


@pytest.mark.parametrize("name", ["study", "matrix"])
def test_pictures_are_svg_with_every_place_on_the_picture(name: str, pages: dict[str, str]) -> None:
    pictures = re.findall(r"<svg.*?</svg>", pages[name], flags=re.DOTALL)
    assert len(pictures) > 2
    for picture in pictures:
        root = ElementTree.fromstring(picture)
        _, _, width, height = map(float, root.attrib["viewBox"].split())
        assert root[0].tag.endswith("title")
        assert root[0].text
        for part in root.iter():
            for key, most in (
                ("x", width),
                ("x1", width),
                ("x2", width),
                ("cx", width),
                ("y", height),
                ("y1", height),
                ("y2", height),
                ("cy", height),
            ):
                if key in part.attrib:
                    assert -0.01 <= float(part.attrib[key]) <= most + 0.01, picture
            for pair in part.attrib.get("points", "").split():
                x, y = map(float, pair.split(","))
                assert -0.01 <= x <= width + 0.01
                assert -0.01 <= y <= height + 0.01
            for key in ("fill", "stroke"):
                assert part.attrib.get(key, "none") in ("none",) or _is_grey(part.attrib[key])


def _is_grey(colour: str) -> bool:
    """Whether a colour differs little from a grey, so that a print in grey loses nothing."""
    parts = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return max(parts) - min(parts) <= 32


def test_figures_of_the_page_are_those_of_the_study(study: Path, pages: dict[str, str]) -> None:
    summary = read_result(study).summary
    for reader in ("floor", "lore"):
        for part in ("all", "exposures 0"):
            line = summary.find(reader, "gain", part)
            digits = 3 if part == "all" else 2
            assert (
                f"<td>{number(line.value, digits)}{span(line.low, line.high, digits)}"
                in (pages["study"])
            )
    assert pages["study"].count("<svg") == 1 + 3 + 4 + 4
    found = summary.find("lore", "honesty ratio") if _has(summary, "honesty ratio") else None
    assert found is None or number(found.value, 2) in pages["study"]
    assert "Every figure (" in pages["study"]


def _has(summary: object, measure: str) -> bool:
    return any(
        line.measure == measure and line.reader == "lore" and line.part == "all"
        for line in summary.lines  # type: ignore[attr-defined]
    )


def test_figures_of_a_matrix_page(pages: dict[str, str], tmp_path: Path, study: Path) -> None:
    result = read_matrix_beside(pages, tmp_path)
    for cell in result.cells:
        assert number(cell.regret.value) in pages["matrix"]


def read_matrix_beside(pages: dict[str, str], tmp_path: Path):  # type: ignore[no-untyped-def]
    run_matrix(MATRIX, out=tmp_path / "again")
    again = write_page(tmp_path / "again", tmp_path / "page.html")
    assert again.read_text(encoding="utf-8") == pages["matrix"], "the same study, another page"
    return read_matrix(tmp_path / "again")


def test_the_command_writes_the_page(study: Path, tmp_path: Path) -> None:
    out = tmp_path / "deep" / "page.html"
    done = CliRunner().invoke(app, ["study", "report", str(study), "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert out.read_bytes() == (study / "report.html").read_bytes()
    with pytest.raises(HandreadError, match=r"neither study\.json nor matrix\.json"):
        write_page(tmp_path)


# --- parts ---


def test_ticks_are_round_and_within() -> None:
    for low, high in ((0.0, 1.0), (-0.31, 2.2), (-1e-4, 3e-4), (0.0, 117.0)):
        held = ticks(low, high)
        assert 2 <= len(held) <= 5
        assert low - 1e-9 <= held[0] < held[-1] <= high + 1e-9
        assert len({round(b - a, 9) for a, b in pairwise(held)}) == 1


def test_nothing_makes_no_section_and_no_table() -> None:
    assert section("Empty", table(["a"], [])) == ""
    assert by_turn({}, "base") == []
    assert "<h1>a &amp; b</h1>" in document("a & b")
    assert number(-0.0001, 2) == "0.00"
    assert number(float("inf")) == "∞"
    assert span(float("nan"), 1.0) == ""


def test_pictures_bear_what_is_not_finite() -> None:
    nan = float("nan")
    rows = [("a < b", Dot(float("-inf"), nan, nan)), ("c", Dot(1.0, 0.5, 1.5))]
    for picture in (
        intervals(rows, "bits", "t"),
        lead("a", {"a": (np.array([1.0, 1.0]), np.array([3.0, 2.0]))}),
        shaded(("r",), ("c", "d"), [[nan, -0.2]], "t"),
    ):
        ElementTree.fromstring(picture)
        assert "nan" not in picture
