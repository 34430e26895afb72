"""Builds: one wheel, one editable wheel and one sdist for all the tests here."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest


def build(kind: str, source: Path, into: Path) -> Path:
    """Build a ``wheel``, ``editable`` or ``sdist`` of `source` by its own build backend."""
    into.mkdir()
    code = f"import sys; from hatchling.build import build_{kind} as b; print(b(sys.argv[1]))"
    command = [sys.executable, "-c", code, str(into)]
    done = subprocess.run(command, cwd=source, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return into / done.stdout.split()[-1]


@dataclass(frozen=True)
class Install:
    """One way to have handread: where it is looked for, and what its files lie under."""

    folder: Path
    as_site: bool
    root: Path


@pytest.fixture(scope="session")
def wheel(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build("wheel", checkout, tmp_path_factory.mktemp("wheel") / "dist")


@pytest.fixture(scope="session")
def sdist(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return build("sdist", checkout, tmp_path_factory.mktemp("sdist") / "dist")


def unpack(wheel: Path, into: Path) -> Path:
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(into)
    return into


@pytest.fixture(scope="session")
def installs(
    checkout: Path, wheel: Path, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Install]:
    scratch = tmp_path_factory.mktemp("installs")
    editable = unpack(build("editable", checkout, scratch / "dist"), scratch / "editable")
    unpacked = unpack(wheel, scratch / "unpacked")
    return {
        "checkout": Install(checkout, False, checkout),
        "editable": Install(editable, True, checkout),
        "wheel": Install(unpacked, False, unpacked / "handread" / "_shipped"),
    }


@pytest.fixture(params=["checkout", "editable", "wheel"])
def install(request: pytest.FixtureRequest, installs: dict[str, Install]) -> Install:
    return installs[request.param]
