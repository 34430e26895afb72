"""What clues are worth: weights fitted to games whose truth is known.

``walk`` turns a game into tables by asking the very clues that readings use; ``mode`` finds the
most probable weights over all choices of many games; ``posterior`` samples a population of people
with PyMC, which nothing else in the library imports. A fitted model is a folder that readings load
without any of this.
"""

from handread.fitting.gathering import gather
from handread.fitting.mode import Estimate, ModeFit, fit_mode
from handread.fitting.priors import Priors
from handread.fitting.running import fit_games
from handread.fitting.saving import ModelCard, check_model, load_card, save_model
from handread.fitting.sources import Played, Recorded, recorded

__all__ = [
    "Estimate", "ModeFit", "ModelCard", "Played", "Priors", "Recorded", "check_model", "fit_games",
    "fit_mode", "gather", "load_card", "recorded", "save_model",
]  # fmt: skip
