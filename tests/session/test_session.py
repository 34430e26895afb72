"""Undo, amend, branch, snapshot: a reader is a list of values."""

import copy
import dataclasses
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import handread as hr
from handread.clues import registry
from handread.reading import Reader
from handread.table.events import Correct

OPENING = (4, 31, 26, 30, 11, 22)


@pytest.fixture(scope="module")
def card() -> hr.CompiledCard:
    return hr.house_card()


def opened(card: hr.CompiledCard) -> Reader:
    reader = Reader(card)
    for kind in OPENING:
        reader.observe(hr.Discard(seat=reader.state.turn, kind=kind))
    return reader


def test_undo_goes_back_to_the_same_beliefs(card: hr.CompiledCard) -> None:
    reader = opened(card)
    held = reader.beliefs
    reader.observe(hr.Discard(seat=2, kind=33))
    assert reader.beliefs != held
    reader.undo()
    assert reader.beliefs == held
    assert len(reader.log) == len(OPENING)
    with pytest.raises(hr.HandreadError, match=r"undo\(9\): accepted are 0 to 6"):
        reader.undo(9)


def test_an_amended_reader_is_the_reader_of_the_amended_record(card: hr.CompiledCard) -> None:
    reader = opened(card)
    reader.amend(2, hr.Discard(seat=1, kind=5))
    fresh = Reader(card)
    for event in reader.events:
        fresh.observe(event)
    assert fresh.beliefs == reader.beliefs
    assert reader.events[1] == hr.Discard(seat=1, kind=5)


def test_an_amendment_that_cannot_be_changes_nothing(card: hr.CompiledCard) -> None:
    reader = opened(card)
    held, events = reader.beliefs, reader.events
    with pytest.raises(hr.HandreadError):
        reader.amend(2, hr.Win(seat=3, claimed=False))
    assert (reader.beliefs, reader.events) == (held, events)
    with pytest.raises(hr.HandreadError, match="no event 7; accepted: 1 to 6"):
        reader.amend(7, None)


def test_branches_share_the_past_and_no_future(card: hr.CompiledCard) -> None:
    reader = opened(card)
    other = reader.branch()
    other.observe(hr.Discard(seat=2, kind=33))
    assert len(reader.events) == len(OPENING)
    assert other.beliefs[2] != reader.beliefs[2]
    assert other._moments[3][1][0] is reader._moments[3][1][0]


def test_a_snapshot_comes_back_from_a_pickle(card: hr.CompiledCard) -> None:
    reader = opened(card)
    held = pickle.loads(pickle.dumps(reader.snapshot()))
    again = Reader.restore(card, held)
    assert again.beliefs == reader.beliefs
    again.observe(hr.Discard(seat=2, kind=33))
    reader.observe(hr.Discard(seat=2, kind=33))
    assert again.beliefs == reader.beliefs


@pytest.mark.parametrize("copied", [
    copy.copy, copy.deepcopy, lambda value: pickle.loads(pickle.dumps(value)),
], ids=["copy", "deepcopy", "pickle"])  # fmt: skip
def test_copies_go_on_as_the_reader_does(
    card: hr.CompiledCard, copied: Callable[[Any], Any]
) -> None:
    """Also past a group, after which one seat's arrays are new and the others' are copies."""
    reader = opened(card)
    reader.observe(hr.Discard(seat=2, kind=33))
    again = Reader.restore(copied(card), copied(reader.snapshot()), model=copied(reader.model))
    for event in (hr.Expose(0, 3, 0), hr.Discard(seat=0, kind=9), hr.Discard(seat=1, kind=8)):
        again.observe(event)
        reader.observe(event)
    assert again.beliefs == reader.beliefs
    assert again.log == reader.log


def test_what_a_copy_holds_is_read_only(card: hr.CompiledCard) -> None:
    reader = opened(card)
    again = pickle.loads(pickle.dumps((reader.snapshot(), reader.model, card)))
    arrays, met = list[np.ndarray](), set[int]()
    todo: list[Any] = [*again]
    while todo:
        held = todo.pop()
        if id(held) in met:
            continue
        met.add(id(held))
        if isinstance(held, np.ndarray):
            arrays.append(held)
        elif isinstance(held, tuple | list):
            todo.extend(held)
        elif isinstance(held, dict):
            todo.extend(held.values())
        elif hasattr(held, "__dict__") and type(held).__module__.startswith("handread"):
            todo.extend(vars(held).values())
    assert len(arrays) > 100
    assert not [array.shape for array in arrays if array.flags.writeable]


