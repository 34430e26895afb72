"""Where the files that come with handread are: cards, demo records, default weights.

In a checkout and in an editable install they lie beside the package, in ``data/`` and
``models/``; a wheel carries the same tree inside the package, in ``_shipped/``. Nothing
else in the library knows the difference.
"""

from __future__ import annotations

from pathlib import Path, PurePosixPath
from typing import Final

from handread.errors import HandreadError, closest

_PACKAGE: Final = Path(__file__).resolve().parent
_IN_WHEEL: Final = "_shipped"
_TOP: Final = ("data", "models")


class NotShipped(HandreadError, FileNotFoundError):
    """A file or folder was asked for that does not come with handread."""


def shipped(*parts: str) -> Path:
    """Path of a file or folder that comes with handread.

    Parameters
    ----------
    *parts
        Names from the top, ``"data"`` or ``"models"``, down; a part may hold slashes.

    Returns
    -------
    Path
        An existing path, in a checkout, an editable install and an installed wheel alike.

    Raises
    ------
    NotShipped
        If there is no such file; the message says what was looked for, where, and what is
        there instead.

    Examples
    --------
    >>> shipped("data", "cards").name
    'cards'
    >>> shipped("data/cards") == shipped("data", "cards")
    True
    """
    asked = PurePosixPath(*parts)
    if asked.is_absolute() or ".." in asked.parts or not asked.parts or asked.parts[0] not in _TOP:
        place = " or ".join(repr(f"{name}/...") for name in _TOP)
        raise NotShipped(f"{str(asked)!r} names nothing that is shipped; such names are {place}")
    folder = _root()
    for depth, name in enumerate(asked.parts):
        if not (folder / name).exists():
            wanted = str(PurePosixPath(*asked.parts[: depth + 1]))
            raise NotShipped(f"no {wanted!r}: looked in {folder}; {_what_is_there(name, folder)}")
        folder = folder / name
    return folder


def available(*parts: str) -> tuple[str, ...]:
    """Names in a shipped folder, sorted, without hidden ones.

    Parameters
    ----------
    *parts
        As for ``shipped``; they must name a folder.

    Returns
    -------
    tuple of str
        File and folder names, which ``shipped(*parts, name)`` finds.

    Raises
    ------
    NotShipped
        If there is no such folder.

    Examples
    --------
    >>> all(shipped("data", name).exists() for name in available("data"))
    True
    """
    folder = shipped(*parts)
    if not folder.is_dir():
        raise NotShipped(f"{str(PurePosixPath(*parts))!r} is a file, not a folder: {folder}")
    return _names(folder)


def _root() -> Path:
    """Folder that holds ``data`` and ``models``: inside a wheel's package, or beside it."""
    inside = _PACKAGE / _IN_WHEEL
    return inside if inside.is_dir() else _PACKAGE.parent


def _names(folder: Path) -> tuple[str, ...]:
    hidden = (".", "__")
    return tuple(sorted(p.name for p in folder.iterdir() if not p.name.startswith(hidden)))


def _what_is_there(name: str, folder: Path) -> str:
    if not folder.is_dir():
        return "that is a file"
    there = _names(folder)
    return closest(name, there) if there else "that folder is empty"
