"""The PyMC model of a population: weights of people around a mean, with a spread for each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.fitting.posterior.choices import ChoiceBlock
from handread.fitting.posterior.sparse import SparseBlock
from handread.fitting.priors import Priors
from handread.values import ArrayValue

if TYPE_CHECKING:
    import pymc

#: Choices with all their features, or with those that are not 0.
Block = ChoiceBlock | SparseBlock

#: Width of the half-normal prior of the spread between people, in nats.
SPREAD_WIDTH: Final = 0.5
#: Where the sampler starts a signed spread, nats; at 0 the people would have no slope.
FIRST_SPREAD: Final = 0.15


@dataclass(frozen=True, eq=False)
class Layout(ArrayValue):
    """How each weight is written down.

    Attributes
    ----------
    names
        All weights, in the order of the block.
    centred
        Weights of people drawn around the mean itself: for weights that people show often.
    raw
        Weights of people as mean plus a signed spread times a standard normal: for those seldom
        seen.
    """

    names: tuple[str, ...]
    centred: tuple[str, ...]
    raw: tuple[str, ...]

    def __post_init__(self) -> None:
        both = {*self.centred, *self.raw}
        if not both <= set(self.names) or set(self.centred) & set(self.raw):
            raise HandreadError(
                f"centred {self.centred!r} and raw {self.raw!r}; accepted: different weights of "
                f"{self.names!r}"
            )
        super().__post_init__()

    @property
    def varying(self) -> tuple[str, ...]:
        """Weights that differ between people."""
        return (*self.centred, *self.raw)

    @property
    def common(self) -> tuple[str, ...]:
        """Weights that are the same for everybody."""
        return tuple(name for name in self.names if name not in self.varying)


def first_layout(
    block: Block, at: NDArray[np.float64], *, spread: float = 0.3, least: float = 1.0
) -> Layout:
    """Layout to start from, by how much each person's choices say of each weight.

    A weight differs between people where at least half of them show it at all; it is centred
    where a person's choices say more of it than a spread of that size does.

    Parameters
    ----------
    block
        The choices.
    at
        Weights at which the information is taken, shape (n_names,).
    spread
        Between people, nats.
    least
        What a person's choices must say of a centred weight, against that spread.
    """
    information = block.information(at) * spread**2
    typical = np.median(information, axis=0)
    varying = [i for i in range(len(block.names)) if typical[i] > 0.05]
    centred = tuple(block.names[i] for i in varying if typical[i] >= least)
    raw = tuple(block.names[i] for i in varying if typical[i] < least)
    return Layout(block.names, centred, raw)


def root_of_means(
    block: Block, priors: Priors, layout: Layout, at: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Root of about the covariance that the means will have, shape (n_names, n_names).

    The sampler moves in steps of this root, so that all directions are alike to it.
    """
    precision = block.curvature(at) + np.diag([priors.width(n) ** -2.0 for n in block.names])
    varies = np.array([name in layout.varying for name in block.names])
    between = np.diag(varies * SPREAD_WIDTH**2 / 4.0 / len(block.people))
    return np.asarray(np.linalg.cholesky(np.linalg.inv(precision) + between))


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
        How each weight is written down.
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

    The spread of a raw weight is sampled with a sign, ``spread = |signed|``, as Gelman, Bayesian
    Analysis 1, 2006, does with a redundant factor (from memory). Its size is half-normal, and the
    sign is lost in the standard normals, so that the posterior is the same; but spreads near 0
    need no long walk along a logarithm. ``signed`` and ``own_raw`` have two mirrored modes:
    diagnostics are for ``mean``, ``spread`` and ``own``, which do not.
    """
    import pymc as pm
    from pytensor import tensor

    pt: Any = tensor  # only partly typed where it is installed at all
    centre = np.array([priors.value(name) for name in block.names])
    width = np.array([priors.width(name) for name in block.names])
    near = centre if at is None else at
    root = root_of_means(block, priors, layout, near)
    place = {name: i for i, name in enumerate(block.names)}
    order = [place[name] for name in (*layout.varying, *layout.common)]
    n_people = len(block.people)
    coords = {
        "weight": block.names, "person": block.people, "varying": layout.varying,
        "centred": layout.centred, "raw": layout.raw,
    }  # fmt: skip
    with pm.Model(coords={name: list(held) for name, held in coords.items()}) as model:
        steps = pm.Flat("mean_steps", dims="weight")
        mean = pm.Deterministic("mean", near + pt.dot(root, steps), dims="weight")
        pm.Potential("mean_prior", pm.logp(pm.Normal.dist(centre, width), mean).sum())
        ordered = mean[order]
        own = _people(layout, ordered, n_people)
        same = pt.broadcast_to(
            ordered[len(layout.varying) :], (n_people, len(layout.common))
        )  # fmt: skip
        every = pt.concatenate([own, same], axis=1)
        if isinstance(block, SparseBlock):
            from handread.fitting.posterior.likelihood import throws_log_prob

            # back into the order of the block
            pm.Potential("throws", throws_log_prob(every[:, np.argsort(order)], block))
        else:
            pm.Potential("throws", _dense_log_prob(every, block, order))
    return model


def _people(layout: Layout, ordered: Any, n_people: int) -> Any:
    """Spreads and weights of people, added to the model at hand; the weights.

    `ordered` are the means, those of the varying weights first.
    """
    import pymc as pm
    from pytensor import tensor

    pt: Any = tensor
    n_centred = len(layout.centred)
    spreads, parts = [], []
    if layout.centred:
        spreads.append(pm.HalfNormal("spread_centred", SPREAD_WIDTH, dims="centred"))
        parts.append(pm.Normal(
            "own_centred", ordered[:n_centred], spreads[0], dims=("person", "centred")
        ))  # fmt: skip
    if layout.raw:
        start = np.full(len(layout.raw), FIRST_SPREAD)
        signed = pm.Normal("signed", 0.0, SPREAD_WIDTH, dims="raw", initval=start)
        raw = pm.Normal("own_raw", 0.0, 1.0, dims=("person", "raw"))
        spreads.append(pt.abs(signed))
        parts.append(ordered[n_centred : len(layout.varying)] + signed * raw)
    spread = pt.concatenate(spreads) if spreads else pt.zeros(0)
    pm.Deterministic("spread", spread, dims="varying")
    own = pt.concatenate(parts, axis=1) if parts else pt.zeros((n_people, 0))
    pm.Deterministic("own", own, dims=("person", "varying"))
    return own


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
        How each weight is written down.
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
