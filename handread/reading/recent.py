"""The last few values worked out: a forecast, the update after it and its ledger ask alike."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from itertools import islice
from typing import Generic, TypeVar

K = TypeVar("K")
T = TypeVar("T")


def put(held: dict[K, T], key: K, value: T, most: int) -> None:
    """Hold one value more; where there are as many as `most`, those that came first go.

    Several threads may do so at once.

    Examples
    --------
    >>> held = {"a": 1, "b": 2}
    >>> put(held, "c", 3, 2)
    >>> held
    {'b': 2, 'c': 3}
    """
    if len(held) >= most:
        for old in list(islice(held, len(held) - most + 1)):
            held.pop(old, None)
    held[key] = value


class Recent(Generic[T]):
    """A few values, found again by what they rest on; the oldest goes first.

    What a value rests on counts by identity, not by content: these are frozen values, compared in
    no time, and held here so that nothing else can take their place in memory.

    Parameters
    ----------
    most
        Values held at most.

    Examples
    --------
    >>> recent: Recent[float] = Recent(2)
    >>> row = [1.0, 2.0]
    >>> recent.get((row,), "sum", lambda: sum(row)), recent.get((row,), "sum", lambda: -1.0)
    (3.0, 3.0)
    >>> recent.get(([1.0, 2.0],), "sum", lambda: -1.0)
    -1.0
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: dict[tuple[Hashable, ...], tuple[tuple[object, ...], T]] = {}

    def get(self, rests_on: tuple[object, ...], what: Hashable, make: Callable[[], T]) -> T:
        """Return the value, made where it is not held."""
        key = (what, *map(id, rests_on))
        found = self._held.get(key)
        if found is None:
            found = (rests_on, make())
            put(self._held, key, found, self._most)
        return found[1]
