"""What every test shares: the checkout's path, hypothesis settings, the limit on one test."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Generator
from pathlib import Path

import pytest
from hypothesis import settings

#: Processor seconds, own and children's, that a test of the first tier may take.
LIMIT_SECONDS = 20.0
#: Commands that compile what most tests need, each by kernels that nothing compiles before it:
#: collecting the tests, as building a model does, has compiled some of the others already.
FIRST = (
    ("reading/__pycache__/window_kernels", ("read", "data/records/given-away.txt", "--at", "30")),
    ("simulate/kinds/__pycache__/worth", ("simulate", "--card", "small", "--games", "6",
                                          "--seed", "5", "--summary")),
)  # fmt: skip

# Machines are shared, so no deadline per example; in CI the same examples every time.
settings.register_profile("handread", deadline=None, derandomize="CI" in os.environ)
settings.load_profile("handread")


@pytest.fixture(scope="session")
def checkout() -> Path:
    """Folder that holds README.md, handread/ and tests/."""
    return Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session", autouse=True)
def compiled(checkout: Path) -> None:
    """Compile what is not yet compiled for this Python; else the first test to need it would.

    Where kernels have other names by now, this compiles in vain.
    """
    release = f"py{sys.version_info.major}{sys.version_info.minor}"
    for kernels, words in FIRST:
        if any((checkout / "handread").glob(f"{kernels}.*.{release}.nbi")):
            continue
        subprocess.run(
            [sys.executable, "-m", "handread", *words], cwd=checkout, check=True,
            capture_output=True, env={**os.environ, "PYTHONPATH": str(checkout)},
        )  # fmt: skip


def _processor_seconds() -> float:
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Item) -> Generator[None, object, object]:
    """Fail a test of the first tier that takes longer than the limit."""
    start = _processor_seconds()
    result = yield
    took = _processor_seconds() - start
    if took > LIMIT_SECONDS and item.get_closest_marker("slow") is None:
        pytest.fail(f"took {took:.1f} processor seconds; the first tier allows {LIMIT_SECONDS:g}")
    return result
