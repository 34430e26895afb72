"""Texts of README.md that the program itself says: help of commands, grammar of shorthand.

A block marked ``<!-- help: handread read -->`` holds what that command prints for ``--help``
in 80 columns. Between ``<!-- shorthand -->`` and ``<!-- end of shorthand -->`` stands
``handread.table.SHORTHAND_HELP``, which is Markdown itself. Run
``python -m tests.docs.program`` to write all of them afresh.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from tests.docs.marked import blocks, marks

SHORTHAND = "shorthand"
END_OF_SHORTHAND = "end of shorthand"
HELP = "help: "


def help_text(command: str) -> str:
    """What ``COMMAND --help`` prints, in 80 columns and without colours."""
    program, *words = command.split()
    if program != "handread":
        raise ValueError(f"no command of ours: {command!r}; it must begin with 'handread'")
    plain = {"COLUMNS": "80", "TERMINAL_WIDTH": "80", "NO_COLOR": "1", "TERM": "dumb"}
    code = "import sys; sys.argv[0] = 'handread'; from handread.cli import main; main()"
    done = subprocess.run(
        [sys.executable, "-X", "utf8", "-c", code, *words, "--help"],
        env={**os.environ, **plain},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    if done.returncode != 0 or done.stderr:
        raise RuntimeError(f"{command} --help: exit {done.returncode}: {done.stderr}")
    return tidy(done.stdout)


def shorthand_text() -> str:
    """The grammar of the shorthand, as the package states it."""
    from handread import table

    return tidy(str(table.SHORTHAND_HELP))  # type: ignore[attr-defined,unused-ignore]


def tidy(text: str) -> str:
    """Without spaces at ends of lines and empty lines at either end; ends in a new line."""
    lines = [line.rstrip() for line in text.splitlines()]
    return "\n".join(lines).strip("\n") + "\n"


def expected(mark: str) -> str | None:
    """What the block with this mark must hold; None for marks of other kinds."""
    if mark.startswith(HELP):
        return help_text(mark.removeprefix(HELP))
    return None


def shorthand_section(markdown: str) -> str:
    """The text between the two marks of the shorthand."""
    begin, end = f"<!-- {SHORTHAND} -->\n", f"<!-- {END_OF_SHORTHAND} -->"
    return markdown[markdown.index(begin) + len(begin) : markdown.index(end)]


def refresh(markdown: str) -> str:
    """The same page with each of these blocks written as the program says it."""
    filled = {block.mark for block in blocks(markdown)}
    for mark in dict.fromkeys(marks(markdown)):
        text = expected(mark)
        if text is None:
            continue
        comment = f"<!-- {mark} -->\n"
        start = markdown.index(comment)
        end = start + len(comment)
        if mark in filled:
            end = markdown.index("\n```\n", end) + len("\n```\n")
        markdown = f"{markdown[:start]}{comment}```text\n{text}```\n{markdown[end:]}"
    return markdown.replace(shorthand_section(markdown), shorthand_text())


if __name__ == "__main__":
    readme = Path(__file__).resolve().parents[2] / "README.md"
    readme.write_text(refresh(readme.read_text(encoding="utf-8")), encoding="utf-8")
