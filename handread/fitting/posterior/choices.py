"""Choices of some people as one dense block: differences to what was thrown, padded and masked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.fitting.affine import Basis
from handread.fitting.mode.throws import POWER
from handread.fitting.priors import Priors
from handread.fitting.tables import GameTables, ThrowTable
from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Score of a place where there is no alternative, nats.
NOWHERE: Final = -1e6


def is_scale(path: str) -> bool:
    """Whether a weight only scales others; such weights stay at the mode when people are sampled.

    Examples
    --------
    >>> is_scale("use.scale_late"), is_scale("use.pair")
    (True, False)
    """
    name = path.split(".")[1]
    return name.startswith("scale_") or name.endswith("_share")


@dataclass(frozen=True, eq=False)
class Linear(ArrayValue):
    """Scores as sums of weights times features, the scales being held.

    Attributes
    ----------
    names
        Weights, ``block.weight``; the power of the copies within reach is the last.
    factor
        What each product adds to each weight's feature, shape (n_products, n_names).
    constant
        What each product adds that hangs on held weights alone, shape (n_products,).
    """

    names: tuple[str, ...]
    factor: Array
    constant: Array


def linear_features(
    basis: Basis, priors: Priors, held: Mapping[str, Mapping[str, float]]
) -> Linear:
    """Make scores linear in the weights by holding the scales.

    Parameters
    ----------
    basis
        Products of weights.
    priors
        Weights of width 0 are held, too.
    held
        Values of the weights that are held, by block and name.

    Raises
    ------
    HandreadError
        If two weights multiply each other of which neither is a scale.
    """
    names: list[str] = []
    for path in basis.names:
        used = any(path in product for product in basis.products)
        if used and not is_scale(path) and priors.width(path) > 0:
            names.append(path)
    names.append(POWER)
    factor, constant = np.zeros((len(basis.products), len(names))), np.zeros(len(basis.products))
    for i, product in enumerate(basis.products):
        free = [path for path in product if path in names]
        rest = [held[p.split(".")[0]][p.split(".")[1]] for p in product if p not in names]
        if len(free) > 1:
            raise HandreadError(f"{' and '.join(free)} multiply each other; neither is a scale")
        if free:
            factor[i, names.index(free[0])] = np.prod(rest)
        else:
            constant[i] = np.prod(rest)
    return Linear(tuple(names), factor, constant)


@dataclass(frozen=True, eq=False)
class ChoiceBlock(ArrayValue):
    """Choices of some people, equally many of each.

    Attributes
    ----------
    names
        Weights.
    people
        Keys of the people.
    difference
        Features of every other alternative less those of the kind thrown, 0 where there is none,
        shape (n_people, n_choices, n_others, n_names).
    offset
        The same of the part of the score that no weight changes, ``NOWHERE`` where there is no
        alternative, shape (n_people, n_choices, n_others).
    weight
        Share of the seat's mind, 0 for choices that pad, shape (n_people, n_choices).
    game
        Game of each choice, -1 for those that pad, shape (n_people, n_choices).
    phase
        Of each choice, shape (n_people, n_choices).
    """

    names: tuple[str, ...]
    people: tuple[str, ...]
    difference: Array
    offset: Array
    weight: Array
    game: NDArray[np.int64]
    phase: NDArray[np.int64]

    @property
    def most_choices(self) -> int:
        """Choices that were asked for of each person."""
        return int(self.weight.shape[1])

    def log_prob(self, weights: Array) -> Array:
        """Log probability of each choice under weights of each person, nats.

        Parameters
        ----------
        weights
            Shape (n_people, n_names) or (n_names,).

        Returns
        -------
        Array
            Shape (n_people, n_choices).
        """
        own = np.broadcast_to(weights, (len(self.people), len(self.names)))
        scores = np.einsum("pnkf,pf->pnk", self.difference, own) + self.offset
        top = np.maximum(scores.max(axis=-1, initial=0.0), 0.0)
        mass = np.exp(-top) + np.exp(scores - top[..., None]).sum(axis=-1)
        return np.asarray(-(top + np.log(mass)))

    def score(self, weights: Array) -> Array:
        """Gradient of each person's log probability by its weights, shape (n_people, n_names)."""
        return np.asarray(-np.einsum("pnk,pnkf->pf", self._prob(weights), self.difference))

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
        prob = self._prob(weights)
        mean = np.einsum("pnk,pnkf->pnf", prob, self.difference)
        # a mean that was weighted once is squared, so one weight is taken out again
        share = np.where(self.weight > 0, 1.0 / np.where(self.weight > 0, self.weight, 1.0), 0.0)
        n_people, n_names = len(self.people), len(self.names)
        flat = self.difference.reshape(n_people, -1, n_names)
        square = (flat * prob.reshape(n_people, -1, 1)).transpose(0, 2, 1) @ flat
        return np.asarray(square - (mean * share[..., None]).transpose(0, 2, 1) @ mean)

    def _prob(self, weights: Array) -> Array:
        """Probability of every other alternative, times the choice's weight."""
        own = np.broadcast_to(weights, (len(self.people), len(self.names)))
        scores = np.einsum("pnkf,pf->pnk", self.difference, own) + self.offset
        return np.asarray(
            np.exp(scores + self.log_prob(weights)[..., None]) * self.weight[..., None]
        )


