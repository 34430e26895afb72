"""Model files: what is said of versions, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from handread.clues import load_weights
from handread.clues.weights import term_versions
from handread.errors import ParseError

LORE = Path(__file__).parents[2] / "models" / "lore" / "weights.toml"


def with_version(path: Path, block: str, version: int) -> Path:
    """The lore weights with a version stated for one block."""
    lines, here = [], False
    for line in LORE.read_text(encoding="utf-8").splitlines():
        here = line == f"[{block}]" if line.startswith("[") else here
        if here and line.startswith("version"):
            continue
        lines.append(line)
        if line == f"[{block}]":
            lines.append(f"version = {version}")
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


@pytest.mark.parametrize("block", ["use", "claims", "wins", "redeems", "passes", "hazard"])
def test_weights_for_another_version_are_refused_and_say_how_to_fit(tmp_path, block):
    here = term_versions()[block]
    path = tmp_path / "weights.toml"
    assert load_weights(with_version(path, block, here)).hash == load_weights().hash
    with pytest.raises(ParseError, match=rf"'{block}' are for version {here + 1}.*handread fit"):
        load_weights(with_version(path, block, here + 1))
