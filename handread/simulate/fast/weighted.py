"""Lists of targets with weights: copied, cut to what weighs, of one target, of all alike."""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    NEAR,
    NONE,
    WEIGHED,
)


@compiled
def copy_list(t: Any, lists: Any, source: int, to: int) -> None:
    """Copy a list of targets with weights."""
    for i in range(t.n_list[source]):
        lists.target[to, i] = lists.target[source, i]
        lists.weight[to, i] = lists.weight[source, i]
    t.n_list[to] = t.n_list[source]


@compiled
def copy_near(t: Any, lists: Any, to: int) -> None:
    """Make a list of the near targets with the weights in row WEIGHED, those of none left out."""
    n = NONE
    for i in range(t.n_near):
        if lists.weight[WEIGHED, i] > 0.0:
            lists.target[to, n] = lists.target[NEAR, i]
            lists.weight[to, n] = lists.weight[WEIGHED, i]
            n += 1
    t.n_list[to] = n


@compiled
def one_target(t: Any, lists: Any, row: int, g: int) -> None:
    """All weight on one target."""
    lists.target[row, 0] = g
    lists.weight[row, 0] = 1.0
    t.n_list[row] = 1


@compiled
def even_list(t: Any, lists: Any, sheet: Any, row: int) -> None:
    """The same weight on every target."""
    n = len(sheet.n_slots)
    for g in range(n):
        lists.target[row, g] = g
        lists.weight[row, g] = 1.0 / n
    t.n_list[row] = n
