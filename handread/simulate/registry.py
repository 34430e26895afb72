"""The kinds of player that can be found: modules of ``handread.simulate.kinds``, entry points."""

from __future__ import annotations

import importlib
import pkgutil
from functools import lru_cache

from handread.errors import HandreadError, closest
from handread.simulate.player import Kind

#: Group of entry points by which other packages bring kinds of player.
ENTRY_POINTS = "handread.players"

# Loaded here, so that loading it later cannot take the place of the function of that name.
_PACKAGE = importlib.import_module("handread.simulate.kinds")


@lru_cache(maxsize=1)
def kinds() -> tuple[Kind, ...]:
    """Every kind of player that can be found, sorted by name.

    A kind is one module in ``handread.simulate.kinds`` with a value ``KIND``, or an entry point
    of the group ``handread.players`` that is such a value. Adding one changes no other file. Those
    with a true ``for_tests`` are there to test readers; no population of ours has them.

    Raises
    ------
    HandreadError
        If two kinds have one name.

    Examples
    --------
    >>> [kind.name for kind in kinds()][:2]
    ['chaser', 'decoy']
    """
    from importlib.metadata import entry_points

    modules = [
        importlib.import_module(f"{_PACKAGE.__name__}.{found.name}")
        for found in pkgutil.iter_modules(_PACKAGE.__path__)
    ]
    found: list[Kind] = [module.KIND for module in modules if hasattr(module, "KIND")]
    found += [point.load() for point in entry_points(group=ENTRY_POINTS)]
    names = [kind.name for kind in found]
    if repeated := sorted({name for name in names if names.count(name) > 1}):
        raise HandreadError(f"kinds of player registered twice: {repeated!r}; each name once")
    return tuple(sorted(found, key=lambda kind: kind.name))


def kind_names() -> tuple[str, ...]:
    """Names of all kinds, sorted."""
    return tuple(kind.name for kind in kinds())


def kind_named(name: str) -> Kind:
    """Kind of player of a name.

    Raises
    ------
    HandreadError
        If there is none.

    Examples
    --------
    >>> kind_named("weigher").name
    'weigher'
    """
    for kind in kinds():
        if kind.name == name:
            return kind
    raise HandreadError(f"no kind of player {name!r}; {closest(name, kind_names())}")
