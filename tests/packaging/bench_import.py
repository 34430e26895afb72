"""How long ``import handread`` takes; run ``python -m tests.packaging.bench_import``."""

from __future__ import annotations

import statistics
from pathlib import Path

from tests.packaging.clean import ask_clean

_CODE = """
import time
start = time.perf_counter()
import {module}
answer = time.perf_counter() - start
"""


def main(runs: int = 7) -> None:
    """Print the median over fresh interpreters, beside numpy and msgspec alone."""
    root = Path(__file__).resolve().parents[2]
    for module in ("numpy, msgspec", "handread"):
        times = [ask_clean(_CODE.format(module=module), root, root) for _ in range(runs)]
        print(f"import {module}: {statistics.median(times) * 1000:.0f} ms (median of {runs})")


if __name__ == "__main__":
    main()
