"""What a card and a prior fix once and for all, in plain loops; and the chances that all use."""

from __future__ import annotations

import math
from functools import cached_property

from handread.reading import Model
from handread.tiles import N_KINDS

Row = list[float]
Group = tuple[int, int, bool]  # kind, size, whether jokers may stand in it


def hold(copies: int, pool: int, reach: int) -> Row:
    """Chance of holding 0, 1, ... of the copies among `reach` tiles out of `pool`."""
    ways = math.comb(pool, copies)
    held = range(copies + 1)
    return [math.comb(reach, h) * math.comb(pool - reach, copies - h) / ways for h in held]


def tilted(chances: Row, tilt: float) -> Row:
    """The same chances when every copy held is `tilt` times as likely as counts alone say."""
    odds = [chance * tilt**held for held, chance in enumerate(chances)]
    return [x / sum(odds) for x in odds]


def logistic(x: float) -> float:
    return 1.0 / (1.0 + math.exp(-x))


class PlainCard:
    """Targets of a model's card, the targets near each, and the demand for each kind."""

    def __init__(self, model: Model) -> None:
        self.model = model

    @cached_property
    def targets(self) -> list[list[Group]]:
        card = self.model.card
        arrays = (card.group_kind, card.group_size, card.group_joker)
        return [
            [(int(k), int(s), bool(j)) for k, s, j in zip(*rows, strict=True) if s]
            for rows in zip(*arrays, strict=True)
        ]

    def nearest(self, n_near: int, power: float) -> list[dict[int, float]]:
        """For each target the weights of those that share most tiles with it; they sum to 1.

        Targets that share as many tiles as the first one beyond the limit are left out too.
        """
        demand, prior = self.model.card.demand.tolist(), [float(p) for p in self.model.prior]
        rows = []
        for g, own in enumerate(demand):
            shared = {
                h: sum(min(a, b) for a, b in zip(own, other, strict=True))
                for h, other in enumerate(demand)
                if h != g
            }
            order = sorted(shared, key=lambda h: (-shared[h], h))
            beyond = shared[order[n_near]] if len(order) > n_near else -1
            weights = {
                h: 2.0 ** shared[h] * prior[h] ** power
                for h in order[:n_near]
                if shared[h] > beyond
            }
            total = sum(weights.values())
            rows.append({h: weight / total for h, weight in weights.items()})
        return rows

    @cached_property
    def moves(self) -> list[dict[int, float]]:
        """Near targets to which a seat moves, with their weights."""
        return self.nearest(self.model.kernel.near.shape[1], 0.5)

    @cached_property
    def nearby(self) -> list[Row]:
        """Share of the targets near each one that need each kind."""
        needs = [{kind for kind, _, _ in target} for target in self.targets]
        return [
            [sum(w for h, w in weights.items() if k in needs[h]) for k in range(N_KINDS)]
            for weights in self.nearest(32, 0.0)
        ]

    @cached_property
    def demand(self) -> Row:
        """Log demand for each kind under the prior, with mean 0 and spread 1."""
        logs = []
        for kind in range(N_KINDS):
            expected = 0.0
            for prob, target in zip(self.model.prior, self.targets, strict=True):
                expected += float(prob) * sum(size for k, size, _ in target if k == kind)
            logs.append(math.log(1.0 + expected))
        mean = sum(logs) / N_KINDS
        spread = math.sqrt(sum((x - mean) ** 2 for x in logs) / N_KINDS)
        return [(x - mean) / spread for x in logs]
