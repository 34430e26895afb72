"""A stranger is a mixture of drawn people, weighted by what was seen of the seat."""

from __future__ import annotations

import io

import numpy as np
import pytest

import handread as hr
from handread.errors import HandreadError
from handread.reading import Model, Reader
from handread.simulate import SimulatedGame, simulate_games
from handread.study.forecasters import empty_training, forecaster_named
from handread.study.forecasters.drawn import (
    StrangersReader,
    drawn_models,
    drawn_people,
    reader_of_strangers,
)
from handread.study.forecasters.model import ModelReader
from handread.study.forecasters.stored import DRAWS, StoredReader
from handread.study.running import watch_game
from handread.study.running.game import Asked
from handread.table.events import Correct, Discard, Expose
from handread.table.play import apply, start

NAMES = ("use.single", "use.pair", "availability.power")
CARD = hr.load_card("small")


@pytest.fixture(scope="module")
def model() -> Model:
    return hr.stored_model(CARD)


@pytest.fixture(scope="module")
def game() -> SimulatedGame:
    return next(iter(simulate_games(CARD, n_games=1, seed=17)))


def some_people(model: Model, n: int) -> np.ndarray:
    """People spread around the weights of a model."""
    at = [model.weights[block][name] for block, name in (path.split(".") for path in NAMES)]
    return np.array(at) + np.random.default_rng(4).normal(scale=0.4, size=(n, len(NAMES)))


def test_equal_people_are_the_plain_reader(model: Model, game: SimulatedGame) -> None:
    at = some_people(model, 1)
    (one,) = drawn_models(model, NAMES, at)
    readers = {
        "one": ModelReader("one", one),
        "three": reader_of_strangers("three", drawn_models(model, NAMES, np.repeat(at, 3, 0))),
        "base rates": ModelReader("base rates", one),
    }
    asked = Asked(windows=("one", "three"), moves=("one", "three"))
    lines = watch_game(CARD, game, readers, number=0, asked=asked)
    np.testing.assert_allclose(lines.beliefs["three"], lines.beliefs["one"], atol=1e-12)
    for group, columns in (
        (lines.windows, ("prob",)), (lines.updates, ("bits_claimed", "bits_realised")),
    ):  # fmt: skip
        for column in columns:
            three, plain = (
                [line[column] for line in group if line["reader"] == name]
                for name in ("three", "one")
            )
            assert len(plain) > 10
            np.testing.assert_allclose(three, plain, atol=1e-10)


def test_people_are_weighted_by_what_they_gave_to_the_throws_of_the_seat(model: Model) -> None:
    """Two people and a seat's two throws: odds are the product of the ratios of the two."""
    models = drawn_models(model, NAMES, some_people(model, 2))
    throws = [Discard(seat, kind) for seat, kind in ((0, 4), (1, 28), (2, 12), (3, 31), (0, 9))]
    said = np.ones((2, 4))
    for person, each in enumerate(models):
        reader = Reader(CARD, model=each)
        for event in throws:
            before = reader.beliefs
            for one in reader.observe(event).seats:
                for observed in one.observed:  # of the belief at the time, all that stays or goes
                    joint = observed.step.forward(before[one.seat].probs)
                    if observed.what != "elsewhere":  # counted with the seat that acted
                        said[person, one.seat] *= joint.sum()
                    before = tuple(
                        b.with_probs(joint / joint.sum()) if b.seat == one.seat else b
                        for b in before
                    )
    watcher = reader_of_strangers("two", models).open(CARD, hr.Header())
    state = start(None, CARD.rules)
    for event in throws:
        state = apply(state, event, CARD)
        watcher.observe(event, state)
    np.testing.assert_allclose(watcher.weights, said / said.sum(axis=0), atol=1e-12)
    assert np.abs(watcher.weights[0] - 0.5).min() > 1e-4
    rows = [r.model.by_family(r.beliefs[0].probs) for r in watcher.readers]
    by_hand = (said[0, 0] * rows[0] + said[1, 0] * rows[1]) / said[:, 0].sum()
    np.testing.assert_allclose(watcher.belief(0), by_hand, atol=1e-12)


def test_a_group_that_is_mended_was_never_shown(model: Model) -> None:
    models = drawn_models(model, NAMES, some_people(model, 3))
    opening = (Discard(0, 4),)
    right = Expose(seat=2, size=4, jokers=1)
    mended = (Expose(seat=2, size=3, jokers=0), Correct(seat=2, size=4, jokers=1))
    found = []
    for events in ((*opening, right), (*opening, *mended)):
        watcher = reader_of_strangers("three", models).open(CARD, hr.Header())
        state = start(None, CARD.rules)
        for event in events:
            state = apply(state, event, CARD)
            watcher.observe(event, state)
        found.append(watcher.weights)
    np.testing.assert_allclose(found[1], found[0], atol=1e-12)


def test_forecasts_are_distributions(model: Model, game: SimulatedGame) -> None:
    readers = {"few": reader_of_strangers("few", drawn_models(model, NAMES, some_people(model, 4)))}
    for said in watch_game(CARD, game, readers, number=0).beliefs["few"]:
        assert said.sum() == pytest.approx(1.0)
        assert (said >= 0).all()


def stored(*files: tuple[str, bytes]) -> StoredReader:
    lore = hr.shipped.shipped("models", "lore", "weights.toml").read_bytes()
    return StoredReader("mine", "model", (("weights.toml", lore), *files))


def named(found: StoredReader, name: str) -> object:
    shelf = {found.name: found}
    return forecaster_named(name, CARD, empty_training(CARD), stored=shelf)


def test_a_plan_names_a_model_drawn(model: Model) -> None:
    draws = io.BytesIO()
    np.savez_compressed(draws, names=np.array(NAMES), person=some_people(model, 20))
    found = stored((DRAWS, draws.getvalue()))
    names, people = drawn_people(found)
    assert names == NAMES
    assert people.shape == (20, len(NAMES))
    reader = named(found, "mine drawn")
    assert isinstance(reader, StrangersReader)
    assert len(reader.models) == 8
    singles = [each.weights["use"]["single"] for each in reader.models]
    assert singles == people[[0, 2, 5, 7, 10, 12, 15, 17], 0].tolist()


def test_who_cannot_be_drawn_is_refused(model: Model) -> None:
    with pytest.raises(HandreadError, match=r"'mine' has no draws.npz.*population was sampled"):
        named(stored(), "mine drawn")
    with pytest.raises(HandreadError, match=r"'mine' is a peer; accepted"):
        named(replace_kind(stored()), "mine drawn")
    with pytest.raises(HandreadError, match="0 draws"):
        drawn_models(model, NAMES, np.zeros((0, 3)))


def replace_kind(found: StoredReader) -> StoredReader:
    return StoredReader(found.name, "peer", found.files)
