"""Where one reader falls short of another: paired differences of log scores by part."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.study._arrays import Bools
from handread.study.intervals import LEVEL, RESAMPLES, estimate
from handread.study.moments import Moments, aligned
from handread.study.running.extra import gain_of
from handread.study.running.packed import PackedMoments

if TYPE_CHECKING:
    import pandas as pd

#: Columns of the table of shortfalls.
SHORTFALL_COLUMNS: Final[dict[str, str]] = {
    "by": "what the moments are parted by: all, own turn, groups shown, stage (both), kind, state",
    "part": "which of them",
    "difference": "log score of the reader less the rival's, mean over games, bits",
    "low": "lower end of its interval",
    "high": "upper end of its interval",
    "better": "share of the games in which the reader had the higher mean; ties count half",
    "games": "games with such a moment",
    "moments": "such moments",
}

#: First and last own turn of each stretch of the play.
STRETCHES: Final = ((1, 3), (4, 6), (7, 9), (10, 12), (13, 15), (16, None))
_WIDE: Final = ((1, 5), (6, 10), (11, 15), (16, None))
_GROUPS: Final = ("none", "one", "two or more")


def both_moments(packed: PackedMoments, reader: str, rival: str) -> tuple[Moments, Moments, str]:
    """Moments that two readers both have, and the name of the one that had fewer games.

    Parameters
    ----------
    packed
        Beliefs and truths of a study.
    reader, rival
        Two of its readers.

    Returns
    -------
    first, second
        Their moments, in one order.
    fewer
        The reader whose moments these are, for ``packed.kinds`` and ``packed.states``.

    Raises
    ------
    HandreadError
        If there is no such reader, or they are one and the same.
    """
    if reader == rival:
        raise HandreadError(f"reader and rival are both {reader!r}; accepted: two readers")
    first, second = packed.moments(reader), packed.moments(rival)
    if len(first) <= len(second):
        return first, aligned(second, first), reader
    return aligned(first, second), second, rival


def shortfalls(
    packed: PackedMoments,
    reader: str,
    rival: str,
    *,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> pd.DataFrame:
    """Hold a reader against a rival at the same moments, part by part.

    Below zero the reader falls short. The parts *state* are of what was true, which nobody at
    the table could see: a reader may score worse there for no other reason than that it
    believes, rightly, that this truth is rare. They say what a difference is about, not who
    is right.

    Parameters
    ----------
    packed
        Beliefs and truths of a finished study, as in ``StudyResult.packed``.
    reader, rival
        Two of its readers.
    rng
        Source of the resampling of games.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    pandas.DataFrame
        One line a part, with the columns of ``SHORTFALL_COLUMNS``; differences in bits. A part
        with moments of fewer than two games has no line.

    Raises
    ------
    HandreadError
        If there is no such reader, or they are one and the same.

    Examples
    --------
    >>> import tempfile
    >>> from handread.study.running import StudyPlan, run_study
    >>> plan = StudyPlan(name="tiny", seed=3, card="small", training=2, test=2, turns=(1,),
    ...     readers=("base rates", "floor"), versus="floor", windows=(), moves=())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     packed = run_study(plan, out=folder).packed
    ...     table = shortfalls(packed, "base rates", "floor", rng=np.random.default_rng(1))
    >>> table[["by", "part", "moments"]].values.tolist()[:2]
    [['all', 'all', 8], ['own turn', '1-3', 8]]
    """
    import pandas as pd

    first, second, fewer = both_moments(packed, reader, rival)
    gap = gain_of(first, second)
    lines: list[tuple[Any, ...]] = []
    seed = int(rng.integers(2**32))  # one set of resamples for all parts with the same games
    for by, part, mask in _parts(first, packed.kinds(fewer), packed.states(fewer)):
        if len(np.unique(first.game[mask])) < 2:
            continue
        index = first.where(mask).index
        found = estimate(
            gap[mask], game=index, unit="bits", level=level, resamples=resamples,
            rng=np.random.default_rng(seed),
        )  # fmt: skip
        by_game = index.means(gap[mask])
        better = float(np.mean((by_game > 0.0) + 0.5 * (by_game == 0.0)))
        counts = (found.n_games, found.n_moments)
        lines.append((by, part, found.value, found.low, found.high, better, *counts))
    return pd.DataFrame(lines, columns=list(SHORTFALL_COLUMNS))


def _parts(
    moments: Moments, kinds: NDArray[Any], states: NDArray[Any]
) -> Iterator[tuple[str, str, Bools]]:  # fmt: skip
    """What moments are parted by, the part, and its mask."""
    yield "all", "all", np.ones(len(moments), dtype=np.bool_)
    for first, last in STRETCHES:
        yield "own turn", _stretch(first, last), _within(moments, first, last)
    shown = np.minimum(moments.exposures, len(_GROUPS) - 1)
    for place, words in enumerate(_GROUPS):
        yield "groups shown", words, shown == place
    for first, last in _WIDE:
        for place, words in enumerate(_GROUPS):
            mask = _within(moments, first, last) & (shown == place)
            yield "stage", f"own turns {_stretch(first, last)}, groups {words}", mask
    for by, values in (("kind", kinds), ("state", states)):
        for value in np.unique(values).tolist():
            yield by, str(value), values == value


def _stretch(first: int, last: int | None) -> str:
    return f"{first} and later" if last is None else f"{first}-{last}"


def _within(moments: Moments, first: int, last: int | None) -> Bools:
    turn = moments.own_turn
    return np.asarray((turn >= first) & (turn <= (turn.max() if last is None else last)))
