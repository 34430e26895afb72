"""Tidy frames: moments and updates of several readers, one line each, documented columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from handread.errors import HandreadError, closest
from handread.study.moments import Moments

if TYPE_CHECKING:
    import pandas as pd

KEYS = ("game", "seat", "event")

#: Columns of a moment frame that are not rows of a distribution, and what they hold.
MOMENT_COLUMNS: dict[str, str] = {
    "reader": "name of the forecaster",
    "game": "game: the cluster of every interval",
    "seat": "seat that is read",
    "event": "number of the event in the record after which the moment lies",
    "own_turn": "own turns of the seat so far",
    "turns_to_end": "own turns of the seat still to come, 0 at the last",
    "exposures": "groups that the seat has exposed so far",
}

#: Prefixes of the columns that hold distributions over rows, and what they hold.
ROW_COLUMNS: dict[str, str] = {
    "prob:": "probability that the reader gave to the row",
    "truth:": "weight of the row in the truth at that moment",
    "final:": "1 for the row of the hand that was revealed in the end (NaN if none); optional",
}

#: Columns of an update frame, and what they hold.
UPDATE_COLUMNS: dict[str, str] = {
    "reader": "name of the forecaster",
    "game": "game: the cluster of every interval",
    "seat": "seat whose belief moved",
    "event": "number of the event in the record",
    "kind": "kind of the event",
    "clue": "'all' for the whole update, or the name of the clue whose path share it is",
    "bits_claimed": "what the update said it taught, bits",
    "bits_realised": "what it did teach about the truth, bits",
}


class MomentFrame:
    """Forecasts and truths of several readers at the same moments: one line a reader and moment.

    Columns ``reader, game, seat, event, own_turn, turns_to_end, exposures`` (`MOMENT_COLUMNS`),
    then ``prob:<row>`` and ``truth:<row>`` for every row, and ``final:<row>`` where hands were
    revealed (`ROW_COLUMNS`). Every reader has the same moments: differences between readers
    are then paired. Lines are sorted by reader, game, seat and event.

    Parameters
    ----------
    frame
        A frame with these columns; it is copied.

    Raises
    ------
    HandreadError
        If a column is missing, a moment appears twice, or readers have different moments
        (see `common_moments`).

    Examples
    --------
    >>> moments = Moments(
    ...     rows=("evens", "other"), prob=[[0.6, 0.4]], truth=[[1, 0]], game=[1], seat=["East"],
    ...     event=[3], own_turn=[1], turns_to_end=[0], exposures=[0])
    >>> table = MomentFrame.from_moments({"lore": moments})
    >>> table.readers, table.rows, table.moments("lore") == moments
    (('lore',), ('evens', 'other'), True)
    """

    __slots__ = ("_frame", "readers", "rows")
    _frame: pd.DataFrame
    readers: tuple[str, ...]
    rows: tuple[str, ...]

    def __init__(self, frame: pd.DataFrame) -> None:
        missing = [name for name in MOMENT_COLUMNS if name not in frame.columns]
        if missing:
            raise HandreadError(
                f"the frame lacks {missing!r}; {closest(missing[0], map(str, frame.columns))}"
            )
        rows = _rows(frame, "prob:")
        if not rows or set(_rows(frame, "truth:")) != set(rows):
            raise HandreadError(
                f"prob columns are for {rows!r} and truth columns for {_rows(frame, 'truth:')!r}; "
                "accepted: prob:<row> and truth:<row> for the same rows"
            )
        final = _rows(frame, "final:")
        if final and set(final) != set(rows):
            raise HandreadError(f"final columns are for {final!r}; accepted: none, or for {rows!r}")
        ordered = frame.sort_values(["reader", *KEYS], kind="stable", ignore_index=True)
        _same_moments(ordered)
        object.__setattr__(self, "_frame", ordered)
        object.__setattr__(self, "rows", rows)
        object.__setattr__(self, "readers", tuple(map(str, ordered["reader"].unique())))

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"MomentFrame is frozen; cannot set {name!r}")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, MomentFrame) and bool(self._frame.equals(other._frame))

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable

    def __reduce__(self) -> tuple[type[MomentFrame], tuple[pd.DataFrame]]:
        return MomentFrame, (self._frame,)

    def __repr__(self) -> str:
        return (
            f"MomentFrame(readers={self.readers!r}, {len(self._frame) // len(self.readers):,} "
            f"moments, rows={self.rows!r})"
        )

    @property
    def frame(self) -> pd.DataFrame:
        """A copy of the frame."""
        return self._frame.copy()

    def moments(self, reader: str, *, truth: str = "moment") -> Moments:
        """Return one reader's forecasts as arrays.

        Parameters
        ----------
        reader
            One of `readers`.
        truth
            "moment" for the truth of the moment, "final" for the hand revealed in the end;
            moments without a revealed hand are then left out.

        Returns
        -------
        Moments
        """
        if reader not in self.readers:
            raise HandreadError(f"reader is {reader!r}; {closest(reader, self.readers)}")
        if truth not in ("moment", "final"):
            raise HandreadError(f"truth is {truth!r}; accepted: moment, final")
        part = self._frame[self._frame["reader"] == reader]
        prefix = "truth:" if truth == "moment" else "final:"
        names = [prefix + row for row in self.rows]
        if truth == "final":
            if names[0] not in part.columns:
                raise HandreadError("the frame has no final columns; accepted: truth='moment'")
            part = part[part[names].notna().all(axis=1)]
            if part.empty:
                raise HandreadError("no hand was revealed; accepted: truth='moment'")
        return Moments(
            rows=self.rows,
            prob=part[["prob:" + row for row in self.rows]].to_numpy(dtype=np.float64),
            truth=part[names].to_numpy(dtype=np.float64),
            **{name: _plain(part[name]) for name in MOMENT_COLUMNS if name != "reader"},
        )

    @classmethod
    def from_moments(
        cls, readers: Mapping[str, Moments], *, final: np.ndarray[Any, Any] | None = None
    ) -> MomentFrame:
        """Lay several readers' moments under one another.

        Parameters
        ----------
        readers
            Moments by name of the reader, all with the same rows and the same moments.
        final
            Weights of the hand revealed in the end for the moments in their order, NaN where
            none was, shape (n_moments, n_rows).

        Returns
        -------
        MomentFrame
        """
        import pandas as pd

        if not readers:
            raise HandreadError("readers is empty; accepted: at least one")
        parts = []
        for name, moments in readers.items():
            columns: dict[str, Any] = {"reader": name}
            columns |= {key: getattr(moments, key) for key in MOMENT_COLUMNS if key != "reader"}
            for place, row in enumerate(moments.rows):
                columns["prob:" + row] = moments.prob[:, place]
                columns["truth:" + row] = moments.truth[:, place]
                if final is not None:
                    columns["final:" + row] = final[:, place]
            parts.append(pd.DataFrame(columns))
        return cls(pd.concat(parts, ignore_index=True))


def _rows(frame: pd.DataFrame, prefix: str) -> tuple[str, ...]:
    return tuple(
        str(name)[len(prefix) :] for name in frame.columns if str(name).startswith(prefix)
    )  # fmt: skip


def _plain(column: pd.Series[Any]) -> np.ndarray[Any, Any]:
    """A column as a plain array, text as numpy text so that it sorts fast and compares."""
    array = np.asarray(column.to_numpy())
    return array.astype(np.str_) if array.dtype.kind == "O" else array


def _same_moments(ordered: pd.DataFrame) -> None:
    """Refuse a frame in which readers have other moments than the first, or one twice."""
    twice = ordered.duplicated(["reader", *KEYS])
    if twice.any():
        line = ordered.loc[twice, ["reader", *KEYS]].iloc[0].to_dict()
        raise HandreadError(f"a moment appears twice: {line!r}; accepted: each reader once")
    groups = [part[list(KEYS)].to_numpy() for _, part in ordered.groupby("reader", sort=False)]
    for other in groups[1:]:
        if other.shape != groups[0].shape or not bool((other == groups[0]).all()):
            raise HandreadError(
                f"readers have {[len(part) for part in groups]} moments that are not the same; "
                "accepted: the same moments for all, see common_moments"
            )


def common_moments(frame: pd.DataFrame) -> pd.DataFrame:
    """Keep the moments that every reader of a frame has.

    Parameters
    ----------
    frame
        A frame with the columns of `MOMENT_COLUMNS`.

    Returns
    -------
    pandas.DataFrame
        The lines of moments that all readers have, in their order.
    """
    n_readers = frame["reader"].nunique()
    held = frame.groupby(list(KEYS))["reader"].transform("nunique")
    return frame[held == n_readers]


class UpdateFrame:
    """What each update claimed and realised: one line a reader, event, seat and clue.

    Columns are those of `UPDATE_COLUMNS`. The lines with clue ``all`` are whole updates; the
    lines of one event's clues add up to them.

    Parameters
    ----------
    frame
        A frame with these columns; it is copied.

    Raises
    ------
    HandreadError
        If a column is missing or a bit is NaN.
    """

    __slots__ = ("_frame",)
    _frame: pd.DataFrame

    def __init__(self, frame: pd.DataFrame) -> None:
        missing = [name for name in UPDATE_COLUMNS if name not in frame.columns]
        if missing:
            raise HandreadError(
                f"the frame lacks {missing!r}; {closest(missing[0], map(str, frame.columns))}"
            )
        ordered = frame[list(UPDATE_COLUMNS)].sort_values(
            ["reader", *KEYS, "clue"], kind="stable", ignore_index=True
        )
        if ordered[["bits_claimed", "bits_realised"]].isna().any(axis=None):
            raise HandreadError("bits hold nan; accepted: numbers (0 where nothing was learned)")
        object.__setattr__(self, "_frame", ordered)

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"UpdateFrame is frozen; cannot set {name!r}")

    def __eq__(self, other: object) -> bool:
        return isinstance(other, UpdateFrame) and bool(self._frame.equals(other._frame))

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable

    def __reduce__(self) -> tuple[type[UpdateFrame], tuple[pd.DataFrame]]:
        return UpdateFrame, (self._frame,)

    def __repr__(self) -> str:
        return f"UpdateFrame({len(self._frame):,} lines)"

    @property
    def frame(self) -> pd.DataFrame:
        """A copy of the frame."""
        return self._frame.copy()

    @property
    def readers(self) -> tuple[str, ...]:
        """Names of the readers."""
        return tuple(map(str, self._frame["reader"].unique()))
