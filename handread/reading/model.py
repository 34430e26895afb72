"""The model of a reading: card, weights, prior and what follows from them; frozen."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.claims import ClaimRates, claim_rates
from handread.clues.codes import N_UNMODELLED, UNMODELLED, match_exposures, nearby_use
from handread.clues.contract import Clue, no_mark, registry
from handread.clues.wants import Wants, wants_of
from handread.clues.weights import Weights, load_weights
from handread.errors import HandreadError
from handread.reading.kernel import (
    N_SIBLINGS,
    ChangeKernel,
    MaskedKernel,
    change_kernel,
    masked,
    near_halves,
    near_targets,
)
from handread.reading.kernels import gather_near
from handread.reading.recent import put
from handread.table.state import Exposure
from handread.values import ArrayValue, frozen

Array = NDArray[np.float64]

#: Sets of shown groups of which what follows is kept, the empty one among them.
_MOST_SHOWN: Final = 16
#: Tables kept of a kind: twice as many as the clues that come with the library can fill.
MOST_KEPT: Final = 1024
_NOWHERE: Final = frozen(np.eye(4))


class Notes(NamedTuple):
    """The clues that speak of the notes beside a throw.

    Attributes
    ----------
    kept
        Numbers of those whose answers can be kept.
    asked
        Numbers of those that are asked at each throw.
    looks_at, reads
        What the first look at in the context and read in the event, all together.
    """

    kept: tuple[int, ...]
    asked: tuple[int, ...]
    looks_at: tuple[str, ...]
    reads: tuple[str, ...]


class Shown(NamedTuple):
    """What follows from the groups that a seat has shown, whatever else has happened.

    Attributes
    ----------
    fits
        Targets that they allow, shape (n_targets,).
    left
        Groups that each target still has to make, shape (n_targets, n_groups).
    wants
        What each target wants of the groups left.
    kernel
        Where the seat goes if it changes its plan.
    """

    fits: NDArray[np.bool_]
    left: NDArray[np.bool_]
    wants: Wants
    kernel: MaskedKernel


@dataclass(frozen=True, eq=False)
class Model(ArrayValue):
    """Everything that an update needs and no event changes.

    Attributes
    ----------
    card
        The card.
    weights
        Weights of the clues.
    prior
        Probability of each target after the passes, shape (n_targets,); sums to 1, never 0.
    clues
        The throw clues in use.
    kernel
        Where seats go that change their plan.
    prior_source
        Where the prior comes from, in words.
    """

    card: CompiledCard
    weights: Weights
    prior: Array
    clues: tuple[Clue, ...]
    kernel: ChangeKernel
    prior_source: str

    @property
    def n_rows(self) -> int:
        """Targets plus unmodelled states."""
        return self.card.n_targets + N_UNMODELLED

    @cached_property
    def row_names(self) -> tuple[str, ...]:
        """Names of the rows of a reading by family: the card's families, then the unmodelled."""
        return (*self.card.families, *UNMODELLED)

    @cached_property
    def family_rows(self) -> NDArray[np.int64]:
        """Row of a reading by family for each row of a belief, shape (n_rows,)."""
        n = len(self.card.families)
        rows = np.concatenate([self.card.family_of, np.arange(n, n + N_UNMODELLED)])
        return frozen(rows.astype(np.int64))

    @cached_property
    def demand(self) -> Array:
        """Standardised log demand of the card for each kind under the prior, shape (36,)."""
        weighted = np.log1p(self.prior @ self.card.demand.astype(np.float64))
        spread = float(weighted.std())
        scaled = (weighted - weighted.mean()) / (spread if spread > 0 else 1.0)
        return frozen(np.asarray(scaled, dtype=np.float64))

    @cached_property
    def start(self) -> Array:
        """Belief about a seat before its first event, shape (n_rows,)."""
        loose = np.array([self.weights["start"][name] for name in UNMODELLED])
        return frozen(np.concatenate([self.prior * (1.0 - loose.sum()), loose]))

    @cached_property
    def nearby(self) -> NDArray[np.uint8]:
        """Codes of kinds without use to each target, by their use nearby; (n_targets, 36)."""
        needed = np.ascontiguousarray((self.card.demand > 0).T, dtype=np.float64)
        which, apart = near_targets(self.card, N_SIBLINGS)
        weight = near_halves(apart)
        weight /= np.maximum(weight.sum(axis=1, keepdims=True), 1e-300)
        which, weight = frozen(which), frozen(weight)  # as the kernel's own, or it compiles anew
        near = np.stack([gather_near(which, weight, column) for column in needed], axis=1)
        return frozen(nearby_use(self.card.demand, near))

    @cached_property
    def kept_scores(self) -> dict[tuple[Hashable, ...], tuple[Array, Array]]:
        """Score tables of clues that look at little, see ``Clue.looks_at``; the last asked for."""
        return {}

    @cached_property
    def kept(self) -> dict[tuple[Hashable, ...], Array]:
        """What else looks at little, by its name and what it looks at; the last asked for."""
        return {}

    @cached_property
    def clues_by_look(self) -> tuple[tuple[int, ...], tuple[int, ...], tuple[int, ...]]:
        """Numbers of the clues that look at little, of those that look at counts, and of others."""
        little = tuple(i for i, clue in enumerate(self.clues) if clue.looks_at is not None)
        rest = [i for i in range(len(self.clues)) if i not in little]
        counted = tuple(i for i in rest if self.clues[i].counts is not None)
        return little, counted, tuple(i for i in rest if i not in counted)

    @cached_property
    def _shown(self) -> dict[tuple[Exposure, ...], Shown]:
        return {}

    def shown(self, exposures: tuple[Exposure, ...]) -> Shown:
        """What follows from the groups that a seat has shown; kept for the last few asked for."""
        found = self._shown.pop(exposures, None)
        if found is None:
            fits, left = match_exposures(self.card, exposures)
            wants = wants_of(self.card, left, self.nearby)
            kernel = masked(self.kernel, fits, _NOWHERE)
            found = Shown(frozen(fits), frozen(left), wants, kernel)
        put(self._shown, exposures, found, _MOST_SHOWN)  # the last asked for comes last
        return found

    @cached_property
    def claim_rates(self) -> ClaimRates:
        """Weights of claims as tables of claims take them."""
        return claim_rates(self.weights["claims"])

    @cached_property
    def window_rates(self) -> tuple[tuple[Any, ...], tuple[float, ...]]:
        """Rates of claims and weights of wins as ``window_kernels.answer_all`` takes them."""
        each, wins = self.claim_rates, self.weights["wins"]
        names = ("in_error", "takes", "ready", "per_turn", "per_exposure")
        rates = (
            each.willing, each.loose, float(each.anew), float(each.held_copies),
            float(each.held_jokers), float(each.misplay),
        )  # fmt: skip
        return rates, tuple(float(wins[name]) for name in names)

    @cached_property
    def looks_at(self) -> tuple[str, ...]:
        """What the clues that look at little look at, all together."""
        names = (name for clue in self.clues for name in clue.looks_at or ())
        return tuple(dict.fromkeys(names))

    @cached_property
    def notes(self) -> Notes:
        """Which clues speak of the notes beside a throw, and what the answers rest on."""
        noted = [i for i, clue in enumerate(self.clues) if clue.mark is not no_mark]
        kept = tuple(
            i for i in noted
            if self.clues[i].mark_looks_at is not None and self.clues[i].mark_reads is not None
        )  # fmt: skip
        at = tuple(dict.fromkeys(n for i in kept for n in self.clues[i].mark_looks_at or ()))
        reads = tuple(dict.fromkeys(n for i in kept for n in self.clues[i].mark_reads or ()))
        return Notes(kept, tuple(i for i in noted if i not in kept), at, reads)

    def by_family(self, rows: Array) -> Array:
        """Sum the rows of a belief by family, shape (n_families + 3,)."""
        sums = np.bincount(self.family_rows, weights=rows, minlength=len(self.row_names))
        return np.asarray(sums, dtype=np.float64)


