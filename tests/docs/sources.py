"""Published sources: the ``Source:`` lines of tests/published, and their table in DEVELOPERS.md.

Run ``python -m tests.docs.sources`` to write the table afresh.
"""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "DEVELOPERS.md"
MARK = "<!-- sources -->"
_HEAD = "| file of `tests/published/` | source |\n|---|---|\n"
_TABLE = re.compile(re.escape(MARK) + r"\n(?P<table>(?:\|[^\n]*\n)*)")


def published_files() -> list[Path]:
    """Every file of tests/published that states values or checks them."""
    return [
        path
        for path in sorted((ROOT / "tests" / "published").rglob("*"))
        if path.is_file()
        and "__pycache__" not in path.parts
        and path.name not in ("__init__.py", "conftest.py")
    ]


def source_lines(path: Path) -> list[str]:
    """What stands after ``Source:`` on each such line of the file."""
    found = re.findall(r"^\W*Source:[ \t]*(\S.*)$", path.read_text(encoding="utf-8"), re.MULTILINE)
    return [" ".join(line.split()) for line in found]


def expected_table() -> str:
    """The table, a row for each source of each file."""
    top = ROOT / "tests" / "published"
    rows = [
        f"| `{path.relative_to(top).as_posix()}` | {source.replace('|', '/')} |\n"
        for path in published_files()
        for source in dict.fromkeys(source_lines(path))
    ]
    return _HEAD + "".join(rows)


def stated_table(page: str) -> str:
    """The table below the mark as the page has it, empty where there is none."""
    found = _TABLE.findall(page)
    if len(found) != 1:
        raise ValueError(f"{len(found)} marks {MARK} in {PAGE.name}; there must be one")
    return str(found[0])


def refresh(page: str) -> str:
    """The same page with the table as the files have it."""
    stated_table(page)
    return _TABLE.sub(lambda _: f"{MARK}\n{expected_table()}", page)


if __name__ == "__main__":
    PAGE.write_text(refresh(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
