"""Sample a PyMC model with a sampler that is named, and keep plain arrays."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError, closest
from handread.values import ArrayValue

SAMPLERS: Final = ("nutpie", "pymc")


@dataclass(frozen=True, eq=False)
class Draws(ArrayValue):
    """Draws of a posterior.

    Attributes
    ----------
    values
        Name to draws, shape (n_chains, n_draws, ...).
    diverging
        Whether each transition diverged, shape (n_chains, n_draws).
    sampler
        Which was used.
    seconds
        Wall time, with the compilation.
    processor_seconds
        Processor time of this process; what a sampler does in processes of its own is not in it.
    """

    values: Mapping[str, NDArray[Any]]
    diverging: NDArray[np.bool_]
    sampler: str
    seconds: float
    processor_seconds: float = float("nan")

    def flat(self, name: str) -> NDArray[Any]:
        """Draws of all chains, one after the other, shape (n, ...)."""
        held = self.values[name]
        return held.reshape(-1, *held.shape[2:])


def best_sampler() -> str:
    """The first of ``SAMPLERS`` that is installed."""
    return "nutpie" if find_spec("nutpie") is not None else "pymc"


def draw(
    model: Any,
    *,
    seed: int,
    n_draws: int = 1000,
    n_tune: int = 1000,
    n_chains: int = 4,
    n_cores: int = 1,
    sampler: str | None = None,
    target_accept: float = 0.9,
    max_depth: int = 10,
    names: tuple[str, ...] | None = None,
    progress: bool = False,
) -> Draws:
    """Sample a model.

    Parameters
    ----------
    model
        A ``pymc.Model``.
    seed
        Seed of the sampler.
    n_draws, n_tune, n_chains, n_cores
        Of the sampler.
    sampler
        One of ``SAMPLERS``; None for the first that is installed. Nutpie is called itself, and
        PyMC is told to use its own, since what it would choose hangs on what is installed.
    target_accept
        Of the step size.
    max_depth
        A trajectory has at most two to this power steps.
    names
        Variables to keep; None for all of the posterior.
    progress
        Whether the sampler shows how far it is.

    Raises
    ------
    HandreadError
        If there is no such sampler here.
    """
    name = sampler or best_sampler()
    if name not in SAMPLERS or (name == "nutpie" and find_spec("nutpie") is None):
        raise HandreadError(f"sampler is {sampler!r}; {closest(name, SAMPLERS)}")
    began, began_here = time.perf_counter(), time.process_time()
    options = {
        "draws": n_draws, "tune": n_tune, "chains": n_chains, "cores": n_cores,
        "target_accept": target_accept,
    }  # fmt: skip
    if name == "nutpie":
        import nutpie

        found = nutpie.sample(
            nutpie.compile_pymc_model(model), seed=seed, progress_bar=progress, save_warmup=False,
            maxdepth=max_depth, **options,
        )  # fmt: skip
    else:
        import pymc

        with model:
            found = pymc.sample(
                random_seed=seed, nuts_sampler="pymc", progressbar=progress,
                compute_convergence_checks=False, max_treedepth=max_depth, **options,
            )  # fmt: skip
    posterior = found["posterior"]
    kept = names if names is not None else tuple(str(each) for each in posterior.data_vars)
    values = {each: np.asarray(posterior[each].values) for each in kept}
    diverging = np.asarray(found["sample_stats"]["diverging"].values, dtype=np.bool_)
    spent = time.perf_counter() - began, time.process_time() - began_here
    return Draws(values, diverging, name, *spent)
