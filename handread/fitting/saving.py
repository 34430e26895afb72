"""Fitted models on disk: a folder with weights, a model card and, where sampled, draws.

``weights.toml`` has the form of the lore weights, so that a reader loads it without anything of
this folder; ``model.toml`` says what the weights rest on. A folder is written whole or not at all.
"""

from __future__ import annotations

import json
import os
import shutil
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.weights import Weights, load_weights
from handread.errors import HandreadError
from handread.fitting.mode.search import Estimate
from handread.fitting.priors import HELD
from handread.fitting.versions import versions_of
from handread.reading import Model

#: Version of the form of a stored model.
FORMAT: Final = 1
#: Bytes that a model may have at most, so that it can ship.
MOST_BYTES: Final = 2_000_000


@dataclass(frozen=True)
class ModelCard:
    """What a fitted model rests on.

    Attributes
    ----------
    name
        Of the model.
    command
        The command that makes it again.
    games
        Where the games come from: population, seeds, hashes, how many.
    card_name, card_hash
        The card that they were played with.
    versions
        Of every clue and term.
    made_with
        Versions of the packages used.
    method
        What was done, in words.
    diagnostics
        Figures that say how far the fit can be trusted.
    weaknesses
        Known weaknesses, in words.
    """

    name: str
    command: str
    games: Mapping[str, Any]
    card_name: str
    card_hash: str
    versions: Mapping[str, int]
    made_with: Mapping[str, str]
    method: str
    diagnostics: Mapping[str, float] = field(default_factory=dict)
    weaknesses: tuple[str, ...] = ()

    __hash__ = None  # type: ignore[assignment]  # holds mappings


def save_model(
    folder: str | Path,
    model: Model,
    weights: Weights,
    estimates: Sequence[Estimate],
    card: ModelCard,
    *,
    draws: Mapping[str, NDArray[Any]] | None = None,
) -> Path:
    """Write a fitted model.

    Parameters
    ----------
    folder
        Where to write; replaced as a whole where it is there.
    model
        The model of the reading that was fitted.
    weights
        The fitted weights.
    estimates
        What was found of each; weights without one were held.
    card
        What the weights rest on.
    draws
        Arrays to be kept beside, such as draws of a posterior.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    HandreadError
        If it takes more than two million bytes, or `folder` is there and holds no model.
    """
    folder = Path(folder)
    if folder.exists() and not (folder / "weights.toml").exists():
        raise HandreadError(f"{str(folder)!r} is there and holds no model; accepted: a new folder")
    part = folder.with_name(f".{folder.name}.{os.getpid()}")
    shutil.rmtree(part, ignore_errors=True)
    part.mkdir(parents=True)
    try:
        (part / "weights.toml").write_text(
            weights_text(weights, estimates, card.versions), encoding="utf-8"
        )
        (part / "model.toml").write_text(card_text(card), encoding="utf-8")
        if draws:
            np.savez_compressed(part / "draws.npz", allow_pickle=False, **draws)
        size = sum(file.stat().st_size for file in part.iterdir())
        if size > MOST_BYTES:
            raise HandreadError(f"model of {size} bytes; accepted: {MOST_BYTES} or fewer")
        if load_weights(part / "weights.toml").hash != weights.hash:
            raise HandreadError("weights come back from their file otherwise than they went in")
        _replace(part, folder)
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return folder


def _replace(part: Path, folder: Path) -> None:
    old = folder.with_name(f".{folder.name}.old")
    shutil.rmtree(old, ignore_errors=True)
    if folder.exists():
        folder.rename(old)
    part.rename(folder)
    shutil.rmtree(old, ignore_errors=True)


def weights_text(
    weights: Weights, estimates: Sequence[Estimate], versions: Mapping[str, int]
) -> str:
    """Weights as a model file, each with where it comes from."""
    found = {each.path: each for each in estimates}
    lines = [
        "# Fitted weights; model.toml beside says from what. Values are nats in the score of a",
        "# throw unless a word says otherwise; the lore weights name the units.", "",
        "[model]", f"name = {_quoted(weights.name)}",
        f"measured = {str(weights.measured).lower()}",
    ]  # fmt: skip
    for block, held in weights.blocks.items():
        lines += ["", f"[{_key(block)}]"]
        if block in versions:
            lines.append(f"version = {versions[block]}")
        for name, value in held.items():
            path = f"{block}.{name}"
            word = _word(found.get(path), HELD.get(path) or HELD.get(block))
            lines.append(f"{_key(name)} = {{ value = {value!r}, word = {_quoted(word)} }}")
    return "\n".join(lines) + "\n"


def _key(name: str) -> str:
    """Key of a TOML file, quoted where it must be."""
    bare = name.replace("_", "").replace("-", "")
    return name if bare.isascii() and bare.isalnum() else _quoted(name)


def _word(estimate: Estimate | None, held: str | None) -> str:
    if estimate is None:
        return f"held: {held}" if held else "held at the value that the fit started from"
    known = f", {estimate.n:,.0f} observations" if np.isfinite(estimate.n) else ""
    return f"fitted: plus or minus {estimate.sd:.2g}{known}; prior at {estimate.start:.3g}"


def card_text(card: ModelCard) -> str:
    """Model card as TOML."""
    lines = ["# What the weights beside rest on.", f"format = {FORMAT}"]
    for name in ("name", "command", "card_name", "card_hash", "method"):
        lines.append(f"{name} = {_quoted(getattr(card, name))}")
    lines.append("weaknesses = [")
    lines += [f"  {_quoted(each)}," for each in card.weaknesses]
    lines.append("]")
    for table in ("games", "versions", "made_with", "diagnostics"):
        lines += ["", f"[{table}]"]
        for key, value in getattr(card, table).items():
            lines.append(f"{_quoted(key)} = {_toml(value)}")
    return "\n".join(lines) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return repr(value) if np.isfinite(value) else "nan"
    return _quoted(str(value))


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def load_card(folder: str | Path) -> ModelCard:
    """Read the model card of a folder.

    Raises
    ------
    HandreadError
        If there is none, or it is of another format.
    """
    file = Path(folder) / "model.toml"
    if not file.exists():
        raise HandreadError(f"no model.toml in {str(folder)!r}; accepted: a folder of a fit")
    content = tomllib.loads(file.read_text(encoding="utf-8"))
    if content.pop("format", None) != FORMAT:
        raise HandreadError(f"{str(file)!r} is of another format; accepted: {FORMAT}")
    content["weaknesses"] = tuple(content["weaknesses"])
    return ModelCard(**content)


def check_model(folder: str | Path, model: Model) -> ModelCard:
    """Check that a stored model was fitted with the clues that are here.

    Raises
    ------
    HandreadError
        If a version differs; the message says which command fits it anew.
    """
    card = load_card(folder)
    here = versions_of(model)
    differing = [
        f"{name} {card.versions.get(name, 'missing')} (here {here.get(name, 'missing')})"
        for name in {**here, **card.versions}
        if card.versions.get(name) != here.get(name)
    ]
    if differing:
        raise HandreadError(
            f"model {card.name!r} was fitted with other versions: {', '.join(differing)}; "
            f"fit it anew: {card.command}"
        )
    return card
