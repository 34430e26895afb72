"""The floor as a tally of each seat's throws, or as a heap: what the order is worth."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import msgspec
import numpy as np

from handread.card.compiled import CompiledCard
from handread.study.forecasters.contract import Array, Forecaster
from handread.study.inputs.telling import rng_of
from handread.table.events import (
    Absent,
    AnyEvent,
    Dead,
    Discard,
    Expose,
    Header,
    Joined,
    Passed,
    Stopped,
    Voiced,
)
from handread.table.play import apply, start
from handread.table.state import TableState

#: Orders that a reader without the order tries.
ORDERS = 3


class _Anew:
    """A watcher that reads from the start whenever it is asked."""

    def __init__(self, inner: Forecaster, card: CompiledCard, header: Header) -> None:
        self.inner, self.card, self.header = inner, card, header
        self.events: list[AnyEvent] = []
        self.state = start(header, card.rules)

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.events.append(event)
        self.state = state

    def read(self, events: Iterator[AnyEvent], seat: int) -> Array:
        """Belief about a seat after other events than those heard."""
        watcher = self.inner.open(self.card, self.header)
        state = start(self.header, self.card.rules)
        for event in events:
            state = apply(state, event, self.card)
            watcher.observe(event, state)
        return watcher.belief(seat)


class _Tallied(_Anew):
    """Throws that nobody took stand in any order within their seat."""

    def __init__(
        self, inner: Forecaster, card: CompiledCard, header: Header,
        orders: int, rng: np.random.Generator,
    ) -> None:  # fmt: skip
        super().__init__(inner, card, header)
        self.orders, self.rng = orders, rng

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now, mean over orders."""
        told = [self.read(self.shuffled(), seat) for _ in range(self.orders)]
        return np.asarray(np.mean(told, axis=0))

    def shuffled(self) -> Iterator[AnyEvent]:
        """Events with the untaken throws of each seat in an order by chance."""
        places: dict[int, list[int]] = {}
        for place, event in enumerate(self.events):
            if isinstance(event, Discard) and not self._spoken_for(place):
                places.setdefault(event.seat, []).append(place)
        moved = list(self.events)
        for held in places.values():
            for to, source in zip(held, self.rng.permutation(held), strict=True):
                moved[to] = _in_place_of(self.events[to], self.events[source])
        yield from moved

    def _spoken_for(self, place: int) -> bool:
        """Whether somebody took the throw, or said that he would; such a moment is remembered."""
        follows = self.events[place + 1] if place + 1 < len(self.events) else None
        return isinstance(follows, Voiced) or (isinstance(follows, Expose) and follows.kind is None)


def _in_place_of(there: AnyEvent, event: AnyEvent) -> AnyEvent:
    """A throw at another throw's turn: after a group shown nothing was drawn."""
    if isinstance(event, Discard) and getattr(there, "drawn", None) is None:
        return msgspec.structs.replace(event, drawn=None)
    return event


@dataclass(frozen=True)
class Tally:
    """A forecaster that knows what each seat threw, and not in what order.

    It reads the game so far anew in some orders by chance, and says the mean; the orders are not
    weighed by how likely they are, so a better use of a tally would lose a little less. A throw
    that was taken keeps its place, and a throw keeps its own notes where its new turn allows them.

    Attributes
    ----------
    inner
        The forecaster.
    orders
        Orders tried each time it is asked.
    name
        How results call it.
    """

    inner: Forecaster
    orders: int = ORDERS
    name: str = "tally"

    __hash__ = None  # type: ignore[assignment]  # the forecaster may hold arrays

    def open(self, card: CompiledCard, header: Header) -> _Tallied:
        """Sit down at a table before its first event."""
        return _Tallied(self.inner, card, header, self.orders, rng_of(header, self.name))


class _Heaped(_Anew):
    """What lies on the table now, as somebody sees it who has just come."""

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        return self.read(self.seen_now(), seat)

    def seen_now(self) -> Iterator[AnyEvent]:
        """Events that tell the table as it lies: the heap of the floor, the groups, who is out."""
        before = (Absent, Passed, Stopped)
        yield from (event for event in self.events if isinstance(event, before))
        state = self.state
        lying = tuple(thrown.kind for thrown in state.floor if thrown.taken_by is None)
        yield Joined(wall=state.wall, floor=lying)
        for seat, groups in enumerate(state.exposures):
            for group in groups:
                yield Expose(seat, group.size, group.jokers, kind=group.kind)
        for seat in range(4):
            if state.seated[seat] and not state.live[seat]:
                yield Dead(seat)


@dataclass(frozen=True)
class Heap:
    """A forecaster that sees the floor as a heap: neither order nor who threw what.

    It reads the table as it lies, like somebody who has just come; passes are remembered.

    Attributes
    ----------
    inner
        The forecaster.
    name
        How results call it.
    """

    inner: Forecaster
    name: str = "heap"

    __hash__ = None  # type: ignore[assignment]  # the forecaster may hold arrays

    def open(self, card: CompiledCard, header: Header) -> _Heaped:
        """Sit down at a table before its first event."""
        return _Heaped(self.inner, card, header)
