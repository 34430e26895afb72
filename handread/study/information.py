"""What events said they taught, and what they did teach.

An event moves a belief from `before` to `after`. By its own account it taught
KL(after from before): the claimed bits. What it did teach is the change of the log score
of the truth: the realised bits. A reader who is right about himself realises on average
what he claims, whatever he knows or does not know; one who counts the same hint twice
claims more than he realises.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError, ImpossibleEvidence
from handread.study._arrays import Floats, between, distributions, vector
from handread.study.clusters import GameIndex, game_index
from handread.study.intervals import LEVEL, RESAMPLES, Estimate, bootstrap_figures, column

#: The honesty ratio is given where realised bits exceed this many standard errors.
STANDARD_ERRORS = 5.0


def _log2_ratio(before: ArrayLike, after: ArrayLike) -> tuple[Floats, Floats]:
    """log2(after / before), 0 where both are 0, and `after`; shapes (n_updates, n_rows)."""
    old = distributions(before, "before")
    new = distributions(after, "after")
    if old.shape != new.shape:
        raise HandreadError(
            f"before has shape {old.shape} and after {new.shape}; accepted: the same updates and "
            "the same rows in both"
        )
    revived = (old <= 0.0) & (new > 0.0)
    if revived.any():
        update, row = (int(place) for place in np.argwhere(revived)[0])
        raise ImpossibleEvidence(
            f"at update {update} row {row} goes from probability 0 to {float(new[update, row])!r}; "
            "accepted: an update that multiplies what was there"
        )
    ratio = np.zeros_like(new)
    with np.errstate(divide="ignore"):
        np.divide(new, old, out=ratio, where=old > 0.0)
        np.log2(ratio, out=ratio, where=old > 0.0)
    return ratio, new


def _weighted(log_ratio: Floats, weight: Floats) -> Floats:
    """Sum weight * log_ratio over the last axis, taking 0 times minus infinity as 0."""
    terms = np.zeros(np.broadcast_shapes(log_ratio.shape, weight.shape))
    np.multiply(log_ratio, weight, out=terms, where=weight > 0.0)
    return np.asarray(terms.sum(axis=-1))


def bits_claimed(before: ArrayLike, after: ArrayLike) -> Floats:
    """What each update said it taught: KL(after from before).

    Parameters
    ----------
    before, after
        Belief about the same rows at the same time, without and with the event, shape
        (n_updates, n_rows).

    Returns
    -------
    numpy.ndarray
        sum_k after_k log2(after_k / before_k) in bits, 0 or more, shape (n_updates,).

    Raises
    ------
    ImpossibleEvidence
        If an update gives probability to a row that had none.

    References
    ----------
    Kullback, S. and Leibler, R. A. (1951), Ann. Math. Stat. 22, 79-86.

    Examples
    --------
    >>> bits_claimed([[0.5, 0.5]], [[1.0, 0.0]]).tolist()
    [1.0]
    """
    log_ratio, new = _log2_ratio(before, after)
    return _weighted(log_ratio, new)


def bits_realised(before: ArrayLike, after: ArrayLike, truth: ArrayLike) -> Floats:
    """What each update did teach: log2 after(truth) - log2 before(truth).

    Parameters
    ----------
    before, after
        Belief about the same rows at the same time, without and with the event, shape
        (n_updates, n_rows).
    truth
        Weights of the true rows, shape (n_updates, n_rows).

    Returns
    -------
    numpy.ndarray
        In bits, shape (n_updates,); below 0 where the event misled, minus infinity where it
        ruled the truth out, 0 where the truth had been ruled out before.

    Examples
    --------
    >>> bits_realised([[0.5, 0.5]], [[0.25, 0.75]], [[1, 0]]).tolist()
    [-1.0]
    """
    log_ratio, _ = _log2_ratio(before, after)
    weight = distributions(truth, "truth")
    if weight.shape != log_ratio.shape:
        raise HandreadError(
            f"truth has shape {weight.shape}; accepted: {log_ratio.shape}, as the beliefs"
        )
    return _weighted(log_ratio, weight)


def bits_shared(shares: ArrayLike, weight: ArrayLike) -> Floats:
    """Split an update's bits among the clues that made it.

    Parameters
    ----------
    shares
        Path share of each clue in log2 after(row) - log2 before(row), in bits, shape
        (n_updates, n_clues, n_rows); entries of rows without weight are not read.
    weight
        The belief after the event for claimed bits, the truth for realised bits, shape
        (n_updates, n_rows).

    Returns
    -------
    numpy.ndarray
        In bits, shape (n_updates, n_clues). Shares that add up to the change of every row
        add up to `bits_claimed` and `bits_realised`.

    Examples
    --------
    >>> bits_shared([[[-0.5, 0.0], [-0.5, 0.5]]], [[1.0, 0.0]]).tolist()
    [[-0.5, -0.5]]
    """
    parts = np.asarray(shares, dtype=np.float64)
    rows = distributions(weight, "weight")
    if parts.ndim != 3 or parts.shape[::2] != rows.shape:
        raise HandreadError(
            f"shares has shape {parts.shape}; accepted: (n_updates, n_clues, n_rows) for weight of "
            f"shape {rows.shape}"
        )
    return _weighted(parts, np.broadcast_to(rows[:, None, :], parts.shape))


@dataclass(frozen=True)
class Honesty:
    """Claimed against realised bits.

    Attributes
    ----------
    claimed
        Bits claimed in a game, mean over games.
    realised
        Bits realised in a game, mean over games.
    difference
        Claimed minus realised, bits a game: 0 for an honest reader, above 0 for one who is
        overconfident or counts twice. It stays defined where the ratio is not.
    ratio
        Claimed over realised (1 when honest); None unless realised bits exceed five
        standard errors, since a ratio over something near 0 means nothing.
    """

    claimed: Estimate
    realised: Estimate
    difference: Estimate
    ratio: Estimate | None

    def __str__(self) -> str:
        """Print the ratio if there is one, and the difference."""
        ratio = str(self.ratio) if self.ratio else "not given (realised bits too few)"
        return f"honesty ratio {ratio}; claimed less realised {self.difference} a game"


def _difference(means: Floats) -> Floats:
    return np.asarray(means[..., 0] - means[..., 1])


def _ratio(means: Floats) -> Floats:
    return np.asarray(means[..., 0] / means[..., 1])


def honesty(
    claimed: ArrayLike,
    realised: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
    standard_errors: float = STANDARD_ERRORS,
) -> Honesty:
    """Hold what updates claimed against what they realised, summed within games.

    Parameters
    ----------
    claimed, realised
        Bits of each update, from `bits_claimed` and `bits_realised`, shape (n_updates,).
        For one clue or one kind of event give 0 elsewhere, so that every game counts.
    game
        Game of each update, shape (n_updates,).
    rng
        Source of the resampling.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.
    standard_errors
        How far realised bits must be from 0 for the ratio to be given.

    Returns
    -------
    Honesty

    Notes
    -----
    Realised bits are skewed, so that intervals run a little short: in 600 studies of a toy
    world of 240 games each, 95 % intervals of the difference and of the ratio held the truth
    in 93 % (standard error 1 %).

    Examples
    --------
    >>> rng = np.random.default_rng(0)
    >>> told = honesty([1.0, 1.1, 0.9], [0.5, 0.5, 0.5], game=[1, 2, 3], rng=rng)
    >>> round(told.ratio.value, 3)
    2.0
    """
    said = vector(claimed, "claimed")
    done = vector(realised, "realised", len(said))
    index = game_index(game, len(said))
    per_game = index.sums(np.stack([said, done], axis=1))
    return _honesty(
        per_game, len(said), rng=rng, level=level, resamples=resamples, errors=standard_errors
    )


def _honesty(
    per_game: Floats,
    n_updates: int,
    *,
    rng: np.random.Generator,
    level: float,
    resamples: int,
    errors: float,
) -> Honesty:
    """`honesty` from bits claimed and realised in each game, shape (n_games, 2)."""
    between(errors, "standard_errors", 0.0, np.inf)
    unit = "bits a game"
    claim, taught, difference, ratio = bootstrap_figures(
        per_game,
        [(column(0), unit), (column(1), unit), (_difference, unit), (_ratio, "claimed / realised")],
        rng=rng, n_moments=n_updates, level=level, resamples=resamples,
    )  # fmt: skip
    enough = taught.value > errors * taught.standard_error  # False for NaN
    return Honesty(claim, taught, difference, ratio if enough else None)


def honesty_by(
    claimed: ArrayLike,
    realised: ArrayLike,
    by: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> dict[str, Honesty]:
    """`honesty` of each kind of event.

    Parameters
    ----------
    claimed, realised
        Bits of each update, shape (n_updates,).
    by
        Kind of each update, or the clue of each entry, shape (n_updates,).
    game
        Game of each update, shape (n_updates,).
    rng, level, resamples
        As in `honesty`.

    Returns
    -------
    dict
        By kind, sorted. Games without that kind count with 0 bits, so that the kinds add up
        to the whole.
    """
    said = vector(claimed, "claimed")
    done = vector(realised, "realised", len(said))
    kinds = np.asarray(by)
    if kinds.shape != said.shape:
        raise HandreadError(f"by has shape {kinds.shape}; accepted: {said.shape}, one an update")
    index = game_index(game, len(said))
    both = np.stack([said, done], axis=1)
    told = {}
    for kind in np.unique(kinds):
        of_kind = kinds == kind
        told[str(kind)] = _honesty(
            index.sums(np.where(of_kind[:, None], both, 0.0)), int(of_kind.sum()),
            rng=rng, level=level, resamples=resamples, errors=STANDARD_ERRORS,
        )  # fmt: skip
    return told
