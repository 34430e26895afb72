"""The most probable weights over all choices of many games: minutes, no sampler."""

from handread.fitting.mode.fit import ModeFit, fit_mode
from handread.fitting.mode.search import Estimate, Unknown

__all__ = ["Estimate", "ModeFit", "Unknown", "fit_mode"]
