"""Readings taken apart by rule: a clue that holds several rules becomes one clue for each.

The scores of the parts add up to those of the clue, so that the belief is the same, and each part
has its own path share; any of them can be left out.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Final

from handread.clues.contract import Clue
from handread.clues.weights import Weights
from handread.errors import HandreadError, closest
from handread.reading import Model
from handread.study.forecasters.contract import Forecaster, Oracle
from handread.study.forecasters.model import ModelReader
from handread.values import FrozenMap

#: Clues that hold several rules: each part with the weights that are its own.
PARTS: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = FrozenMap({
    "use": FrozenMap({
        "singles": ("single",), "pairs": ("pair",), "groups": ("pung", "kong", "quint", "sextet"),
        "jokers": ("joker_wanted", "joker_unwanted", "joker_no_plan"),
        "spent": ("exposed", "dead", "leaving"),
    }),
    "safety": FrozenMap({
        "copies seen": ("per_copy_seen",), "let pass": ("follow",),
        "jokers": ("joker", "late_joker"),
    }),
})  # fmt: skip
#: Clues about optional notes, whose ``weight`` is 0 until real records are there.
NOTES: Final = ("pause", "rack_position")


def part_names(clue: Clue) -> tuple[str, ...]:
    """Names of the parts of a clue: of its rules, or its own where it is not taken apart.

    Examples
    --------
    >>> from handread.clues import registry
    >>> [part for clue in registry() if clue.name in ("use", "demand") for part in part_names(clue)]
    ['use: singles', 'use: pairs', 'use: groups', 'use: jokers', 'use: spent', 'demand']
    """
    return tuple(f"{clue.name}: {part}" for part in PARTS.get(clue.name, ())) or (clue.name,)


def by_rule(model: Model) -> Model:
    """Take the clues of a model apart into their rules; its beliefs are the same.

    Parameters
    ----------
    model
        The model.

    Raises
    ------
    HandreadError
        If a clue has a weight that no part of it has, and that scales none.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.reading import stored_model
    >>> whole = stored_model(hr.load_card("small"))
    >>> len(by_rule(whole).clues) - len(whole.clues)
    6
    """
    clues: list[Clue] = []
    blocks: dict[str, Mapping[str, float]] = dict(model.weights.blocks)
    for clue in model.clues:
        parts = PARTS.get(clue.name)
        if parts is None:
            clues.append(clue)
            continue
        held = model.weights[clue.name]
        own = {name for names in parts.values() for name in names}
        for name in held:
            if name not in own and not name.startswith("scale_"):
                raise HandreadError(f"weight {clue.name}.{name} is in no part; {sorted(own)} are")
        for part, names in parts.items():
            whole = f"{clue.name}: {part}"
            clues.append(replace(clue, name=whole))
            blocks[whole] = FrozenMap({
                name: 0.0 if name in own and name not in names else value
                for name, value in held.items()
            })  # fmt: skip
    return _with(model, tuple(clues), replace(model.weights, blocks=FrozenMap(blocks)))


def without_part(model: Model, part: str) -> Model:
    """Leave one part out of a model's clues.

    Parameters
    ----------
    model
        The model.
    part
        A clue, or one of the parts that ``by_rule`` makes.

    Raises
    ------
    HandreadError
        If there is no such part.
    """
    held = model if part in [clue.name for clue in model.clues] else by_rule(model)
    names = [clue.name for clue in held.clues]
    if part not in names:
        raise HandreadError(f"no clue or part {part!r}; {closest(part, names)}")
    return _with(held, tuple(c for c in held.clues if c.name != part), held.weights)


def minding(model: Model, note: str) -> Model:
    """Give the notes of one clue of ``NOTES`` their full weight."""
    if note not in NOTES:
        raise HandreadError(f"no notes {note!r}; {closest(note, NOTES)}")
    return _with(model, model.clues, model.weights.replace({f"{note}.weight": 1.0}))


def _with(model: Model, clues: tuple[Clue, ...], weights: Weights) -> Model:
    return replace(model, clues=clues, weights=weights)


def taken_apart(
    name: str, named: Callable[[str], Forecaster | Oracle]
) -> Forecaster | Oracle | None:  # fmt: skip
    """Reader of a name such as ``"lore by rule"``, ``"default without use: pairs"``.

    Parameters
    ----------
    name
        The whole name; the third form is ``"default minding pause"``.
    named
        Gives the reader of the first part.

    Returns
    -------
    Forecaster, Oracle or None
        None where the name has no such form.

    Raises
    ------
    HandreadError
        If there is no such part, or the reader has no clues.
    """
    inner, form, what = name, "", ""
    for word in (" without ", " minding "):
        if word in name:
            inner, form, what = name.partition(word)
    if name.endswith(" by rule"):
        inner, form = name.removesuffix(" by rule"), " by rule"
    if not form:
        return None
    found = named(inner)
    if not isinstance(found, ModelReader):
        raise HandreadError(f"{inner!r} has no clues; accepted: a reader with a model")
    if form == " by rule":
        return replace(found, name=name, model=by_rule(found.model))
    turn = without_part if form == " without " else minding
    return replace(found, name=name, model=turn(found.model, what))
