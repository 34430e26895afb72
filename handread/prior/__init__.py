"""How often people settle on each target of a card: by random racks, or by simulated games."""

from typing import TYPE_CHECKING, Any

from handread.prior.racks import RackPrior, rack_prior
from handread.prior.store import save_prior

if TYPE_CHECKING:
    from handread.prior.played import PlayedPrior, played_prior

__all__ = ["PlayedPrior", "RackPrior", "played_prior", "rack_prior", "save_prior"]


def __getattr__(name: str) -> Any:
    if name in ("PlayedPrior", "played_prior"):
        from handread.prior import played

        return getattr(played, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
