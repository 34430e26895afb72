"""What a study found: tidy frames, and every figure with its interval and counts."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from handread.card import load_card
from handread.errors import HandreadError
from handread.simulate.view import STATES
from handread.study.forecasters.contract import row_names
from handread.study.frames import MomentFrame, UpdateFrame
from handread.study.running.extra import extra_lines
from handread.study.running.plan import StudyPlan
from handread.study.running.store import unpack_lines
from handread.study.summarising import summarise
from handread.study.summary import Summary
from handread.table.events import SEATS

if TYPE_CHECKING:
    import pandas as pd

#: Columns of the moments of a study beyond those of every moment frame.
STUDY_COLUMNS: dict[str, str] = {
    "kind": "kind of player at the seat",
    "state": "what the seat was about: searching, building, waiting, folded",
    "leaning:<row>": "truth with a searching seat's leaning in the place of undecided",
}

#: Columns of the frame of claims and wins.
WINDOW_COLUMNS: dict[str, str] = {
    "reader": "name of the forecaster",
    "game": "game: the cluster of every interval",
    "seat": "seat that could have taken the throw",
    "event": "number of the throw in the record; the forecast was made right after it",
    "what": "'claim': showed a group with it; 'win': won on it",
    "prob": "probability that the reader gave",
    "base": "probability from copies unseen and phase alone",
    "happened": "1 if it did, 0 if not",
}


@dataclass(frozen=True, eq=False)
class StudyResult:
    """A finished study.

    Attributes
    ----------
    plan
        What was done.
    seeds
        Seeds of the games by purpose, and the versions of what made them.
    moments
        Beliefs and truths, one line a reader and moment, with the columns of
        ``MOMENT_COLUMNS``, ``ROW_COLUMNS`` and ``STUDY_COLUMNS``.
    updates
        Claimed and realised bits; None where no reader reports moves.
    windows
        Forecasts of claims and wins, a pandas frame with the columns of ``WINDOW_COLUMNS``.
    """

    plan: StudyPlan
    seeds: dict[str, Any]
    moments: MomentFrame
    updates: UpdateFrame | None
    windows: Any

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, StudyResult):
            return NotImplemented
        frames = self.windows.equals(other.windows) and self.updates == other.updates
        return frames and self.plan == other.plan and self.moments == other.moments

    __hash__ = None  # type: ignore[assignment]  # values that hold frames are unhashable

    @cached_property
    def summary(self) -> Summary:
        """Every figure; resampling follows from the plan's seed."""
        told = summarise(
            self.moments, base=self.plan.base, versus=self.plan.versus, updates=self.updates,
            resamples=self.plan.resamples, rng=np.random.default_rng([self.plan.seed, 11]),
        )  # fmt: skip
        more = extra_lines(
            self.moments, self.windows, floor=self.plan.floor, base=self.plan.base,
            versus=self.plan.versus, resamples=self.plan.resamples,
            seed=self.plan.seed,
        )  # fmt: skip
        return Summary(told.base, (*told.lines, *more))

    def leaning(self) -> MomentFrame:
        """Return the same beliefs with the leaning of searching seats as the truth."""
        frame = self.moments.frame
        for row in self.moments.rows:
            frame[f"truth:{row}"] = frame[f"leaning:{row}"]
        return MomentFrame(frame)

    def to_json(self) -> str:
        """Return plan, seeds, versions and every figure as JSON."""
        figures = json.loads(self.summary.to_json())
        said = {"plan": asdict(self.plan), **self.seeds, **figures}
        return json.dumps(said, allow_nan=False)


def read_result(folder: str | Path, plan: StudyPlan | None = None) -> StudyResult:
    """Read the results in a folder.

    Parameters
    ----------
    folder
        Folder of a study.
    plan
        Its plan; None to take the one written there.

    Returns
    -------
    StudyResult

    Raises
    ------
    HandreadError
        If the folder holds no study, or one whose games are not all there.
    """
    import pandas as pd

    place = Path(folder)
    file = place / "study.json"
    if not file.exists():
        raise HandreadError(f"{str(place)!r} holds no study.json; accepted: a folder of a study")
    said = json.loads(file.read_text(encoding="utf-8"))
    if plan is None:
        lists: dict[str, Any] = {
            key: tuple(value) if isinstance(value, list) else value
            for key, value in said["plan"].items()
        }
        plan = StudyPlan(**lists)
    files = sorted((place / "test").glob("*.bin"))
    if len(files) != plan.test:
        raise HandreadError(
            f"{str(place)!r} holds {len(files)} of {plan.test} games; run the study to its end"
        )
    games = [unpack_lines(path.read_bytes(), str(path)) for path in files]
    updates, windows = (_frame(games, group) for group in ("updates", "windows"))
    if windows.empty:
        windows = pd.DataFrame(columns=list(WINDOW_COLUMNS))
    seeds = {"seeds": said["seeds"], "made_with": said["made_with"]}
    return StudyResult(
        plan, seeds, _moments(games, plan), None if updates.empty else UpdateFrame(updates), windows
    )


def _frame(games: list[dict[str, dict[str, Any]]], group: str) -> pd.DataFrame:
    import pandas as pd

    parts = [pd.DataFrame(game[group]) for game in games if game[group]]
    if not parts:
        return pd.DataFrame()
    frame = pd.concat(parts, ignore_index=True)
    frame["seat"] = np.array(SEATS)[frame["seat"]]
    return frame


def _moments(games: list[dict[str, dict[str, Any]]], plan: StudyPlan) -> MomentFrame:
    import pandas as pd

    rows = row_names(load_card(plan.card))
    held = [game for game in games if len(game["moments"]["game"])]
    keys = ("game", "seat", "event", "own_turn", "turns_to_end", "exposures", "kind", "state")
    shared: dict[str, Any] = {
        name: np.concatenate([np.asarray(game["moments"][name]) for game in held])
        for name in keys
    }  # fmt: skip
    shared["seat"] = np.array(SEATS)[shared["seat"]]
    shared["state"] = np.array(STATES)[shared["state"]]
    for name in ("truth", "leaning", "final"):
        stacked = np.concatenate([game["moments"][name] for game in held])
        shared |= {f"{name}:{row}": stacked[:, i] for i, row in enumerate(rows)}
    parts = []
    for reader in plan.readers:
        said = np.concatenate([game["beliefs"][reader] for game in held])
        beliefs = {f"prob:{row}": said[:, i] for i, row in enumerate(rows)}
        parts.append(pd.DataFrame({"reader": reader, **shared, **beliefs}))
    return MomentFrame(pd.concat(parts, ignore_index=True))
