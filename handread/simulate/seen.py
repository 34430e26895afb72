"""A simulated game through one seat's eyes, and with its racks open."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError, closest
from handread.simulate.game.hidden import move_tiles
from handread.simulate.game.play import SimulatedGame
from handread.simulate.playcard import PlayCard
from handread.simulate.view import STATES
from handread.table.events import (
    SEATS,
    Absent,
    AnyEvent,
    Drew,
    Passed,
    Rack,
    Record,
    Reveal,
    Win,
    viewer_seat,
)
from handread.table.play import apply, start


def seen_by(game: SimulatedGame, viewer: str | int) -> Record:
    """Record of a game as one viewer could have written it.

    A seat writes down its rack after the deal, what it gave and took in the passes, and every
    tile that it drew. The floor sees none of these.

    Parameters
    ----------
    game
        The game.
    viewer
        ``"floor"``, or a seat that is taken, by name, prefix or index.

    Raises
    ------
    HandreadError
        If there is no such viewer.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.simulate import simulate_games
    >>> game = next(simulate_games(hr.house_card(), n_games=1, seed=4, until="passes"))
    >>> seen_by(game, "floor") == game.record
    True
    >>> len(seen_by(game, "South").events[0].tiles)
    13
    """
    seat = viewer_seat(viewer)
    if seat is None:
        return game.record
    if game.truth.people[seat] is None:
        taken = [name for name, person in zip(SEATS, game.truth.people, strict=True) if person]
        raise HandreadError(f"no viewer {viewer!r}; {closest(str(viewer), ['floor', *taken])}")
    header = msgspec.structs.replace(game.record.header, viewer=SEATS[seat])
    return Record(header, tuple(_seen(game, seat)))


def _seen(game: SimulatedGame, seat: int) -> Iterator[AnyEvent]:
    draws = {at: kind for at, who, kind in game.truth.draws if who == seat}
    passes = iter(game.truth.passes)
    racked = False
    for number, event in enumerate(game.record.events):
        if not racked and not isinstance(event, Absent):
            yield Rack(seat, tuple(sorted(game.truth.dealt[seat])))
            racked = True
        if number in draws:
            yield Drew(seat, draws[number])
        if isinstance(event, Passed):
            step = next(passes)
            yield msgspec.structs.replace(
                event, given=step.given[seat], received=step.received[seat]
            )
        elif isinstance(event, Drew) and event.seat == seat:
            continue  # the tile was written down just before
        elif isinstance(event, Win) and event.seat == seat and not event.claimed:
            yield msgspec.structs.replace(event, kind=None)
        else:
            yield event


def racks_after(game: SimulatedGame, card: PlayCard) -> Iterator[NDArray[np.int64]]:
    """Concealed tiles of all seats after each event of the record.

    A tile drawn counts from the next event of its seat on, for which it was drawn.

    Parameters
    ----------
    game
        The game.
    card
        The card that it was played with.

    Yields
    ------
    numpy.ndarray
        Copies of each kind in the four racks, shape (4, 36).

    Examples
    --------
    >>> import handread as hr
    >>> from handread.simulate import play_card, simulate_games
    >>> game = next(simulate_games(hr.load_card("small"), n_games=1, seed=4))
    >>> *_, last = racks_after(game, play_card(hr.load_card("small")))
    >>> [tuple(np.repeat(np.arange(36), rack).tolist()) for rack in last] == [*game.truth.racks]
    True
    """
    state = start(game.record.header, card.card.rules)
    racks = [np.bincount(np.array(t, dtype=np.int64), minlength=36) for t in game.truth.dealt]
    draws, passes = iter((*game.truth.draws, (-1, -1, -1))), iter(game.truth.passes)
    at, seat, kind = next(draws)
    for number, event in enumerate(game.record.events):
        while at == number:
            racks[seat][kind] += 1
            at, seat, kind = next(draws)
        if isinstance(event, Passed):
            step = next(passes)
            for passer in range(4):
                np.subtract.at(racks[passer], list(step.given[passer]), 1)
                np.add.at(racks[passer], list(step.received[passer]), 1)
        move_tiles(racks, state, event)
        state = apply(state, event)
        yield np.stack(racks)


def with_reveal(game: SimulatedGame, card: PlayCard) -> Record:
    """Record of the floor, followed by what every seat shows after the end.

    Parameters
    ----------
    game
        A game that was played to its end.
    card
        The card, for the names of hands.

    Returns
    -------
    Record
        With one ``Reveal`` a seat: concealed tiles, and the hand that it won with or was
        committed to at the end; no hand where it had none.
    """
    reveals = []
    for seat in range(4):
        if game.truth.people[seat] is None:
            continue
        target = _built(game, seat)
        hand = None if target < 0 else card.card.hands[card.card.hand_of[target]].name
        reveals.append(Reveal(seat, hand, game.truth.racks[seat]))
    return Record(game.record.header, (*game.record.events, *reveals))


def _built(game: SimulatedGame, seat: int) -> int:
    """Target that a seat won with or was committed to at the end; -1 for none."""
    ending, moments = game.truth.ending, game.truth.moments
    if ending.winner == seat and ending.target is not None:
        return ending.target
    row = int(np.flatnonzero(moments.seat == seat)[-1])
    return -1 if STATES[int(moments.state[row])] == "folded" else int(moments.plan[row])
