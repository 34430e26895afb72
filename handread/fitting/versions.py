"""Versions of everything that a fitted weight depends on; a reader refuses other ones."""

from __future__ import annotations

from collections.abc import Iterable

from handread.clues.weights import TERM_VERSIONS
from handread.reading import Model


def versions_of(model: Model) -> dict[str, int]:
    """Version of each clue and term, by the block of weights that it uses.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.reading import stored_model
    >>> versions_of(stored_model(hr.load_card("small")))["claims"] >= 1
    True
    """
    return {clue.name: clue.version for clue in model.clues} | dict(TERM_VERSIONS)


def packages(names: Iterable[str]) -> dict[str, str]:
    """Versions of installed packages, ``"not installed"`` where one is not."""
    from importlib.metadata import PackageNotFoundError, version

    found = {}
    for name in names:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found
