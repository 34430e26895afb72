"""A population of people, sampled: how their weights are spread, with what is left open.

The only part of the library that imports PyMC, and only when something is sampled.
"""

from handread.fitting.posterior.choices import ChoiceBlock, linear_features, pick_choices
from handread.fitting.posterior.diagnose import Diagnosis, diagnose, refuse_unless_sound
from handread.fitting.posterior.sampling import Draws, draw

__all__ = [
    "ChoiceBlock", "Diagnosis", "Draws", "diagnose", "draw", "linear_features", "pick_choices",
    "refuse_unless_sound",
]  # fmt: skip
