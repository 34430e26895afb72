"""What a tile that turns up with one seat says of the plans of the others."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED
from handread.clues.elsewhere import log_shares
from handread.clues.kernels import fill_turned_up
from handread.reading.belief import Belief
from handread.reading.evidence import Observed
from handread.reading.look import free_copies
from handread.reading.model import Model
from handread.reading.seated import unseen_from
from handread.reading.step import Step, told
from handread.table.events import AnyEvent, Event, Passed, Rack
from handread.table.own import OwnRack, follow_rack
from handread.table.state import TableState
from handread.tiles import N_KINDS
from handread.values import frozen, made

Array = NDArray[np.float64]

_NOTHING: Final = frozen(np.zeros(N_KINDS, dtype=np.int64))
_NO_NEWS: Final = frozen(np.zeros(0, dtype=np.intp)), frozen(np.zeros(0))


def turned_up(
    model: Model, beliefs: tuple[Belief, ...], event: Event, state: TableState,
    after: TableState, *, viewer: int | None = None, own: OwnRack | None = None,
    later: OwnRack | None = None,
) -> Iterator[Observed]:  # fmt: skip
    """What copies that an event has shown say of every live seat but the one that had them.

    To a viewer with a seat its own draws show copies, too, and its throws show nothing new; its
    rack at the start has its own word, see ``seated.own_rack_seen``.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats, after all else that the event says of them.
    event
        The event.
    state, after
        The table before and after the event.
    viewer, own
        The viewer's seat and its concealed tiles before the event; None on the floor.
    later
        Its concealed tiles after the event, where these are known already.
    """
    if not model.weights["elsewhere"]["power"]:
        return
    public = seen_from = _news(free_copies(state), free_copies(after))
    if viewer is not None and own is not None and not isinstance(event, Rack | Passed):
        later = later or follow_rack(own, state, cast(AnyEvent, event), viewer, after)
        seen_from = _news(unseen_from(state, viewer, own), unseen_from(after, viewer, later))
    had_them = getattr(event, "seat", None)
    steps: dict[tuple[bool, int, int], Step] = {}  # one for seats that have shown nothing
    for belief in beliefs:
        seat, kernel = belief.seat, belief.kernel
        kinds, shares = public if seat == viewer else seen_from
        if not len(kinds) or seat == had_them or not after.live[seat]:
            continue
        if kernel.any_mass > 0:  # something fits
            alike = (seat == viewer, id(kernel), id(belief.exposures))
            if alike not in steps:
                steps[alike] = told(turned_up_ratio(model, belief, kinds, shares))
            yield made(Observed, what="elsewhere", seat=seat, kind=int(kinds[0]), step=steps[alike])


def _news(
    before: NDArray[np.integer], after: NDArray[np.integer]
) -> tuple[NDArray[np.intp], Array]:  # fmt: skip
    """Kinds of which copies turned up between two moments, and their ``log_shares``."""
    if before is after:
        return _NO_NEWS
    shares = log_shares(before, after)
    kinds = shares.nonzero()[0]
    return kinds, shares[kinds]


def turned_up_ratio(
    model: Model, belief: Belief, kinds: NDArray[np.intp], shares: Array
) -> Array:  # fmt: skip
    """How much likelier each row becomes once copies have turned up elsewhere.

    Parameters
    ----------
    model
        The model of the reading.
    belief
        About the seat.
    kinds
        Kinds that turned up, shape (n,).
    shares
        Their ``log_shares``, shape (n,).

    Returns
    -------
    Array
        Shape (n_rows,); 1 for the unmodelled states, and 1 on average, by prior, over the
        targets that fit the groups shown.
    """
    rows = np.empty(model.n_rows)
    rows[-N_UNMODELLED:] = 1.0
    fill_turned_up(
        *model.card.wanted, _shown(belief), kinds, model.weights["elsewhere"]["power"] * shares,
        model.prior, belief.kernel.fits, belief.kernel.any_mass, rows[:-N_UNMODELLED],
    )  # fmt: skip
    return frozen(rows)


def _shown(belief: Belief) -> NDArray[np.int64]:
    """Tiles of each kind in the groups that a seat has shown, shape (36,)."""
    if not belief.exposures:
        return _NOTHING
    shown = np.zeros(N_KINDS, dtype=np.int64)
    for group in belief.exposures:
        shown[group.kind] += group.size
    return frozen(shown)
