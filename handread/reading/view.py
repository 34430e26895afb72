"""The reading: the view of a belief that people use."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from handread.clues.wins import prob_ready
from handread.errors import HandreadError
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.forecasts import prob_taken
from handread.reading.ledger import Ledger
from handread.reading.look import look
from handread.reading.model import Model
from handread.reading.needs import describe_groups, live_needs
from handread.reading.show import reading_bundle, reading_html
from handread.reading.tables import reading_tables
from handread.table.events import SEATS
from handread.table.state import TableState
from handread.tiles import KINDS
from handread.values import ArrayValue

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from rich.console import Group


@dataclass(frozen=True, eq=False)
class Reading(ArrayValue):
    """What is believed of one seat at one moment.

    Attributes
    ----------
    model
        The model of the reading.
    belief
        The belief.
    state
        The table at that moment.
    around
        What the viewer expects the seats to hold.
    ledger
        What each event said of the seat.

    Examples
    --------
    >>> import handread as hr
    >>> reader = hr.Reader(hr.house_card())
    >>> evidence = reader.observe(hr.Discard(seat=0, kind=4))
    >>> reading = reader.reading("East")
    >>> round(float(reading.families.sum()), 9), reading.state.turns[0]
    (1.0, 1)
    >>> list(reading.hands.columns)
    ['hand', 'family', 'prob', 'prob_can_finish', 'groups', 'live']
    """

    model: Model
    belief: Belief
    state: TableState
    around: Surroundings
    ledger: Ledger

    def __repr__(self) -> str:
        probs = self.model.by_family(self.belief.probs)
        top = self.model.row_names[int(probs.argmax())]
        turns = self.state.turns[self.belief.seat]
        return f"<Reading of {self.seat} after {turns} own turns: {top} {probs.max():.0%}>"

    @property
    def seat(self) -> str:
        """Name of the seat."""
        return SEATS[self.belief.seat]

    @cached_property
    def families(self) -> pd.Series[float]:
        """Probability of each family and of undecided, defending, other; sums to 1."""
        import pandas as pd

        probs = self.model.by_family(self.belief.probs)
        return pd.Series(probs, index=pd.Index(self.model.row_names, name="family"), name="prob")

    @cached_property
    def needs(self) -> pd.Series[float]:
        """Probability that the seat's plan needs each kind and can be finished; 36 kinds.

        Kinds of groups still to be made count, whether or not the seat holds copies already;
        kinds of groups that it has shown do not.
        """
        return self._by_kind(self.around.needs[self.belief.seat], "prob")

    @cached_property
    def holds(self) -> pd.Series[float]:
        """Expected copies of each kind among the seat's concealed tiles; 36 kinds."""
        seat = self.belief.seat
        return self._by_kind(
            self.around.holds[seat] + self.state.known_in_rack(seat), "expected copies"
        )

    @cached_property
    def takes(self) -> pd.DataFrame:
        """Probability that the seat would take each kind were it thrown now; 36 kinds.

        Columns: claims (shows a group with it), wins. The seat is asked alone; at a table one
        with priority may forestall it.
        """
        import pandas as pd

        claims, wins = prob_taken(self.model, self.belief, self.state, self.around)
        return pd.DataFrame({"claims": claims, "wins": wins}, index=pd.Index(KINDS, name="kind"))

    @property
    def one_away(self) -> float:
        """Probability that the seat is one tile short of a hand that can be finished."""
        context = look(self.model, self.state, self.around, self.belief.seat)
        ready = prob_ready(context, self.model.weights["wins"])
        finish = self.around.finish[self.belief.seat]
        return float(ready * (self.belief.probs[: len(finish)] @ finish))

    def _by_kind(self, values: NDArray[np.float64], name: str) -> pd.Series[float]:
        import pandas as pd

        return pd.Series(values, index=pd.Index(KINDS, name="kind"), name=name)

    @cached_property
    def hands(self) -> pd.DataFrame:
        """Hands by probability, most likely first.

        Columns: hand, family, prob (that the seat is building it), prob_can_finish (that what it
        is building of it can still be finished), groups (of its likeliest target), live (kinds
        that this target still needs, with the copies that the table has not seen).
        """
        import pandas as pd

        card = self.model.card
        plan = self.belief.probs[: card.n_targets]
        finish = self.around.finish[self.belief.seat]
        by_hand = np.bincount(card.hand_of, weights=plan, minlength=len(card.hands))
        can = np.bincount(card.hand_of, weights=plan * finish, minlength=len(card.hands))
        rows = []
        for h in np.argsort(-by_hand, kind="stable"):
            members = np.flatnonzero(card.hand_of == h)
            if not len(members):
                continue
            best = int(members[np.argmax(plan[members])])
            prob = float(by_hand[h])
            row = {
                "hand": card.hands[h].name,
                "family": card.families[card.hands[h].family],
                "prob": prob,
                "prob_can_finish": float(can[h] / prob) if prob > 0 else 0.0,
                "groups": describe_groups(card, best),
                "live": live_needs(card, best, self.belief.left, self.state),
            }
            rows.append(row)
        return pd.DataFrame(rows)

    def to_frame(self) -> pd.DataFrame:
        """Return families and hands as one tidy frame.

        Columns: seat, level (``"family"`` or ``"hand"``), name, prob.
        """
        import pandas as pd

        families = [("family", str(name), float(p)) for name, p in self.families.items()]
        hands = [
            ("hand", str(name), float(p))
            for name, p in zip(self.hands["hand"], self.hands["prob"], strict=True)
        ]
        frame = pd.DataFrame([*families, *hands], columns=pd.Index(["level", "name", "prob"]))
        frame.insert(0, "seat", self.seat)
        return frame

    def to_xarray(self) -> xr.Dataset:
        """Return families, hands and kinds as an ``xarray.Dataset`` with named dimensions.

        Raises
        ------
        HandreadError
            If xarray is not installed.
        """
        try:
            import xarray as xr
        except ModuleNotFoundError:
            raise HandreadError("to_xarray needs xarray: pip install xarray") from None
        hands = self.hands.set_index("hand")["prob"].sort_index()
        return xr.Dataset(
            {
                "family_prob": ("family", self.families.to_numpy()),
                "hand_prob": ("hand", hands.to_numpy()),
                "needs": ("kind", self.needs.to_numpy()),
                "holds": ("kind", self.holds.to_numpy()),
            },
            coords={
                "family": list(self.families.index),
                "hand": list(hands.index),
                "kind": list(KINDS),
            },
            attrs={"seat": self.seat, "own_turns": self.state.turns[self.belief.seat]},
        )

    def __rich__(self) -> Group:
        return reading_tables(self)

    def _repr_html_(self) -> str:
        return reading_html(self)

    def _repr_mimebundle_(
        self, include: Container[str] | None = None, exclude: Container[str] | None = None
    ) -> dict[str, str]:
        return reading_bundle(self, include, exclude)

    def to_dict(self, n_hands: int = 10) -> dict[str, Any]:
        """Return the reading as plain values for JSON: families, hands, needs, ledger.

        Parameters
        ----------
        n_hands
            How many hands to list.
        """
        hands = self.hands.head(n_hands).to_dict(orient="records")
        return {
            "seat": self.seat,
            "own_turns": self.state.turns[self.belief.seat],
            "live": self.state.live[self.belief.seat],
            "families": {str(k): float(v) for k, v in self.families.items()},
            "hands": hands,
            "needs": {str(k): float(v) for k, v in self.needs.items()},
            "holds": {str(k): float(v) for k, v in self.holds.items()},
            "one_away": self.one_away,
            "telling": self.ledger.telling(5),
            "ledger": [_entry(self.model, entry) for entry in self.ledger.entries],
        }


def _entry(model: Model, entry: Any) -> dict[str, Any]:
    parts = []
    excluded: dict[str, str] = {}
    for part in entry.parts:
        gone = part.excluded()
        excluded |= {model.row_names[i]: part.source for i in np.flatnonzero(gone)}
        bits = {name: float(part.bits[i]) for i, name in enumerate(model.row_names) if not gone[i]}
        parts.append({"source": part.source, "bits": bits})
    return {
        "event": entry.number,
        "seen": entry.seen,
        "told_bits": entry.told,
        "claimed_bits": entry.claimed,
        "parts": parts,
        "excluded_by": excluded,
    }
