"""Tables that fits work on: what seats did, with what the clues say of everything they could do.

All but the throws are plain columns. A throw has as many alternatives as kinds within reach, and
each alternative has few features that are not zero: three arrays in a row, with the places where
each choice and each alternative begins.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.values import ArrayValue, FrozenMap

Columns = Mapping[str, NDArray[Any]]


@dataclass(frozen=True, eq=False)
class ThrowTable(ArrayValue):
    """Throws of seats whose plan was known, one choice for each row that a seat had in mind.

    Attributes
    ----------
    first_alternative
        Place of the first alternative of each choice, and the end, shape (n_choices + 1,).
    chosen
        Which of its alternatives was thrown, shape (n_choices,).
    weight
        Share of the seat's mind, shape (n_choices,).
    game, seat, person, turn, phase, row
        Where the choice stands: game and person by number, own turns before, phase 0 to 2, row
        of a belief, shape (n_choices,).
    changing
        Whether the plan was left on this turn; `row` is then the old one, shape (n_choices,).
    kind
        Kind of each alternative, shape (n_alternatives,).
    log_reach
        Log of the expected copies within reach, nats, shape (n_alternatives,).
    constant
        Part of the score that no weight changes, nats, shape (n_alternatives,).
    first_entry
        Place of the first entry of each alternative, and the end, shape (n_alternatives + 1,).
    feature, value
        Product of weights, and what it is multiplied by, shape (n_entries,).
    """

    first_alternative: NDArray[np.int64]
    chosen: NDArray[np.int16]
    weight: NDArray[np.float32]
    game: NDArray[np.int32]
    seat: NDArray[np.int8]
    person: NDArray[np.int32]
    turn: NDArray[np.int16]
    phase: NDArray[np.int8]
    row: NDArray[np.int32]
    changing: NDArray[np.bool_]
    kind: NDArray[np.int8]
    log_reach: NDArray[np.float32]
    constant: NDArray[np.float32]
    first_entry: NDArray[np.int64]
    feature: NDArray[np.int16]
    value: NDArray[np.float32]

    def __len__(self) -> int:
        return len(self.chosen)

    def take(self, choices: NDArray[np.integer] | NDArray[np.bool_]) -> ThrowTable:
        """Return some of the choices, in the order given."""
        picked = np.arange(len(self))[choices]
        spans, first = _spans(self.first_alternative, picked)
        entries, first_entry = _spans(self.first_entry, spans)
        of_choice = {name: getattr(self, name)[picked] for name in OF_CHOICE}
        of_alternative = {name: getattr(self, name)[spans] for name in _OF_ALTERNATIVE}
        return ThrowTable(
            first_alternative=first, first_entry=first_entry, feature=self.feature[entries],
            value=self.value[entries], **of_choice, **of_alternative,
        )  # fmt: skip

    def dense(self, choice: int, n_features: int) -> tuple[NDArray[Any], NDArray[Any]]:
        """Kinds of one choice, and their features, shapes (n,) and (n, n_features)."""
        here = range(int(self.first_alternative[choice]), int(self.first_alternative[choice + 1]))
        out = np.zeros((len(here), n_features))
        for i, alternative in enumerate(here):
            span = slice(int(self.first_entry[alternative]), int(self.first_entry[alternative + 1]))
            out[i, self.feature[span]] = self.value[span]
        return self.kind[here.start : here.stop], out


#: Columns of a choice, those of an alternative, and the types of all.
OF_CHOICE: Final = (
    "chosen", "weight", "game", "seat", "person", "turn", "phase", "row", "changing",
)  # fmt: skip
_OF_ALTERNATIVE: Final = ("kind", "log_reach", "constant")
TYPES: Final = {
    "first_alternative": np.int64, "chosen": np.int16, "weight": np.float32, "game": np.int32,
    "seat": np.int8, "person": np.int32, "turn": np.int16, "phase": np.int8, "row": np.int32,
    "changing": np.bool_, "kind": np.int8, "log_reach": np.float32, "constant": np.float32,
    "first_entry": np.int64, "feature": np.int16, "value": np.float32,
}  # fmt: skip


def _spans(
    first: NDArray[np.int64], picked: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Places of everything in some spans, one span after the other, and where each begins."""
    sizes = first[picked + 1] - first[picked]
    begins = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    inside = np.arange(int(begins[-1])) - np.repeat(begins[:-1], sizes)
    return np.repeat(first[picked], sizes) + inside, begins


