"""Who holds what, in one compiled pass, against the plain twin; and its kernels on their own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import binom

import handread as hr
from handread.clues.holding import binomial_tails
from handread.reading import Belief, Reader, Surroundings, build_model
from handread.reading.expecting import _enough, fill_reach, fill_there, scale_matrix, share_out
from handread.reading.finishing import alike, fill_tails
from handread.reading.holdings import surroundings
from handread.simulate import simulate_games
from handread.simulate.seen import seen_by
from handread.table.events import Record
from handread.table.own import OwnRack
from handread.table.state import TableState
from handread.tiles import COPIES, JOKER, N_KINDS
from tests.oracle.plain_holdings import Plain, plain_reach, plain_scaling, plain_surroundings
from tests.support.random_play import random_record

SEEDS = range(6)
Moment = tuple[tuple[Belief, ...], TableState, int | None, OwnRack | None]


def some_free(rng: np.random.Generator) -> np.ndarray:
    return np.minimum(rng.integers(0, 9, size=N_KINDS), COPIES).astype(np.int64)


def moments(reader: Reader, record: Record, viewer: str, every: int) -> Iterator[Moment]:
    for number, event in enumerate(record.public(viewer)):
        if number % every == 0:
            yield reader.beliefs, reader.state, reader.viewer, reader.own
        reader.observe(event)
    yield reader.beliefs, reader.state, reader.viewer, reader.own


def hold_to_plain(around: Surroundings, plain: Plain) -> None:
    np.testing.assert_array_equal(around.unseen, plain.unseen)
    assert around.pool == plain.unseen.sum()
    for name in ("holds", "odds", "needs", "finish"):
        found, expected = getattr(around, name), getattr(plain, name)
        np.testing.assert_allclose(found, expected, rtol=1e-11, atol=1e-14, err_msg=name)
    reach = [around.reach(seat, 13.0) for seat in range(4)]
    np.testing.assert_allclose(reach, plain.reach, rtol=1e-11, atol=1e-14)
    for seat in range(4):
        whole = around.reach(seat)
        np.testing.assert_allclose(whole.sum(), around.holds[seat].sum(), rtol=1e-12)
        whole[0] = 1.0  # a row of its own, which the asker may add to


@pytest.mark.parametrize(
    ("name", "viewer", "every"),
    [("small", "floor", 9), ("small", "West", 9), ("house", "floor", 31), ("house", "West", 31)],
)
def test_the_pass_equals_its_plain_twin(name: str, viewer: str, every: int) -> None:
    """Games of random legal play: dead hands, redeems and groups taken back among them."""
    card = hr.load_card(name)
    model = build_model(card)
    for seed in (41, 60):
        hidden = viewer != "floor"
        record = random_record(np.random.default_rng(seed), card, 60, hidden=hidden)
        reader = Reader(card, model=model, header=record.header, viewer=viewer)
        for beliefs, state, seat, own in moments(reader, record, viewer, every):
            around = surroundings(model, beliefs, state, viewer=seat, own=own)
            hold_to_plain(around, plain_surroundings(model, beliefs, state, seat, own))
            if around.floor is not None:
                hold_to_plain(around.floor, plain_surroundings(model, beliefs, state))


def test_some_copies_are_left_however_many_others_keep() -> None:
    """One copy in twenty, by chance, where they are expected to keep them all."""
    unseen = np.arange(N_KINDS) % 5
    hoarded = np.array([0.0, 0.5, 1.0, 2.0])[:, None] * unseen
    enough = _enough(unseen, hoarded)
    assert enough.shape == (N_KINDS, 4, 5)
    for seat, kept in enumerate((1.0, 0.5, 0.05, 0.05)):
        for most in range(5):
            plain = binom.sf(most - 1, unseen, kept)
            np.testing.assert_allclose(enough[:, seat, most], plain, atol=1e-12)


def test_the_pass_equals_its_plain_twin_where_tiles_were_passed_on() -> None:
    card = hr.load_card("small")
    model = build_model(card)
    game = next(simulate_games(card, n_games=1, seed=11))
    record, given = seen_by(game, "South"), 0
    reader = Reader(card, model=model, header=record.header, viewer="South")
    for beliefs, state, seat, own in moments(reader, record, "South", 7):
        around = surroundings(model, beliefs, state, viewer=seat, own=own)
        hold_to_plain(around, plain_surroundings(model, beliefs, state, seat, own))
        given += len(own.given) if own is not None else 0
    assert given > 10


def test_seats_that_want_alike_are_found_by_their_arrays() -> None:
    """The four want the same at the start; a copy of the arrays changes nothing but the walk."""
    reader = Reader(hr.load_card("small"))
    for kind in (4, 31, 26, 30):
        reader.observe(hr.Discard(seat=reader.state.turn, kind=kind))
    beliefs = reader.beliefs
    apart = tuple(
        replace(b, fits=b.fits.copy(), wants=replace(b.wants, kinds=b.wants.kinds.copy()))
        for b in beliefs
    )

    def together(those: tuple[Belief, ...]) -> list[list[int]]:
        kinds, fits = tuple(b.wants.kinds for b in those), tuple(b.fits for b in those)
        return [row[:n].tolist() for row, n in zip(*alike(kinds, fits), strict=True)]

    assert together(beliefs) == [[0, 1, 2, 3], [], [], []]
    assert together((beliefs[0], apart[1], beliefs[2], apart[1])) == [[0, 2], [1, 3], [], []]
    assert together(apart) == [[0], [1], [2], [3]]
    one, other = (surroundings(reader.model, those, reader.state) for those in (beliefs, apart))
    assert one == other


def test_tails_are_those_of_the_binomial() -> None:
    rng = np.random.default_rng(8)
    trials, prob = rng.integers(0, 17, 40), rng.random(40)
    prob[:2] = 0.0, 1.0
    out = np.empty((40, 15))
    fill_tails(trials, prob, out)
    np.testing.assert_allclose(out, binomial_tails(trials, prob, 14), atol=1e-13)
    published = binom.sf(np.arange(15) - 1, trials[:, None], prob[:, None])
    np.testing.assert_allclose(out, published, atol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_shares_and_reach_equal_plain_sums(seed: int) -> None:
    rng = np.random.default_rng(seed + 30)
    unseen = some_free(rng)
    sizes = rng.multinomial(int(unseen.sum()), rng.dirichlet(np.ones(5))).astype(np.float64)
    if seed == 0:
        sizes[4] += sizes[2]
        sizes[2] = 0.0
    needs, keeping = rng.random((4, N_KINDS)), 1.0 + rng.exponential(2.0, size=4)
    there, odds = rng.exponential(size=(4, N_KINDS)), rng.exponential(size=(4, N_KINDS))
    expected = 1.0 + needs * (keeping[:, None] - 1.0)
    expected[:, JOKER] = keeping
    expected = 0.3 * odds + 0.7 * expected
    full = np.vstack([expected * there, np.ones(N_KINDS)])
    holds, hoarded = np.zeros((5, N_KINDS)), np.zeros((4, N_KINDS))
    share_out(needs, keeping, there, unseen, sizes, 0.3, odds, holds, hoarded)
    np.testing.assert_allclose(odds, expected, rtol=1e-13)
    plain = plain_scaling(full, unseen.astype(np.float64), sizes)
    np.testing.assert_allclose(holds, plain, rtol=1e-12, atol=1e-14)
    np.testing.assert_array_equal(holds, scale_matrix(full, unseen.astype(np.float64), sizes))
    by_need = np.minimum(needs * odds / (1.0 + needs * (odds - 1.0)), 1.0) * holds[:4]
    np.testing.assert_allclose(hoarded, by_need.sum(axis=0) - by_need, rtol=1e-9, atol=1e-13)
    found = np.empty((4, N_KINDS))
    fill_reach(holds, odds, unseen, found)
    reach = [plain_reach(holds[seat], odds[seat], unseen, 1.0) for seat in range(4)]
    np.testing.assert_allclose(found, reach, rtol=1e-12, atol=1e-14)


def test_what_was_drawn_when_every_tile_is_shown_may_be_any_unseen() -> None:
    unseen, found = np.arange(N_KINDS), np.empty((4, N_KINDS))
    fill_reach(np.zeros((5, N_KINDS)), np.ones((4, N_KINDS)), unseen, found)
    np.testing.assert_allclose(found, np.tile(unseen / unseen.sum(), (4, 1)), rtol=1e-14)
    fill_reach(np.zeros((5, N_KINDS)), np.ones((4, N_KINDS)), 0 * unseen, found)
    assert not found.any()


def test_tiles_passed_on_to_a_seat_that_holds_none_or_all_say_nothing() -> None:
    """Odds against chance have no meaning where chance leaves no choice, or no copy is left."""
    given, stays = np.array([[0, 3], [1, 3], [2, 3], [2, 5]]), np.ones(4)
    unseen, needs, out = np.full(N_KINDS, 2), np.zeros((4, N_KINDS)), np.empty((4, N_KINDS))
    unseen[5] = 0
    fill_there(given, stays, needs, unseen, np.array([0.0, 1.0, 0.2, 0.3]), out)
    expected = np.ones((4, N_KINDS))
    expected[2, 3] = (0.6 / 0.4) / (0.2 / 0.8)
    np.testing.assert_allclose(out, expected, rtol=1e-12)
