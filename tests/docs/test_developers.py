"""DEVELOPERS.md says what is so."""

from __future__ import annotations

import re
from pathlib import Path

from tests.docs.marked import blocks
from tests.docs.sources import PAGE, expected_table, refresh, source_lines, stated_table

TEXT = PAGE.read_text(encoding="utf-8")


def test_the_sources_are_those_of_the_files() -> None:
    """``python -m tests.docs.sources`` writes the table afresh."""
    assert stated_table(TEXT) == expected_table()
    assert refresh(TEXT) == TEXT


def test_source_lines_are_read(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("# Source: A book,  p. 3\na,b\n#   Source: B | C\nSource:\nno Source: here\n")
    assert source_lines(path) == ["A book, p. 3", "B | C"]


def test_every_path_named_exists(checkout: Path) -> None:
    """Words in backquotes that begin like a path of ours are paths of ours."""
    prose = re.sub(r"```.*?```", "", TEXT, flags=re.DOTALL)
    named = re.findall(r"`((?:handread|tests|data|models|notebooks|\.ci)/[\w./-]*)`", prose)
    assert named
    missing = sorted({path for path in named if not (checkout / path).exists()})
    assert not missing, "\n".join(["", *missing])


def test_every_test_named_exists(checkout: Path) -> None:
    """Tests in the table of habits are functions of tests/."""
    named = set(re.findall(r"`(test_\w+)`", TEXT))
    source = "\n".join(
        path.read_text(encoding="utf-8") for path in (checkout / "tests").rglob("test_*.py")
    )
    missing = sorted(name for name in named if f"def {name}(" not in source)
    assert named
    assert not missing, "\n".join(["", *missing])


def test_shell_blocks_name_modules_that_exist(checkout: Path) -> None:
    shell = "\n".join(block.text for block in blocks(TEXT) if block.language == "sh")
    modules = re.findall(r"python -m (tests[\w.]*)", shell)
    assert modules
    assert [m for m in modules if not (checkout / (m.replace(".", "/") + ".py")).is_file()] == []
