"""How often people settle on each target of a card."""

from handread.prior.racks import RackPrior, rack_prior, save_prior

__all__ = ["RackPrior", "rack_prior", "save_prior"]
