"""A whole game, from the deal to the payment."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from handread.errors import HandreadError
from handread.simulate.game.passing import dealt_win, play_passes
from handread.simulate.game.table import ENGINE_VERSION, Table, TableRules, Watch
from handread.simulate.game.turns import take_turn
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Kind, Player
from handread.simulate.registry import kind_named
from handread.simulate.rules.deal import deal
from handread.simulate.rules.payment import payments
from handread.simulate.truth import Ending, Person, Truth, moments_of
from handread.simulate.view import shown_rows
from handread.table.events import Absent, Header, Record, Redeem, WallGame, Win
from handread.tiles import JOKER

People = tuple[Person | None, ...]


@dataclass(frozen=True)
class SimulatedGame:
    """A game that played itself.

    Attributes
    ----------
    record
        What the floor saw, and nothing else.
    truth
        What lay hidden.
    """

    record: Record
    truth: Truth

    __hash__ = None  # type: ignore[assignment]  # the truth holds arrays


def play_game(
    card: PlayCard,
    people: People,
    *,
    seed: int,
    rules: TableRules | None = None,
    until: str = "end",
    card_name: str = "house",
    population: str = "",
    watch: Watch | None = None,
    kinds: Mapping[str, Kind] | None = None,
) -> SimulatedGame:
    """Play one game.

    Parameters
    ----------
    card
        The card.
    people
        Who sits where, East first, who deals; None for an empty seat.
    seed
        Seed of the deal and of every decision.
    rules
        How the table plays.
    until
        ``"end"``, or ``"passes"`` to stop when the passes are over.
    card_name
        How the record names the card.
    population
        Name of the population that the people come from.
    watch
        Called with every decision: view, mind, log probabilities and the action taken.
    kinds
        Kinds of player by name that need not be registered.

    Returns
    -------
    SimulatedGame
        Record and truth.

    Raises
    ------
    HandreadError
        If fewer than two people play, or `until` is neither.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.simulate import default_population, play_card
    >>> rng = np.random.default_rng(3)
    >>> people = tuple(default_population().person(f"p{i}", rng=rng) for i in range(4))
    >>> game = play_game(play_card(hr.house_card()), people, seed=5)
    >>> game == play_game(play_card(hr.house_card()), people, seed=5)
    True
    """
    if until not in ("end", "passes"):
        raise HandreadError(f"until={until!r}; accepted: 'end', 'passes'")
    seats = tuple(seat for seat in range(4) if people[seat] is not None)
    if len(people) != 4 or len(seats) < 2:
        raise HandreadError(f"{len(seats)} people in {len(people)} seats; accepted: 2 to 4 in 4")
    deal_seed, choice_seed = np.random.SeedSequence(seed).spawn(2)
    dealt = deal(card.card.rules, rng=np.random.default_rng(deal_seed), seats=seats)
    header = Header(
        card=card_name,
        card_hash=card.card.hash,
        people=tuple(person.key if person else "" for person in people),
        switches=(rules or TableRules()).switches,
    )
    table = Table(
        card,
        tuple(player_of(card, person, kinds) for person in people),
        dealt,
        np.random.default_rng(choice_seed),
        header=header,
        rules=rules or TableRules(),
        watch=watch,
    )
    for seat in range(4):
        if people[seat] is None:
            table.do(Absent(seat))
    _before_play(table)
    while until == "end" and not table.state.over:
        take_turn(table)
    return SimulatedGame(
        Record(header, tuple(table.events)),
        Truth(
            seed=seed,
            population=population,
            card_hash=card.card.hash,
            versions=_versions(people),
            people=people,
            dealt=dealt.racks,
            wall=dealt.wall,
            passes=tuple(table.passes),
            stops=tuple(table.stops),
            draws=tuple(table.draws),
            moments=moments_of(table.rows),
            changes=tuple(table.changes),
            ending=_ending(table),
            racks=tuple(tuple(np.repeat(np.arange(36), r).tolist()) for r in table.racks),
        ),
    )


def player_of(
    card: PlayCard, person: Person | None, kinds: Mapping[str, Kind] | None = None
) -> Player | None:
    """Player that a person is, or None for an empty seat."""
    if person is None:
        return None
    given = (kinds or {}).get(person.kind)
    return Player(given if given is not None else kind_named(person.kind), person.style, card)


def _versions(people: People) -> tuple[tuple[str, int], ...]:
    found = {person.kind: person.version for person in people if person is not None}
    return (("engine", ENGINE_VERSION), *sorted(found.items()))


def _before_play(table: Table) -> None:
    """First looks, a win on the deal, and the passes of four seats."""
    for seat in table.seats:
        table.plan(seat)
    if not dealt_win(table) and len(table.seats) == 4:
        play_passes(table)


def _ending(table: Table) -> Ending:
    last = table.events[-1] if table.events else None
    if isinstance(last, WallGame):
        return Ending("wall" if sum(table.state.live) > 1 else "deserted")
    if not isinstance(last, Win):
        return Ending("passes")
    from handread.simulate.kernels import shortfall

    seat, state = last.seat, table.state
    rack = table.racks[seat].astype(np.uint8)
    complete = shortfall(table.card.targets, rack, shown_rows(state, seat)) == 0
    found = complete.nonzero()[0]
    target = int(found[table.card.targets.points[found].argmax()])
    hand = table.card.card.hands[table.card.card.hand_of[target]]
    thrower = state.floor[-1].seat if last.claimed else None
    jokers = int(rack[JOKER]) + sum(group.jokers for group in state.exposures[seat])
    before = table.events[-2] if len(table.events) > 1 else None
    return Ending(
        how="win",
        winner=seat,
        thrower=thrower,
        target=target,
        redeemed=isinstance(before, Redeem) and before.seat == seat and not last.claimed,
        jokerless=jokers == 0,
        payments=payments(
            hand.points,
            winner=seat,
            thrower=thrower,
            jokerless=jokers == 0,
            takes_jokers=bool(table.card.takes_jokers[target]),
            seated=state.seated,
        ),
    )
