"""Readers that lie in folders: fitted models, discriminative peers, pooled readers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import msgspec

from handread.errors import HandreadError, closest
from handread.shipped import NotShipped, shipped

#: For each kind of stored reader the file that its folder must hold, and what makes the folder.
KINDS: Final = {
    "model": ("weights.toml", "handread fit --card {card} --out {folder}"),
    "peer": ("peer.json", "handread study peer --card {card} --out {folder}"),
    "pool": ("pool.json", "handread study pool --card {card} --out {folder}"),
}
#: Draws beside a fitted model, which only a reader of strangers reads.
DRAWS: Final = "draws.npz"
#: Files that say how a reader came about, and change nothing that it says.
_ABOUT: Final = ("model.toml", "checks.toml", "refits.toml")


class StoredReader(msgspec.Struct, frozen=True):
    """A stored reader with the content of its folder, so that it can go where it is needed.

    Attributes
    ----------
    name
        How a plan calls it.
    kind
        One of ``KINDS``.
    files
        Name and content of each file.
    """

    name: str
    kind: str
    files: tuple[tuple[str, bytes], ...]

    @property
    def hash(self) -> str:
        """Content hash, 16 hexadecimal digits; names and the card of a model do not count."""
        held = hashlib.sha256(self.kind.encode())
        for name, content in self.files:
            if name in _ABOUT:
                continue
            held.update(f"\n{name} {len(content)}\n".encode())
            held.update(content)
        return held.hexdigest()[:16]

    @contextmanager
    def folder(self) -> Iterator[Path]:
        """Folder that holds the files for as long as the context lasts."""
        with TemporaryDirectory() as name:
            for file, content in self.files:
                (Path(name) / file).write_bytes(content)
            yield Path(name)


def stored_reader(
    kind: str, name: str, folder: str, *, card: str = "house", draws: bool = False
) -> StoredReader:
    """Read a stored reader.

    Parameters
    ----------
    kind
        One of ``KINDS``.
    name
        How it is called.
    folder
        Where it lies; looked for from here, then among what ships.
    card
        Card that it is for, for the message.
    draws
        Whether to take draws of a posterior along, where there are any.

    Raises
    ------
    HandreadError
        If it is not there; the message says which command makes it.
    """
    if kind not in KINDS:
        raise HandreadError(f"no kind of stored reader {kind!r}; {closest(kind, KINDS)}")
    file, command = KINDS[kind]
    for place in _places(folder):
        if (place / file).is_file():
            left = set() if draws else {DRAWS}
            held = sorted(p for p in place.iterdir() if p.is_file() and p.name not in left)
            return StoredReader(name, kind, tuple((p.name, p.read_bytes()) for p in held))
    raise HandreadError(
        f"reader {name!r}: no {file} in {folder!r}; make it: "
        f"{command.format(card=card, folder=folder)}"
    )


def _places(folder: str) -> Iterator[Path]:
    yield Path(folder)
    try:
        yield shipped(folder)
    except NotShipped:
        return
