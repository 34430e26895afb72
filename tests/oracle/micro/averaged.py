"""A chance of a throw that averages over whole racks without listing them: a rule to compare.

The reader's logit puts expected copies in the place of the copies held, the same for every row.
Here each copy not seen is held with a chance of its own, apart from the others, and the logit is
averaged over all racks that can come of it. With u copies of kind j unseen, each held with chance
p, and odds w of a throw for each copy held,

    P(throws k | row) = E[r_k w_k / sum_j r_j w_j]
                      = integral over t > 0 of E[r_k w_k exp(-t sum_j r_j w_j)] dt
                      = integral of u_k p_k w_k exp(-t w_k) / f_k(t) prod_j f_j(t) ** u_j dt,

f_j(t) = 1 - p_j + p_j exp(-t w_j), by Gauss-Legendre quadrature on t = s / (1 - s); it is divided
by its sum over kinds, so that the chances of one row sum to 1. The odds of holding a copy are those
of the reader's expected copies; for kinds that the row needs, and for jokers, times the odds ratio
of keeping (all that came the seat's way is there) against chance; each row is then scaled until
the rack has as many tiles as it should. Cost: one gather over targets x 36 for each node.
"""

from __future__ import annotations

import numpy as np

from handread.clues.codes import NEEDED
from handread.clues.context import Context
from handread.reading import likelihood
from handread.reading.likelihood import Seen
from handread.tiles import JOKER, N_KINDS
from tests.oracle.micro.game import Array

NODES = 5
_LEAST = 1e-9


def odds(prob: Array | float) -> Array:
    """Odds of a probability, kept away from 0 and infinity."""
    inside = np.clip(prob, _LEAST, 1.0 - _LEAST)
    return np.asarray(inside / (1.0 - inside))


def chances(context: Context, needed: Array) -> Array:
    """Chance that each copy unseen is with the seat, by row and kind, shape (n_rows, 36)."""
    size, turn, pool = context.concealed, context.turn, context.pool
    keeping = float(odds((size + turn) / (pool + turn)) / odds(size / pool))
    unseen = context.unseen.astype(float)
    bare = odds(context.within_reach / np.maximum(unseen, _LEAST))
    own = bare * np.where(needed, keeping, 1.0)
    scale = np.ones((len(own), 1))
    for _ in range(12):
        prob = own * scale / (1.0 + own * scale)
        short = size - (unseen * prob).sum(axis=1, keepdims=True)
        slope = (unseen * prob * (1.0 - prob)).sum(axis=1, keepdims=True)
        scale = scale * np.exp(np.clip(short / np.maximum(slope, _LEAST), -1.0, 1.0))
    return np.asarray(own * scale / (1.0 + own * scale))


def averaged_throws(seen: Seen, nodes: int = NODES) -> tuple[Array, Array]:
    """P(throws kind | row) on turns that keep and that leave the row, shape (n_rows, 36) each."""
    _, keep, change = likelihood.throw_scores(seen)
    needed = np.isin(seen.codes, [int(use) for use in NEEDED])
    needed[:, JOKER] = True
    prob, unseen = chances(seen.context, needed), seen.context.unseen.astype(float)
    place, width = np.polynomial.legendre.leggauss(nodes)
    s = (place + 1.0) / 2.0
    t, step = (s / (1.0 - s))[:, None, None], (width / (1.0 - s) ** 2)[:, None, None]
    out = []
    for table in (keep, change):
        weight = np.exp(table.sum(axis=0)[seen.codes, np.arange(N_KINDS)])
        weight = weight / (unseen * prob * weight).sum(axis=1, keepdims=True)
        fades = np.exp(-t * weight)
        f = 1.0 - prob + prob * fades
        together = np.exp((unseen * np.log(f)).sum(axis=2, keepdims=True))
        parts = (step * unseen * prob * weight * fades / f * together).sum(axis=0)
        out.append(parts / parts.sum(axis=1, keepdims=True))
    return out[0], out[1]
