"""Weights of what else a turn shows: where the throw came from, plans left, and for what."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit

from handread.clues.hazard import destinations
from handread.fitting.affine import made_up_context
from handread.fitting.arriving import PARTS
from handread.fitting.mode.search import Estimate, Unknown, search, spread, unknowns
from handread.fitting.priors import Priors
from handread.fitting.tables import Columns

Array = NDArray[np.float64]

#: Weights of ``hazard`` that are rates of rows without a plan.
LOOSE_RATES: Final = (
    "undecided_early", "undecided_middle", "undecided_late", "defending", "other",
)  # fmt: skip
_PLAIN: Final = made_up_context(rng=np.random.default_rng(0))


def fit_logistic(
    constant: Array, slopes: Array, happened: Array, missed: Array, wanted: list[Unknown],
    names: tuple[str, ...], *, shown: Array | float = 1.0,
) -> list[Estimate]:  # fmt: skip
    """Most probable weights of log odds that are affine in them, by Fisher's scoring.

    Parameters
    ----------
    constant, slopes
        Log odds at weights of 0, and what each weight adds, shapes (n,) and (n, n_names).
    happened, missed
        Weights of what happened and of what did not, shape (n,).
    wanted
        The weights to be found.
    names
        Names of all weights, in the order of `slopes`.
    shown
        Probability that what happened can be told from what did not, shape (n,).
    """
    if not wanted:
        return []
    places = [names.index(each.path.split(".")[1]) for each in wanted]
    design = slopes[:, places]
    centre = np.array([each.centre for each in wanted])
    precision = np.array([each.width for each in wanted]) ** -2.0
    free = centre.copy()
    for _ in range(100):
        prob = expit(constant + design @ free)
        slope = shown * prob * (1.0 - prob)
        told = np.clip(shown * prob, 1e-300, 1.0 - 1e-12)
        pull = happened * (1.0 - prob) - missed * slope / (1.0 - told)
        bend = (happened + missed) * slope**2 / (told * (1.0 - told))
        gradient = design.T @ pull - precision * (free - centre)
        curvature = (design * bend[:, None]).T @ design + np.diag(precision)
        step = np.linalg.solve(curvature, gradient)
        size = np.abs(step).max()
        free = free + step * min(1.0, 2.0 / max(size, 1e-12))
        if size < 1e-10:
            break
    sd = spread(curvature)
    telling = (happened + missed) * (np.asarray(shown) > 0)
    seen = ((design != 0) * telling[:, None]).sum(axis=0)
    return [
        Estimate(each.path, float(x), float(s), each.centre, float(n))
        for each, x, s, n in zip(wanted, free, sd, seen, strict=True)
    ]


def fit_drawn(columns: Columns, priors: Priors) -> list[Estimate]:
    """Weights of the clue about tiles thrown as they were drawn."""
    names = tuple(priors.centre["drawn_or_held"])
    weight, happened = columns["weight"].astype(float), columns["happened"]
    return fit_logistic(
        columns["constant"].astype(float), columns["slopes"].astype(float),
        weight * happened, weight * ~happened, unknowns(priors, "drawn_or_held"), names,
    )  # fmt: skip


def fit_hazard(columns: Columns, priors: Priors) -> list[Estimate]:
    """Weights of the rate at which plans are left, from what was known before the throw."""
    names = tuple(priors.centre["hazard"])
    targets = columns["rate"] < 0
    stay, leave = columns["stay"].astype(float), columns["leave"].astype(float)
    odds = [
        each for each in unknowns(priors, "hazard")
        if each.path.split(".")[1] not in LOOSE_RATES
    ]  # fmt: skip
    found = fit_logistic(
        columns["constant"][targets].astype(float), columns["slopes"][targets].astype(float),
        leave[targets], stay[targets], odds, names,
        shown=1.0 - columns["returns"][targets].astype(float),
    )  # fmt: skip
    for each in unknowns(priors, "hazard", probabilities=LOOSE_RATES):
        if each.link == "logit":
            here = columns["rate"] == names.index(each.path.split(".")[1])
            shown = 1.0 - columns["returns"][here].astype(float)
            found.append(fit_rate(each, leave[here], stay[here], shown=shown))
    return found


def fit_rate(
    wanted: Unknown, happened: Array | float, missed: Array | float, *, shown: Array | float = 1.0
) -> Estimate:
    """Most probable rate of something that happened so often, under its prior.

    Parameters
    ----------
    wanted
        The rate.
    happened, missed
        How often it was seen to happen and not to, numbers or shape (n,).
    shown
        Probability that what happened can be told from what did not, a number or shape (n,).
    """
    of_each, *counts = np.atleast_1d(*np.broadcast_arrays(shown, happened, missed))
    clear, of = np.unique(of_each, return_inverse=True)
    seen, unseen = (np.bincount(of, weights=each, minlength=len(clear)) for each in counts)

    def log_lik(weights: Mapping[str, float]) -> float:
        rate = np.clip(weights[wanted.path.split(".")[1]] * clear, 1e-300, 1.0 - 1e-16)
        return float(seen @ np.log(rate) + unseen @ np.log1p(-rate))

    telling = float((seen + unseen)[clear > 0].sum())
    return search(log_lik, [wanted], counts={wanted.path: telling})[0]


def fit_moves(columns: Columns, priors: Priors) -> list[Estimate]:
    """Weights of where seats go that leave their row."""
    rates = [
        each for each in unknowns(priors, "destination", probabilities=("undecided", "other"))
        if each.path.split(".")[1] not in PARTS
    ]  # fmt: skip
    groups, counts = _destination_counts(columns)
    plain = priors.centre["destination"]

    def log_lik(weights: Mapping[str, float]) -> float:
        total = 0.0
        for (threat, wall), count in zip(groups, counts, strict=True):
            context = replace(_PLAIN, threat=threat, wall=wall)
            rows = destinations(context, {**plain, **weights})
            if (rows < 0).any():
                return -1e12
            there = count > 0
            total += float((count[there] * np.log(np.maximum(rows[there], 1e-300))).sum())
        return total

    seen = dict.fromkeys((each.path for each in rates), float(columns["weight"].sum()))
    return search(log_lik, rates, counts=seen) + _shares(columns, priors)


def _destination_counts(columns: Columns) -> tuple[list[tuple[int, int]], list[Array]]:
    """How often each origin went to each destination, by what the danger depends on.

    The wall matters by whether it is short; contexts that give the same rows are one group.
    """
    threat = np.maximum(columns["threat"].astype(int), 1)
    short = columns["wall"].astype(int)
    keys = np.stack([threat, short], axis=1)
    found, which = np.unique(keys, axis=0, return_inverse=True)
    counts = np.zeros((len(found), 4, 4))
    np.add.at(
        counts, (which, columns["origin"].astype(int), columns["to"].astype(int)),
        columns["weight"].astype(float),
    )  # fmt: skip
    probe = {name: 0.1 for name in ("undecided", "other")}
    probe |= {"defending": -2.0, "per_threat": 0.7, "short_wall": 0.9}
    merged: dict[bytes, tuple[tuple[int, int], Array]] = {}
    for (t, w), count in zip(found.tolist(), counts, strict=True):
        rows = destinations(replace(_PLAIN, threat=t, wall=w), probe)
        key = rows.tobytes()
        where, held = merged.get(key, ((t, w), np.zeros((4, 4))))
        merged[key] = (where, held + count)
    return [where for where, _ in merged.values()], [held for _, held in merged.values()]


def _shares(columns: Columns, priors: Priors) -> list[Estimate]:
    """Shares of the kernel's parts, a mixture: expectation and maximisation under a prior.

    The prior counts as ten moves, shared out as the centre has it.
    """
    paths = [f"destination.{name}" for name in PARTS]
    centre = np.array([priors.value(path) for path in paths])
    centre = centre / centre.sum()
    both = (columns["origin"] == 0) & (columns["to"] == 0)
    parts, weight = columns["parts"][both].astype(float), columns["weight"][both].astype(float)
    there = parts >= 0
    prob = np.where(there, np.maximum(parts, 0.0), 0.0)
    prior_counts = PRIOR_MOVES / priors.factor**2 * centre
    share = centre.copy()
    for _ in range(2000):
        reach = (there * share).sum(axis=1)
        joint = prob * share
        total = joint.sum(axis=1)
        good = total > 0
        # the parts that are there share out what the others would have had
        took = (weight[good, None] * joint[good] / total[good, None]).sum(axis=0)
        lost = (weight[good, None] * (~there[good]) * share / reach[good, None]).sum(axis=0)
        new = took + lost + prior_counts
        new /= new.sum()
        done = np.abs(new - share).max() < 1e-9
        share = new
        if done:
            break
    n = float(weight.sum())
    sd = np.sqrt(share * (1 - share) / max(n + PRIOR_MOVES, 1.0))
    return [
        Estimate(path, float(value), float(s), float(c), n)
        for path, value, s, c in zip(paths, share, sd, centre, strict=True)
    ]


#: Moves that the prior of the kernel's shares counts for.
PRIOR_MOVES: Final = 10.0
