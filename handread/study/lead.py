"""Lead: how early a reading is right for good, and what that earliness costs in false alarms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Bools, Floats, Ints, between, pair, vector
from handread.study.clusters import GameIndex, game_index
from handread.study.intervals import LEVEL, RESAMPLES, expanded_tails, resampled_weights
from handread.values import ArrayValue

#: Thresholds of the curve unless told otherwise.
THRESHOLDS = tuple(percent / 100.0 for percent in range(10, 100, 5))


@dataclass(frozen=True, eq=False)
class Lead(ArrayValue):
    """Lead as a curve over the threshold q, beside the false alarms at the same q.

    A lower threshold buys a longer lead and pays with wrong families: neither curve means
    anything without the other.

    Attributes
    ----------
    threshold
        q, shape (n_thresholds,).
    lead
        Own turns at the end of the game through which the true row stayed above q, the last
        turn counted, 0 if it was not above q at the last; mean over seats of a game, then
        over games, shape (n_thresholds,).
    lead_low, lead_high
        Interval of `lead` over games, shape (n_thresholds,).
    ever_found
        Share of seats whose true row ended above q, shape (n_thresholds,).
    wrong_game
        Share of games in which a wrong row ever passed q for any seat, shape (n_thresholds,).
    wrong_seat
        Share of seats for which a wrong row ever passed q, shape (n_thresholds,).
    level
        Pointwise confidence level.
    n_games, n_seats
        Games, and seats in all of them.
    """

    threshold: Floats
    lead: Floats
    lead_low: Floats
    lead_high: Floats
    ever_found: Floats
    wrong_game: Floats
    wrong_seat: Floats
    level: float
    n_games: int
    n_seats: int


@dataclass(frozen=True)
class _Streams:
    """Moments sorted by game, seat and turn; one stream a seat of a game."""

    order: Ints
    start: Ints  # first moment of each stream
    last: Ints  # last moment of each stream
    game: Ints  # game of each stream
    turn: Floats


def _streams(index: GameIndex, seat: ArrayLike, turn: ArrayLike) -> _Streams:
    seats = np.asarray(seat)
    if seats.shape != (index.n_moments,):
        raise HandreadError(
            f"seat has shape {seats.shape}; accepted: one a moment, ({index.n_moments},)"
        )
    turns = vector(turn, "own_turn", index.n_moments)
    _, seat_code = np.unique(seats, return_inverse=True)
    key = index.code * (int(seat_code.max()) + 1) + seat_code
    order = np.lexsort((turns, key))  # stable: moments of one turn stay in their order
    sorted_key = key[order]
    start = np.flatnonzero(np.concatenate(([True], sorted_key[1:] != sorted_key[:-1])))
    last = np.concatenate((start[1:], [len(order)])) - 1
    return _Streams(
        order.astype(np.int64), start.astype(np.int64), last.astype(np.int64),
        index.code[order][start], turns[order],
    )  # fmt: skip


def _lead_of_streams(above: Bools, streams: _Streams) -> Floats:
    """Own turns through which each stream stays above to its end, shape (n_streams,)."""
    place = np.arange(len(above))
    last_below = np.maximum.reduceat(np.where(above, -1, place), streams.start)
    first = np.maximum(last_below + 1, streams.start)
    never = first > streams.last
    begin = streams.turn[np.minimum(first, streams.last)]
    return np.where(never, 0.0, streams.turn[streams.last] - begin + 1.0)


def lead_curve(
    prob: ArrayLike,
    truth: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    seat: ArrayLike,
    own_turn: ArrayLike,
    rng: np.random.Generator,
    thresholds: ArrayLike | None = None,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> Lead:
    """Measure from when on the true row stays above q, and how often a wrong one passed q.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows: of the moment, or of the hand in the end; shape
        (n_moments, n_rows). The probability of the truth is sum_k w_k p_k; a row is wrong
        where its weight is 0.
    game
        Game of each moment, shape (n_moments,).
    seat
        Seat of each moment, shape (n_moments,).
    own_turn
        Own turns of that seat so far, shape (n_moments,); several moments may share one.
    rng
        Source of the resampling of games.
    thresholds
        Values of q, between 0 and 1.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    Lead

    Examples
    --------
    >>> prob = [[0.4, 0.6], [0.7, 0.3], [0.8, 0.2]] * 2
    >>> told = lead_curve(prob, [[1, 0]] * 6, game=[1, 1, 1, 2, 2, 2], seat=["East"] * 6,
    ...             own_turn=[1, 2, 3] * 2, rng=np.random.default_rng(0), thresholds=[0.5, 0.75])
    >>> told.lead.tolist(), told.wrong_game.tolist()
    ([2.0, 1.0], [1.0, 0.0])
    """
    forecast, weight = pair(prob, truth)
    index = game_index(game, len(forecast))
    if index.n_games < 2:
        raise HandreadError("an interval over 1 game; accepted: two games or more")
    between(level, "level", 0.0, 1.0)
    cuts = np.asarray(THRESHOLDS) if thresholds is None else vector(thresholds, "thresholds")
    streams = _streams(index, seat, own_turn)
    right = (forecast * weight).sum(axis=1)[streams.order]
    wrong = np.where(weight > 0.0, 0.0, forecast).max(axis=1)[streams.order]
    worst = np.maximum.reduceat(wrong, streams.start)

    by_stream = np.empty((len(cuts), 3, len(streams.start)))
    for place, cut in enumerate(cuts):
        turns = _lead_of_streams(right > cut, streams)
        by_stream[place] = turns, turns > 0.0, worst > cut
    seats = np.bincount(streams.game, minlength=index.n_games)
    by_game = np.stack(
        [np.bincount(streams.game, weights=row, minlength=index.n_games) for row in
         by_stream.reshape(-1, len(streams.start))],
        axis=1,
    ).reshape(index.n_games, len(cuts), 3)  # fmt: skip
    any_wrong = (by_game[:, :, 2] > 0.0).mean(axis=0)
    means = by_game / seats[:, None, None]
    drawn = np.concatenate(
        [block @ means[:, :, 0] for block in resampled_weights(index.n_games, resamples, rng=rng)]
    )
    low, high = np.quantile(drawn, expanded_tails(index.n_games, level), axis=0)
    over_games = means.mean(axis=0)
    return Lead(
        cuts, over_games[:, 0], low, high, over_games[:, 1], any_wrong, over_games[:, 2],
        level, index.n_games, len(streams.start),
    )  # fmt: skip
