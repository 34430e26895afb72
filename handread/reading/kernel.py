"""Where a seat goes that leaves its plan: sparse (near targets) plus low rank (hand, family, any).

Near targets are those that share most tiles with the old one; at the cut, targets that share
equally many are all left out, so that the kernel has every symmetry of the card. A seat cannot go
where its own exposures forbid, so a kernel is masked by what they allow before it is used; nor does
it go back to the target that it leaves, unless no other is allowed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.reading.kernels import (
    FAR,
    HALVES,
    gather_near,
    land,
    mass_near,
    near_by_family,
    nearest,
    share_what_fits,
    turn_round,
)
from handread.values import ArrayValue, evolve, frozen, read_only

Array = NDArray[np.float64]

#: Near targets kept for each target, at most.
N_NEAR: Final = 128
#: Near targets of which a kind's use nearby is judged.
N_SIBLINGS: Final = 32
#: Power of the prior in the weight of a near target, beside 2 for each tile shared: measured on
#: the moves of simulated seats, where powers of 0.5 to 0.75 do equally well.
NEAR_POWER: Final = 0.5
#: Targets that an index of 16 bits can tell apart.
_MOST_SHORT: Final = 1 << 16


@dataclass(frozen=True, eq=False)
class ChangeKernel(ArrayValue):
    """The kernel of a card before any exposure.

    Attributes
    ----------
    near
        Indices of the near targets of each target, shape (n_targets, n_near).
    apart
        Tiles that each shares fewer than the nearest; ``FAR`` for those left out, shape
        (n_targets, n_near).
    prior
        Probability of each target at the start, shape (n_targets,).
    hand_of, family_of
        Hand and family of each target, shape (n_targets,).
    shares
        Of near, hand, family and anywhere; sum to 1.
    """

    near: NDArray[np.int32]
    apart: NDArray[np.uint8]
    prior: Array
    hand_of: NDArray[np.int32]
    family_of: NDArray[np.int32]
    shares: tuple[float, float, float, float]

    @cached_property
    def pull(self) -> Array:
        """Part of the weight of a near target that is its own, whoever goes there; (n_targets,)."""
        return frozen(self.prior**NEAR_POWER)

    @cached_property
    def whole(self) -> Array:
        """One over what the near targets of each target weigh together, 0 for nothing."""
        total = (near_halves(self.apart) * self.pull[self.near]).sum(axis=1)
        return frozen(np.divide(1.0, total, out=np.zeros_like(total), where=total > 0))

    @cached_property
    def near_weight(self) -> Array:
        """Weights of the near targets, each row summing to 1, shape (n_targets, n_near)."""
        weight = near_halves(self.apart) * self.pull[self.near]
        return frozen(weight * self.whole[:, None])

    @cached_property
    def turned(
        self,
    ) -> tuple[NDArray[np.int64], NDArray[np.unsignedinteger], NDArray[np.uint8], Array]:
        """For each target the targets that it is near to, see ``kernels.turn_round``; and `pull`.

        They are read at every throw: the less memory they take, the sooner.
        """
        first, origin, apart = turn_round(self.near, self.apart)
        short = origin.astype(np.uint16) if len(self.near) <= _MOST_SHORT else origin
        return frozen(first), frozen(short), frozen(apart), self.pull

    @cached_property
    def steps(self) -> tuple[NDArray[np.unsignedinteger], int]:
        """Place of each entry of `turned` in a table of targets by tiles apart; and its rows.

        The place is ``apart * n_targets + origin``: with the table halved from row to row, one
        look finds what an origin gives to a target so far apart.
        """
        _, origin, apart, _ = self.turned
        n, rows = len(self.near), int(apart.max(initial=0)) + 1
        place = apart.astype(np.uint32) * np.uint32(n) + origin
        return frozen(place.astype(np.uint16) if rows * n <= _MOST_SHORT else place), rows


@dataclass(frozen=True, eq=False)
class MaskedKernel(ArrayValue):
    """A kernel under one seat's exposures, with the destinations outside the targets.

    Attributes
    ----------
    base
        The kernel of the card.
    fits
        Targets that the seat's exposures allow, as 0.0 or 1.0, shape (n_targets,).
    shares
        Of near, hand, family and anywhere for each old target, once what is forbidden has gone
        to what is left, shape (4, n_targets); divided by the mass that each part keeps.
    stuck
        Targets that fit when no other does, as 0.0 or 1.0: who leaves one comes back to it, shape
        (n_targets,).
    any_mass
        Prior mass of the targets that fit; 0 when none does, and then all goes to *other*.
    destinations
        Shape (4, 4), see ``clues.hazard.destinations``.
    """

    base: ChangeKernel
    fits: Array
    shares: Array
    stuck: Array
    any_mass: float
    destinations: Array

    def with_destinations(self, destinations: Array) -> MaskedKernel:
        """Return the same kernel with other destinations outside the targets."""
        return evolve(self, destinations=read_only(destinations))

    @property
    def _own(self) -> Array:
        """Share of hand, family and anywhere, which hold the target that is left, too."""
        out: Array = self.shares[1] + self.shares[2] + self.shares[3]
        return out

    def forward(self, leaving: Array) -> Array:
        """Where the leaving mass of each row arrives, shape (n_rows,); keeps the sum."""
        out = np.zeros_like(leaving)
        self.arrive(leaving, self.destinations, out)
        return out

    def arrive(self, leaving: Array, destinations: Array, out: Array) -> None:
        """Add where the leaving mass of each row arrives to `out` (n_rows,), in place.

        `destinations` are those outside the targets, as the kernel's own.
        """
        base = self.base
        land(
            *base.turned, *base.steps, base.whole, base.prior, base.hand_of, base.family_of,
            self.shares, self.fits, self.stuck, self.any_mass, leaving, destinations, out,
        )  # fmt: skip

    @cached_property
    def prior_by_family(self) -> Array:
        """Prior mass of the targets that fit, by family, shape (n_families,)."""
        sums = np.bincount(self.base.family_of, weights=self.fits * self.base.prior)
        return frozen(np.asarray(sums, dtype=np.float64))

    @cached_property
    def to_family(self) -> Array:
        """Where who leaves a target for another one arrives, shape (n_targets, n_families)."""
        base, shares = self.base, self.shares
        weighted = self.fits * base.prior
        by_hand = np.bincount(base.hand_of, weights=weighted)[base.hand_of]
        by_family = self.prior_by_family
        out = np.zeros((len(self.fits), len(by_family)))
        near_by_family(*base.turned, self.fits, base.family_of, out)
        out *= (shares[0] * base.whole)[:, None]
        out += shares[3][:, None] * by_family
        own = shares[1] * (by_hand - weighted)
        own += shares[2] * (by_family[base.family_of] - weighted) - shares[3] * weighted
        out[np.arange(len(out)), base.family_of] += own + self.stuck
        return frozen(out)

    def backward(self, message: Array) -> Array:
        """Expected message over destinations for each row that leaves, shape (n_rows,)."""
        n = len(self.fits)
        where = self.destinations
        inside, loose = message[:n] * self.fits, message[n:]
        out = np.empty_like(message)
        outside = where[:, 1:] @ loose
        if self.any_mass <= 0:
            out[:n] = outside[0] + where[0, 0] * message[-1]
            out[n:] = outside[1:] + where[1:, 0] * message[-1]
            return out
        base = self.base
        weighted = inside * base.prior
        anywhere = float(weighted.sum())
        by_hand = np.bincount(base.hand_of, weights=weighted)[base.hand_of]
        by_family = np.bincount(base.family_of, weights=weighted)[base.family_of]
        near = gather_near(base.near, base.near_weight, inside)
        parts = self.shares[0] * near + self.shares[1] * by_hand + self.shares[2] * by_family
        parts += self.shares[3] * anywhere - self._own * weighted + self.stuck * inside
        out[:n] = outside[0] + where[0, 0] * parts
        out[n:] = outside[1:] + where[1:, 0] * anywhere / self.any_mass
        return out


def near_halves(apart: NDArray[np.uint8]) -> Array:
    """Weight of near targets by the tiles that they are apart: halved by each, 0 for ``FAR``."""
    out: Array = np.append(HALVES, 0.0)[apart]
    return out


def near_targets(
    card: CompiledCard, n_near: int
) -> tuple[NDArray[np.int32], NDArray[np.uint8]]:  # fmt: skip
    """Targets that share most tiles with each one, and how many fewer than the nearest.

    Targets that share as many tiles as the first one beyond the limit are left out.

    Parameters
    ----------
    card
        The card.
    n_near
        How many for each target, at most.

    Returns
    -------
    near, apart
        Shape (n_targets, n_near); `apart` is ``FAR`` for those left out.
    """
    size = min(n_near, card.n_targets - 1)
    near, shared = nearest(np.ascontiguousarray(card.demand), min(size + 1, card.n_targets - 1))
    cut = shared[:, size:].max(axis=1, keepdims=True, initial=-1)
    near, shared = near[:, :size], shared[:, :size]
    apart = shared.max(axis=1, keepdims=True, initial=0) - shared
    return near, np.where(shared > cut, apart, FAR).astype(np.uint8)


def change_kernel(
    card: CompiledCard, prior: Array, weights: Mapping[str, float], n_near: int = N_NEAR
) -> ChangeKernel:
    """Build the kernel of a card.

    Parameters
    ----------
    card
        The card.
    prior
        Probability of each target at the start, shape (n_targets,).
    weights
        Block ``destination``: shares near, hand, family, anywhere.
    n_near
        Near targets to keep for each target, at most.
    """
    near, apart = near_targets(card, n_near)
    shares = np.array([weights[name] for name in ("near", "hand", "family", "anywhere")])
    shares = shares / shares.sum()
    first = (float(shares[0]), float(shares[1]), float(shares[2]), float(shares[3]))
    return ChangeKernel(near, apart, prior, card.hand_of, card.family_of, first)


def masked(kernel: ChangeKernel, fits: NDArray[np.bool_], destinations: Array) -> MaskedKernel:
    """Forbid the targets that do not fit, sharing their part among those that do.

    Within each part (near, hand, family, anywhere) the weights are renormalised over the
    targets that fit but the one that is left; a part with none gives its share to the others in
    proportion.
    """
    keep = fits.astype(np.float64)
    shares, stuck = np.empty((4, len(fits))), np.empty(len(fits))
    near = kernel.whole * mass_near(*kernel.turned, fits)
    any_mass = share_what_fits(
        near, kernel.prior, kernel.hand_of, kernel.family_of, np.array(kernel.shares), keep,
        shares, stuck,
    )  # fmt: skip
    return MaskedKernel(kernel, keep, shares, stuck, any_mass, destinations)
