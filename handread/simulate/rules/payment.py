"""Who pays what at the end of a game."""

from __future__ import annotations


def payments(
    points: int,
    *,
    winner: int,
    thrower: int | None,
    jokerless: bool,
    takes_jokers: bool,
    seated: tuple[bool, ...] = (True, True, True, True),
) -> tuple[int, ...]:
    """Points that each seat gains, negative where it pays; they sum to 0.

    The thrower of the winning tile pays double and the others single; after a self-drawn win
    everybody pays double. A win without jokers doubles again, unless the hand cannot use any.
    Dead seats pay too. (Common practice, no source.)

    Parameters
    ----------
    points
        What the hand pays.
    winner
        Who won.
    thrower
        Who threw the winning tile; None when it was drawn.
    jokerless
        Whether no joker stands in the winning hand.
    takes_jokers
        Whether the hand has a group in which one could stand.
    seated
        Where somebody sits.

    Examples
    --------
    >>> payments(25, winner=2, thrower=0, jokerless=False, takes_jokers=True)
    (-50, -25, 100, -25)
    >>> payments(25, winner=2, thrower=None, jokerless=True, takes_jokers=True)
    (-100, -100, 300, -100)
    """
    each = points * (2 if jokerless and takes_jokers else 1)
    pays = [0, 0, 0, 0]
    for seat in range(4):
        if seated[seat] and seat != winner:
            pays[seat] = -each * (2 if thrower is None or seat == thrower else 1)
    pays[winner] = -sum(pays)
    return tuple(pays)
