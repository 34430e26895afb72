"""Scores of the throw clues as sums of products of weights, found by asking the clues themselves.

A clue's score is a polynomial of its weights in which no weight is squared: a weight, or a weight
times the scale of the phase. Asked at weights of 0 and 1, the clue gives the table that belongs to
each product, so that fits use the code that readings use, and a clue that is added or changed needs
nothing here. A clue whose score is no such polynomial is found out and named.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from itertools import combinations
from operator import or_
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.context import Context
from handread.clues.contract import Clue, Score, no_score
from handread.errors import HandreadError
from handread.tiles import COPIES, N_KINDS

Array = NDArray[np.float64]
Product = tuple[str, ...]

#: Made-up contexts in which products are looked for.
N_PROBES: Final = 60
#: Largest difference, nats, between a score and its sum of products.
TOLERANCE: Final = 1e-9
_SIDES: Final = ("keep", "change")
_SHAPE: Final = (N_CODES, N_KINDS)


@dataclass(frozen=True)
class Basis:
    """Products of weights that the scores of clues are sums of.

    Attributes
    ----------
    clues
        The clues.
    products
        Names ``block.weight`` of each product, one or two.
    """

    clues: tuple[Clue, ...]
    products: tuple[Product, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all weights, ``block.weight``, in the order of the clues."""
        return tuple(f"{clue.name}.{name}" for clue in self.clues for name in clue.defaults)

    def place(self, product: Product) -> int:
        """Index of a product."""
        return self.products.index(product)

    def values(self, weights: Mapping[str, Mapping[str, float]]) -> Array:
        """Value of each product under some weights, shape (n_products,)."""
        return np.array([
            np.prod([weights[path.split(".")[0]][path.split(".")[1]] for path in product])
            for product in self.products
        ])  # fmt: skip

    @cached_property
    def spans(self) -> tuple[slice, ...]:
        """Span of the products of each clue."""
        sizes = [sum(_block(product) == clue.name for product in self.products)
                 for clue in self.clues]  # fmt: skip
        ends = np.cumsum(sizes).tolist()
        return tuple(slice(end - size, end) for end, size in zip(ends, sizes, strict=True))

    @cached_property
    def _names(self) -> tuple[tuple[Product, ...], ...]:
        """Products of each clue, its weights without the name of their block."""
        return tuple(tuple(map(_bare, self.products[span])) for span in self.spans)

    @cached_property
    def _settings(self) -> tuple[_Settings, ...]:
        """Weights at which each clue is asked."""
        return tuple(map(_settings, self.clues, self._names))

    def ask(
        self, number: int, side: str, context: Context, *, check: bool = True
    ) -> tuple[Array, Array]:
        """Constant and tables of one clue alone, by its place; otherwise as ``tables``.

        `check` tells whether they are held to the clue's score.
        """
        clue, settings = self.clues[number], self._settings[number]
        told = _asked(getattr(clue, side), context, settings)
        if check:
            _check(clue, side, context, settings, told)
        return told

    def scored(self, side: str, numbers: Sequence[int]) -> list[int]:
        """Use codes that some clues ever score, as bits; found in contexts made up at random."""
        rng = np.random.default_rng(0)
        contexts = [made_up_context(rng=rng) for _ in range(N_PROBES)]
        return [
            reduce(or_, (code_bits(*self.ask(n, side, each, check=False)) for each in contexts))
            for n in numbers
        ]

    def tables(self, context: Context, side: str) -> tuple[Array, Array]:
        """Table of each product in one context, every clue asked anew.

        The plain twin of ``kept.KeptTables.tables``, which walks use; tests hold them together.

        Parameters
        ----------
        context
            What the clues may know.
        side
            ``"keep"`` or ``"change"``.

        Returns
        -------
        constant
            Score at weights of 0, shape (16, 36).
        tables
            Shape (n_products, 16, 36): the score is `constant` plus products times tables.

        Raises
        ------
        HandreadError
            If the score of a clue is no sum of these products.
        """
        asked = [self.ask(number, side, context) for number in range(len(self.clues))]
        constant = np.zeros(_SHAPE)
        for base, _ in asked:
            constant = constant + base
        return constant, np.concatenate([found for _, found in asked])


def find_basis(clues: tuple[Clue, ...], *, seed: int = 0) -> Basis:
    """Find the products of weights in the scores of clues.

    Parameters
    ----------
    clues
        The clues.
    seed
        Of the made-up contexts; the products do not depend on it where it is large enough.

    Raises
    ------
    HandreadError
        If the score of a clue is no polynomial of products of one or two of its weights.

    Examples
    --------
    >>> from handread.clues import registry
    >>> basis = find_basis(registry())
    >>> ("use.pair", "use.scale_late") in basis.products, ("safety.joker",) in basis.products
    (True, True)
    """
    rng = np.random.default_rng(seed)
    contexts = [made_up_context(rng=rng) for _ in range(N_PROBES)]
    products: list[Product] = []
    for clue in clues:
        names = list(clue.defaults)
        found: list[Product] = []
        for size in (1, 2):
            for some in combinations(names, size):
                if any(_there(clue, side, context, some)
                       for side in _SIDES for context in contexts):  # fmt: skip
                    found.append(some)
        products += [tuple(f"{clue.name}.{name}" for name in some) for some in found]
        settings = _settings(clue, tuple(found))
        for side in _SIDES:
            for context in contexts:
                told = _asked(getattr(clue, side), context, settings)
                _check(clue, side, context, settings, told)
    return Basis(clues, tuple(products))


