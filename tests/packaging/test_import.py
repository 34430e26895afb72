"""``import handread`` is silent: it loads little and changes nothing of the process."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.packaging.clean import ask_clean, run_clean

UNWANTED = (
    "pymc", "arviz", "matplotlib", "numba", "pandas", "scipy", "rich", "typer", "click",
    "joblib", "sklearn", "statsmodels", "hypothesis", "pytest",
)  # fmt: skip

# The dependencies that handread may load at once come first, so that what they change
# is not laid at its door.
PROCESS = """
import locale, logging, os, signal, sys, threading, warnings
import numpy as np
import msgspec

def process():
    loggers = {n: x for n, x in logging.root.manager.loggerDict.items()
               if isinstance(x, logging.Logger)}
    return {
        "handlers": repr(logging.root.handlers)
            + repr({n: x.handlers for n, x in loggers.items() if x.handlers}),
        "levels": repr((logging.root.level, logging.root.manager.disable))
            + repr({n: x.level for n, x in loggers.items() if x.level}),
        "filters": repr(warnings.filters),
        "floating point": repr((np.geterr(), np.geterrcall())),
        "printing": repr(np.get_printoptions()),
        "generator": repr(np.random.get_state()),
        "environment": repr(sorted(os.environ.items())),
        "hooks": repr((sys.excepthook, sys.displayhook, sys.meta_path, sys.path_hooks, sys.path)),
        "signals": repr([signal.getsignal(s) for s in signal.valid_signals()]),
        "locale": repr(locale.setlocale(locale.LC_ALL)),
        "threads": repr(threading.enumerate()),
        "folder": os.getcwd(),
    }

before = process()
"""
COMPARE = """
after = process()
answer = {name: [before[name], after[name]] for name in before if before[name] != after[name]}
"""


def test_import_loads_none_of_the_heavy_packages(checkout: Path, tmp_path: Path) -> None:
    code = "import handread, sys\nanswer = sorted(sys.modules)"
    loaded = set(ask_clean(code, checkout, tmp_path))
    assert "handread" in loaded
    assert not loaded.intersection(UNWANTED)


def test_import_prints_nothing_and_changes_nothing(checkout: Path, tmp_path: Path) -> None:
    assert run_clean("import handread", checkout, tmp_path) == ""
    assert ask_clean(PROCESS + "import handread" + COMPARE, checkout, tmp_path) == {}


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ("logging.getLogger('handread').addHandler(logging.NullHandler())", "handlers"),
        ("warnings.simplefilter('ignore')", "filters"),
        ("np.seterr(all='ignore')", "floating point"),
        ("np.random.seed(1)", "generator"),
        ("os.environ['X'] = 'y'", "environment"),
    ],
)
def test_the_comparison_sees_a_change(
    change: str, name: str, checkout: Path, tmp_path: Path
) -> None:
    assert list(ask_clean(PROCESS + change + COMPARE, checkout, tmp_path)) == [name]


def test_every_exported_name_is_there(checkout: Path, tmp_path: Path) -> None:
    code = (
        "import handread\n"
        "answer = [name for name in handread.__all__\n"
        "          if not hasattr(handread, name) or name not in dir(handread)]"
    )
    assert ask_clean(code, checkout, tmp_path) == []