def test_a_snapshot_holds_no_model(card: hr.CompiledCard) -> None:
    """A clue may be a function that no pickle can hold."""
    use = next(clue for clue in registry() if clue.name == "use")
    own = dataclasses.replace(use, keep=lambda context, weights: use.keep(context, weights))
    reader = Reader(card, model=hr.build_model(card, clues=(own,)))
    for kind in OPENING:
        reader.observe(hr.Discard(seat=reader.state.turn, kind=kind))
    again = pickle.loads(pickle.dumps(reader.snapshot()))
    assert (again.moments, again.log) == (tuple(reader._moments), reader.log)


def test_a_snapshot_of_other_weights_is_refused(card: hr.CompiledCard) -> None:
    reader = opened(card)
    weights = reader.model.weights.replace({"use.pair": -1.0})
    other = hr.build_model(card, weights=weights)
    with pytest.raises(hr.HandreadError, match="snapshot made with"):
        Reader.restore(card, reader.snapshot(), model=other)


def test_a_corrected_exposure_reads_as_if_shown_so_at_once(card: hr.CompiledCard) -> None:
    corrected, plain = opened(card), opened(card)
    corrected.observe(hr.Expose(seat=3, size=3))
    corrected.observe(Correct(seat=3, size=4, jokers=1))
    plain.observe(hr.Expose(seat=3, size=4, jokers=1))
    assert corrected.beliefs[3] == plain.beliefs[3]


def test_seats_are_named_by_prefix_or_number(card: hr.CompiledCard) -> None:
    reader = opened(card)
    assert reader.reading("w").seat == reader.reading(2).seat == "West"
    with pytest.raises(hr.HandreadError, match="no seat 'x'"):
        reader.reading("x")


def test_the_viewers_rack_is_not_within_anybodys_reach(card: hr.CompiledCard) -> None:
    from handread.table.events import Rack

    reader = Reader(card, viewer="South")
    reader.observe(Rack(seat=1, tiles=(0, 0, 0, 0, 9, 9, 9, 9, 27, 28, 29, 30, 31)))
    around = reader.around
    assert around.unseen[0] == around.unseen[9] == 0
    assert around.holds[[0, 2, 3, 4], 0].sum() == 0
    forecast = reader.forecast()
    assert forecast.throws[0] == forecast.throws[9] == 0
    assert abs(forecast.throws.sum() + forecast.wins.sum() - 1) < 1e-10


def test_the_viewers_own_seat_is_read_as_the_table_reads_it(card: hr.CompiledCard) -> None:
    from handread.table.events import Rack

    seated, floor = Reader(card, viewer="West"), Reader(card)
    seated.observe(Rack(seat=2, tiles=(4, 4, 9, 9, 9, 27, 28, 29, 30, 31, 12, 13, 14)))
    for event in (hr.Discard(seat=0, kind=4), hr.Expose(seat=2, size=3)):
        seated.observe(event)
        floor.observe(event)
    np.testing.assert_allclose(seated.beliefs[2].probs, floor.beliefs[2].probs, atol=1e-3)
    assert seated.reading("West").families.sum() == pytest.approx(1)


def test_a_seat_with_every_tile_shown_throws_what_it_draws(card: hr.CompiledCard) -> None:
    reader = Reader(card)
    for kind, size in ((4, 4), (13, 3), (22, 3), (33, 3)):
        while reader.state.turn != 0:
            fresh = int(np.argmax(reader.around.unseen[27:31])) + 27
            reader.observe(hr.Discard(seat=reader.state.turn, kind=fresh))
        reader.observe(hr.Discard(seat=0, kind=kind))
        reader.observe(hr.Expose(seat=1, size=size))
        reader.observe(hr.Discard(seat=1, kind=int(np.argmax(reader.around.unseen[:4]))))
    assert reader.state.concealed[1] == 0
    while reader.state.turn != 1:
        fresh = int(np.argmax(reader.around.unseen[27:31])) + 27
        reader.observe(hr.Discard(seat=reader.state.turn, kind=fresh))
    options = hr.next_observations(reader.model, reader.beliefs, reader.state)
    assert sum(prob for _, prob in options) == pytest.approx(1, abs=1e-10)
    reader.observe(hr.Discard(seat=1, kind=8))
    assert reader.reading("South").families.sum() == pytest.approx(1)


