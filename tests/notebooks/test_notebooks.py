"""The notebooks run from top to bottom, are stored with outputs, and stay small."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

NAMES = (
    "calibration.ipynb", "fit-a-table.ipynb", "reading-a-table.ipynb", "the-tables.ipynb",
    "what-each-rule-is-worth.ipynb", "who-can-be-read.ipynb",
)  # fmt: skip
MOST_BYTES = 700_000
#: Run by hand before a release: it takes twelve minutes of a processor by itself.
BY_HAND = ("what-each-rule-is-worth.ipynb",)


def read(checkout: Path, name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((checkout / "notebooks" / name).read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize("name", NAMES)
def test_notebooks_are_stored_as_they_ran(checkout: Path, name: str) -> None:
    code = [cell for cell in read(checkout, name)["cells"] if cell["cell_type"] == "code"]
    assert [cell["execution_count"] for cell in code] == list(range(1, len(code) + 1))
    assert any(cell["outputs"] for cell in code)
    kinds = {out["output_type"] for cell in code for out in cell["outputs"]}
    assert "error" not in kinds
    streams = {out.get("name") for cell in code for out in cell["outputs"]}
    assert "stderr" not in streams, "a warning is stored"
    assert (checkout / "notebooks" / name).stat().st_size < MOST_BYTES


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in NAMES if name not in BY_HAND])
def test_notebooks_execute(checkout: Path, name: str) -> None:
    nbformat = pytest.importorskip("nbformat")
    nbclient = pytest.importorskip("nbclient")
    if name == "fit-a-table.ipynb":
        pytest.importorskip("pymc")
        pytest.importorskip("arviz", minversion="1")  # its pictures are those of the newer one
    book = nbformat.read(checkout / "notebooks" / name, as_version=4)
    where = {"metadata": {"path": str(checkout / "notebooks")}}
    nbclient.NotebookClient(book, timeout=3000, resources=where).execute()
