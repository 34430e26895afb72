"""Figures of a study by the kind of player at the seat: who can be read."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np

from handread.study.intervals import estimate
from handread.study.moments import Moments, aligned
from handread.study.running.extra import error_line, gain_of
from handread.study.running.packed import PackedMoments
from handread.study.summary import SummaryLine

#: Games of a kind below which it has no figures.
LEAST_GAMES = 2


def kind_lines(
    packed: PackedMoments, reader: str, *, base: str, versus: str, resamples: int, seed: int
) -> tuple[SummaryLine, ...]:
    """Gain of a reader over the base, and over another one, at the seats of each kind of player.

    Parameters
    ----------
    packed
        Beliefs and truths.
    reader
        Whose figures.
    base, versus
        Readers that gains are over; `versus` may be empty.
    resamples
        Bootstrap sets of games.
    seed
        Seed of the resampling.

    Returns
    -------
    tuple of SummaryLine
        Parts are ``"kind chaser"`` and so on.
    """
    lines: list[SummaryLine] = []
    others = {base: "gain"} | ({versus: f"gain over {versus}"} if versus else {})
    moments, kinds = packed.moments(reader), packed.kinds(reader)
    level = {name: aligned(packed.moments(name), moments) for name in others if name != reader}
    for place, kind in enumerate(np.unique(kinds)):
        mask = kinds == kind
        if len(np.unique(moments.game[mask])) < LEAST_GAMES:
            continue
        kept = moments.where(mask)
        for other, rival in level.items():
            lines.append(_gain_line(kept, rival.where(mask),
                                    (reader, f"kind {kind}", others[other]),
                                    [seed, 15, place], resamples))  # fmt: skip
        lines.append(error_line(reader, f"kind {kind}", kept, [seed, 16, place], resamples))
    return tuple(lines)


def _gain_line(
    moments: Moments, rival: Moments, name: tuple[str, str, str], seed: list[int], resamples: int
) -> SummaryLine:  # fmt: skip
    found = estimate(
        gain_of(moments, rival), game=moments.index, unit="bits", resamples=resamples,
        rng=np.random.default_rng(seed),
    )  # fmt: skip
    said: dict[str, Any] = asdict(found)
    return SummaryLine(*name, **said)
