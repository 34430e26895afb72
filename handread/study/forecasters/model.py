"""The library's own reader as a forecaster, whole or with clues left out or doubled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from handread.card.compiled import CompiledCard
from handread.clues.contract import Clue, registry
from handread.clues.weights import Weights, load_weights
from handread.errors import HandreadError, closest
from handread.reading import Evidence, Model, build_model, stored_prior, update
from handread.reading.around import Surroundings
from handread.reading.belief import Belief, start_beliefs
from handread.reading.family_kernels import sum_families
from handread.reading.forecasts import open_throw
from handread.reading.holdings import surroundings
from handread.reading.ledger import Entry
from handread.study.forecasters.contract import Array, Move, Window
from handread.table import start
from handread.table.events import AnyEvent, Correct, Discard, Header
from handread.table.state import TableState
from handread.values import ArrayValue, FrozenMap, frozen

#: Parts of a throw that are no news from it: they pass with any turn.
NO_NEWS = ("quiet turn", "change of plan")


class _Reading:
    """A model at one table: what a ``Reader`` does, without the past, which nobody asks it for."""

    def __init__(self, model: Model, header: Header, *, shares: bool) -> None:
        self.model, self.shares = model, shares
        self.state = start(header, model.card.rules)
        self.beliefs = start_beliefs(model)
        self.last: Evidence | None = None
        self._around: Surroundings | None = None
        self._families: Array | None = None
        self._before: tuple[tuple[Belief, ...], Array | None] = (self.beliefs, None)
        self._no_shares = frozen(np.zeros((0, len(model.row_names))))

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        around = self._expected()
        self._before, self._families = (self.beliefs, self._families), None
        self.beliefs, self.last = update(
            self.model, self.beliefs, event, self.state, state, around=around
        )
        self.state, self._around = state, None

    def _expected(self) -> Surroundings:
        """What is expected of who holds what now: the open throw asks for it, and the update."""
        if self._around is None:
            self._around = surroundings(self.model, self.beliefs, self.state)
        return self._around

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        return np.asarray(self._by_family()[seat])

    def _by_family(self) -> Array:
        """Beliefs about the four seats by family, shape (4, n_rows)."""
        if self._families is None:
            self._families = self._summed(self.beliefs)
        return self._families

    def _by_family_before(self) -> Array:
        """The same before the last event."""
        beliefs, summed = self._before
        return self._summed(beliefs) if summed is None else summed

    def _summed(self, beliefs: tuple[Belief, ...]) -> Array:
        rows = np.empty((len(beliefs), len(self.model.row_names)))
        sum_families(*(belief.probs for belief in beliefs), self.model.family_rows, rows)
        return frozen(rows)

    def window(self) -> Window:
        """What is expected of the open throw."""
        said = open_throw(self.model, self.beliefs, self.state, self._expected())
        return Window(said.claims, said.wins)

    def moves(self) -> Sequence[Move]:
        """How the last event moved each belief; a correction takes back, it does not teach."""
        if self.last is None or isinstance(self.last.event, Correct):
            return ()
        thrower = self.last.event.seat if isinstance(self.last.event, Discard) else None
        before, after = self._by_family_before(), self._by_family()
        moves = []
        for one in self.last.seats:
            entry, throws = Entry(self.model, self.last, one), one.seat == thrower
            what = "throw" if throws else one.observed[-1].what
            was = entry.drifted_by_family if throws else before[one.seat]
            names, shares = self._shares(entry) if self.shares else ((), self._no_shares)
            moves.append(Move(one.seat, what, was, after[one.seat], names, shares))
        return moves

    def _shares(self, entry: Entry) -> tuple[tuple[str, ...], Array]:
        """Sources of the news that an event was to a seat, and their path shares."""
        parts = [part for part in entry.parts if part.source not in NO_NEWS]
        names = tuple(dict.fromkeys(part.source for part in parts))
        shares = np.zeros((len(names), len(self.model.row_names)))
        for part in parts:
            shares[names.index(part.source)] += part.bits
        return names, shares


@dataclass(frozen=True, eq=False)
class ModelReader(ArrayValue):
    """A reader with one model.

    Attributes
    ----------
    name
        How results call it.
    model
        The model; its card is the one that is played.
    shares
        Whether moves are split among the clues, which takes far longer than to read.
    """

    name: str
    model: Model
    shares: bool = False

    def open(self, card: CompiledCard, header: Header) -> _Reading:
        """Sit down at a table before its first event."""
        if card != self.model.card:
            raise HandreadError(
                f"reader {self.name!r} reads card {self.model.card.name!r}, the table plays "
                f"{card.name!r}; accepted: the same card"
            )
        return _Reading(self.model, header, shares=self.shares)


def lore_reader(
    card: CompiledCard,
    *,
    without: str | None = None,
    twice: str | None = None,
    name: str | None = None,
    shares: bool = False,
) -> ModelReader:
    """Put together the reader with the lore weights.

    Parameters
    ----------
    card
        The card.
    without
        A clue to leave out.
    twice
        A clue to count twice: registered again under a second name, weights as they are.
    name
        How results call it.
    shares
        Whether moves are split among the clues.

    Raises
    ------
    HandreadError
        If there is no such clue.

    Examples
    --------
    >>> import handread as hr
    >>> lore_reader(hr.load_card("small"), without="use").name
    'lore without use'
    """
    clues, weights = list(registry()), load_weights()
    names = [clue.name for clue in clues]
    for asked in (without, twice):
        if asked is not None and asked not in names:
            raise HandreadError(f"no clue {asked!r}; {closest(asked, names)}")
    said = "lore"
    if without is not None:
        clues = [clue for clue in clues if clue.name != without]
        said = f"lore without {without}"
    if twice is not None:
        again = replace(clues[names.index(twice)], name=f"{twice} again")
        clues, weights = [*clues, again], _with_block(weights, again, twice)
        said = f"lore with {twice} twice"
    model = _model(card, tuple(clues), weights)
    return ModelReader(name or said, model, shares)


def _with_block(weights: Weights, clue: Clue, source: str) -> Weights:
    blocks: dict[str, Mapping[str, float]] = {**weights.blocks, clue.name: weights[source]}
    return replace(weights, blocks=FrozenMap(blocks))


def _model(card: CompiledCard, clues: tuple[Clue, ...], weights: Weights) -> Model:
    found = stored_prior(card)
    if found is None:
        return build_model(card, weights=weights, clues=clues)
    return build_model(
        card, weights=weights, clues=clues, prior=found[0], prior_source=found[1]
    )  # fmt: skip
