"""Choices of some people with the features that are there, and none of the zeros.

Of an alternative's features a few are not 0: two or three of some forty. The block of differences
(``ChoiceBlock``) holds all of them, and is what this one is tested against.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting.posterior.choices import Linear, people_of
from handread.fitting.tables import GameTables, ThrowTable
from handread.values import ArrayValue

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Array = NDArray[np.float64]

#: A feature that is not 0 for so large a share of the alternatives is stored for all of them.
FILLED: Final = 0.4
#: Arrays of a block that its likelihood is made of, in the order in which it takes them.
PARTS: Final = (
    "first_choice", "first_alternative", "weight", "offset", "filled", "filled_name",
    "first_entry", "place", "name", "value", "chosen", "chosen_offset",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class SparseBlock(ArrayValue):
    """Choices of some people, as many of each as there are; those that pad have no place here.

    Attributes
    ----------
    names
        Weights.
    people
        Keys of the people.
    first_choice
        Place of each person's first choice, and the end, shape (n_people + 1,).
    first_alternative
        Place of each choice's first alternative, and the end, shape (n_choices + 1,).
    weight
        Share of the seat's mind, shape (n_choices,).
    took
        Place of the alternative that was chosen, shape (n_choices,).
    offset
        Part of the score that no weight changes, nats, shape (n_alternatives,); of no length where
        there is none.
    filled, filled_name
        Features that most alternatives have, and which weights they belong to, shapes
        (n_filled, n_alternatives) and (n_filled,); in single precision where that is exact.
    first_entry
        Place of each choice's first entry, and the end, shape (n_choices + 1,).
    place, name, value
        The other features: alternative within its choice, weight, value, shape (n_entries,).
    chosen
        Weighted sum of the features of what each person chose, shape (n_people, n_names).
    chosen_offset
        The same of the offsets, nats, shape (n_people,).
    most_choices
        Choices that were asked for of each person.
    """

    names: tuple[str, ...]
    people: tuple[str, ...]
    first_choice: NDArray[np.int64]
    first_alternative: NDArray[np.int64]
    weight: Array
    took: NDArray[np.int64]
    offset: Array
    filled: NDArray[np.floating]
    filled_name: NDArray[np.int64]
    first_entry: NDArray[np.int64]
    place: NDArray[np.uint16]
    name: NDArray[np.uint16]
    value: Array
    chosen: Array
    chosen_offset: Array
    most_choices: int

    @property
    def person(self) -> NDArray[np.int64]:
        """Number of the person of each choice, shape (n_choices,)."""
        return np.repeat(np.arange(len(self.people)), np.diff(self.first_choice))

    @property
    def choice(self) -> NDArray[np.int64]:
        """Number of the choice of each alternative, shape (n_alternatives,)."""
        return np.repeat(np.arange(len(self.weight)), np.diff(self.first_alternative))

    def log_prob(self, weights: Array) -> Array:
        """Log probability of each choice under weights of each person, nats, shape (n_choices,).

        Parameters
        ----------
        weights
            Shape (n_people, n_names) or (n_names,).
        """
        return np.asarray(self.log_probs(weights, self.features())[self.took])

    def features(self) -> csr_array:
        """Features of all alternatives as a sparse matrix, shape (n_alternatives, n_names)."""
        from scipy.sparse import coo_array

        n = int(self.first_alternative[-1])
        first = np.repeat(self.first_alternative[:-1], np.diff(self.first_entry))
        rows = [first + self.place, *(np.arange(n) for _ in self.filled_name)]
        columns = [self.name, *(np.full(n, i) for i in self.filled_name)]
        values = np.concatenate([self.value, self.filled.ravel()])
        at = np.concatenate(rows), np.concatenate(columns)
        return coo_array((values, at), shape=(n, len(self.names))).tocsr()

    def log_probs(self, weights: Array, features: csr_array) -> Array:
        """Log probability of each alternative, nats, shape (n_alternatives,).

        Parameters
        ----------
        weights
            Shape (n_people, n_names) or (n_names,).
        features
            What ``features`` gives, made once for several looks.
        """
        own = np.broadcast_to(weights, (len(self.people), len(self.names)))
        cells = features.tocoo()
        person = self.person[self.choice]
        scores: Any = np.bincount(
            cells.row, weights=cells.data * own[person[cells.row], cells.col],
            minlength=len(person),
        )  # fmt: skip
        scores += self.offset if len(self.offset) else 0.0
        begins = self.first_alternative[:-1]
        top = np.maximum.reduceat(scores, begins)
        mass = np.add.reduceat(np.exp(scores - top[self.choice]), begins)
        return np.asarray(scores - (top + np.log(mass))[self.choice])

    def score(self, weights: Array) -> Array:
        """Gradient of each person's log probability by its weights, shape (n_people, n_names)."""
        from handread.fitting.posterior.kernels import choices_log_prob

        own = np.tile(weights, (len(self.people), 1)) if np.ndim(weights) == 1 else weights
        return np.asarray(choices_log_prob(own, *(getattr(self, part) for part in PARTS))[1])

    def curvatures(self, weights: Array) -> Array:
        """Expected curvature of each person's log loss by its own weights.

        Parameters
        ----------
        weights
            Shape (n_people, n_names) or (n_names,).

        Returns
        -------
        Array
            Shape (n_people, n_names, n_names).
        """
        features = self.features()
        prob = np.exp(self.log_probs(weights, features))
        begins = self.first_alternative[self.first_choice]
        out = np.empty((len(self.people), len(self.names), len(self.names)))
        for person in range(len(self.people)):
            choices = slice(self.first_choice[person], self.first_choice[person + 1])
            here = slice(begins[person], begins[person + 1])
            weight, dense = self.weight[choices], features[here].toarray()
            weighted = dense * prob[here, None]
            first = self.first_alternative[choices.start : choices.stop + 1] - begins[person]
            mean = np.add.reduceat(weighted, first[:-1], axis=0)
            out[person] = (weighted * np.repeat(weight, np.diff(first))[:, None]).T @ dense
            out[person] -= (mean * weight[:, None]).T @ mean
        return out


