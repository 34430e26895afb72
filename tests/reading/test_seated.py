"""What a seat knows more than the floor: its own rack at the start, the tiles it has passed on."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

import handread as hr
from handread.prior.kernels import settle
from handread.prior.racks import _sparse
from handread.reading import Reader
from handread.reading.seated import start_ratio
from handread.table.events import AnyEvent, Dead, Discard, Expose, Header, Passed, Rack
from handread.table.own import Given, receiver
from handread.tiles import JOKER, N_KINDS, parse_kind

BAM, WHITE = parse_kind("5 bam"), parse_kind("white")


def deal(rng: np.random.Generator, copies: NDArray[np.int64]) -> NDArray[np.int64]:
    """Thirteen tiles at random, as counts."""
    tiles = rng.permutation(np.repeat(np.arange(N_KINDS), copies))[:13]
    return np.bincount(tiles, minlength=N_KINDS)


def racks_that_settle(
    card: hr.CompiledCard, copies: NDArray[np.int64], n: int, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Share of random racks from some tiles that settle on each target, shape (n_targets,)."""
    counts = np.zeros(card.n_targets)
    wall = np.repeat(np.arange(N_KINDS, dtype=np.uint8), copies)
    for _ in range(n // 4000):
        order = rng.permuted(np.tile(wall, (4000, 1)), axis=1)[:, :22]
        order = np.ascontiguousarray(order)
        counts += settle(order, rng.random((4000, 2)), *_sparse(card), card.demand, 13)
    return counts / counts.sum()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["house", "harbour"])
def test_the_own_rack_moves_the_start_as_it_moves_random_racks(name: str) -> None:
    """Racks dealt from what the viewer does not hold settle as the rule says, more than before.

    Mean log score of the targets that such racks settle on, eight viewers, bits.
    """
    rng = np.random.default_rng(5)
    card = hr.load_card(name)
    copies = card.rules.copies.astype(np.int64)
    base = racks_that_settle(card, copies, 120_000, rng) + 1e-7
    model = hr.build_model(card, prior=base / base.sum())
    gains = []
    for _ in range(8):
        own = deal(rng, copies)
        found = racks_that_settle(card, copies - own, 20_000, rng)
        gains.append(found @ np.log2(start_ratio(model, own)[: card.n_targets]))
    assert np.mean(gains) > 0.05
    assert min(gains) > 0


def test_the_ratio_is_one_where_nothing_is_held() -> None:
    model = hr.build_model(hr.load_card("small"))
    np.testing.assert_allclose(start_ratio(model, np.zeros(N_KINDS, dtype=np.int64)), 1.0)


def seated(events: list[AnyEvent], viewer: str = "East") -> Reader:
    reader = Reader(hr.house_card(), header=Header(), viewer=viewer)
    for event in events:
        reader.observe(event)
    return reader


def rack_of(*kinds: int) -> Rack:
    """East's rack: these tiles and others, fourteen in all."""
    return Rack(0, (*kinds, *range(9, 23 - len(kinds))))


def test_the_own_rack_is_seen_once_and_by_its_owner() -> None:
    reader = seated([rack_of(WHITE, WHITE, WHITE, WHITE)])
    floor = Reader(hr.house_card())
    assert floor.beliefs[0] == reader.beliefs[0]
    assert floor.beliefs[1] != reader.beliefs[1]
    entry = reader.reading("South").ledger.entries[0]
    assert [part.source for part in entry.parts] == ["own rack"]
    assert "your own rack" in entry.words
    whole = np.log2(reader.model.by_family(reader.beliefs[1].probs))
    before = np.log2(reader.model.by_family(floor.beliefs[1].probs))
    np.testing.assert_allclose(entry.parts[0].bits, whole - before, atol=1e-9)
    again = seated([rack_of(WHITE, WHITE, WHITE, WHITE)] * 2)
    assert again.beliefs == reader.beliefs


def passes(step: str, *given: int) -> Passed:
    return Passed(step=step, given=given, received=(24, 25, 26))


def holding(reader: Reader, seat: str, kind: int) -> float:
    return float(reader.reading(seat).holds.iloc[kind])