def pick_choices(
    tables: GameTables,
    *,
    n_people: int,
    n_choices: int,
    rng: np.random.Generator,
    kinds: Mapping[str, str] | None = None,
) -> NDArray[np.int64]:
    """Pick choices: people of each kind in proportion, choices of each phase alike.

    Parameters
    ----------
    tables
        All choices.
    n_people, n_choices
        How many people, and how many choices of each.
    rng
        Source of the picks.
    kinds
        Kind of each person by key; None for one kind.

    Returns
    -------
    NDArray
        Indices of choices, -1 where a person has fewer, shape (n_people, n_choices).

    Raises
    ------
    HandreadError
        If there are fewer people.
    """
    throws = tables.throws
    counts = np.bincount(throws.person, minlength=len(tables.people))
    able = np.flatnonzero(counts > 0)
    if len(able) < n_people:
        raise HandreadError(
            f"{len(able)} people have choices, {n_people} are wanted; accepted: fewer"
        )
    able = able[np.argsort(-np.minimum(counts[able], n_choices), kind="stable")]
    chosen = _stratified([str((kinds or {}).get(tables.people[i], "")) for i in able], n_people)
    out = np.full((n_people, n_choices), -1, dtype=np.int64)
    for place, person in enumerate(able[chosen]):
        own = np.flatnonzero(throws.person == person)
        picked = _alike(throws.phase[own], n_choices, rng)
        out[place, : len(picked)] = np.sort(own[picked])
    return out


def _stratified(kinds: list[str], n: int) -> list[int]:
    """First of each kind, in proportion to how many there are; largest remainders."""
    names = sorted(set(kinds))
    share = np.array([kinds.count(name) for name in names]) * n / len(kinds)
    wanted = np.floor(share).astype(int)
    wanted[np.argsort(-(share - wanted))[: n - int(wanted.sum())]] += 1
    places: list[int] = []
    for name, count in zip(names, wanted, strict=True):
        places += [i for i, kind in enumerate(kinds) if kind == name][: int(count)]
    return sorted(places)


def _alike(strata: NDArray[np.integer], n: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Pick n places, as many of each stratum as there are, what is left from the others."""
    order = rng.permutation(len(strata))
    ranks = np.zeros(len(strata), dtype=np.int64)
    for stratum in np.unique(strata):
        own = order[strata[order] == stratum]
        ranks[own] = np.arange(len(own))
    first = np.lexsort((order.argsort(), ranks))
    return first[:n]


def choice_block(tables: GameTables, picked: NDArray[np.int64], linear: Linear) -> ChoiceBlock:
    """Lay picked choices out as one block.

    Parameters
    ----------
    tables
        All choices.
    picked
        See ``pick_choices``.
    linear
        How products become features.
    """
    flat = picked.ravel()
    there = flat >= 0
    throws = tables.throws.take(flat[there])
    features, constant = _features(throws, linear)
    sizes = np.diff(throws.first_alternative)
    choice = np.repeat(np.arange(len(throws)), sizes)
    chosen = throws.first_alternative[:-1] + throws.chosen
    features -= features[chosen[choice]]
    constant -= constant[chosen[choice]]
    other = np.arange(len(choice)) != chosen[choice]
    place = np.arange(len(choice)) - throws.first_alternative[choice]
    place -= place > throws.chosen[choice]
    most = int(sizes.max()) - 1
    shape = (len(flat), most)
    difference = np.zeros((*shape, len(linear.names)))
    offset = np.full(shape, NOWHERE)
    where = np.flatnonzero(there)[choice[other]], place[other]
    difference[where], offset[where] = features[other], constant[other]
    weight, game, phase = np.zeros(len(flat)), np.full(len(flat), -1), np.zeros(len(flat))
    weight[there], game[there], phase[there] = throws.weight, throws.game, throws.phase
    n_people, n_choices = picked.shape
    return ChoiceBlock(
        linear.names, people_of(tables, picked), difference.reshape(n_people, n_choices, most, -1),
        offset.reshape(n_people, n_choices, most), weight.reshape(picked.shape),
        game.reshape(picked.shape).astype(np.int64), phase.reshape(picked.shape).astype(np.int64),
    )  # fmt: skip


def people_of(tables: GameTables, picked: NDArray[np.int64]) -> tuple[str, ...]:
    """Key of the person of each row of picked choices."""
    numbers = np.where(picked >= 0, tables.throws.person[np.maximum(picked, 0)], -1)
    return tuple(tables.people[int(own[own >= 0][0])] for own in numbers)


def _features(throws: ThrowTable, linear: Linear) -> tuple[Array, Array]:
    """Features and constants of every alternative, shapes (n, n_names) and (n,)."""
    n = len(throws.kind)
    features, constant = np.zeros((n, len(linear.names))), throws.constant.astype(np.float64)
    alternative = np.repeat(np.arange(n), np.diff(throws.first_entry))
    value = throws.value.astype(np.float64)
    for product in range(len(linear.factor)):
        here = throws.feature == product
        if not here.any():
            continue
        name = int(np.abs(linear.factor[product]).argmax())
        if linear.factor[product].any():
            added = value[here] * linear.factor[product, name]
            np.add.at(features, (alternative[here], name), added)
        np.add.at(constant, alternative[here], value[here] * linear.constant[product])
    features[:, -1] = throws.log_reach
    return features, constant