def sparse_block(tables: GameTables, picked: NDArray[np.int64], linear: Linear) -> SparseBlock:
    """Lay picked choices out without their zeros.

    Parameters
    ----------
    tables
        All choices.
    picked
        See ``pick_choices``.
    linear
        How products become features.
    """
    there = picked >= 0
    throws = tables.throws.take(picked[there])
    alternative, name, value, offset = sparse_features(throws, linear)
    n, n_names = len(offset), len(linear.names)
    counts = np.bincount(name, minlength=n_names)
    full = np.flatnonzero(counts > FILLED * n)
    filled = np.zeros((len(full), n))
    for row, column in enumerate(full):
        own = name == column
        filled[row, alternative[own]] = value[own]
    rest = ~np.isin(name, full)
    choice = np.repeat(np.arange(len(throws)), np.diff(throws.first_alternative))
    of_choice = choice[alternative[rest]]
    took = throws.first_alternative[:-1] + throws.chosen
    first_choice = _first(there.sum(axis=1))
    person = np.repeat(np.arange(len(picked)), np.diff(first_choice))
    weight = throws.weight.astype(np.float64)
    is_taken = np.zeros(n, dtype=np.bool_)
    is_taken[took] = True
    own = is_taken[alternative]
    chosen = np.zeros((len(picked), n_names))
    at = choice[alternative[own]]
    np.add.at(chosen, (person[at], name[own]), weight[at] * value[own])
    chosen_offset: Any = np.bincount(
        person, weights=weight * offset[took], minlength=len(picked)
    )  # fmt: skip
    return SparseBlock(
        names=linear.names,
        people=people_of(tables, picked),
        first_choice=first_choice,
        first_alternative=throws.first_alternative.astype(np.int64),
        weight=weight,
        took=took.astype(np.int64),
        offset=offset if offset.any() else np.zeros(0),
        filled=filled.astype(np.float32) if (filled == filled.astype(np.float32)).all() else filled,
        filled_name=full.astype(np.int64),
        first_entry=_first(np.bincount(of_choice, minlength=len(throws))),
        place=(alternative[rest] - throws.first_alternative[of_choice]).astype(np.uint16),
        name=name[rest].astype(np.uint16),
        value=value[rest],
        chosen=chosen,
        chosen_offset=chosen_offset,
        most_choices=picked.shape[1],
    )


def _first(sizes: NDArray[np.integer]) -> NDArray[np.int64]:
    return np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)


def sparse_features(
    throws: ThrowTable, linear: Linear
) -> tuple[NDArray[np.int64], NDArray[np.int64], Array, Array]:
    """Features of every alternative that are not 0, in the order of the alternatives.

    Returns
    -------
    alternative, name, value
        Shape (n_entries,).
    offset
        What no weight changes, nats, shape (n_alternatives,).
    """
    n, n_names = len(throws.kind), len(linear.names)
    alternative = np.repeat(np.arange(n), np.diff(throws.first_entry))
    names = np.abs(linear.factor).argmax(axis=1)
    factors = linear.factor[np.arange(len(names)), names]
    product, value = throws.feature, throws.value.astype(np.float64)
    offset = throws.constant.astype(np.float64)
    offset += np.bincount(alternative, weights=value * linear.constant[product], minlength=n)
    place = np.concatenate([
        alternative * n_names + names[product], np.arange(n) * n_names + n_names - 1
    ])  # fmt: skip
    values = np.concatenate([value * factors[product], throws.log_reach.astype(np.float64)])
    there = values != 0.0
    cells, inverse = np.unique(place[there], return_inverse=True)
    summed: Any = np.bincount(inverse, weights=values[there], minlength=len(cells))
    return cells // n_names, cells % n_names, summed, offset
