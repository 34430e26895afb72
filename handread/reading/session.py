"""A reader that follows a table: events in, readings out; values and a log underneath."""

from __future__ import annotations

from dataclasses import dataclass

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, closest, is_whole
from handread.reading.around import Surroundings
from handread.reading.belief import Belief, start_beliefs
from handread.reading.evidence import Evidence
from handread.reading.forecasts import Forecast, OpenThrow, forecast, open_throw
from handread.reading.holdings import surroundings
from handread.reading.ledger import ledger_of
from handread.reading.model import Model
from handread.reading.smoother import Smoothed, smooth
from handread.reading.stored import stored_model
from handread.reading.updates import update
from handread.reading.view import Reading
from handread.table import apply, start
from handread.table.events import SEATS, AnyEvent, Event, Header, viewer_seat
from handread.table.own import OwnRack, follow_rack, no_rack
from handread.table.state import TableState

Moment = tuple[TableState, tuple[Belief, ...], OwnRack | None]


def seat_index(seat: str | int) -> int:
    """Index of a seat given by name, unique prefix or index.

    >>> seat_index("West"), seat_index("w"), seat_index(2)
    (2, 2, 2)
    """
    if is_whole(seat) and 0 <= int(seat) < 4:
        return int(seat)
    found = [i for i, name in enumerate(SEATS) if name.lower().startswith(str(seat).lower())]
    if len(found) != 1 or not str(seat):
        raise HandreadError(f"no seat {seat!r}; {closest(str(seat), SEATS)}")
    return found[0]


@dataclass(frozen=True, eq=False)
class Snapshot:
    """A reader at one moment.

    Attributes
    ----------
    card_hash, weights_hash
        What it was made with.
    header
        Of the record.
    viewer
        The viewer's seat; None on the floor.
    moments
        Table and beliefs before the first event and after each.
    events
        Events so far.
    log
        Their evidence.
    """

    card_hash: str
    weights_hash: str
    header: Header | None
    viewer: int | None
    moments: tuple[Moment, ...]
    events: tuple[AnyEvent, ...]
    log: tuple[Evidence, ...]


