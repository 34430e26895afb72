"""A stranger is read as a person drawn from a population, not as its mean.

Some people are drawn from the posterior predictive of a fitted population. Each gives a reader,
and every reader follows the table by itself. Who of them a seat is, is unknown: the beliefs about
the seat are mixed with the posterior probabilities of its being each of them, which start equal
and go with the probability that each reader gave to what was seen of the seat. That is Bayesian
model averaging, seat by seat (Hoeting et al., Statistical Science 14 (1999) 382-417, from memory).
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.reading import Evidence, Model, Reader
from handread.reading.forecasts import alone, together
from handread.reading.kernel import change_kernel
from handread.reading.ledger import Entry
from handread.reading.window import answers
from handread.study.forecasters.contract import Array, Move, Window
from handread.study.forecasters.stored import DRAWS, StoredReader
from handread.table.events import AnyEvent, Correct, Expose, Header
from handread.table.state import TableState
from handread.values import ArrayValue

#: People that stand for a population.
N_PEOPLE: Final = 8


def drawn_people(found: StoredReader) -> tuple[tuple[str, ...], Array]:
    """Weights of people drawn from the posterior of a fitted model.

    Parameters
    ----------
    found
        The model, with its draws.

    Returns
    -------
    names, people
        Weights by path, ``block.weight``, and their values, shape (n_draws, n_names).

    Raises
    ------
    HandreadError
        If the model has no draws of people.
    """
    content = dict(found.files).get(DRAWS)
    if content is None:
        raise HandreadError(
            f"model {found.name!r} has no {DRAWS}, so nobody can be drawn from it; accepted: a "
            "model whose population was sampled"
        )
    with np.load(io.BytesIO(content), allow_pickle=False) as held:
        if not {"names", "person"} <= set(held):
            raise HandreadError(
                f"{DRAWS} of model {found.name!r} holds {sorted(held)}; accepted: names, person"
            )
        names = tuple(str(name) for name in held["names"])
        return names, held["person"].astype(np.float64)


def drawn_models(
    model: Model, names: Sequence[str], people: NDArray[np.floating], n_people: int = N_PEOPLE
) -> tuple[Model, ...]:
    """Models of some of the people, chosen at even distances.

    Parameters
    ----------
    model
        The model whose other weights they share.
    names
        Paths of the weights that differ between people.
    people
        Their values, shape (n_draws, n_names).
    n_people
        How many people, at most.

    Raises
    ------
    HandreadError
        If nobody was drawn.
    """
    if not len(people) or n_people < 1:
        raise HandreadError(f"{len(people)} draws, n_people={n_people!r}; accepted: 1 or more")
    n = min(n_people, len(people))
    chosen = people[np.arange(n) * len(people) // n]
    return tuple(_with_weights(model, dict(zip(names, map(float, p), strict=True))) for p in chosen)


def _with_weights(model: Model, changes: dict[str, float]) -> Model:
    weights = model.weights.replace(changes)
    if weights["destination"] == model.weights["destination"]:
        return replace(model, weights=weights)
    kernel = change_kernel(model.card, model.prior, weights["destination"])
    return replace(model, weights=weights, kernel=kernel)


class _Strangers:
    """Readers of drawn people at one table.

    Attributes
    ----------
    readers
        One for each person drawn.
    logs
        Log probability of what was seen of each seat by each reader, nats, shape (n_people, 4).
    """

    def __init__(self, models: Sequence[Model], header: Header) -> None:
        self.models = models
        self.readers = [Reader(model.card, model=model, header=header) for model in models]
        self.logs = np.zeros((len(models), 4))
        self._before, self._opened = self.logs, self.logs
        self._last: tuple[Evidence, ...] = ()

    @property
    def weights(self) -> Array:
        """Probability of each person for each seat, shape (n_people, 4)."""
        return _weights(self.logs)

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self._last = tuple(reader.observe(event) for reader in self.readers)
        self._before, self.logs = self.logs, self.logs.copy()
        if isinstance(event, Expose):
            self._opened = self._opened.copy()
            self._opened[:, event.seat] = self._before[:, event.seat]
        for person, evidence in enumerate(self._last):
            for seen in evidence.seats:
                # the group that is mended was not shown
                if isinstance(event, Correct) and seen.seat == event.seat:
                    self.logs[person, seen.seat] = self._opened[person, seen.seat]
                self.logs[person, seen.seat] += seen.log_prob

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        said = [
            reader.model.by_family(reader.beliefs[seat].probs) for reader in self.readers
        ]  # fmt: skip
        return np.asarray(self.weights[:, seat] @ np.stack(said))

    def window(self) -> Window:
        """What is expected of the open throw: each seat alone is a mixture of people."""
        state = self.readers[0].state
        if state.window is None:
            raise HandreadError("no throw lies open; accepted: a moment right after a throw")
        asked = [answers(r.model, r.beliefs, state, r.around) for r in self.readers]
        order, mixed = [seat for seat, _ in asked[0]], []
        for place, seat in enumerate(order):
            each = [alone(by_one[place][1]) for by_one in asked]
            no_win, shows = self.weights[:, seat] @ np.array(each)
            mixed.append((float(no_win), float(shows)))
        said = together(state.floor[state.window].kind, order, mixed)
        return Window(said.claims, said.wins)

    def moves(self) -> Sequence[Move]:
        """How the last event moved each belief; a correction takes back, it does not teach."""
        if not self._last or isinstance(self._last[0].event, Correct):
            return ()
        return [self._move(place) for place in range(len(self._last[0].seats))]

    def _move(self, place: int) -> Move:
        entries = [
            Entry(model, evidence, evidence.seats[place])
            for model, evidence in zip(self.models, self._last, strict=True)
        ]
        seat, seen = entries[0].seat.seat, [o.what for o in entries[0].seat.observed]
        before = np.stack([entry.drifted_by_family for entry in entries])
        after = np.stack([e.model.by_family(e.seat.after.probs) for e in entries])
        return Move(
            seat, "throw" if "throw" in seen else seen[-1],
            _weights(self._before)[:, seat] @ before, self.weights[:, seat] @ after,
            (), np.zeros((0, after.shape[1])),
        )  # fmt: skip


def _weights(logs: Array) -> Array:
    return np.asarray(softmax(logs, axis=0))


@dataclass(frozen=True, eq=False)
class StrangersReader(ArrayValue):
    """A reader that takes everybody at the table for one of some people, and learns for whom.

    Attributes
    ----------
    name
        How results call it.
    models
        One for each person drawn.
    """

    name: str
    models: tuple[Model, ...]

    def open(self, card: CompiledCard, header: Header) -> _Strangers:
        """Sit down at a table before its first event."""
        for model in self.models:
            if card != model.card:
                raise HandreadError(
                    f"reader {self.name!r} reads card {model.card.name!r}, the table plays "
                    f"{card.name!r}; accepted: the same card"
                )
        return _Strangers(self.models, header)


def reader_of_strangers(name: str, models: Sequence[Model]) -> StrangersReader:
    """Reader that mixes the readers of some people.

    Parameters
    ----------
    name
        How results call it.
    models
        One for each person, one or more.

    Raises
    ------
    HandreadError
        If there is no model.
    """
    if not models:
        raise HandreadError("no model of anybody; accepted: one or more")
    return StrangersReader(name, tuple(models))