def equal_hands_prior(card: CompiledCard) -> Array:
    """Equal weight per hand, shared equally among its targets, shape (n_targets,).

    Examples
    --------
    >>> import handread as hr
    >>> float(equal_hands_prior(hr.house_card()).sum().round(9))
    1.0
    """
    counts = np.bincount(card.hand_of, minlength=len(card.hands))
    prior = 1.0 / counts[card.hand_of]
    return np.asarray(prior / prior.sum(), dtype=np.float64)


def build_model(
    card: CompiledCard,
    *,
    weights: Weights | None = None,
    prior: Array | None = None,
    prior_source: str = "given",
    clues: tuple[Clue, ...] | None = None,
) -> Model:
    """Put a model together.

    Parameters
    ----------
    card
        The card.
    weights
        Weights of the clues; None for the lore weights.
    prior
        Probability of each target, shape (n_targets,); None for equal weight per hand.
    prior_source
        Where the prior comes from, in words.
    clues
        Throw clues to use; None for all that are registered.

    Raises
    ------
    HandreadError
        If the prior has the wrong shape, does not sum to 1, or has a zero.

    Examples
    --------
    >>> import handread as hr
    >>> model = build_model(hr.load_card("small"))
    >>> model.prior_source, len(model.row_names) - len(model.card.families)
    ('equal weight per hand', 3)
    """
    if prior is None:
        prior, prior_source = equal_hands_prior(card), "equal weight per hand"
    prior = np.array(prior, dtype=np.float64)
    if prior.shape != (card.n_targets,) or not prior.min() > 0 or abs(prior.sum() - 1) > 1e-6:
        raise HandreadError(
            f"prior of shape {prior.shape}, least {prior.min():.3g}, sum {prior.sum():.6f}: "
            f"shape ({card.n_targets},), all above 0 and sum 1 are needed for card {card.name!r}"
        )
    prior /= prior.sum()
    prior.flags.writeable = False
    held = weights or load_weights()
    kernel = change_kernel(card, prior, held["destination"])
    return Model(card, held, prior, registry() if clues is None else clues, kernel, prior_source)
