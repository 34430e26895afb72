"""How far a reading is from the exact posterior, own turn by own turn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.reading import Model
from handread.study import Estimate, estimate, paired_difference
from handread.table.events import Discard, Expose
from tests.oracle.micro.exact import Joint, deal
from tests.oracle.micro.game import Array, Game
from tests.oracle.micro.play import play
from tests.oracle.micro.variants import Filter, Variant, pieces_of, start_filter

#: Name of the exact posterior as if the others' tiles were like those of the wall.
ALONE = "alone"


@dataclass(frozen=True, eq=False)
class Moment:
    """One own turn, just after the throw.

    Attributes
    ----------
    exact
        Exact posterior of the rows by family, shape (n_families + 3,).
    truth
        The row that the seat is on.
    turn, shown
        Own throws of the seat so far, this one counted; groups that it has shown.
    readings
        What each filter says, shape (n_filters, n_families + 3).
    unforeseen
        log2 exact(events) - log2 filter(events), over the events since the last throw of
        anybody, this throw counted, bits, shape (n_filters,).
    """

    exact: Array
    truth: int
    turn: int
    shown: int
    readings: Array
    unforeseen: Array


@dataclass(frozen=True, eq=False)
class Distances:
    """Figures at every own turn of every game, one column a filter.

    Attributes
    ----------
    names
        Of the filters.
    bits
        KL(exact from filter) over the rows by family, bits, shape (n_moments, n_filters).
    lost
        log2 exact(truth) - log2 filter(truth), bits, shape (n_moments, n_filters).
    unforeseen
        See ``Moment``, shape (n_moments, n_filters).
    exact
        Shape (n_moments, n_families + 3).
    entropy
        Of what each filter says and, last, of the exact posterior, bits, shape (n_moments,
        n_filters + 1).
    gain
        log2 exact(truth) - log2 start(truth), bits, shape (n_moments,).
    truth, turn, shown, game
        Of each moment, shape (n_moments,).
    """

    names: tuple[str, ...]
    bits: Array
    lost: Array
    unforeseen: Array
    exact: Array
    entropy: Array
    gain: Array
    truth: NDArray[np.int64]
    turn: NDArray[np.int64]
    shown: NDArray[np.int64]
    game: NDArray[np.int64]

    def column(self, name: str) -> int:
        """Place of a filter."""
        return self.names.index(name)

    def mean(
        self, name: str, what: str = "bits", *, among: NDArray[np.bool_] | None = None
    ) -> Estimate:
        """Mean over games of a figure, with its interval over games; over some moments only."""
        held = np.ones(len(self.game), dtype=np.bool_) if among is None else among
        values = getattr(self, what)[held, self.column(name)]
        rng = np.random.default_rng(0)
        return estimate(values, game=self.game[held], rng=rng, unit="bits")

    def change(self, name: str, base: str, what: str = "bits") -> Estimate:
        """How much larger a figure is than that of another filter, paired by game."""
        values = getattr(self, what)
        return paired_difference(
            values[:, self.column(name)], values[:, self.column(base)], game=self.game,
            rng=np.random.default_rng(0), unit="bits",
        ).difference  # fmt: skip


def log2(probs: Array) -> Array:
    """Logarithm to base 2; minus infinity at 0, without a warning."""
    with np.errstate(divide="ignore"):
        return np.log2(probs)


def kl_bits(exact: Array, other: Array) -> float:
    """KL(exact from other), bits; infinite where `other` rules out what can be."""
    there = exact > 0
    return float(exact[there] @ (log2(exact[there]) - log2(other[there])))


def entropy_bits(probs: Array) -> Array:
    """Entropy of each line of probabilities, bits."""
    return -(probs * log2(np.where(probs > 0, probs, 1.0))).sum(axis=-1)


def follow(
    game: Game, filters: Mapping[str, tuple[Model, Variant]], *, seed: int, alone: bool = False
) -> list[Moment]:
    """Play one game and follow it with every filter."""
    played = play(game, rng=np.random.default_rng(seed))
    joint = deal(game)
    now: dict[str, Filter] = {n: start_filter(m, v) for n, (m, v) in filters.items()}
    out, missed = [], np.zeros(len(filters) + alone)
    missed[len(filters) :] = np.nan
    moments = zip(played.events, played.states, played.states[1:], played.rows, strict=False)
    for event, state, later, rows in moments:
        assert isinstance(event, Discard | Expose)
        before = joint.log_prob()
        pieces, joint = pieces_of(joint, state, event)
        exact_log = joint.log_prob() - before
        for i, name in enumerate(filters):
            now[name], log_prob = now[name].after(pieces, state, later)
            missed[i] += (exact_log - log_prob) / np.log(2.0)
        if isinstance(event, Discard):
            seat = event.seat
            readings = [f.beliefs[seat].probs for f in now.values()]
            readings += [joint.alone(seat).sum(axis=0)] * alone
            turn, shown = later.turns[seat], len(later.exposures[seat])
            out.append(_moment(joint, seat, rows[seat], turn, shown, readings, missed))
            missed = np.where(np.isnan(missed), missed, 0.0)
    return out


def _moment(
    joint: Joint, seat: int, row: int, turn: int, shown: int, readings: list[Array], missed: Array
) -> Moment:
    model = joint.game.model
    exact, truth = model.by_family(joint.rows(seat)), int(model.family_rows[row])
    rows = np.array([model.by_family(probs) for probs in readings]).reshape(-1, len(exact))
    return Moment(exact, truth, turn, shown, rows, missed)


def distances(
    game: Game, filters: Mapping[str, tuple[Model, Variant]], seeds: Sequence[int], *,
    alone: bool = False,
) -> Distances:  # fmt: skip
    """Distances over one game a seed.

    Parameters
    ----------
    game
        The game; its players play by its own model.
    filters
        Model and variant of each filter, by name.
    seeds
        Of the games.
    alone
        Whether to add the exact posterior without the other seats, under the name ``alone``.
    """
    found = [
        (seed, each) for seed in seeds for each in follow(game, filters, seed=seed, alone=alone)
    ]
    moments = [each for _, each in found]
    base = log2(game.model.by_family(game.model.start))
    return Distances(
        names=(*filters, *([ALONE] if alone else [])),
        bits=np.array([[kl_bits(m.exact, row) for row in m.readings] for m in moments]),
        lost=np.array([log2(m.exact)[m.truth] - log2(m.readings[:, m.truth]) for m in moments]),
        unforeseen=np.array([m.unforeseen for m in moments]),
        exact=np.array([m.exact for m in moments]),
        entropy=np.array([entropy_bits(np.vstack([m.readings, m.exact])) for m in moments]),
        gain=np.array([log2(m.exact)[m.truth] - base[m.truth] for m in moments]),
        truth=np.array([m.truth for m in moments]),
        turn=np.array([m.turn for m in moments]),
        shown=np.array([m.shown for m in moments]),
        game=np.array([seed for seed, _ in found]),
    )
