"""Readers that are told less or more hear exactly that, and nothing of the future."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

import handread as hr
from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate import SimulatedGame, seen_by, simulate_games
from handread.study.forecasters import Forecaster, Oracle, empty_training, forecaster_named
from handread.study.forecasters.model import lore_reader
from handread.study.inputs import INPUTS, Missing, Tally, without_draws, without_passes
from handread.study.inputs.seated import in_step
from handread.study.running import Asked, watch_game
from handread.table.events import SEATS, AnyEvent, Discard, Header, Missed, Passed, Stopped
from handread.table.play import apply, start
from handread.table.state import TableState

TOLD = [*(f"lore less {name}" for name in INPUTS), "lore seated"]
ASKED = Asked(turns=(3, 7))


@pytest.fixture(scope="module")
def card() -> CompiledCard:
    return hr.load_card("small")


@pytest.fixture(scope="module")
def games(card: CompiledCard) -> list[SimulatedGame]:
    return list(simulate_games(card, n_games=3, seed=93))


class Heard:
    """A forecaster that writes down what it is told."""

    name = "heard"

    def __init__(self) -> None:
        self.tables: list[list[AnyEvent]] = []
        self.states: list[TableState] = []

    def open(self, card: CompiledCard, header: Header) -> Heard:
        self.tables.append([])
        return self

    def observe(self, event: AnyEvent, state: TableState) -> None:
        self.tables[-1].append(event)
        self.states.append(state)

    def belief(self, seat: int) -> np.ndarray:
        return np.full(7, 1 / 7)


def played_to(forecaster: Forecaster, card: CompiledCard, game: SimulatedGame) -> object:
    watcher = forecaster.open(card, game.record.header)
    state = start(game.record.header, card.rules)
    for event in game.record.public("floor"):
        state = apply(state, event, card)
        watcher.observe(event, state)
    return watcher


@pytest.mark.parametrize("name", TOLD)
def test_none_knows_the_future(name: str, card: CompiledCard, games: list[SimulatedGame]) -> None:
    game = games[0]
    reader = {name: forecaster_named(name, card, empty_training(card))}
    assert reader[name].name == name
    half = 2 * len(game.record.events) // 3
    cut = SimulatedGame(hr.Record(game.record.header, game.record.events[:half]), game.truth)
    some = watch_game(card, cut, reader, number=0, asked=ASKED).beliefs[name]
    whole = watch_game(card, game, reader, number=0, asked=ASKED).beliefs[name]
    assert 0 < len(some) <= len(whole)
    np.testing.assert_array_equal(np.array(some), np.array(whole)[: len(some)])


def test_a_flag_or_the_passes_are_not_told(card: CompiledCard, games: list[SimulatedGame]) -> None:
    passes, draws = 0, 0
    for event in (each for game in games for each in game.record.events):
        less = without_passes(without_draws(event))
        if isinstance(event, Discard):
            assert less == Discard(event.seat, event.kind, pause=event.pause)
            draws += event.drawn is not None
        elif isinstance(event, Passed):
            assert less == Passed(step=event.step)
            passes += event.blind is not None or event.counts is not None
        elif isinstance(event, Stopped):
            assert less == Stopped()
        else:
            assert less == event
    assert min(passes, draws) > 3


def test_told_less_is_a_reading_of_the_lesser_record(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    watcher = played_to(
        forecaster_named("lore less drawn", card, empty_training(card)), card, games[0]  # type: ignore[arg-type]
    )  # fmt: skip
    model = lore_reader(card).model
    reader = hr.Reader(card, model=model, header=games[0].record.header)
    for event in games[0].record.public("floor"):
        reader.observe(without_draws(event))
    for seat in range(4):
        expected = model.by_family(reader.beliefs[seat].probs)
        np.testing.assert_array_equal(watcher.belief(seat), expected)  # type: ignore[attr-defined]


def test_missed_turns_are_missed_by_chance_and_the_record_stays_possible(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    missed = thrown = 0
    for game in simulate_games(card, n_games=12, seed=94):
        for share, name in ((0.2, "a"), (1.0, "all")):
            heard = Heard()
            played_to(Missing(heard, share, name), card, game)
            events = heard.tables[0]
            if share == 1.0:
                assert not any(isinstance(event, Discard) for event in events)
                continue
            missed += sum(isinstance(event, Missed) for event in events)
            thrown += sum(isinstance(event, Discard) for event in events)
            again = Heard()
            played_to(Missing(again, share, name), card, game)
            assert again.tables == heard.tables
            last = heard.states[-1]
            shown = Counter((g.kind, g.size) for g in last.exposures[0])
            true = start(game.record.header, card.rules)
            for event in game.record.events:
                true = apply(true, event, card)
            assert shown == Counter((g.kind, g.size) for g in true.exposures[0])
    assert abs(missed / (missed + thrown) - 0.2) < 4 * np.sqrt(0.16 / (missed + thrown))


def test_a_tally_holds_the_same_throws_in_another_order(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    heard = Heard()
    watcher = played_to(Tally(heard, orders=2, name="t"), card, games[1])
    watcher.belief(0)  # type: ignore[attr-defined]
    first, second = heard.tables

    def throws(events: tuple[AnyEvent, ...] | list[AnyEvent]) -> list[tuple[int, int]]:
        return [(event.seat, event.kind) for event in events if isinstance(event, Discard)]

    truly = throws(games[1].record.events)
    assert Counter(throws(first)) == Counter(throws(second)) == Counter(truly)
    assert throws(first) != truly
    assert throws(first) != throws(second)
    assert [seat for seat, _ in throws(first)] == [seat for seat, _ in truly]


def test_a_heap_tells_the_table_as_it_lies(card: CompiledCard, games: list[SimulatedGame]) -> None:
    from handread.study.inputs import Heap

    game, heard = games[2], Heard()
    half = hr.Record(game.record.header, game.record.events[:40])
    watcher = played_to(Heap(heard), card, SimulatedGame(half, game.truth))
    watcher.belief(1)  # type: ignore[attr-defined]
    seen, true = heard.states[-1], start(game.record.header, card.rules)
    for event in half.events:
        true = apply(true, event, card)
    np.testing.assert_array_equal(seen.seen, true.seen)
    assert seen.exposures == true.exposures
    assert not any(isinstance(event, Discard) for event in heard.tables[0])


# --- a seat at the table ---


@pytest.mark.parametrize("seat", range(4))
def test_a_seats_record_goes_in_step_with_the_floors(seat: int, games: list[SimulatedGame]) -> None:
    for game in games:
        public = tuple(game.record.public("floor"))
        own = tuple(seen_by(game, SEATS[seat]).public(SEATS[seat]))
        groups = in_step(public, own, seat)
        assert len(groups) == len(public)
        assert [event for group in groups for event in group] == list(own)


def test_a_seated_reader_reads_as_that_seat_does(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    game, reader = games[0], forecaster_named("lore seated", card, empty_training(card))
    assert isinstance(reader, Oracle)
    watcher = reader.open_sealed(card, game)
    state = start(game.record.header, card.rules)
    for event in game.record.public("floor"):
        state = apply(state, event, card)
        watcher.observe(event, state)
    model = lore_reader(card).model
    viewers = watcher.viewers  # type: ignore[attr-defined]
    beliefs = {}
    for viewer in viewers:
        record = seen_by(game, SEATS[viewer])
        beliefs[viewer] = hr.Reader(card, model=model, header=record.header, viewer=viewer)
        for event in record.public(SEATS[viewer]):
            beliefs[viewer].observe(event)
    for seat in range(4):
        viewer = viewers[1] if seat == viewers[0] else viewers[0]
        assert viewer != seat
        expected = model.by_family(beliefs[viewer].beliefs[seat].probs)
        np.testing.assert_array_equal(watcher.belief(seat), expected)


def test_names_that_mean_nothing_are_refused_in_words(card: CompiledCard) -> None:
    none = empty_training(card)
    with pytest.raises(HandreadError, match=r"no input 'drawm'.*did you mean 'drawn'"):
        forecaster_named("lore less drawm", card, none)
    with pytest.raises(HandreadError, match="'rack oracle' sees what lies hidden"):
        forecaster_named("rack oracle less drawn", card, none)
    with pytest.raises(HandreadError, match="'uniform' cannot be seated"):
        forecaster_named("uniform seated", card, none)
    with pytest.raises(HandreadError, match="no clue 'usee'"):
        forecaster_named("lore without usee less drawn", card, none)
