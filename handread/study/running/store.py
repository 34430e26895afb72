"""The folder of a study: one file a game, written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from handread.errors import HandreadError
from handread.study.forecasters.trained import Training
from handread.study.running.game import GameLines

#: Version of the stored form of a game; files of another are refused.
FORMAT = 1


def put_file(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all, whenever the run is broken off."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.{os.getpid()}")
    part.write_bytes(content)
    part.replace(path)


def drop_parts(folder: Path) -> None:
    """Take away files that a run was writing when it was broken off."""
    for part in (*folder.glob(".*"), *folder.glob("*/.*")):
        if part.is_file() and part.suffix.lstrip(".").isdecimal():
            part.unlink()


def pack_arrays(arrays: dict[str, Any]) -> bytes:
    """Pack arrays and lists of texts; equal content gives equal bytes."""
    said: dict[str, Any] = {"format": FORMAT}
    for name, value in arrays.items():
        if isinstance(value, np.ndarray):
            plain = np.ascontiguousarray(value)
            said[name] = {"dtype": plain.dtype.str, "shape": plain.shape, "data": plain.tobytes()}
        else:
            said[name] = list(value)
    return msgspec.msgpack.encode(said)


def unpack_arrays(content: bytes, place: str) -> dict[str, Any]:
    """Reverse of ``pack_arrays``.

    Raises
    ------
    HandreadError
        If the content is something else, or of another format.
    """
    try:
        said = msgspec.msgpack.decode(content)
        number = said.pop("format")
    except (msgspec.MsgspecError, LookupError, AttributeError, TypeError) as error:
        raise HandreadError(f"{place} holds no game of a study: {error}; delete it") from None
    if number != FORMAT:
        raise HandreadError(f"{place} has format {number!r}; accepted: {FORMAT}")
    return {
        name: np.frombuffer(value["data"], dtype=value["dtype"]).reshape(value["shape"])
        if isinstance(value, dict)
        else value
        for name, value in said.items()
    }


def pack_training(counts: Training) -> bytes:
    """Pack counts of training games."""
    names = ("rows", "offers", "claims", "wins")
    return pack_arrays({name: getattr(counts, name) for name in names})


def unpack_training(content: bytes, place: str) -> Training:
    """Reverse of ``pack_training``."""
    return Training(**unpack_arrays(content, place))


_INTS = ("game", "seat", "event", "own_turn", "turns_to_end", "exposures", "state")


def pack_lines(lines: GameLines) -> bytes:
    """Pack what one game adds to a study."""
    out: dict[str, Any] = {}
    for name in _INTS:
        out[f"moments.{name}"] = np.array([m[name] for m in lines.moments], dtype=np.int32)
    out["moments.kind"] = [m["kind"] for m in lines.moments]
    for name in ("truth", "leaning", "final"):
        out[f"moments.{name}"] = np.array([m[name] for m in lines.moments], dtype=np.float64)
    for reader, rows in lines.beliefs.items():
        out[f"beliefs.{reader}"] = np.array(rows, dtype=np.float64)
    for group, told in (("updates", lines.updates), ("windows", lines.windows)):
        for name in told[0] if told else ():
            values = [line[name] for line in told]
            texts = isinstance(values[0], str)
            out[f"{group}.{name}"] = values if texts else np.array(values)
    return pack_arrays(out)


def unpack_lines(content: bytes, place: str) -> dict[str, dict[str, Any]]:
    """Columns of one game by group: moments, beliefs, updates, windows."""
    groups: dict[str, dict[str, Any]] = {
        name: {} for name in ("moments", "beliefs", "updates", "windows")
    }
    for name, value in unpack_arrays(content, place).items():
        group, _, column = name.partition(".")
        groups[group][column] = value
    return groups
