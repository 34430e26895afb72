"""Events told otherwise, one by one: a flag not noted, passes not watched, turns missed."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass

import msgspec
import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.study.forecasters.contract import Array, Forecaster, Watcher
from handread.table.events import (
    AnyEvent,
    Discard,
    Drew,
    Expose,
    Header,
    Missed,
    Passed,
    Stopped,
    Voiced,
    Win,
)
from handread.table.play import apply, start
from handread.table.state import TableState

#: What is written down of an event.
Telling = Callable[[AnyEvent], AnyEvent]


def without_draws(event: AnyEvent) -> AnyEvent:
    """Return the event without whether a throw was just drawn, nor its place, which tells it too.

    >>> without_draws(Discard(1, 4, drawn=True))
    Discard(seat=1, kind=4, drawn=None, position=None, pause=None)
    """
    if not isinstance(event, Discard):
        return event
    return msgspec.structs.replace(event, drawn=None, position=None)


def without_passes(event: AnyEvent) -> AnyEvent:
    """Return the event without who sent tiles on blindly, gave how many, or stopped.

    >>> without_passes(Stopped(2))
    Stopped(seat=None)
    """
    if isinstance(event, Passed):
        return msgspec.structs.replace(event, blind=None, counts=None)
    return Stopped() if isinstance(event, Stopped) else event


def rng_of(header: Header, name: str) -> np.random.Generator:
    """Generator of a table: the same whenever the table is watched by a reader of this name.

    Who sits there is a pseudonymous key of each game, so games differ.
    """
    text = f"{name}\n{header.people!r}\n{header.card_hash}"
    words = np.frombuffer(hashlib.sha256(text.encode()).digest(), dtype=np.uint32)
    return np.random.default_rng(words.tolist())


class Told:
    """A watcher that hears another record than the one that is played to it."""

    def __init__(self, inner: Watcher, card: CompiledCard, header: Header) -> None:
        self.inner, self.card = inner, card
        self.state = start(header, card.rules)

    def tell(self, event: AnyEvent) -> None:
        """Pass one event on, with the table as this record has it."""
        self.state = apply(self.state, event, self.card)
        self.inner.observe(event, self.state)

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.tell(event)

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        return self.inner.belief(seat)


class _Changed(Told):
    """Each event in other words."""

    def __init__(
        self, inner: Watcher, card: CompiledCard, header: Header, telling: Telling
    ) -> None:  # fmt: skip
        super().__init__(inner, card, header)
        self.telling = telling

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.tell(self.telling(event))


@dataclass(frozen=True)
class ToldLess:
    """A forecaster that is told each event in other words.

    Attributes
    ----------
    inner
        The forecaster.
    telling
        What it is told of an event.
    name
        How results call it.
    """

    inner: Forecaster
    telling: Telling
    name: str

    __hash__ = None  # type: ignore[assignment]  # the forecaster may hold arrays

    def open(self, card: CompiledCard, header: Header) -> _Changed:
        """Sit down at a table before its first event."""
        return _Changed(self.inner.open(card, header), card, header, self.telling)


class _Gaps(Told):
    """Some throws are missed; what the table shows afterwards is seen."""

    def __init__(
        self, inner: Watcher, card: CompiledCard, header: Header,
        share: float, rng: np.random.Generator,
    ) -> None:  # fmt: skip
        super().__init__(inner, card, header)
        self.share, self.rng = share, rng
        self.missed: int | None = None  # kind of the last throw, where it was missed

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        if isinstance(event, Discard):
            self.missed = event.kind if self.rng.random() < self.share else None
            self.tell(event if self.missed is None else Missed(1))
            return
        if self.missed is not None:
            if isinstance(event, Voiced):
                return  # a claim for a tile that was not seen
            if isinstance(event, Expose) and event.kind is None:
                event = msgspec.structs.replace(event, kind=self.missed)
            elif isinstance(event, Win) and event.claimed:
                event = msgspec.structs.replace(event, claimed=False)
            elif isinstance(event, Drew):
                event = Drew(event.seat)
        self.tell(event)


@dataclass(frozen=True)
class Missing:
    """A forecaster that misses a share of the throws, each by chance.

    A group shown with a tile whose throw was missed is seen, with its kind; a claim voiced for
    it is not understood.

    Attributes
    ----------
    inner
        The forecaster.
    share
        Probability that a throw is missed.
    name
        How results call it.
    """

    inner: Forecaster
    share: float
    name: str

    __hash__ = None  # type: ignore[assignment]  # the forecaster may hold arrays

    def __post_init__(self) -> None:
        if not 0.0 <= self.share <= 1.0:
            raise HandreadError(f"share={self.share!r}; accepted: 0 to 1")

    def open(self, card: CompiledCard, header: Header) -> _Gaps:
        """Sit down at a table before its first event."""
        inner = self.inner.open(card, header)
        return _Gaps(inner, card, header, self.share, rng_of(header, self.name))