def code_bits(constant: Array, tables: Array) -> int:
    """Use codes that have a score other than 0, as bits."""
    there = constant.any(axis=1) | tables.any(axis=(0, 2))
    return sum(1 << code for code in np.flatnonzero(there).tolist())


def made_up_context(*, rng: np.random.Generator) -> Context:
    """A context with everything in it drawn at random, for asking clues."""
    copies = COPIES.astype(np.int64)
    seen = rng.integers(0, copies + 1)
    unseen = copies - seen
    last = int(rng.integers(0, N_KINDS)) if rng.random() < 0.7 else None
    return Context(
        seat=int(rng.integers(4)),
        turn=int(rng.integers(0, 24)),
        within_reach=unseen * rng.random(N_KINDS),
        unseen=unseen,
        seen=seen,
        own_thrown=np.minimum(rng.integers(0, 4, N_KINDS), seen),
        concealed=int(rng.integers(1, 15)),
        pool=int(unseen.sum()),
        n_exposed=int(rng.integers(0, 5)),
        threat=int(rng.integers(0, 5)),
        wall=int(rng.integers(0, 100)),
        known_jokers=int(rng.integers(0, 3)),
        demand=rng.normal(size=N_KINDS),
        may_show=bool(rng.random() < 0.9),
        last_unclaimed=last,
    )


def _block(product: Product) -> str:
    """Block of weights that a product is of."""
    return product[0].split(".")[0]


def _bare(product: Product) -> Product:
    """Names of the weights of a product without their block."""
    return tuple(path.split(".")[1] for path in product)


def _ask(clue: Clue, score: Score, context: Context, names: tuple[str, ...]) -> Array:
    weights = dict.fromkeys(clue.defaults, 0.0)
    weights.update(dict.fromkeys(names, 1.0))
    return np.asarray(score(context, weights), dtype=np.float64)


def _there(clue: Clue, side: str, context: Context, names: tuple[str, ...]) -> bool:
    """Whether the product of some weights has a table that is not zero."""
    score: Score = getattr(clue, side)
    if score is no_score:
        return False
    table = _ask(clue, score, context, names)
    if len(names) == 1:
        return bool((table != _ask(clue, score, context, ())).any())
    one, two = (_ask(clue, score, context, (name,)) for name in names)
    mixed = table - one - two + _ask(clue, score, context, ())
    return bool((np.abs(mixed) > TOLERANCE).any())


@dataclass(frozen=True)
class _Settings:
    """Weights at which one clue is asked: all 0, one of them 1, and two where a product has two."""

    products: tuple[Product, ...]
    zero: dict[str, float]
    single: dict[str, dict[str, float]]
    both: tuple[dict[str, float] | None, ...]

    __hash__ = None  # type: ignore[assignment]  # holds dicts


def _settings(clue: Clue, products: tuple[Product, ...]) -> _Settings:
    zero = dict.fromkeys(clue.defaults, 0.0)
    single = {name: zero | {name: 1.0} for names in products for name in names}
    both = tuple(
        zero | dict.fromkeys(names, 1.0) if len(names) == 2 else None for names in products
    )
    return _Settings(products, zero, single, both)


def _asked(score: Score, context: Context, settings: _Settings) -> tuple[Array, Array]:
    """Constant and tables of one clue's products."""
    out = np.zeros((len(settings.products), *_SHAPE))
    if score is no_score:
        return np.zeros(_SHAPE), out
    base = np.asarray(score(context, settings.zero), dtype=np.float64)
    single = {name: score(context, held) - base for name, held in settings.single.items()}
    for names, both, table in zip(settings.products, settings.both, out, strict=True):
        if both is None:
            table[:] = single[names[0]]
        else:
            table[:] = score(context, both) - base - single[names[0]] - single[names[1]]
    return base, out


def _check(
    clue: Clue, side: str, context: Context, settings: _Settings, told: tuple[Array, Array]
) -> None:
    """Refuse products that do not make the score of their clue."""
    score: Score = getattr(clue, side)
    if score is no_score:
        return
    base, tables = told
    weights = dict(zip(clue.defaults, _GENERIC[: len(clue.defaults)], strict=True))
    factors = np.array([math.prod(weights[name] for name in names) for names in settings.products])
    n_entries = N_CODES * N_KINDS
    made = base + (factors @ tables.reshape(len(factors), n_entries)).reshape(_SHAPE)
    if np.abs(score(context, weights) - made).max() > TOLERANCE:
        raise HandreadError(
            f"the score of clue {clue.name!r} is no sum of products of one or two of its weights; "
            "such a clue cannot be fitted: write it so, or leave it out of the fit"
        )


#: Weights at which a score is compared with its sum of products.
_GENERIC: Final = tuple(np.random.default_rng(20260701).uniform(-1.5, 1.5, size=64).tolist())
