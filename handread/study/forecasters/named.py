"""Forecasters by the names that a study plan uses."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, closest
from handread.study.forecasters.contract import Forecaster, Oracle
from handread.study.forecasters.guesses import Uniform
from handread.study.forecasters.model import ModelReader, lore_reader
from handread.study.forecasters.oracle import RackOracle, style_free_oracle
from handread.study.forecasters.stored import StoredReader
from handread.study.forecasters.trained import BaseRates, Elimination, StructuralFloor, Training

#: Names of forecasters in a plan, beside those that the plan gives to stored readers. A reader
#: that knows less, or sits at the table, is named after one of these.
NAMES = (
    "uniform", "base rates", "floor", "elimination", "lore",
    "rack oracle", "rack oracle, style unknown",
    "lore without <clue>", "lore with <clue> twice", "<reader> less <input>", "<reader> seated",
    "<model> drawn", "<model> by rule", "<model> without <rule>", "<model> minding <notes>",
)  # fmt: skip

#: Oracles by name.
ORACLES: Final[dict[str, Callable[[], Oracle]]] = {
    "rack oracle": RackOracle, "rack oracle, style unknown": style_free_oracle,
}  # fmt: skip

Readers = Mapping[str, StoredReader]


def forecaster_named(
    name: str,
    card: CompiledCard,
    training: Training,
    *,
    shares: bool = False,
    stored: Readers | None = None,
    beside: Mapping[str, Forecaster | Oracle] | None = None,
) -> Forecaster | Oracle:
    """Forecaster of a name.

    Parameters
    ----------
    name
        One of ``NAMES``, or of a stored reader.
    card
        The card.
    training
        Counts of training games, for those that need them.
    shares
        Whether moves of a model are split among its clues.
    stored
        Stored readers by name.
    beside
        Readers made before, which one made of others takes in the place of new ones.

    Raises
    ------
    HandreadError
        If there is none.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.study.forecasters import empty_training
    >>> card = hr.load_card("small")
    >>> forecaster_named("lore without use", card, empty_training(card)).name
    'lore without use'
    """
    held = stored or {}

    def named(inner: str) -> Forecaster | Oracle:
        if beside and inner in beside:
            return beside[inner]
        return forecaster_named(inner, card, training, shares=shares, stored=held)

    fixed: dict[str, Callable[[Training], Forecaster]] = {
        "base rates": BaseRates, "floor": StructuralFloor, "elimination": Elimination,
    }  # fmt: skip
    if name in held:
        return _stored(held[name], card, named, held, shares=shares)
    stranger = name.removesuffix(" drawn")
    if stranger != name and stranger in held:
        return _drawn(held[stranger], card, name)
    if name == "uniform":
        return Uniform()
    if name in fixed:
        return fixed[name](training)
    if name in ORACLES:
        return ORACLES[name]()
    if name == "lore" or name.startswith(("lore without ", "lore with ")):
        found = _lore(name, card, shares=shares)
        if found is not None:
            return found
    from handread.study.inputs import knowing_less
    from handread.study.rules.parts import taken_apart

    told = knowing_less(name, named) or taken_apart(name, named)
    if told is not None:
        return told
    raise HandreadError(f"no forecaster {name!r}; {closest(name, (*NAMES, *held))}")


def _lore(name: str, card: CompiledCard, *, shares: bool) -> ModelReader | None:
    """The lore reader, whole or with one clue otherwise; None for rules, and where it goes on."""
    if " less " in name or ": " in name or name.endswith(" seated"):
        return None
    if name.startswith("lore without "):
        return lore_reader(card, without=name.removeprefix("lore without "), shares=shares)
    if name.startswith("lore with ") and name.endswith(" twice"):
        clue = name.removeprefix("lore with ").removesuffix(" twice")
        return lore_reader(card, twice=clue, shares=shares)
    return lore_reader(card, shares=shares) if name == "lore" else None


def _stored(
    found: StoredReader,
    card: CompiledCard,
    named: Callable[[str], Forecaster | Oracle],
    held: Readers,
    *,
    shares: bool,
) -> Forecaster:
    if found.kind == "model":
        return _model(found, card, shares=shares)
    if found.kind == "peer":
        from handread.study.peer.forecaster import peer_of

        return peer_of(found, card)
    from handread.study.pooling.forecaster import pool_of

    return pool_of(found, card, named, lambda name: held[name].hash if name in held else "")


def _drawn(found: StoredReader, card: CompiledCard, name: str) -> Forecaster:
    """Reader of a stranger: who sits there is drawn from the people of a fitted model."""
    from handread.study.forecasters.drawn import drawn_models, drawn_people, reader_of_strangers

    if found.kind != "model":
        raise HandreadError(f"{found.name!r} is a {found.kind}; accepted for {name!r}: a model")
    model = _model(found, card, shares=False).model
    return reader_of_strangers(name, drawn_models(model, *drawn_people(found)))


def _model(found: StoredReader, card: CompiledCard, *, shares: bool) -> ModelReader:
    """A fitted model, refused where it was fitted with other clues than those here."""
    from handread.clues.weights import load_weights
    from handread.reading import stored_model

    with found.folder() as folder:
        model = stored_model(card, load_weights(folder / "weights.toml"))
        if (folder / "model.toml").exists():
            from handread.fitting import check_model

            check_model(folder, model)
    return ModelReader(found.name, model, shares)
