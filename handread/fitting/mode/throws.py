"""Weights of the throw clues: a conditional logit over all throws, block after block."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.fitting.affine import Basis
from handread.fitting.mode.blocks import added, each_block
from handread.fitting.mode.kernels import (
    throw_counts,
    throw_curvature,
    throw_look,
    throw_sums,
)
from handread.fitting.mode.newton import Look, descend
from handread.fitting.mode.search import Estimate, spread
from handread.fitting.priors import Priors
from handread.fitting.tables import ThrowTable
from handread.values import ArrayValue

Array = NDArray[np.float64]

POWER: Final = "availability.power"
#: Where there are many tables, one of so many is looked at first: all others then need few looks.
FIRST: Final = 16
_COLUMNS: Final = (
    "first_alternative", "chosen", "weight", "log_reach", "constant", "first_entry", "feature",
    "value",
)  # fmt: skip


class Throws:
    """Throws of many games: tables that are asked for one after the other, as often as needed.

    Parameters
    ----------
    tables
        The tables, or what reads each anew whenever it is asked for.
    n_workers
        Threads that look at them; what is found does not depend on it.
    """

    def __init__(self, tables: Sequence[ThrowTable], *, n_workers: int = 1) -> None:
        self.tables, self.n_workers = tables, n_workers

    def __len__(self) -> int:
        return len(self.tables)

    def __iter__(self) -> Iterator[ThrowTable]:
        return (self.tables[i] for i in range(len(self)))

    def some(self, every: int) -> Throws:
        """One table of so many."""
        return Throws(self.tables[::every], n_workers=self.n_workers)

    def sums(self, job: Callable[[ThrowTable], tuple[Any, ...]]) -> tuple[Any, ...]:
        """Sums over the tables of what a job gives for each, always added in the same order."""
        return added(each_block(lambda i: job(self.tables[i]), len(self), self.n_workers))


@dataclass(frozen=True, eq=False)
class ThrowFit(ArrayValue):
    """Weights of throws, found.

    Attributes
    ----------
    estimates
        One for each weight.
    paths
        Names of the free weights, in the order of `covariance`.
    covariance
        Of the free weights by the curvature, shape (n, n).
    log_lik
        Log likelihood there, nats.
    weight
        Sum of the weights of the choices.
    """

    estimates: tuple[Estimate, ...]
    paths: tuple[str, ...]
    covariance: Array
    log_lik: float
    weight: float


class ThrowProblem:
    """From free weights to products and back, for one basis and prior.

    Parameters
    ----------
    basis
        Products of weights.
    priors
        Centres and widths; weights of width 0 are held.
    """

    def __init__(self, basis: Basis, priors: Priors) -> None:
        self.basis, self.priors = basis, priors
        used = {path for product in basis.products for path in product}
        self.paths = tuple(
            path for path in (*basis.names, POWER)
            if priors.width(path) > 0 and (path in used or path == POWER)
        )  # fmt: skip
        self.centre = np.array([priors.value(path) for path in self.paths])
        self.width = np.array([priors.width(path) for path in self.paths])
        places = {path: i for i, path in enumerate(self.paths)}
        n = len(self.paths)
        fixed = {path: priors.value(path) for path in used if path not in places}
        # a held weight stands behind the free ones, a missing factor is the number 1
        held = list(fixed.values())
        where = places | {path: n + i for i, path in enumerate(fixed)}
        one = n + len(held)
        self._held = np.array([*held, 1.0])
        self.factors = np.array([
            [where[path] for path in product] + [one] * (2 - len(product))
            for product in basis.products
        ])  # fmt: skip
        self.caps = np.array([self._cap(path) for path in self.paths])

    def _cap(self, path: str) -> float:
        for clue in self.basis.clues:
            if path.startswith(f"{clue.name}."):
                return clue.cap
        return 6.0

    def products(self, free: Array) -> tuple[Array, float]:
        """Products of weights, and the power, at some free weights."""
        every = np.concatenate([free, self._held])
        return every[self.factors].prod(axis=1), float(free[self.paths.index(POWER)])

    def slopes(self, free: Array) -> Array:
        """Slope of each product, and of the power, by free weight, shape (n_products + 1, n)."""
        every, n = np.concatenate([free, self._held]), len(free)
        out = np.zeros((len(self.factors) + 1, n + len(self._held)))
        rows = np.arange(len(self.factors))
        for own, other in ((0, 1), (1, 0)):
            np.add.at(out, (rows, self.factors[:, own]), every[self.factors[:, other]])
        out[-1, self.paths.index(POWER)] = 1.0
        return out[:, :n]

    def log_lik(self, free: Array, throws: Throws) -> tuple[float, Array]:
        """Log likelihood of throws and its slope by free weight."""
        products, power = self.products(free)
        slope = np.zeros(len(products) + 1)
        total = 0.0
        for table in throws:
            total += sums(table, products, power, slope)[0]
        return total, slope @ self.slopes(free)

    def curvature(self, free: Array, throws: Throws) -> Array:
        """Curvature of the loss by free weight, prior and all, shape (n, n)."""
        products, power = self.products(free)
        inner = np.zeros((len(products) + 1, len(products) + 1))
        slope = np.zeros(len(products) + 1)
        for table in throws:
            throw_curvature(*_columns(table), products, power, inner)
            sums(table, products, power, slope)
        return self._bent(free, inner, slope)[0]

    def look(self, free: Array, throws: Throws) -> Look:
        """Loss at some free weights, prior and all, with its slope and curvature by them."""
        products, power = self.products(free)
        n = len(products) + 1

        def job(table: ThrowTable) -> tuple[float, Array, Array]:
            slope, half = np.zeros(n), np.zeros((n, n))
            total = throw_look(*_columns(table), products, power, slope, half)
            return total, slope, half

        total, slope, half = throws.sums(job)
        away = (free - self.centre) / self.width
        curvature, safe = self._bent(free, half + np.triu(half, 1).T, slope)
        return Look(
            0.5 * float((away**2).sum()) - float(total),
            away / self.width - slope @ self.slopes(free), curvature, safe,
        )  # fmt: skip

    def _bent(self, free: Array, inner: Array, slope: Array) -> tuple[Array, Array]:
        """Curvature by free weight, and the same without the bends of products of two of them."""
        outer = self.slopes(free)
        safe = outer.T @ inner @ outer + np.diag(1.0 / self.width**2)
        out = safe.copy()
        for (one, two), pull in zip(self.factors, slope[:-1], strict=True):
            if one < len(free) and two < len(free):  # a product of two free weights bends
                out[one, two] -= pull
                out[two, one] -= pull
        return out, safe


def _columns(table: ThrowTable) -> tuple[NDArray[np.generic], ...]:
    return tuple(getattr(table, name) for name in _COLUMNS)


def sums(
    table: ThrowTable, products: Array, power: float, slope: Array | None = None
) -> tuple[float, Array]:
    """Weighted log likelihood of a table, and the log probability of each choice, nats.

    Parameters
    ----------
    table
        The throws.
    products, power
        See ``ThrowProblem.products``.
    slope
        Added to, shape (n_products + 1,); None where nobody asks.
    """
    each = np.empty(len(table))
    added = np.zeros(len(products) + 1) if slope is None else slope
    return float(throw_sums(*_columns(table), products, power, added, each)), each


def fit_throws(basis: Basis, priors: Priors, throws: Throws) -> ThrowFit:
    """Find the most probable weights of the throw clues.

    Parameters
    ----------
    basis
        Products of weights.
    priors
        Centres and widths.
    throws
        All throws; looped over once an evaluation.
    """
    problem = ThrowProblem(basis, priors)
    start = problem.centre
    for some in [throws.some(FIRST)] * (len(throws) >= 2 * FIRST) + [throws]:
        start, there = descend(
            partial(problem.look, throws=some), start, low=-problem.caps, high=problem.caps
        )
    at, sd = start, spread(there.curvature)
    counts = _counts(problem, throws)
    estimates = tuple(
        Estimate(path, float(x), float(s), float(c), counts[path])
        for path, x, s, c in zip(problem.paths, at, sd, problem.centre, strict=True)
    )
    away = (at - problem.centre) / problem.width
    log_lik = 0.5 * float((away**2).sum()) - there.loss
    covariance = np.asarray(np.linalg.pinv(there.curvature), dtype=np.float64)
    return ThrowFit(estimates, problem.paths, covariance, log_lik, counts[POWER])


def _counts(problem: ThrowProblem, throws: Throws) -> Mapping[str, float]:
    """Choices in which each weight scores at least one alternative."""
    n = len(problem.basis.products)

    def job(table: ThrowTable) -> tuple[float, Array]:
        by_product = np.zeros(n)
        weights = throw_counts(
            table.first_alternative, table.first_entry, table.feature, table.weight, by_product
        )
        return weights, by_product

    total, by_product = throws.sums(job)
    out = {POWER: float(total)}
    for product, count in zip(problem.basis.products, by_product, strict=True):
        for path in product:
            out[path] = out.get(path, 0.0) + float(count)
    return out
