"""Intervals for a share of games, from counts alone."""

from __future__ import annotations

from handread.errors import HandreadError, closest
from handread.study._arrays import between

METHODS = ("wilson", "clopper-pearson")


def share_of_games(
    hits: int, games: int, *, level: float = 0.95, method: str = "wilson"
) -> tuple[float, float]:
    """Interval for the share of games in which something happened, each game counted once.

    For shares near 0 or 1, where a bootstrap sees no variation and claims certainty: 0 of
    20 games still leaves room for a share of 0.16. Never to be fed with moments, which are
    not independent.

    Parameters
    ----------
    hits
        Games in which it happened.
    games
        Games in all.
    level
        Confidence level.
    method
        "wilson", whose coverage is near `level` on average, or "clopper-pearson", whose
        coverage is never below it.

    Returns
    -------
    tuple of float
        Lower and upper end, probabilities.

    References
    ----------
    Wilson, E. B. (1927), J. Am. Stat. Assoc. 22, 209-212. Clopper, C. J. and Pearson, E. S.
    (1934), Biometrika 26, 404-413.

    Examples
    --------
    >>> [round(end, 4) for end in share_of_games(81, 263)]
    [0.2553, 0.3662]
    """
    if method not in METHODS:
        raise HandreadError(f"method is {method!r}; {closest(method, METHODS)}")
    if games < 1 or not 0 <= hits <= games:
        raise HandreadError(
            f"{hits!r} of {games!r} games; accepted: 0 to all of at least one game"
        )  # fmt: skip
    between(level, "level", 0.0, 1.0)
    return _wilson(hits, games, level) if method == "wilson" else _exact(hits, games, level)


def _wilson(hits: int, games: int, level: float) -> tuple[float, float]:
    from scipy.special import ndtri

    z2 = float(ndtri(0.5 + level / 2.0)) ** 2
    share = hits / games
    middle = share + z2 / (2.0 * games)
    half = (z2 * (share * (1.0 - share) + z2 / (4.0 * games)) / games) ** 0.5
    whole = 1.0 + z2 / games
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)


def _exact(hits: int, games: int, level: float) -> tuple[float, float]:
    from scipy.special import betaincinv

    tail = (1.0 - level) / 2.0
    low = 0.0 if hits == 0 else float(betaincinv(hits, games - hits + 1, tail))
    high = 1.0 if hits == games else float(betaincinv(hits + 1, games - hits, 1.0 - tail))
    return low, high
