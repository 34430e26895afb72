"""Two tables: how strong each rule of thumb is, and what each part of a reading was worth."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from handread.clues.weights import load_weights
from handread.shipped import shipped
from handread.study.frames import UpdateFrame
from handread.study.information import honesty_by
from handread.study.intervals import LEVEL, RESAMPLES, paired_difference
from handread.study.moments import Moments, MomentTable, aligned
from handread.study.rules.known import RULES
from handread.study.rules.rule import Rule, verdict
from handread.study.scores import bits_log_score

if TYPE_CHECKING:
    import pandas as pd

#: Lines of an update frame that are no part of a reading.
_WHOLE: Final = ("all", "rest")
#: Parts told with another: what a group shown rules out leaves those without a plan too likely
#: until the chance of showing it puts them right, so that neither means much alone.
_WITH: Final = {"exposure": "claims"}


def words_of(path: str | Path) -> dict[str, str]:
    """Word that stands beside each weight of a model file, by ``"block.name"``.

    Examples
    --------
    >>> from handread.shipped import shipped
    >>> words_of(shipped("models", "lore", "weights.toml"))["repeats.not_needed"]
    'weak'
    """
    content = tomllib.loads(Path(path).read_text(encoding="utf-8"))
    return {
        f"{block}.{name}": entry["word"]
        for block, entries in content.items()
        for name, entry in entries.items()
        if isinstance(entry, dict) and "word" in entry
    }


def spreads_of(path: str | Path) -> dict[str, float]:
    """Standard error of each fitted weight of a model file, from its word; none for those held."""
    found = {}
    for name, word in words_of(path).items():
        told = re.match(r"fitted: plus or minus ([0-9.e+-]+)", word)
        if told:
            found[name] = float(told[1])
    return found


def strength_table(
    fitted: str | Path | None = None,
    *,
    lore: str | Path | None = None,
    rules: Iterable[Rule] = RULES,
) -> pd.DataFrame:
    """How strong each rule is said to be, how strong it was fitted, and what that says of it.

    Parameters
    ----------
    fitted
        Weights of a fitted model, a TOML file; None for the default model.
    lore
        Weights with the trade's words, a TOML file; None for the lore weights.
    rules
        The rules.

    Returns
    -------
    pandas.DataFrame
        By rule: ``part``, the ``words`` that stand beside its weight in the lore, the strengths
        ``lore`` and ``fitted`` and the standard ``error`` of the second, nats (NaN where it was
        held), ``origin`` of the habit in the simulated players and ``why``, and the ``verdict``.

    Examples
    --------
    >>> strength_table().loc["a needed pair is kept", "origin"]
    'emergent'
    """
    import pandas as pd

    said = Path(lore) if lore is not None else shipped("models", "lore", "weights.toml")
    made = Path(fitted) if fitted is not None else shipped("models", "default", "weights.toml")
    before, after = load_weights(said), load_weights(made)
    words, spread = words_of(said), spreads_of(made)
    rows = []
    for rule in rules:
        strength, found = rule.strength(before), rule.strength(after)
        error = rule.error(after, spread)
        rows.append({
            "rule": rule.name, "part": rule.part, "words": words[rule.weight], "lore": strength,
            "fitted": found, "error": error, "origin": rule.origin, "why": rule.why,
            "verdict": verdict(rule, strength, found, error),
        })  # fmt: skip
    return pd.DataFrame(rows).set_index("rule")


def bits_by_part(
    updates: UpdateFrame,
    readers: Iterable[str],
    *,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> pd.DataFrame:
    """Bits that each part of a reading claimed and realised in a game, for some readers.

    Parameters
    ----------
    updates
        Of a study in which the moves of `readers` are split among their clues; readers such as
        ``"lore by rule"`` have a part for each rule.
    readers
        The readers.
    rng
        Source of the resampling.
    level, resamples
        As in ``honesty``.

    Returns
    -------
    pandas.DataFrame
        By ``part`` and ``reader``: ``claimed`` and ``realised`` with ``_low`` and ``_high``, bits
        a game over all seats, and ``updates``, in how many moves the part had a share. The parts
        of a move are path shares: each may be negative, and only their sum is the move's. What
        a group shown rules out is told with ``claims``.
    """
    import pandas as pd

    whole, rows = updates.frame, []
    seed = int(rng.integers(2**63))
    for reader in readers:
        frame = whole[whole["reader"] == reader]
        told = honesty_by(
            frame["bits_claimed"].to_numpy(), frame["bits_realised"].to_numpy(),
            frame["clue"].astype(str).replace(_WITH).to_numpy(dtype=np.str_),
            game=frame["game"].to_numpy(),
            rng=np.random.default_rng(seed), level=level, resamples=resamples,
        )  # fmt: skip
        for part, found in told.items():
            if part not in _WHOLE:
                row: dict[str, object] = {"part": part, "reader": reader}
                for name in ("claimed", "realised"):
                    figure = getattr(found, name)
                    row |= {name: figure.value, f"{name}_low": figure.low}
                    row |= {f"{name}_high": figure.high}
                rows.append(row | {"updates": found.claimed.n_moments})
    return pd.DataFrame(rows).set_index(["part", "reader"])


def gains_of_parts(
    table: MomentTable,
    whole: str,
    *,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> pd.DataFrame:
    """What a reading gains by each part: its log score less that of the reading without it.

    Parameters
    ----------
    table
        Moments of a study with readers such as ``"default without demand"`` and
        ``"default minding pause"``; a reader that watched some games is compared on these.
    whole
        The reader with all parts, ``"default"`` or ``"default by rule"``.
    rng
        Source of the resampling.
    level, resamples
        As in ``paired_difference``.

    Returns
    -------
    pandas.DataFrame
        By ``part``: ``gain`` with ``gain_low`` and ``gain_high``, bits a moment at own turns,
        games counting alike and paired, and ``games``. For a clue of notes the gain is that of
        minding them over not minding them.
    """
    import pandas as pd

    stem, seed, rows = whole.removesuffix(" by rule"), int(rng.integers(2**63)), []
    full = table.moments(whole)
    for reader in table.readers:
        for form, sign in ((f"{stem} without ", 1.0), (f"{stem} minding ", -1.0)):
            if not reader.startswith(form):
                continue
            other = table.moments(reader)
            here = aligned(full, other)
            found = paired_difference(
                sign * _scores(here), sign * _scores(other), game=other.index, unit="bits",
                rng=np.random.default_rng(seed), level=level, resamples=resamples,
            ).difference  # fmt: skip
            rows.append({
                "part": reader.removeprefix(form), "gain": found.value, "gain_low": found.low,
                "gain_high": found.high, "games": found.n_games,
            })  # fmt: skip
    columns = ["part", "gain", "gain_low", "gain_high", "games"]
    return pd.DataFrame(rows, columns=columns).set_index("part")


def _scores(moments: Moments) -> np.ndarray:
    return bits_log_score(moments.prob, moments.truth)
