"""Fenced blocks of a Markdown file, and the marks that say what holds them true.

A mark is a comment on the line above the fence: ``<!-- command: two -->``. Run
``python tests/docs/marked.py README.md command: two`` to print the block so marked; plain
Python is enough.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from pathlib import Path

_MARK = re.compile(r"<!-- (?P<mark>[^>]+?) -->")
_BLOCK = re.compile(
    rf"^(?:{_MARK.pattern}\n+)?(?P<fence>```+)(?P<language>\w*)[^\n]*\n(?P<text>.*?)^(?P=fence)$",
    re.MULTILINE | re.DOTALL,
)


@dataclass(frozen=True)
class Block:
    """A fenced block: its mark, its language, its text and the line on which the text starts."""

    mark: str
    language: str
    text: str
    line: int


def blocks(markdown: str) -> tuple[Block, ...]:
    """Every fenced block, in order."""
    return tuple(
        Block(
            found["mark"] or "",
            found["language"],
            found["text"],
            markdown.count("\n", 0, found.start("text")) + 1,
        )
        for found in _BLOCK.finditer(markdown)
    )


def marks(markdown: str) -> tuple[str, ...]:
    """Every mark, whether or not a block follows it."""
    return tuple(found["mark"] for found in _MARK.finditer(markdown))


def marked(markdown: str, mark: str) -> str:
    """Text of the one block with this mark."""
    found = [block.text for block in blocks(markdown) if block.mark == mark]
    if len(found) != 1:
        raise SystemExit(f"{len(found)} blocks are marked {mark!r}; there must be one")
    return found[0]


if __name__ == "__main__":
    path, *words = sys.argv[1:]
    print(marked(Path(path).read_text(encoding="utf-8"), " ".join(words)), end="")
