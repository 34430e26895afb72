"""What an event says about a target: one module per block of likelihood terms.

``context`` holds what a clue may know, ``codes`` the use of each kind in each target,
``holding`` who can hold what; ``throws`` has one module per clue about a throw, ``claims``,
``redeems``, ``wins`` and ``hazard`` the other observations.
"""

from handread.clues.codes import N_CODES, Use
from handread.clues.context import Context
from handread.clues.contract import Clue, registry
from handread.clues.weights import Weights, load_weights

__all__ = ["N_CODES", "Clue", "Context", "Use", "Weights", "load_weights", "registry"]