def test_throws_without_regard_to_availability(card: hr.CompiledCard) -> None:
    weights = hr.stored_model(card).weights.replace({"availability.power": 0.0})
    reader = Reader(card, model=hr.build_model(card, weights=weights))
    for kind in (*OPENING, 31, 31, 31):
        reader.observe(hr.Discard(seat=reader.state.turn, kind=kind))
    options = hr.next_observations(reader.model, reader.beliefs, reader.state)
    assert sum(prob for _, prob in options) == pytest.approx(1, abs=1e-10)


def test_jokers_of_a_returned_group_are_seen_once(card: hr.CompiledCard) -> None:
    reader = Reader(card)
    reader.observe(hr.Discard(seat=0, kind=32))
    reader.observe(hr.Expose(seat=2, size=6, jokers=4))
    reader.observe(hr.Dead(seat=2, caller=0, returned=True))
    assert reader.around.unseen[35] == 4


@pytest.mark.parametrize("number", ["1", 1.0, True])
def test_an_event_is_numbered_by_a_whole_number(card: hr.CompiledCard, number: object) -> None:
    reader = opened(card)
    with pytest.raises(hr.HandreadError, match=f"no event {number!r}; accepted: 1 to 6"):
        reader.amend(number, None)  # type: ignore[arg-type]
    with pytest.raises(hr.HandreadError, match="accepted are 0 to 6"):
        reader.undo(number)  # type: ignore[arg-type]


def test_a_reader_takes_a_model_and_a_header(card: hr.CompiledCard) -> None:
    with pytest.raises(hr.HandreadError, match="model='default'; accepted: None for the default"):
        Reader(card, model="default")  # type: ignore[arg-type]
    with pytest.raises(hr.HandreadError, match="header='x'; accepted: None, a record's header"):
        Reader(card, header="x")  # type: ignore[arg-type]


def test_a_strike_names_the_later_event_by_its_number_before(card: hr.CompiledCard) -> None:
    reader = Reader(card)
    said = ["e 5 b", "s r", "e pung 1", "e correct kong 2", "e g"]
    for line in said:
        reader.observe(hr.parse_line(line))
    held = reader.beliefs
    with pytest.raises(hr.IllegalEvent, match=r"^event 4 \(after the strike\), 'e correct kong 2'"):
        reader.amend(3, None)
    assert (reader.beliefs, len(reader.events)) == (held, len(said))
    with pytest.raises(hr.IllegalEvent, match=r"^event 4, 'e correct kong 2'"):
        reader.amend(3, hr.Discard(seat=2, kind=0))


def test_the_ledger_is_asked_by_entry_or_number(card: hr.CompiledCard) -> None:
    ledger = opened(card).reading("East").ledger
    entry = ledger.entries[0]
    np.testing.assert_array_equal(ledger.without(entry.number), ledger.without(entry))
    for none in (99, "1", None):
        with pytest.raises(hr.HandreadError, match=rf"no entry {none!r}; accepted: an entry.*: 1"):
            ledger.without(none)  # type: ignore[arg-type]
    for wrong in (-1, "3", 1.5):
        with pytest.raises(hr.HandreadError, match=f"the {wrong!r} most telling.*0 or more"):
            ledger.telling(wrong)  # type: ignore[arg-type]
    assert ledger.telling(0) == []


def test_a_breach_is_taken_and_flagged(card: hr.CompiledCard) -> None:
    reader = Reader(card)
    reader.observe(hr.Discard(seat=0, kind=4))
    assert reader.state.flags == ()
    reader.observe(hr.Discard(seat=3, kind=31))
    ((number, words),) = reader.state.flags
    assert number == 2
    assert "North throws out of turn" in words
    assert "state.flags" in (Reader.observe.__doc__ or "")
