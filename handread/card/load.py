"""Cards from files and by name."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from handread.card.cardfile import Card
from handread.card.compile import MOST_TARGETS, compile_card
from handread.card.compiled import CompiledCard
from handread.card.parse import parse_card
from handread.card.source import LARGEST_FILE
from handread.card.tokens import CardError
from handread.errors import closest
from handread.shipped import available, shipped


def read_card(path_or_name: str | Path) -> Card:
    """Read a card without compiling it.

    Parameters
    ----------
    path_or_name
        A path to a card file, or the name of a card that comes with handread.

    Raises
    ------
    CardError
        If there is no such card, or it cannot be read.

    Examples
    --------
    >>> read_card("house").families[0].hands[0].concealed
    False
    """
    path = card_path(path_or_name)
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise CardError(
                f"has {size:,} bytes; a card has at most {LARGEST_FILE:,}", place=path.name
            )
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise CardError(
            f"is no text in UTF-8 (byte {error.start}); save it as plain UTF-8 text",
            place=path.name,
        ) from None
    except OSError as error:
        raise CardError(f"cannot be read: {error.strerror}", place=str(path_or_name)) from None
    return parse_card(text, path.name)


def card_path(path_or_name: str | Path) -> Path:
    """Path of a card file, or of a card that comes with handread by its name."""
    path = Path(path_or_name)
    if isinstance(path_or_name, Path) or path.suffix or len(path.parts) != 1:
        return path
    names = card_names()
    if path_or_name not in names:
        raise CardError(
            f"no card {path_or_name!r} comes with handread; {closest(path_or_name, names)}, "
            "or a path that ends in .toml"
        )
    return shipped("data", "cards", f"{path_or_name}.toml")


def card_names() -> tuple[str, ...]:
    """Names of the cards that come with handread.

    >>> "house" in card_names()
    True
    """
    files = available("data", "cards")
    return tuple(name.removesuffix(".toml") for name in files if name.endswith(".toml"))


def load_card(path_or_name: str | Path, *, limit: int = MOST_TARGETS) -> CompiledCard:
    """Read and compile a card; the same unchanged file is compiled once per process.

    Parameters
    ----------
    path_or_name
        A path to a card file, or the name of a card that comes with handread.
    limit
        Most targets.

    Raises
    ------
    CardError
        If the card cannot be read or compiled.

    Examples
    --------
    >>> load_card("house").rules.hand_size
    14
    """
    path = card_path(path_or_name)
    try:
        about = path.stat()
    except OSError:
        return compile_card(read_card(path), limit=limit)  # raises with the reason
    return _load(path.resolve(), about.st_mtime_ns, about.st_size, limit)


@lru_cache(maxsize=32)
def _load(path: Path, _changed: int, _size: int, limit: int) -> CompiledCard:
    return compile_card(read_card(path), limit=limit)


def house_card() -> CompiledCard:
    """The house card, compiled.

    >>> house_card().n_targets > 1000
    True
    """
    return load_card("house")
