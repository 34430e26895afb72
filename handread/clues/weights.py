"""Weights of the clues: a model file under ``models/``, read into one frozen value."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from handread.clues import claims, elsewhere, hazard, passes, redeems, wins
from handread.clues.contract import registry
from handread.errors import ParseError, closest
from handread.values import ArrayValue, FrozenMap

Blocks = Mapping[str, Mapping[str, float]]
#: Blocks of weights that belong to no throw clue.
OTHER_BLOCKS = (
    "availability", "claims", "wins", "redeems", "passes", "hazard", "destination", "start",
    "elsewhere",
)  # fmt: skip

#: Versions of the terms that are no clue about a throw, by the block of weights that they use.
TERM_VERSIONS: Final[Mapping[str, int]] = FrozenMap({
    "claims": claims.VERSION, "wins": wins.VERSION, "redeems": redeems.VERSION,
    "passes": passes.VERSION, "hazard": hazard.VERSION, "destination": hazard.VERSION,
    "elsewhere": elsewhere.VERSION,
})  # fmt: skip


@dataclass(frozen=True, eq=False)
class Weights(ArrayValue):
    """Named weights by block, in nats unless a model file says otherwise.

    Attributes
    ----------
    name
        Of the model.
    measured
        False while the weights are rules of thumb: sentences then say so.
    blocks
        Block name to weight name to value.
    """

    name: str
    measured: bool
    blocks: Blocks

    def __getitem__(self, block: str) -> Mapping[str, float]:
        return self.blocks[block]

    @property
    def hash(self) -> str:
        """Hash of names and values, 16 hexadecimal digits."""
        lines = [
            f"{block}.{name}={value!r}"
            for block, values in sorted(self.blocks.items())
            for name, value in sorted(values.items())
        ]
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:16]

    def replace(self, changes: Mapping[str, float]) -> Weights:
        """Weights with some values changed.

        Parameters
        ----------
        changes
            ``"block.name"`` to value.

        Raises
        ------
        ParseError
            If a name is unknown.

        Examples
        --------
        >>> lore = load_weights()
        >>> lore.replace({"use.pair": -1.0})["use"]["pair"]
        -1.0
        """
        blocks = {block: dict(values) for block, values in self.blocks.items()}
        known = [f"{block}.{name}" for block, values in blocks.items() for name in values]
        for path, value in changes.items():
            if path not in known:
                raise ParseError(f"no weight {path!r}; {closest(path, known)}")
            block, name = path.split(".")
            blocks[block][name] = float(value)
        return Weights(self.name, self.measured, _frozen(blocks))


def _frozen(blocks: Mapping[str, Mapping[str, float]]) -> Blocks:
    return FrozenMap({b: FrozenMap(dict(values)) for b, values in blocks.items()})


def _value(path: str, entry: Any) -> float:
    value = entry.get("value") if isinstance(entry, dict) else entry
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ParseError(f"weight {path} is {entry!r}; accepted: a number, {{ value = number }}")
    return float(value)


def term_versions() -> dict[str, int]:
    """Version of each clue and term that ships, by the block of weights that it uses.

    >>> term_versions()["use"] >= 1
    True
    """
    return {clue.name: clue.version for clue in registry()} | dict(TERM_VERSIONS)


def _check_version(file: str, block: str, version: object) -> None:
    here = term_versions().get(block)
    if version is not None and here is not None and version != here:
        raise ParseError(
            f"{file}: weights of {block!r} are for version {version}, this reader has version "
            f"{here}; accepted: weights fitted anew with 'handread fit --out FOLDER'"
        )


def load_weights(path: str | Path | None = None) -> Weights:
    """Read a model file.

    Parameters
    ----------
    path
        A TOML file; None for the lore weights that ship.

    Returns
    -------
    Weights
        Clues that the file does not name keep their own defaults.

    Raises
    ------
    ParseError
        If the file names an unknown block or weight, or a clue or term of another version.
    """
    from handread.shipped import shipped

    file = Path(path) if path is not None else shipped("models", "lore", "weights.toml")
    content = tomllib.loads(file.read_text(encoding="utf-8"))
    model = content.pop("model", {})
    clues = {clue.name: clue for clue in registry()}
    blocks: dict[str, dict[str, float]] = {name: dict(c.defaults) for name, c in clues.items()}
    for block, entries in content.items():
        if block not in clues and block not in OTHER_BLOCKS:
            known = [*clues, *OTHER_BLOCKS]
            raise ParseError(f"{file.name}: no block {block!r}; {closest(block, known)}")
        _check_version(file.name, block, entries.pop("version", None))
        held = blocks.setdefault(block, {})
        for name, entry in entries.items():
            if block in clues and name not in held:
                raise ParseError(f"{file.name}: [{block}] {name!r}; {closest(name, held)}")
            held[name] = _value(f"{block}.{name}", entry)
    missing = [block for block in OTHER_BLOCKS if block not in blocks]
    if missing:
        raise ParseError(f"{file.name}: blocks missing: {', '.join(missing)}")
    name, measured = model.get("name", file.stem), bool(model.get("measured", False))
    return Weights(name, measured, _frozen(blocks))
