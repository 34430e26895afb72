"""Run code in an interpreter that sees the dependencies and one handread of our choice."""

from __future__ import annotations

import json
import subprocess
import sys
import sysconfig
from pathlib import Path
from typing import Any

_START = """
import json, site, sys
add, paths, dependencies, arguments = json.loads(sys.argv.pop(1))
for path in paths:
    site.addsitedir(path) if add else sys.path.insert(0, path)
sys.path += dependencies
sys.argv[:] = ["handread", *arguments]
"""


def run_clean(
    code: str, folder: Path, cwd: Path, *, as_site: bool = False, arguments: tuple[str, ...] = ()
) -> str:
    """Run `code` with handread importable from `folder` alone; return what it printed.

    The interpreter reads no ``.pth`` file of this environment, so an editable install of
    handread in it stays out of sight. `as_site` reads the ``.pth`` files of `folder`.
    Fails on a non-zero exit and on anything printed to standard error.
    """
    dependencies = sorted({sysconfig.get_path("purelib"), sysconfig.get_path("platlib")})
    given = json.dumps([as_site, [str(folder)], dependencies, arguments])
    done = subprocess.run(
        [sys.executable, "-I", "-S", "-X", "utf8", "-c", _START + code, given],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    return done.stdout


def ask_clean(code: str, folder: Path, cwd: Path, *, as_site: bool = False) -> Any:
    """Run `code`, which leaves its answer in ``answer``, and return that answer."""
    return json.loads(run_clean(code + "\nprint(json.dumps(answer))", folder, cwd, as_site=as_site))
