"""Who can hold what, against a handbook's table and exact counts; values in counting_*.

Source: the counting_* files, each with its own source
Source: scipy.stats.hypergeom as reference (SciPy is a dependency, so not slow)
"""

from __future__ import annotations

import csv
import math
import tomllib
from fractions import Fraction
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from handread.clues.holding import prob_copies
from handread.tiles import MOST_COPIES

HERE = Path(__file__).parent
TILES: dict[str, Any] = tomllib.loads((HERE / "counting_tiles.toml").read_text(encoding="utf-8"))
N_TILES = 152


def splits() -> list[dict[str, float]]:
    lines = (HERE / "counting_splits.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [{name: float(value) for name, value in row.items()} for row in rows]


def test_the_table_of_splits_has_every_row() -> None:
    assert [int(row["missing"]) for row in splits()] == [
        missing for missing in range(2, 9) for _ in range(missing // 2 + 1)
    ]


@pytest.mark.parametrize("row", splits(), ids=lambda r: f"{r['larger']:.0f}-{r['smaller']:.0f}")
def test_splits_between_two_hidden_hands(row: dict[str, float]) -> None:
    missing, smaller = int(row["missing"]), int(row["smaller"])
    held = prob_copies(missing, 26, 13)
    ways = {smaller, missing - smaller}
    assert 100 * sum(held[way] for way in ways) == pytest.approx(row["per_cent"], abs=0.006)
    one = held[smaller] / math.comb(missing, smaller)
    assert one == pytest.approx(row["holding"], abs=5.1e-5 if row["holding"] < 0.1 else 5.1e-3)


@pytest.mark.parametrize("tiles", [13, 14])
def test_jokers_in_the_deal(tiles: int) -> None:
    held, jokers = prob_copies(8, N_TILES, tiles), TILES["jokers"]
    assert held[:5] == pytest.approx(jokers[str(tiles)], abs=5e-7)
    tails = [held[least:].sum() for least in range(5)]
    assert tails == pytest.approx(jokers[f"at_least_{tiles}"], abs=5e-7)
    assert held @ np.arange(len(held)) == pytest.approx(jokers[f"mean_{tiles}"], abs=5e-7)
    exact = Fraction(*jokers[f"none_{tiles}"])
    assert held[0] == pytest.approx(float(exact), rel=1e-12)


def test_none_among_the_tiles_met() -> None:
    for block in ("jokers", "flowers"):
        for tiles, none in TILES[block]["none_among"].items():
            assert prob_copies(8, N_TILES, int(tiles))[0] == pytest.approx(none, abs=5e-4)
    assert prob_copies(4, N_TILES, 13)[:4] == pytest.approx(TILES["one_kind"]["13"], abs=5e-5)


def test_throws_that_do_not_look_at_the_tile() -> None:
    """Which is drawn and which is marked is one and the same count, so n throws may be `copies`."""
    for n, none in TILES["suit"]["none_among"].items():
        assert prob_copies(int(n), N_TILES, 36)[0] == pytest.approx(none, abs=5e-4)
    for n, few in TILES["suit"]["at_most_one_among"].items():
        assert prob_copies(int(n), N_TILES, 36)[:2].sum() == pytest.approx(few, abs=5e-4)
    honours = TILES["honours"]
    for n, some in honours["at_least_one_among"].items():
        assert 1 - prob_copies(int(n), N_TILES, 28)[0] == pytest.approx(some, abs=5e-4)
    assert prob_copies(3, N_TILES, 28)[2:].sum() == pytest.approx(honours["two_of_three"], abs=5e-4)


def three_opponents(copies: int, wall: int) -> dict[tuple[int, int, int], float]:
    """Chance of each way in which three opponents of 13 hold the copies, one after the other."""
    pool, out = wall + 39, {}
    for ways in product(range(copies + 1), repeat=3):
        prob, left, tiles = 1.0, copies, pool
        for held in ways:
            prob *= prob_copies(left, tiles, 13)[held] if held <= left else 0.0
            left, tiles = max(left - held, 0), tiles - 13
        out[ways] = prob
    return out


@pytest.mark.parametrize("row", TILES["held"], ids=lambda row: f"wall {row['wall']}")
def test_some_opponent_holds_it(row: dict[str, Any]) -> None:
    for least, name in ((1, "at_least_one"), (2, "at_least_two")):
        for copies, expected in row[name].items():
            ways = three_opponents(int(copies), row["wall"])
            assert sum(ways.values()) == pytest.approx(1.0, abs=1e-12)
            found = sum(prob for held, prob in ways.items() if max(held) >= least)
            assert found == pytest.approx(expected, abs=5.1e-4)


@pytest.mark.parametrize("pool", [1, 2, 7, 13, 26, 39, 60, 99, 138, 152, 177])
def test_every_count_equals_the_reference(pool: int) -> None:
    from scipy.stats import hypergeom

    held = np.arange(MOST_COPIES + 1)
    for copies in range(min(pool, 10) + 1):
        for reach in {0, 1, min(3, pool), pool // 4, pool // 2, pool - 1, pool}:
            expected = hypergeom(pool, copies, reach).pmf(held)
            found = prob_copies(copies, pool, reach)
            np.testing.assert_allclose(found, expected, rtol=1e-10, atol=1e-14)