@dataclass(frozen=True, eq=False)
class GameTables(ArrayValue):
    """What one game, or several, add to the fits.

    Attributes
    ----------
    throws
        Throws.
    columns
        Other observations: name of the table to its columns; see ``handread.fitting.columns``.
    people
        Keys of the people, by number.
    n_games
        Games.
    """

    throws: ThrowTable
    columns: Mapping[str, Columns]
    people: tuple[str, ...]
    n_games: int = 1

    def arrays(self) -> dict[str, NDArray[Any]]:
        """All of it as named arrays, as they are stored."""
        out = {f"throws.{name}": getattr(self.throws, name) for name in TYPES}
        for table, columns in self.columns.items():
            out |= {f"{table}.{name}": values for name, values in columns.items()}
        out["people"] = np.array(self.people, dtype=np.str_)
        out["n_games"] = np.array(self.n_games)
        return out


def from_arrays(arrays: Mapping[str, NDArray[Any]]) -> GameTables:
    """Reverse of ``GameTables.arrays``."""
    throws = ThrowTable(**{name: arrays[f"throws.{name}"] for name in TYPES})
    tables: dict[str, dict[str, NDArray[Any]]] = {}
    for path in arrays:
        table, _, name = path.partition(".")
        if name and table != "throws":
            tables.setdefault(table, {})[name] = arrays[path]
    columns = FrozenMap({name: FrozenMap(held) for name, held in tables.items()})
    people = tuple(str(key) for key in arrays["people"])
    return GameTables(throws, columns, people, int(arrays["n_games"]))


def joined(parts: Iterable[GameTables]) -> GameTables:
    """Tables of several games as one; games and people are numbered through.

    A person who sat in several games keeps one number.
    """
    parts = list(parts)
    people: dict[str, int] = {}
    throws, columns, n_games = [], [], 0
    for part in parts:
        numbers = np.array([people.setdefault(key, len(people)) for key in part.people], np.int32)
        throws.append((part.throws, n_games, numbers))
        columns.append({
            name: _renumbered(held, n_games, numbers) for name, held in part.columns.items()
        })  # fmt: skip
        n_games += part.n_games
    names = dict.fromkeys(name for held in columns for name in held)
    joined_columns = {
        name: FrozenMap(_stacked([held[name] for held in columns if name in held]))
        for name in names
    }
    return GameTables(_joined_throws(throws), FrozenMap(joined_columns), tuple(people), n_games)


def _renumbered(held: Columns, games: int, people: NDArray[np.int32]) -> dict[str, NDArray[Any]]:
    out = dict(held)
    if "game" in out:
        out["game"] = out["game"] + np.int32(games)
    if "person" in out:
        out["person"] = people[out["person"]]
    return out


def _stacked(parts: Sequence[Columns]) -> dict[str, NDArray[Any]]:
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _joined_throws(parts: list[tuple[ThrowTable, int, NDArray[np.int32]]]) -> ThrowTable:
    out: dict[str, NDArray[Any]] = {}
    for name, dtype in TYPES.items():
        values = []
        shift = 0
        for table, games, people in parts:
            held = getattr(table, name)
            if name == "game":
                held = held + np.int32(games)
            elif name == "person":
                held = people[held] if len(held) else held
            elif name.startswith("first_"):
                size = len(held)
                held = held[:-1] + shift
                shift += int(getattr(table, name)[-1]) if size else 0
            values.append(held)
        if name.startswith("first_"):
            values.append(np.array([shift]))
        out[name] = np.concatenate([np.zeros(0, dtype), *values]).astype(dtype, copy=False)
    return ThrowTable(**out)


def read_throws(path: Path) -> ThrowTable:
    """Throws of one stored block, and nothing else of it."""
    with np.load(path, allow_pickle=False) as file:
        return ThrowTable(**{name: file[f"throws.{name}"] for name in TYPES})


def read_columns(paths: Sequence[Path]) -> dict[str, Columns]:
    """Everything but the throws of stored blocks, with the number of games of each block.

    Games and people are not numbered through; see ``joined`` for that.
    """
    parts: dict[str, list[dict[str, NDArray[Any]]]] = {}
    for path in paths:
        here: dict[str, dict[str, NDArray[Any]]] = {}
        with np.load(path, allow_pickle=False) as file:
            for key in file.files:
                table, _, name = key.partition(".")
                if name and table != "throws":
                    here.setdefault(table, {})[name] = file[key]
            here["games"] = {"n_games": np.atleast_1d(file["n_games"])}
        for table, columns in here.items():
            parts.setdefault(table, []).append(columns)
    return {table: FrozenMap(_stacked(held)) for table, held in parts.items()}