@pytest.mark.parametrize(("step", "seat"), [("right", "South"), ("across", "West")])
def test_a_tile_passed_on_is_with_the_seat_that_received_it(step: str, seat: str) -> None:
    start: list[AnyEvent] = [rack_of(BAM, 0, 1)]
    start += [Passed(step="right")] if step == "across" else []
    given = seated([*start, passes(step, BAM, 0, 1)])
    plain = seated([*start, Passed(step=step)])
    others = [name for name in ("South", "West", "North") if name != seat]
    assert holding(given, seat, BAM) > 1.0
    assert holding(given, seat, BAM) > 2 * holding(plain, seat, BAM)
    for name in others:
        assert holding(given, name, BAM) < 1.2 * holding(plain, name, BAM) + 0.2
    around = given.around
    np.testing.assert_allclose(around.holds.sum(axis=0), around.unseen, atol=1e-9)


def test_it_is_sooner_elsewhere_the_more_passes_and_turns_go_by() -> None:
    events: list[AnyEvent] = [rack_of(BAM, 0, 1), passes("right", BAM, 0, 1)]
    now = holding(seated(events), "South", BAM)
    later = holding(seated([*events, Passed(step="across")]), "South", BAM)
    turns = [Discard(seat, WHITE - seat) for seat in range(4)]
    played = holding(seated([*events, *turns]), "South", BAM)
    assert now > later > 0
    assert now > played


def test_it_is_gone_once_it_has_been_seen() -> None:
    reader = seated([rack_of(BAM, 0, 1), passes("right", BAM, 0, 1)])
    assert reader.own is not None
    assert reader.own.given == (Given(1, BAM), Given(1, 0), Given(1, 1))
    for event in (Discard(0, WHITE), Discard(1, BAM, drawn=True)):
        reader.observe(event)
    assert Given(1, BAM) in reader.own.given  # the one thrown was another, just drawn
    for event in (Discard(2, WHITE), Discard(3, WHITE), Discard(0, 9), Discard(1, BAM)):
        reader.observe(event)
    assert Given(1, BAM) not in reader.own.given


def test_it_is_gone_once_it_has_been_shown() -> None:
    reader = seated([rack_of(BAM, 0, 1), passes("right", BAM, 0, 1)])
    for event in (Discard(0, BAM), Expose(1, 3, 0)):
        reader.observe(event)
    assert reader.own is not None
    assert reader.own.given == (Given(1, 0), Given(1, 1))


@pytest.mark.parametrize("giver", range(4))
def test_receiver_and_giver_agree(giver: int) -> None:
    from handread.clues.passes import giver as giver_of
    from handread.table.events import PASS_STEPS

    for step in PASS_STEPS:
        assert giver_of(receiver(giver, step), step) == giver


def test_a_group_that_goes_back_to_the_own_rack_is_counted_once() -> None:
    """All have seen it and the viewer holds it: what is unseen stays what it was."""
    reader = seated([rack_of(WHITE, WHITE, JOKER, JOKER, JOKER)])
    for event in (Discard(0, BAM), Discard(1, WHITE), Expose(0, 5, 2)):
        reader.observe(event)
    before = reader.around.unseen.copy()
    evidence = reader.observe(Dead(0, 2, returned=True))
    assert reader.own is not None
    assert reader.own.tiles[JOKER] == 3
    np.testing.assert_array_equal(reader.around.unseen, before)
    assert before[JOKER] == 5
    assert [told.seat for told in evidence.seats for seen in told.observed
            if seen.what == "elsewhere"] == []  # fmt: skip
    # all five that the viewer does not hold are with the others, so that all can be thrown
    for seat in (1, 2, 3, 1, 2):
        reader.observe(Discard(seat, JOKER))
    assert reader.around.unseen[JOKER] == 0


def test_a_group_that_went_back_is_known_where_the_rack_was_not_written_in_full() -> None:
    """A rack of which nothing was written counts the group among what all know to be there."""
    reader = seated([Discard(0, BAM), Discard(1, WHITE), Expose(0, 5, 2)])
    reader.observe(Dead(0, 2, returned=True))
    reader.observe(Rack(0, (BAM,)))
    around = reader.around
    np.testing.assert_allclose(around.holds[4].sum(), reader.state.wall, atol=1e-9)
