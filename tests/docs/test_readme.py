"""README.md says what is so: its Python runs, its commands and help texts are the program's."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest

from tests.docs.marked import Block, blocks, marked, marks
from tests.docs.program import (
    HELP,
    SHORTHAND,
    expected,
    refresh,
    shorthand_section,
    shorthand_text,
    tidy,
)  # fmt: skip

README = Path(__file__).resolve().parents[2] / "README.md"
TEXT = README.read_text(encoding="utf-8")


def python_blocks() -> list[Block]:
    return [block for block in blocks(TEXT) if block.language == "python"]


def run(page: list[Block], name: str) -> dict[str, Any]:
    """Run the blocks in one namespace; an error names the line of the page."""
    namespace: dict[str, Any] = {"__name__": "readme"}
    for block in page:
        padded = "\n" * (block.line - 1) + block.text
        exec(compile(padded, name, "exec"), namespace)
    return namespace


def test_python_blocks_run(monkeypatch: pytest.MonkeyPatch) -> None:
    assert python_blocks()
    monkeypatch.chdir(README.parent)
    run(python_blocks(), str(README))


def test_an_error_in_a_block_stops_and_names_its_line() -> None:
    page = "text\n\n```python\na = 1\n```\n\n```python\nb = a\nraise KeyError(b)\n```\n"
    with pytest.raises(KeyError, match="1") as caught:
        run(list(blocks(page)), "page")
    assert caught.traceback[-1].lineno + 1 == 9


@pytest.mark.parametrize("which", ["one", "two"])
def test_each_command_is_one_line_in_an_environment_of_its_own(which: str) -> None:
    command = marked(TEXT, f"command: {which}")
    assert command.count("\n") == 1
    steps = command.strip().split(" && ")
    assert steps[0] == "python3 -m venv .venv"
    assert all(step.startswith(".venv/bin/") for step in steps[1:])


def test_command_one_reads_a_demo_record_that_is_there(checkout: Path) -> None:
    words = shlex.split(marked(TEXT, "command: one"))
    assert words[-3:-1] == [".venv/bin/handread", "read"]
    assert (checkout / words[-1]).is_file()


def test_ci_takes_command_two_from_this_page(checkout: Path) -> None:
    script = (checkout / ".ci" / "run").read_text(encoding="utf-8")
    assert "tests/docs/marked.py README.md command: two" in script
    assert marked(TEXT, "command: two").strip() not in script


def test_the_shorthand_is_the_programs() -> None:
    """``python -m tests.docs.program`` writes this section afresh."""
    assert tidy(shorthand_section(TEXT)) == shorthand_text()


@pytest.mark.parametrize("mark", [mark for mark in marks(TEXT) if mark.startswith(HELP)])
def test_the_program_says_the_same(mark: str) -> None:
    """``python -m tests.docs.program`` writes these blocks afresh."""
    assert tidy(marked(TEXT, mark)) == expected(mark)


def test_marks_are_known() -> None:
    known = re.compile(
        rf"command: (one|two)|{HELP}handread( [a-z]+)*|(end of )?{SHORTHAND}"
        r"|figures: \S+ \S+|end of figures"
    )
    assert [mark for mark in marks(TEXT) if not known.fullmatch(mark)] == []
    assert marks(TEXT).count(SHORTHAND) == 1


def test_no_fence_is_left_open() -> None:
    found = blocks(TEXT)
    assert TEXT.count("\n```") == 2 * len(found)


def test_links_within_the_project_lead_somewhere(checkout: Path) -> None:
    for page in ("README.md", "DEVELOPERS.md"):
        text = (checkout / page).read_text(encoding="utf-8")
        links = re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text)
        assert [link for link in links if not (checkout / link).exists()] == []


def test_blocks_and_refresh_on_a_small_page(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.docs.program.expected", {"help: handread x": "usage: x\n"}.get)
    monkeypatch.setattr("tests.docs.program.shorthand_text", lambda: "grammar\n")
    page = (
        "<!-- help: handread x -->\n```text\nold\n```\n\nprose\n\n"
        "<!-- shorthand -->\nold grammar\n<!-- end of shorthand -->\n\nend\n"
    )
    new = refresh(page)
    assert [(b.mark, b.language, b.text, b.line) for b in blocks(new)] == [
        ("help: handread x", "text", "usage: x\n", 3),
    ]
    assert shorthand_section(new) == "grammar\n"
    assert new.endswith("\n\nend\n")
    assert refresh(new) == new
