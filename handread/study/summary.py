"""What a study found: every figure with its interval and counts, as a frame or as JSON."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np

from handread.errors import HandreadError, closest

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class SummaryLine:
    """One figure.

    Attributes
    ----------
    reader
        Whose figure.
    part
        Which moments: "all", "own turn 8", "exposures 1", "turns to end 4",
        "row other", "event throw", "clue trend".
    measure
        What is measured.
    value, low, high, standard_error, level, unit, n_games, n_moments
        As in `Estimate`. For a calibration error or a miscalibration, 0 to `high` is not an
        interval of the figure but the null band: where a calibrated reader's would lie. NaN
        where there is none.
    """

    reader: str
    part: str
    measure: str
    value: float
    low: float
    high: float
    standard_error: float
    level: float
    unit: str
    n_games: int
    n_moments: int


@dataclass(frozen=True)
class Summary:
    """Every figure of a study, one line each.

    Attributes
    ----------
    base
        The reader over which gains are measured.
    lines
        The figures.
    """

    base: str
    lines: tuple[SummaryLine, ...]

    def find(self, reader: str, measure: str, part: str = "all") -> SummaryLine:
        """Return one figure.

        Parameters
        ----------
        reader, measure, part
            As in `SummaryLine`.

        Returns
        -------
        SummaryLine

        Raises
        ------
        HandreadError
            If there is none; the message names the nearest.
        """
        for line in self.lines:
            if (line.reader, line.measure, line.part) == (reader, measure, part):
                return line
        known = [f"{line.reader} / {line.measure} / {line.part}" for line in self.lines]
        wanted = f"{reader} / {measure} / {part}"
        raise HandreadError(f"no figure {wanted!r}; {closest(wanted, known)}")

    def to_frame(self) -> pd.DataFrame:
        """Return the figures as a frame with the columns of `SummaryLine`."""
        import pandas as pd

        names = [field.name for field in fields(SummaryLine)]
        return pd.DataFrame([asdict(line) for line in self.lines], columns=names)

    def to_json(self) -> str:
        """Return the figures as JSON; what is not finite is null, or "-inf" or "inf"."""
        lines = [
            {key: _json(value) for key, value in asdict(line).items()} for line in self.lines
        ]  # fmt: skip
        return json.dumps({"base": self.base, "lines": lines}, allow_nan=False)


def summary_from_json(text: str | bytes) -> Summary:
    """Reverse of ``Summary.to_json``; other keys of the document are passed over.

    Parameters
    ----------
    text
        JSON of a summary, or of a whole study.

    Raises
    ------
    HandreadError
        If it is something else.

    Examples
    --------
    >>> line = SummaryLine("lore", "all", "gain", 0.5, 0.4, 0.6, 0.05, 0.95, "bits", 9, 90)
    >>> summary_from_json(Summary("floor", (line,)).to_json()) == Summary("floor", (line,))
    True
    """
    kinds = {field.name: field.type for field in fields(SummaryLine)}
    try:
        said = json.loads(text)
        lines = [
            SummaryLine(**{key: _number(value, str(kinds[key])) for key, value in line.items()})
            for line in said["lines"]
        ]
        return Summary(str(said["base"]), tuple(lines))
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise HandreadError(f"no summary of a study: {error!r}") from None


def _number(value: Any, kind: str) -> Any:
    """A value of a line as it was: null is no number, "-inf" and "inf" are numbers."""
    if kind != "float":
        return value
    return np.nan if value is None else float(value)


def _json(value: object) -> object:
    if isinstance(value, float) and not np.isfinite(value):
        return None if np.isnan(value) else str(value)
    return value