class Reader:
    """Follow one table: events in, readings out.

    Feed it ``record.public(viewer)``; what a viewer could not know (a reveal, another seat's
    rack) changes no reading even when it is passed. One event of shorthand comes from
    ``handread.table.parse_line``.

    Parameters
    ----------
    card
        The card that the table plays.
    model
        The model of the reading; None for the default one, ``hr.stored_model(card)``: weights
        fitted to games, with the stored prior of the card, or equal weight per hand where none
        is stored.
    header
        Of the record: dealer and switches.
    viewer
        ``"floor"`` for what everybody sees, or the seat whose rack, draws and passes the
        events hold, by name, prefix or index. The reading of the viewer's own seat is what the
        table could read of it.

    Examples
    --------
    >>> import handread as hr
    >>> reader = hr.Reader(hr.house_card())
    >>> evidence = reader.observe(hr.Discard(seat=0, kind=4))
    >>> round(float(reader.reading("East").families.sum()), 9)
    1.0
    """

    def __init__(
        self,
        card: CompiledCard,
        *,
        model: Model | None = None,
        header: Header | None = None,
        viewer: str | int = "floor",
    ) -> None:
        if not isinstance(card, CompiledCard):
            raise HandreadError(f"card={card!r}; a compiled card is accepted: hr.load_card(name)")
        if model is not None and not isinstance(model, Model):
            accepted = "None for the default model, or one that hr.build_model(card) made"
            raise HandreadError(f"model={model!r}; accepted: {accepted}")
        if header is not None and not isinstance(header, Header):
            accepted = "None, a record's header, or hr.Header(dealer=1)"
            raise HandreadError(f"header={header!r}; accepted: {accepted}")
        self.card = card
        self.model = model if model is not None else stored_model(card)
        self.header = header
        first = start(header, card.rules)
        self.viewer = viewer_seat(viewer)
        own = None if self.viewer is None else no_rack(first, self.viewer)
        beliefs = start_beliefs(self.model)
        self._moments: list[Moment] = [(first, beliefs, own)]
        self._events: list[AnyEvent] = []
        self._log: list[Evidence] = []
        self._expected: tuple[Moment, Surroundings] | None = None

    @property
    def state(self) -> TableState:
        """The table now."""
        return self._moments[-1][0]

    @property
    def beliefs(self) -> tuple[Belief, ...]:
        """The beliefs now, East first."""
        return self._moments[-1][1]

    @property
    def own(self) -> OwnRack | None:
        """The viewer's concealed tiles, where the viewer is a seat."""
        return self._moments[-1][2]

    @property
    def around(self) -> Surroundings:
        """Return what the viewer expects the seats to hold now."""
        now = self._moments[-1]
        if self._expected is None or self._expected[0] is not now:
            state, beliefs, own = now
            found = surroundings(self.model, beliefs, state, viewer=self.viewer, own=own)
            self._expected = (now, found)
        return self._expected[1]

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

        A breach of the rules, such as a throw out of turn or by a dead seat, is taken, since it
        happens at tables; ``state.flags`` then holds the event's number and what is wrong.

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
        if not isinstance(event, Event):
            raise HandreadError(
                f"{event!r} is no event; hr.Discard(seat=0, kind=4) is one, and "
                "handread.table.parse_line makes one of a line of shorthand"
            )
        state, beliefs, own = self._moments[-1]
        after = apply(state, event, self.card)
        later = None
        if own is not None and self.viewer is not None:
            later = follow_rack(own, state, event, self.viewer, after)
        beliefs, evidence = update(
            self.model, beliefs, event, state, after,
            own=own, viewer=self.viewer, around=self.around, later=later,
        )  # fmt: skip
        self._moments.append((after, beliefs, later))
        self._events.append(event)
        self._log.append(evidence)
        return evidence

    def undo(self, n: int = 1) -> None:
        """Take back the last `n` events.

        Raises
        ------
        HandreadError
            If there are not so many.
        """
        if not (is_whole(n) and 0 <= n <= len(self._events)):
            raise HandreadError(f"undo({n!r}): accepted are 0 to {len(self._events)} events")
        keep = len(self._events) - n
        del self._moments[keep + 1 :], self._events[keep:], self._log[keep:]

    def amend(self, number: int, event: AnyEvent | None) -> None:
        """Put another event in the place of an earlier one, and read all later ones again.

        Parameters
        ----------
        number
            Number of the event to mend, from 1, as the events are counted now.
        event
            What happened instead; None to strike the event out, so that each later one is
            counted one lower from then on.

        Raises
        ------
        HandreadError
            If there is no such event, or a later one cannot follow; nothing changes then. The
            message counts the events as they were before the call.
        """
        if not (is_whole(number) and 1 <= number <= len(self._events)):
            raise HandreadError(f"no event {number!r}; accepted: 1 to {len(self._events)}")
        later = self._events[number:]
        mended = self.branch()
        mended.undo(len(self._events) - number + 1)
        if event is not None:
            mended.observe(event)
        for before, each in enumerate(later, number + 1):
            try:
                mended.observe(each)
            except HandreadError as error:
                if event is not None:
                    raise
                words = str(error).removeprefix(f"event {before - 1}")
                raise type(error)(f"event {before} (after the strike){words}") from error
        self._moments, self._events, self._log = mended._moments, mended._events, mended._log

    def branch(self) -> Reader:
        """Return a second reader at this moment; the two share the past and no future."""
        return Reader.restore(self.card, self.snapshot(), model=self.model)

    def snapshot(self) -> Snapshot:
        """Return everything about this moment as one frozen value that can be pickled."""
        return Snapshot(
            self.card.hash, self.model.weights.hash, self.header, self.viewer,
            tuple(self._moments), self.events, self.log,
        )  # fmt: skip

    @classmethod
    def restore(
        cls, card: CompiledCard, snapshot: Snapshot, *, model: Model | None = None
    ) -> Reader:
        """Return a reader at the moment of a snapshot.

        Raises
        ------
        HandreadError
            If the snapshot was made with another card or other weights.
        """
        viewer = "floor" if snapshot.viewer is None else snapshot.viewer
        reader = cls(card, model=model, header=snapshot.header, viewer=viewer)
        held = (card.hash, reader.model.weights.hash)
        if held != (snapshot.card_hash, snapshot.weights_hash):
            made = f"card {snapshot.card_hash} and weights {snapshot.weights_hash}"
            raise HandreadError(f"snapshot made with {made}; here are {held[0]} and {held[1]}")
        reader._moments = list(snapshot.moments)
        reader._events, reader._log = list(snapshot.events), list(snapshot.log)
        return reader

    def reading(self, seat: str | int) -> Reading:
        """Return the reading of one seat now.

        Parameters
        ----------
        seat
            ``"East"``, ``"South"``, ``"West"``, ``"North"``, a prefix, or 0 to 3.

        Returns
        -------
        Reading
            Families, hands, needs, holdings and the ledger of the seat.

        Raises
        ------
        HandreadError
            If there is no such seat.
        """
        index = seat_index(seat)
        ledger = ledger_of(self.model, self._log, index)
        around = self.around.of(index)
        return Reading(self.model, self.beliefs[index], self.state, around, ledger)

    def forecast(self) -> Forecast:
        """Return what is expected of the next event: who claims, who wins, what is thrown.

        Raises
        ------
        HandreadError
            If the game is over, or nobody can tell whose turn it is.
        """
        return forecast(
            self.model, self.beliefs, self.state,
            own=self.own, viewer=self.viewer, around=self.around,
        )  # fmt: skip

    def open_throw(self) -> OpenThrow:
        """Return who is expected to take the throw that lies open, and who to win on it.

        The part of ``forecast`` that is about it, at a fraction of the work.

        Raises
        ------
        HandreadError
            If no throw lies open.
        """
        return open_throw(self.model, self.beliefs, self.state, self.around)

    def smoothed(self, seat: str | int) -> Smoothed:
        """Return what is believed of every moment of one seat, given all events so far."""
        return smooth(self.log, seat_index(seat))
