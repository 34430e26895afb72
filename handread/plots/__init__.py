"""Pictures: each takes numbers and an ``ax``, draws on it and returns it.

Readers are told apart by colour, by line style and by marker, so that every picture can be read
in grey.
"""

from handread.plots.bits import plot_bits_by_turn, plot_claimed_realised
from handread.plots.game import plot_family_bands
from handread.plots.leads import plot_lead
from handread.plots.reliability import plot_reliability
from handread.plots.rules import plot_bars

__all__ = [
    "plot_bars", "plot_bits_by_turn", "plot_claimed_realised", "plot_family_bands", "plot_lead",
    "plot_reliability",
]  # fmt: skip
