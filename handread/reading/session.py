"""A reader that follows a table: events in, readings out; values and a log underneath."""

from __future__ import annotations

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, closest
from handread.reading.belief import Belief, start_belief
from handread.reading.evidence import Evidence
from handread.reading.ledger import ledger_of
from handread.reading.model import Model
from handread.reading.smooth import Smoothed, smooth
from handread.reading.update import update
from handread.reading.view import Reading
from handread.table import apply, start
from handread.table.events import SEATS, AnyEvent, Header
from handread.table.state import TableState

Moment = tuple[TableState, tuple[Belief, ...]]


def seat_index(seat: str | int) -> int:
    """Index of a seat given by name, unique prefix or index.

    >>> seat_index("West"), seat_index("w"), seat_index(2)
    (2, 2, 2)
    """
    if isinstance(seat, int) and 0 <= seat < 4:
        return seat
    found = [i for i, name in enumerate(SEATS) if name.lower().startswith(str(seat).lower())]
    if len(found) != 1 or not str(seat):
        raise HandreadError(f"no seat {seat!r}; {closest(str(seat), SEATS)}")
    return found[0]


class Reader:
    """Follow one table.

    Parameters
    ----------
    card
        The card that the table plays.
    model
        The model of the reading; None for the lore weights with the stored prior of the card,
        or equal weight per hand where none is stored.
    header
        Of the record: dealer and switches.

    Examples
    --------
    >>> import handread as hr
    >>> reader = hr.Reader(hr.house_card())
    >>> evidence = reader.observe(hr.Discard(seat=0, kind=4))
    >>> round(float(reader.reading("East").families.sum()), 9)
    1.0
    """

    def __init__(
        self, card: CompiledCard, *, model: Model | None = None, header: Header | None = None
    ) -> None:
        from handread.reading.stored import stored_model

        self.card = card
        self.model = model if model is not None else stored_model(card)
        self.header = header
        first = start(header, card.rules)
        beliefs = tuple(start_belief(self.model, seat) for seat in range(4))
        self._moments: list[Moment] = [(first, beliefs)]
        self._events: list[AnyEvent] = []
        self._log: list[Evidence] = []

    @property
    def state(self) -> TableState:
        """The table now."""
        return self._moments[-1][0]

    @property
    def beliefs(self) -> tuple[Belief, ...]:
        """The beliefs now, East first."""
        return self._moments[-1][1]

    @property
    def log(self) -> tuple[Evidence, ...]:
        """Evidence of every event so far."""
        return tuple(self._log)

    @property
    def events(self) -> tuple[AnyEvent, ...]:
        """Events so far."""
        return tuple(self._events)

    def observe(self, event: AnyEvent) -> Evidence:
        """Take in one event.

        Returns
        -------
        Evidence
            What the event said of each seat.

        Raises
        ------
        IllegalEvent
            If it cannot have happened at this table; nothing changes then.
        ImpossibleEvidence
            If the model gives it probability zero; nothing changes then.
        """
        state, beliefs = self._moments[-1]
        after = apply(state, event, self.card)
        beliefs, evidence = update(self.model, beliefs, event, state, after)
        self._moments.append((after, beliefs))
        self._events.append(event)
        self._log.append(evidence)
        return evidence

    def reading(self, seat: str | int) -> Reading:
        """Return the reading of one seat now.

        Parameters
        ----------
        seat
            ``"East"``, ``"South"``, ``"West"``, ``"North"``, a prefix, or 0 to 3.
        """
        index = seat_index(seat)
        ledger = ledger_of(self.model, self._log, index)
        return Reading(self.model, self.beliefs[index], self.state, ledger)

    def smoothed(self, seat: str | int) -> Smoothed:
        """Return what is believed of every moment of one seat, given all events so far."""
        return smooth(self.log, seat_index(seat))
