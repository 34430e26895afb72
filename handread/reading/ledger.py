"""The ledger: what each event said of one seat, in bits, adding up; and the most telling events."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError, is_whole
from handread.reading.attribution import Part, explain
from handread.reading.evidence import Evidence, SeatEvidence, bits_between, bits_claimed, kl_bits
from handread.reading.likelihood import Seen, drift_step, drifted_families, quiet_turn, see
from handread.reading.model import Model
from handread.reading.observe import offered_kinds
from handread.reading.words import percent, sentence, subject
from handread.values import ArrayValue, ContentValue

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Entry(ContentValue):
    """One event in the ledger of one seat.

    Attributes
    ----------
    model
        The model of the reading.
    evidence
        Of the event.
    seat
        What it said of the seat.
    """

    model: Model
    evidence: Evidence
    seat: SeatEvidence

    @property
    def number(self) -> int:
        """Number of the event in the record, from 1."""
        return self.evidence.number

    @property
    def bits(self) -> Array:
        """log2 after/before of each family row; -inf where excluded, shape (n_families + 3,)."""
        return bits_between(self.model, self.seat.before.probs, self.seat.after.probs)

    @property
    def claimed(self) -> float:
        """Bits that the event claims to have taught about the family."""
        return bits_claimed(self.model, self.seat)

    @cached_property
    def drifted(self) -> Array:
        """Belief before the throw was seen, once the turn's own drift is in, shape (n_rows,).

        The drift is what passes with any turn: seats settle, change, draw on without a win. For
        other observations it is the belief before the event.
        """
        if not self._is_throw:
            return self.seat.before.probs
        seen = self._seen
        quiet = quiet_turn(seen, offered_kinds(self.evidence.state)) * self.seat.before.probs
        return drift_step(seen).forward(quiet / quiet.sum())

    @cached_property
    def drifted_by_family(self) -> Array:
        """Sum of `drifted` by family, in less time; shape (n_families + 3,)."""
        if not self._is_throw:
            return self.model.by_family(self.seat.before.probs)
        return drifted_families(self._seen, offered_kinds(self.evidence.state))

    @cached_property
    def _is_throw(self) -> bool:
        return any(observed.what == "throw" for observed in self.seat.observed)

    @property
    def _seen(self) -> Seen:
        """The seat before its throw."""
        evidence = self.evidence
        return see(self.model, self.seat.before, evidence.state, evidence.around, acting=True)

    @cached_property
    def told(self) -> float:
        """Bits of `claimed` that the event itself taught, without the turn's drift; by family."""
        return kl_bits(self.model, self.seat.after.probs, self.drifted)

    @cached_property
    def parts(self) -> tuple[Part, ...]:
        """The event's parts by source; computed when first asked for."""
        return explain(self.model, self.evidence, self.seat)

    @property
    def seen(self) -> str:
        """What was seen, in words."""
        return subject(self.evidence, self.seat)

    @property
    def words(self) -> str:
        """The event in words: what was seen, what it moved, and chiefly why."""
        return sentence(self)


@dataclass(frozen=True, eq=False)
class Ledger(ArrayValue):
    """Evidence about one seat so far.

    Attributes
    ----------
    model
        The model of the reading.
    entries
        One for each event that spoke of the seat, in order.

    Examples
    --------
    >>> import handread as hr
    >>> reader = hr.Reader(hr.house_card())
    >>> for seat, kind in enumerate((4, 28, 12, 31)):
    ...     evidence = reader.observe(hr.Discard(seat=seat, kind=kind))
    >>> ledger = reader.reading("East").ledger
    >>> [entry.seen for entry in ledger.entries][0]
    'East throws 5 bam'
    >>> list(ledger.to_frame().columns)
    ['event', 'source', 'family', 'bits', 'excluded_by']
    """

    model: Model
    entries: tuple[Entry, ...]

    def telling(self, n: int = 3) -> list[str]:
        """Return the `n` events that told most of the seat, most telling first, in words.

        Each says what was seen and what it moved, the chief reason with its standing, what would
        speak against it later, and what the reading would be now without the event.

        Raises
        ------
        HandreadError
            If `n` is no whole number, 0 or more.
        """
        return [f"{entry.words} {self._without_words(entry)}" for entry in self.most(n)]

    def without(self, entry: Entry | int) -> Array:
        """Return the probability of each family row now, had one event not been seen.

        The turn of a throw still passes (plans may change on it); all later events are read as
        they were.

        Parameters
        ----------
        entry
            One of ``entries``, or the number of its event in the record, from 1.

        Returns
        -------
        Array
            Shape (n_families + 3,).

        Raises
        ------
        HandreadError
            If no event of that number spoke of the seat.
        """
        if not isinstance(entry, Entry):
            entry = self._numbered(entry)
        probs = entry.drifted
        later = [each for each in self.entries if each.number > entry.number]
        for each in later:
            for observed in each.seat.observed:
                joint = observed.step.forward(probs)
                total = float(joint.sum())
                probs = joint / total if total > 0 else probs
        return self.model.by_family(probs)

    def _numbered(self, number: int) -> Entry:
        for entry in self.entries:
            if is_whole(number) and entry.number == number:
                return entry
        numbers = ", ".join(str(entry.number) for entry in self.entries[-12:]) or "none yet"
        first = "..., " if len(self.entries) > 12 else ""
        accepted = f"an entry of the ledger, or the number of its event: {first}{numbers}"
        raise HandreadError(f"no entry {number!r}; accepted: {accepted}")

    def _without_words(self, entry: Entry) -> str:
        now = self.model.by_family(self.entries[-1].seat.after.probs)
        without = self.without(entry)
        row = int(np.argmax(np.abs(now - without)))
        name = self.model.row_names[row]
        return f"Without it, {name}: {percent(without[row])} instead of {percent(now[row])}."

    def most(self, n: int) -> list[Entry]:
        """Return the `n` entries that told most, most first; the earlier wins a tie."""
        if not (is_whole(n) and n >= 0):
            raise HandreadError(f"the {n!r} most telling events; accepted: 0 or more")
        return sorted(self.entries, key=lambda entry: (-entry.told, entry.number))[:n]

    def to_frame(self) -> pd.DataFrame:
        """Return the ledger as a frame, one row per event, source and family.

        Returns
        -------
        pandas.DataFrame
            Columns event, source, family, bits (0 where excluded), excluded_by (the source that
            excluded the family, else None).
        """
        import pandas as pd

        rows = []
        for entry in self.entries:
            for part in entry.parts:
                gone = part.excluded()
                for i, family in enumerate(self.model.row_names):
                    bits = 0.0 if gone[i] else float(part.bits[i])
                    by = part.source if gone[i] else None
                    rows.append((entry.number, part.source, family, bits, by))
        columns = ["event", "source", "family", "bits", "excluded_by"]
        return pd.DataFrame(rows, columns=pd.Index(columns))


def ledger_of(model: Model, log: Sequence[Evidence], seat: int) -> Ledger:
    """Gather the ledger of one seat from the evidence of a game."""
    entries = [Entry(model, e, s) for e in log for s in e.seats if s.seat == seat]
    return Ledger(model, tuple(entries))
