"""The moments of a study as flat columns on disk, so that scoring needs one reader at a time.

A study of 10,000 games holds more than half a million moments; a table of all readers at once
would not fit into memory. The columns are written once, from the files of the games, and mapped.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.card import load_card
from handread.errors import HandreadError, closest
from handread.simulate.view import STATES
from handread.study.forecasters.contract import row_names
from handread.study.moments import Moments
from handread.study.running.plan import StudyPlan
from handread.study.running.store import unpack_lines
from handread.table.events import SEATS

if TYPE_CHECKING:
    import pandas as pd

#: Keys of a moment that are numbers.
KEYS: Final = ("game", "seat", "event", "own_turn", "turns_to_end", "exposures", "state")
#: Distributions over rows that all readers share.
TRUTHS: Final = ("truth", "leaning", "final")
_FOLDER: Final = "packed"


def game_files(folder: Path, plan: StudyPlan) -> list[Path]:
    """Files of the test games of a finished study, in order.

    Raises
    ------
    HandreadError
        If some are missing.
    """
    files = sorted((folder / "test").glob("*.bin"))
    if len(files) != plan.test:
        raise HandreadError(
            f"{str(folder)!r} holds {len(files)} of {plan.test} games; run the study to its end"
        )
    return files


def pack_games(folder: Path, plan: StudyPlan) -> None:
    """Write the moments of all test games as columns; nothing where they are there.

    Parameters
    ----------
    folder
        Folder of the study.
    plan
        Its plan.
    """
    place = folder / _FOLDER
    if (place / "columns.json").exists():
        return
    files = game_files(folder, plan)
    part = folder / f".{_FOLDER}.{os.getpid()}"
    for old in folder.glob(f".{_FOLDER}.*"):
        shutil.rmtree(old)
    part.mkdir()
    kinds: dict[str, int] = {}
    lengths = dict.fromkeys(plan.readers, 0)
    with ExitStack() as stack:
        names = [*KEYS, "kind", *TRUTHS, *(f"reader.{i}" for i in range(len(plan.readers)))]
        out = {name: stack.enter_context((part / name).open("wb")) for name in names}
        for file in files:
            game = unpack_lines(file.read_bytes(), str(file))
            moments = game["moments"]
            if not len(moments["game"]):
                continue
            for name in KEYS:
                out[name].write(moments[name].astype(np.int32).tobytes())
            codes = [kinds.setdefault(kind, len(kinds)) for kind in moments["kind"]]
            out["kind"].write(np.array(codes, dtype=np.int32).tobytes())
            for name in TRUTHS:
                out[name].write(moments[name].astype(np.float64).tobytes())
            for i, reader in enumerate(plan.readers):
                if (said := game["beliefs"].get(reader)) is not None:
                    out[f"reader.{i}"].write(said.astype(np.float64).tobytes())
                    lengths[reader] += len(said)
    if not any(lengths.values()):
        shutil.rmtree(part)
        raise HandreadError(f"no moment was scored (turns={plan.turns!r}); accepted: one or more")
    told = {"kinds": list(kinds), "lengths": lengths}
    (part / "columns.json").write_text(json.dumps(told, sort_keys=True), encoding="utf-8")
    shutil.rmtree(place, ignore_errors=True)
    part.rename(place)


@dataclass(frozen=True)
class PackedMoments:
    """Forecasts and truths of all readers of a study, read from disk one reader at a time.

    Attributes
    ----------
    folder
        Folder of the study.
    readers
        Names of the readers.
    rows
        Names of the rows.
    """

    folder: Path
    readers: tuple[str, ...]
    rows: tuple[str, ...]

    @classmethod
    def of(cls, folder: Path, plan: StudyPlan) -> PackedMoments:
        """Moments of a study whose games are all there.

        Parameters
        ----------
        folder
            Folder of the study.
        plan
            Its plan.
        """
        pack_games(folder, plan)
        return cls(folder, tuple(plan.readers), row_names(load_card(plan.card)))

    def _told(self) -> dict[str, Any]:
        told: dict[str, Any] = json.loads((self.folder / _FOLDER / "columns.json").read_bytes())
        return told

    def _column(self, name: str, n: int, dtype: type = np.int32) -> NDArray[Any]:
        file = self.folder / _FOLDER / name
        wide = (len(self.rows),) if dtype is np.float64 else ()
        return np.asarray(np.memmap(file, dtype=dtype, mode="r")).reshape(-1, *wide)[:n]

    def length(self, reader: str) -> int:
        """Moments at which a reader said what it believes.

        Raises
        ------
        HandreadError
            If there is no such reader.
        """
        if reader not in self.readers:
            raise HandreadError(f"reader is {reader!r}; {closest(reader, self.readers)}")
        return int(self._told()["lengths"][reader])

    def moments(self, reader: str, *, truth: str = "moment") -> Moments:
        """Return one reader's forecasts as arrays, by game, seat and event.

        Parameters
        ----------
        reader
            One of `readers`.
        truth
            "moment" for the truth of the moment, "leaning" for the same with a searching seat's
            leaning in the place of undecided, "final" for the hand revealed in the end; moments
            without a revealed hand are then left out.

        Returns
        -------
        Moments

        Raises
        ------
        HandreadError
            If there is no such reader or truth.
        """
        wanted = {"moment": "truth", "leaning": "leaning", "final": "final"}
        if truth not in wanted:
            raise HandreadError(f"truth is {truth!r}; {closest(truth, wanted)}")
        n = self.length(reader)
        place = self.readers.index(reader)
        weights = self._column(wanted[truth], n, np.float64)
        keys = {name: self._column(name, n) for name in KEYS if name != "state"}
        keys["seat"] = np.array(SEATS)[keys["seat"]]
        keep = self._kept(n, weights)
        prob = self._column(f"reader.{place}", n, np.float64)[keep]
        held = {name: column[keep] for name, column in keys.items()}
        return Moments(rows=self.rows, prob=prob, truth=weights[keep], **held)

    def kinds(self, reader: str) -> NDArray[Any]:
        """Kind of player at the seat of each of a reader's ``moments``, in their order.

        Parameters
        ----------
        reader
            One of `readers`.

        Raises
        ------
        HandreadError
            If there is no such reader.
        """
        return self._words(reader, "kind", self._told()["kinds"])

    def states(self, reader: str) -> NDArray[Any]:
        """What the seat was about at each of a reader's ``moments``, in their order.

        Parameters
        ----------
        reader
            One of `readers`.

        Returns
        -------
        numpy.ndarray
            Words of ``handread.simulate.view.STATES``, shape (n_moments,).

        Raises
        ------
        HandreadError
            If there is no such reader.
        """
        return self._words(reader, "state", STATES)

    def _words(self, reader: str, name: str, words: Sequence[str]) -> NDArray[Any]:
        """Words of a column of codes, in the order of a reader's ``moments``."""
        n = self.length(reader)
        kept = self._kept(n, self._column("truth", n, np.float64))
        return np.asarray(np.array(words)[self._column(name, n)[kept]])

    def _kept(self, n: int, weights: NDArray[Any]) -> NDArray[np.intp]:
        """Moments with a truth, by game, seat and event."""
        seat = np.array(SEATS)[self._column("seat", n)]
        order = np.lexsort((self._column("event", n), seat, self._column("game", n)))
        kept: NDArray[np.intp] = order[np.isfinite(weights).all(axis=1)[order]]
        return kept

    def frame(self) -> pd.DataFrame:
        """Return the moments of all readers that watched every game, under one another."""
        import pandas as pd

        told = self._told()
        most = max(told["lengths"].values())
        whole = [name for name in self.readers if told["lengths"][name] == most]
        shared = dict(self._shared(most, told["kinds"]))
        parts = []
        for reader in whole:
            said = self._column(f"reader.{self.readers.index(reader)}", most, np.float64)
            beliefs = {f"prob:{row}": said[:, i] for i, row in enumerate(self.rows)}
            parts.append(pd.DataFrame({"reader": reader, **shared, **beliefs}))
        return pd.concat(parts, ignore_index=True)

    def _shared(self, n: int, kinds: list[str]) -> Iterator[tuple[str, Any]]:
        for name in KEYS:
            column = self._column(name, n)
            words = {"seat": SEATS, "state": STATES}.get(name)
            yield name, np.array(words)[column] if words else column
        yield "kind", np.array(kinds)[self._column("kind", n)]
        for name in TRUTHS:
            held = self._column(name, n, np.float64)
            yield from ((f"{name}:{row}", held[:, i]) for i, row in enumerate(self.rows))
