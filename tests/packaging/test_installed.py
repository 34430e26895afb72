"""The wheel as a user has it: installed with its dependencies, run outside the checkout."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

LOOK = "from handread.shipped import shipped; print(shipped('data/records/change-of-plan.txt'))"


def run(command: list[str | Path], cwd: Path) -> str:
    environment = {name: x for name, x in os.environ.items() if name != "PYTHONPATH"}
    done = subprocess.run(
        command, cwd=cwd, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_installed_wheel_does_the_main_job(wheel: Path, tmp_path: Path) -> None:
    """Only what the wheel declares is installed, so a dependency left out is missed here."""
    run([sys.executable, "-m", "venv", "env"], tmp_path)
    programs = tmp_path / "env" / ("Scripts" if os.name == "nt" else "bin")
    run([programs / "python", "-m", "pip", "install", "--quiet", wheel], tmp_path)
    demo = run([programs / "python", "-c", LOOK], tmp_path).strip()
    assert Path(demo).is_relative_to(tmp_path / "env")
    assert json.loads(run([programs / "handread", "read", demo, "--json"], tmp_path))
    assert run([programs / "handread", "read", demo], tmp_path).strip()
