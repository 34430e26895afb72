"""The reading: the view of a belief that people use."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from handread.reading.belief import Belief
from handread.reading.holdings import Surroundings
from handread.reading.ledger import Ledger
from handread.reading.model import Model
from handread.reading.needs import describe_groups, live_needs
from handread.table.events import SEATS
from handread.table.state import TableState
from handread.tiles import KINDS
from handread.values import ArrayValue

if TYPE_CHECKING:
    import pandas as pd


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
    """

    model: Model
    belief: Belief
    state: TableState
    around: Surroundings
    ledger: Ledger

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
        """Probability that the seat needs each kind for a plan that can be finished; 36 kinds."""
        import pandas as pd

        probs = self.around.needs[self.belief.seat]
        return pd.Series(probs, index=pd.Index(KINDS, name="kind"), name="prob")

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
        "claimed_bits": entry.claimed,
        "parts": parts,
        "excluded_by": excluded,
    }
