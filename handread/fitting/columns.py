"""The tables that come out of a walk, beside the throws, and how their rows are gathered.

``drawn``     whether a throw had just been drawn: log odds by weight
``hazard``    rows kept and left on a turn
``moves``     where seats went that left their row
``claims``    groups shown and let pass, with what counts let a seat hold and what it is open to
``wins``      wins and wins not taken, with the chance that one tile completes the plan
``redeems``   redeems, and kinds on offer that nobody gave
``passes``    stopping, blind and courtesy tiles
``start``     rows once the passes are over
``aims``      exposures by what the plan before allowed

Claims hold distributions over tiles held, by counts alone: copies of the kind if the seat keeps it
(`kept`), if it does not care (`any_plan`), and `jokers`; `anew` is set where a group was for
another plan.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from handread.clues.claims import SHAPES
from handread.fitting.tables import Columns
from handread.tiles import MOST_COPIES
from handread.values import FrozenMap

#: Kinds on offer for a redeem that are kept, at most.
MOST_OFFERS: Final = 8
#: Outcomes of a claim window that are no group.
REFUSED: Final = -1
#: Tables and the types of their columns; a number is the length of a second axis.
COLUMNS: Final[dict[str, dict[str, Any]]] = {
    "drawn": {"weight": np.float32, "happened": np.bool_, "constant": np.float32,
              "slopes": np.float32, "game": np.int32, "person": np.int32},
    "hazard": {"stay": np.float32, "leave": np.float32, "returns": np.float32, "rate": np.int8,
               "constant": np.float32,
               "slopes": np.float32, "game": np.int32, "person": np.int32},
    "moves": {"weight": np.float32, "origin": np.int8, "to": np.int8, "threat": np.int8,
              "wall": np.int16, "parts": np.float32, "game": np.int32},
    "claims": {"weight": np.float32, "outcome": np.int8, "anew": np.bool_, "loose": np.int8,
               "turn": np.int16, "kept": np.float32, "any_plan": np.float32,
               "jokers": np.float32, "open": np.float32, "possible": np.bool_,
               "game": np.int32, "person": np.int32},
    "wins": {"weight": np.float32, "happened": np.bool_, "completes": np.float32,
             "drawn": np.bool_, "turn": np.int16, "exposed": np.int8, "game": np.int32,
             "person": np.int32},
    "redeems": {"weight": np.float32, "outcome": np.int8, "held": np.float32, "rate": np.int8,
                "game": np.int32, "person": np.int32},
    "passes": {"weight": np.float32, "what": np.int8, "undecided": np.bool_, "outcome": np.int8,
               "game": np.int32},
    "start": {"weight": np.float32, "loose": np.int8, "game": np.int32},
    "aims": {"weight": np.float32, "how": np.int8, "game": np.int32},
}  # fmt: skip
#: What ``passes.what`` counts, and ``aims.how``.
PASS_NAMES: Final = ("stop", "blind", "courtesy")
AIMS: Final = ("as planned", "aimed anew", "misplay", "open to it")


_CLAIMS: Final = {
    ("claims", name): MOST_COPIES + 1 for name in ("kept", "any_plan", "jokers")
} | {("claims", name): len(SHAPES) for name in ("open", "possible")}  # fmt: skip


class ColumnRows:
    """Rows of all tables as they are gathered.

    Parameters
    ----------
    slopes
        Number of weights in the log odds of ``drawn`` and ``hazard``.
    """

    def __init__(self, slopes: Mapping[str, int]) -> None:
        self.rows: dict[str, list[dict[str, Any]]] = {table: [] for table in COLUMNS}
        self.widths = {(table, "slopes"): width for table, width in slopes.items()} | {
            ("moves", "parts"): 4, **_CLAIMS,
            ("redeems", "held"): MOST_OFFERS, ("redeems", "rate"): MOST_OFFERS,
        }  # fmt: skip

    def add(self, table: str, **values: Any) -> None:
        """Add one row to a table, with all its columns but the game."""
        self.rows[table].append(values)

    def columns(self) -> Mapping[str, Columns]:
        """Everything gathered so far, as of one game."""
        out = {}
        for table, names in COLUMNS.items():
            rows, held = self.rows[table], {}
            for name, dtype in names.items():
                if name == "game":
                    held[name] = np.zeros(len(rows), dtype=dtype)
                    continue
                values = np.array([row[name] for row in rows], dtype=dtype)
                width = self.widths.get((table, name))
                held[name] = values if width is None else values.reshape(-1, width)
            out[table] = FrozenMap(held)
        return FrozenMap(out)
