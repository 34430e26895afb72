"""The PyMC model of a population: weights of people around a mean, with a spread for each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.fitting.posterior.choices import ChoiceBlock
from handread.fitting.posterior.rough import SPREAD_WIDTH, Block, Rough, rough_population
from handread.fitting.posterior.sparse import SparseBlock
from handread.fitting.priors import Priors
from handread.values import ArrayValue

if TYPE_CHECKING:
    import pymc


@dataclass(frozen=True, eq=False)
class Layout(ArrayValue):
    """Which weights differ between people.

    Attributes
    ----------
    names
        All weights, in the order of the block.
    varying
        Weights that differ between people.
    """

    names: tuple[str, ...]
    varying: tuple[str, ...]

    def __post_init__(self) -> None:
        if not set(self.varying) <= set(self.names) or len({*self.varying}) < len(self.varying):
            raise HandreadError(
                f"varying {self.varying!r}; accepted: different weights of {self.names!r}"
            )
        super().__post_init__()

    @property
    def common(self) -> tuple[str, ...]:
        """Weights that are the same for everybody."""
        return tuple(name for name in self.names if name not in self.varying)


def first_layout(block: Block, at: NDArray[np.float64], *, spread: float = 0.3) -> Layout:
    """Let a weight differ between people where at least half of them show it at all.

    Parameters
    ----------
    block
        The choices.
    at
        Weights at which the information is taken, shape (n_names,).
    spread
        Between people, nats, that what a person's choices say of a weight is held against.
    """
    information = np.einsum("pii->pi", block.curvatures(at)) * spread**2
    typical = np.median(information, axis=0)
    shown = [name for name, told in zip(block.names, typical, strict=True) if told > 0.05]
    return Layout(block.names, tuple(shown))


def population_model(
    block: Block, priors: Priors, layout: Layout, *, at: NDArray[np.float64] | None = None
) -> pymc.Model:
    """Put the model together.

    Parameters
    ----------
    block
        The choices. Dense or sparse, the model is the same; the sparse form is the fast one.
    priors
        Centres and widths of the population's means.
    layout
        Which weights differ between people.
    at
        Weights near which the means are, shape (n_names,); None for the centres of the priors.
        Where the sampler starts and how it steps, no part of the posterior.

    Returns
    -------
    pymc.Model
        With ``mean`` over weights, ``spread`` over those that vary, and ``own`` over people and
        those that vary, all with named coordinates.

    Notes
    -----
    The likelihood of a dense block is one batched product per person on differences to the kind
    thrown; that of a sparse block is one operation that visits the features that are not 0.

    What the sampler moves is about standard normal and about independent, and the means, spreads
    and weights of people are made of it: ``mean_steps`` by the root of about their covariance,
    ``spread_steps`` by ``_spread``, ``own_steps`` by ``_people``. The logarithms of the slopes are
    part of the density, so that the posterior is that of a normal population with half-normal
    spreads, whatever ``at`` is.
    """
    import pymc as pm
    from pytensor import tensor

    pt: Any = tensor  # only partly typed where it is installed at all
    centre = np.array([priors.value(name) for name in block.names])
    width = np.array([priors.width(name) for name in block.names])
    rough = rough_population(block, priors, layout.varying, centre if at is None else at)
    place = {name: i for i, name in enumerate(block.names)}
    order = [place[name] for name in (*layout.varying, *layout.common)]
    n_people, n_varying = len(block.people), len(layout.varying)
    coords = {"weight": block.names, "person": block.people, "varying": layout.varying}
    with pm.Model(coords={name: list(held) for name, held in coords.items()}) as model:
        steps = pm.Flat("mean_steps", dims="weight", initval=np.zeros(len(block.names)))
        mean = pm.Deterministic("mean", rough.mean + pt.dot(rough.root, steps), dims="weight")
        pm.Potential("mean_prior", pm.logp(pm.Normal.dist(centre, width), mean).sum())
        spread = _spread(rough)
        ordered = mean[order]
        own = _people(rough, mean, ordered[:n_varying], spread)
        same = pt.broadcast_to(ordered[n_varying:], (n_people, len(layout.common)))
        every = pt.concatenate([own, same], axis=1)
        if isinstance(block, SparseBlock):
            from handread.fitting.posterior.likelihood import throws_log_prob

            # back into the order of the block
            pm.Potential("throws", throws_log_prob(every[:, np.argsort(order)], block))
        else:
            pm.Potential("throws", _dense_log_prob(every, block, order))
    return model


def _spread(rough: Rough) -> Any:
    """Spreads, added to the model at hand.

    A step has the standard normal score that the spread has under a half-normal of about the width
    of its own posterior. So a spread that may be 0 makes a normal hill, with no long walk along a
    logarithm; and one that is far from 0 moves along a line.
    """
    import pymc as pm
    from pytensor import tensor
    from scipy.special import ndtr, ndtri

    pt: Any = tensor
    start = -ndtri(2.0 * ndtr(-rough.spread / rough.width))
    steps = pm.Flat("spread_steps", dims="varying", initval=start)
    scaled = np.sqrt(2.0) * pt.erfcinv(0.5 * pt.erfc(steps / np.sqrt(2.0)))
    spread = pm.Deterministic("spread", rough.width * scaled, dims="varying")
    slope = np.log(rough.width / 2.0) - 0.5 * (steps**2 - scaled**2)
    prior = pm.logp(pm.HalfNormal.dist(SPREAD_WIDTH), spread)
    pm.Potential("spread_prior", (prior + slope).sum())
    return spread


def _people(rough: Rough, mean: Any, of_varying: Any, spread: Any) -> Any:
    """Weights of people, added to the model at hand.

    A person's place between people, in spreads, is normal with mean `s d / (1 + s^2 j)` and
    variance `1 / (1 + s^2 j)` where the log probability of its choices has slope `d` at the mean
    and curvature `-j`, weights taken one at a time. A step counts from that mean in roots of that
    variance. Where choices say nothing this is the place itself, where they say all it is counted
    from what they say; in between, by how much they say (Papaspiliopoulos, Roberts and Skold,
    Statistical Science 22, 2007, from memory, have it so for normal models).
    """
    import pymc as pm
    from pytensor import tensor

    pt: Any = tensor
    n_people, n_varying = rough.score.shape
    steps = pm.Flat(
        "own_steps", dims=("person", "varying"), initval=np.zeros((n_people, n_varying))
    )
    flat = np.ascontiguousarray(rough.curvature.reshape(n_people * n_varying, len(rough.at)))
    slope = rough.score - pt.dot(flat, mean - rough.at).reshape((n_people, n_varying))
    known = 1.0 + spread**2 * rough.own_curvature
    place = spread * slope / known + steps / pt.sqrt(known)
    pm.Potential("people", (pm.logp(pm.Normal.dist(0.0, 1.0), place) - 0.5 * pt.log(known)).sum())
    return pm.Deterministic("own", of_varying + spread * place, dims=("person", "varying"))


def _dense_log_prob(every: Any, block: ChoiceBlock, order: list[int]) -> Any:
    """Weighted log probability of all choices, features and weights in the order given."""
    import pymc as pm
    from pytensor import tensor

    pt: Any = tensor
    n_people, n_choices, n_others, n_names = block.difference.shape
    features = np.ascontiguousarray(block.difference[..., order])
    flat = pm.Data("difference", features.reshape(n_people, -1, n_names))
    offset = pm.Data("offset", block.offset)
    weight = pm.Data("choice_weight", block.weight)
    scores = pt.matmul(flat, every[:, :, None])[:, :, 0]
    scores = scores.reshape((n_people, n_choices, n_others)) + offset
    log_prob = -pt.softplus(pt.logsumexp(scores, axis=-1))
    return (weight * log_prob).sum()


def people_weights(layout: Layout, mean: Any, own: Any) -> NDArray[np.float64]:
    """Weights of every person in the order of the block.

    Parameters
    ----------
    layout
        Which weights differ between people.
    mean
        Draws of the means, shape (..., n_names).
    own
        Draws of people's weights, shape (..., n_people, n_varying).

    Returns
    -------
    NDArray
        Shape (..., n_people, n_names).
    """
    mean, own = np.asarray(mean), np.asarray(own)
    out = np.repeat(mean[..., None, :], own.shape[-2], axis=-2)
    places = [layout.names.index(name) for name in layout.varying]
    out[..., places] = own
    return out
