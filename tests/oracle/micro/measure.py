"""How far a reading is from the exact posterior, own turn by own turn."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from handread.reading import Model
from handread.study import Estimate, estimate, paired_difference
from handread.table.events import Discard, Expose
from tests.oracle.micro.exact import Joint, deal
from tests.oracle.micro.game import Array, Game
from tests.oracle.micro.play import play
from tests.oracle.micro.variants import Filter, Variant, pieces_of, start_filter


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
    gain
        log2 exact(truth) - log2 base(truth), bits, the base being the start of a game, shape
        (n_moments,).
    unforeseen
        log2 exact(event) - log2 filter(event) summed over the events since the last own turn of
        anybody, bits, shape (n_moments, n_filters).
    game
        Game of each moment, shape (n_moments,).
    """

    names: tuple[str, ...]
    bits: Array
    lost: Array
    gain: Array
    unforeseen: Array
    game: Array

    def column(self, name: str) -> int:
        """Place of a filter."""
        return self.names.index(name)

    def mean(self, name: str, what: str = "bits") -> Estimate:
        """Mean over games of a figure, with its interval over games."""
        values = getattr(self, what)[:, self.column(name)]
        return estimate(values, game=self.game, rng=np.random.default_rng(0), unit="bits")

    def change(self, name: str, base: str, what: str = "bits") -> Estimate:
        """How much larger a figure is than that of another filter, paired by game."""
        values = getattr(self, what)
        return paired_difference(
            values[:, self.column(name)], values[:, self.column(base)], game=self.game,
            rng=np.random.default_rng(0), unit="bits",
        ).difference  # fmt: skip


def kl_bits(exact: Array, other: Array) -> float:
    """KL(exact from other), bits; infinite where `other` rules out what can be."""
    there = exact > 0
    with np.errstate(divide="ignore"):
        return float(exact[there] @ (np.log2(exact[there]) - np.log2(other[there])))


#: The exact posterior if the other seats' tiles were like those of the wall; see ``Joint.alone``.
ALONE = "alone"


def follow(
    game: Game, filters: Mapping[str, tuple[Model, Variant]], *, seed: int, alone: bool = False
) -> list[tuple[list[float], list[float], float, list[float]]]:
    """Play one game and follow it with every filter; figures at each own turn."""
    played = play(game, rng=np.random.default_rng(seed))
    joint = deal(game)
    now: dict[str, Filter] = {n: start_filter(m, v) for n, (m, v) in filters.items()}
    base = game.model.by_family(game.model.start)
    out, missed = [], np.zeros(len(filters) + alone)
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
            readings = [f.beliefs[event.seat].probs for f in now.values()]
            readings += [joint.alone(event.seat).sum(axis=0)] * alone
            out.append(_moment(game, joint, event.seat, rows[event.seat], readings, base, missed))
            missed = np.zeros_like(missed)
    return out


def _moment(
    game: Game, joint: Joint, seat: int, row: int, readings: Sequence[Array], base: Array,
    missed: Array,
) -> tuple[list[float], list[float], float, list[float]]:  # fmt: skip
    exact = game.model.by_family(joint.rows(seat))
    family = int(game.model.family_rows[row])
    by_family = [game.model.by_family(probs) for probs in readings]
    with np.errstate(divide="ignore"):
        lost = [float(np.log2(exact[family]) - np.log2(probs[family])) for probs in by_family]
    gain = float(np.log2(exact[family]) - np.log2(base[family]))
    return [kl_bits(exact, probs) for probs in by_family], lost, gain, missed.tolist()


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
    moments, games = [], []
    for seed in seeds:
        found = follow(game, filters, seed=seed, alone=alone)
        moments += found
        games += [seed] * len(found)
    bits, lost, gain, missed = zip(*moments, strict=True)
    names = (*filters, *([ALONE] if alone else []))
    return Distances(
        names, np.array(bits), np.array(lost), np.array(gain), np.array(missed), np.array(games)
    )
