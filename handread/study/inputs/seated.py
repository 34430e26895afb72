"""A reader with a seat at the table: its own rack, draws and passes beside what all can see."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handread.card.compiled import CompiledCard
from handread.reading import Model, Reader
from handread.simulate import SimulatedGame, seen_by
from handread.study.forecasters.contract import Array
from handread.table.events import SEATS, AnyEvent, Drew, Rack
from handread.table.state import TableState
from handread.values import ArrayValue


def in_step(public: Sequence[AnyEvent], own: Sequence[AnyEvent], seat: int) -> list[list[AnyEvent]]:
    """Events of a seat's record that go with each event of the floor's.

    Parameters
    ----------
    public
        Events as the floor saw them.
    own
        Events as the seat wrote them down.
    seat
        Whose record it is.

    Returns
    -------
    list of list
        For each public event those of the seat's: what it alone saw before, then its own
        words for the event; nothing for a draw of its own, which stands before.

    Examples
    --------
    >>> from handread.table.events import Discard
    >>> own = [Rack(1, (3, 4)), Discard(0, 5), Drew(1, 6), Discard(1, 6)]
    >>> [len(group) for group in in_step([Discard(0, 5), Discard(1, 6)], own, 1)]
    [2, 2]
    """
    groups: list[list[AnyEvent]] = []
    place = 0
    for event in public:
        group: list[AnyEvent] = []
        while place < len(own) and isinstance(own[place], Rack | Drew) and _mine(own[place], seat):
            group.append(own[place])
            place += 1
        if not (isinstance(event, Drew) and event.seat == seat):
            group.append(own[place])
            place += 1
        groups.append(group)
    return groups


def _mine(event: AnyEvent, seat: int) -> bool:
    return getattr(event, "seat", None) == seat


class _Seats:
    """Two seats of the table read each other and the rest."""

    def __init__(self, model: Model, card: CompiledCard, game: SimulatedGame) -> None:
        taken = [seat for seat, person in enumerate(game.truth.people) if person is not None]
        turn = game.truth.seed % len(taken)
        self.viewers = (taken[turn], taken[(turn + 1) % len(taken)])
        public = tuple(game.record.public("floor"))
        self.readers: dict[int, Reader] = {}
        self.steps: dict[int, list[list[AnyEvent]]] = {}
        for seat in self.viewers:
            record = seen_by(game, SEATS[seat])
            header, name = record.header, SEATS[seat]
            self.readers[seat] = Reader(card, model=model, header=header, viewer=name)
            self.steps[seat] = in_step(public, tuple(record.public(name)), seat)
        self.n_events = 0

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event, and what the seats alone saw with it."""
        for seat, reader in self.readers.items():
            for each in self.steps[seat][self.n_events]:
                reader.observe(each)
        self.n_events += 1

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now, as another seat reads it."""
        first, second = self.viewers
        reader = self.readers[second if seat == first else first]
        return reader.model.by_family(reader.beliefs[seat].probs)


@dataclass(frozen=True, eq=False)
class SeatedReader(ArrayValue):
    """A reader that sits at the table and reads the others.

    Of each game two neighbouring seats read: one by the game's seed, and the one after it, which
    reads the first. So every moment of every seat is read by another seat at the same table, as
    the floor reads it. A tile drawn counts from the seat's next event on.

    Attributes
    ----------
    model
        The model.
    name
        How results call it.
    """

    model: Model
    name: str = "seated"

    def open_sealed(self, card: CompiledCard, game: SimulatedGame) -> _Seats:
        """Sit down at a table; only what the two seats could know is read of the truth."""
        return _Seats(self.model, card, game)
