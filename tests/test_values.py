"""Frozen values and mappings: what they refuse, and how they are copied."""

from __future__ import annotations

import copy
import pickle
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pytest

from handread.values import ArrayValue, FrozenMap, evolve, read_only

HELD = {"a": 1, "b": 2}


def merge(frozen: Any) -> None:
    frozen |= {"c": 3}


def put(frozen: Any) -> None:
    frozen["a"] = 3


def drop(frozen: Any) -> None:
    del frozen["a"]


CHANGES: dict[str, Callable[[Any], object]] = {
    "put": put, "drop": drop, "merge": merge,
    "clear": lambda frozen: frozen.clear(),
    "pop": lambda frozen: frozen.pop("a"),
    "pop of a key that is not there": lambda frozen: frozen.pop("z", None),
    "popitem": lambda frozen: frozen.popitem(),
    "setdefault": lambda frozen: frozen.setdefault("c", 3),
    "setdefault of a key that is there": lambda frozen: frozen.setdefault("a", 3),
    "update": lambda frozen: frozen.update({"c": 3}),
    "update by name": lambda frozen: frozen.update(c=3),
    "fromkeys": lambda frozen: type(frozen).fromkeys("ab", 0),
    "a new attribute": lambda frozen: setattr(frozen, "c", 3),
}  # fmt: skip


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_frozen_map_refuses_every_change(change: Callable[[Any], object]) -> None:
    frozen = FrozenMap(HELD)
    with pytest.raises((TypeError, AttributeError), match="FrozenMap"):
        change(frozen)
    assert frozen == HELD


def test_no_method_of_a_mapping_that_changes_it_is_left_open() -> None:
    """Whatever a dict has over a mapping that is only read, a frozen one has of its own."""
    reading = {"copy", "fromkeys", "get", "items", "keys", "values"}
    changing = {name for name in vars(dict) if not name.startswith("_")} - reading
    changing |= {"__setitem__", "__delitem__", "__ior__"}
    assert changing <= set(vars(FrozenMap))


@pytest.mark.parametrize("copied", [
    copy.copy, copy.deepcopy, lambda frozen: pickle.loads(pickle.dumps(frozen)),
], ids=["copy", "deepcopy", "pickle"])  # fmt: skip
def test_copies_of_a_frozen_map_are_frozen(copied: Callable[[Any], Any]) -> None:
    again = copied(FrozenMap(HELD))
    assert type(again) is FrozenMap
    assert again == HELD == FrozenMap(HELD)
    assert repr(again) == "FrozenMap({'a': 1, 'b': 2})"


def test_a_frozen_map_gives_plain_ones_where_it_says_so() -> None:
    frozen = FrozenMap(HELD)
    assert type(frozen.copy()) is dict
    assert type(frozen | {"c": 3}) is dict
    assert type({"c": 3} | frozen) is dict
    assert frozen | {"c": 3} == {"a": 1, "b": 2, "c": 3}
    frozen.copy()["a"] = 7
    assert frozen == HELD


@dataclass(frozen=True, eq=False)
class Row(ArrayValue):
    name: str
    probs: np.ndarray

    @cached_property
    def total(self) -> float:
        return float(self.probs.sum())


@dataclass(frozen=True, eq=False)
class LongRow(Row):
    more: int = 0

    @cached_property
    def both(self) -> float:
        return self.total + self.more


def test_a_copy_with_other_fields_forgets_what_was_worked_out() -> None:
    old = LongRow("first", np.ones(3), 2)
    assert (old.total, old.both) == (3.0, 5.0)
    new = evolve(old, probs=read_only(np.full(3, 2.0)))
    assert type(new) is LongRow
    assert (new.name, new.more, new.total, new.both) == ("first", 2, 6.0, 8.0)
    assert (old.total, old.both) == (3.0, 5.0)
    assert not new.probs.flags.writeable
    assert evolve(old) == old


def test_a_read_only_view_is_made_once() -> None:
    array = np.ones(3)
    view = read_only(array)
    assert not view.flags.writeable
    assert array.flags.writeable
    assert read_only(view) is view


def test_the_fields_that_can_hold_an_array_are_told_by_their_types() -> None:
    value = Sorted(np.ones(1), None, (1, 2), np.ones(2), np.ones(3))
    for name in ("plain", "perhaps", "anything"):
        array = getattr(value, name)
        assert array is None or not array.flags.writeable, name
    assert evolve(value, counted=3).counted == 3, "what is handed over is kept"
    assert evolve(value).counted == 1


@dataclass(frozen=True, eq=False)
class Sorted(ArrayValue):
    plain: np.ndarray
    none: int | None
    row: tuple[int, ...]
    perhaps: np.ndarray | None
    anything: Any

    @cached_property
    def counted(self) -> int:
        return len(self.plain)
