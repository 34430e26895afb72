"""What a study found: tidy frames, and every figure with its interval and counts."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from handread.errors import HandreadError
from handread.study.frames import MomentFrame, UpdateFrame
from handread.study.running.bench import plan_of
from handread.study.running.figures import study_summary
from handread.study.running.packed import PackedMoments, game_files
from handread.study.running.plan import StudyPlan
from handread.study.running.store import unpack_lines
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
    packed
        Beliefs and truths, read from disk one reader at a time.
    updates
        Claimed and realised bits; None where no reader reports moves.
    windows
        Forecasts of claims and wins, a pandas frame with the columns of ``WINDOW_COLUMNS``.
    n_workers
        Processes that figures are worked out in; they are the same with any number.
    """

    plan: StudyPlan
    seeds: dict[str, Any]
    packed: PackedMoments
    updates: UpdateFrame | None
    windows: Any
    n_workers: int = 1

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, StudyResult):
            return NotImplemented
        frames = self.windows.equals(other.windows) and self.updates == other.updates
        return frames and self.plan == other.plan and self.moments == other.moments

    __hash__ = None  # type: ignore[assignment]  # values that hold frames are unhashable

    @cached_property
    def moments(self) -> MomentFrame:
        """Beliefs and truths of the readers that watched every game, in one frame.

        One line a reader and moment, with the columns of ``MOMENT_COLUMNS``, ``ROW_COLUMNS``
        and ``STUDY_COLUMNS``. For many games and readers it takes much memory; `packed` does not.
        """
        return MomentFrame(self.packed.frame())

    @cached_property
    def summary(self) -> Summary:
        """Every figure; resampling follows from the plan's seed."""
        return study_summary(
            self.plan, self.packed, self.updates, self.windows, n_workers=self.n_workers
        )

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


def read_result(
    folder: str | Path, plan: StudyPlan | None = None, *, n_workers: int = 1
) -> StudyResult:
    """Read the results in a folder.

    Parameters
    ----------
    folder
        Folder of a study.
    plan
        Its plan; None to take the one written there.
    n_workers
        Processes that figures are worked out in.

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
        plan = plan_of(said["plan"])
    files = game_files(place, plan)
    updates, windows = _frames(files, ("updates", "windows"))
    if windows.empty:
        windows = pd.DataFrame(columns=list(WINDOW_COLUMNS))
    seeds = {"seeds": said["seeds"], "made_with": said["made_with"]}
    held = None if updates.empty else UpdateFrame(updates)
    return StudyResult(plan, seeds, PackedMoments.of(place, plan), held, windows, n_workers)


def _frames(files: list[Path], groups: tuple[str, ...]) -> list[pd.DataFrame]:
    """Groups of columns of all games, each file read once; words are kept as codes."""
    columns: dict[str, dict[str, list[Any]]] = {group: {} for group in groups}
    known: dict[str, dict[str, int]] = {}
    for path in files:
        game = unpack_lines(path.read_bytes(), str(path))
        for group in groups:
            for name, value in game[group].items():
                if isinstance(value, list):
                    codes = known.setdefault(name, {})
                    value = np.array([codes.setdefault(word, len(codes)) for word in value])
                elif name in ("game", "event"):
                    value = value.astype(np.int32)
                columns[group].setdefault(name, []).append(value)
    return [_frame(columns.pop(group), known) for group in groups]


def _frame(columns: dict[str, list[Any]], known: dict[str, dict[str, int]]) -> pd.DataFrame:
    """Columns of all games as a frame."""
    import pandas as pd

    held: dict[str, Any] = {}
    for name in list(columns):
        whole = np.concatenate(columns.pop(name))
        if name in known:
            order = sorted(known[name])
            place = np.empty(len(order), dtype=np.int32)
            place[[known[name][word] for word in order]] = np.arange(len(order))
            held[name] = pd.Categorical.from_codes(place[whole], categories=pd.Index(order))
            held[name] = held[name].remove_unused_categories()
        elif name == "seat":
            held[name] = pd.Categorical.from_codes(whole, categories=pd.Index(SEATS))
        else:
            held[name] = whole
    return pd.DataFrame(held)
