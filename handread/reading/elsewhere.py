"""What a tile that turns up with one seat says of the plans of the others."""

from __future__ import annotations

from collections.abc import Iterator
from typing import cast

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED
from handread.clues.elsewhere import log_shares
from handread.reading.belief import Belief
from handread.reading.evidence import Observed
from handread.reading.look import free_copies
from handread.reading.model import Model
from handread.reading.step import Step
from handread.table.events import AnyEvent, Event, Passed, Rack
from handread.table.own import OwnRack, follow_rack
from handread.table.state import TableState

Array = NDArray[np.float64]


def turned_up(
    model: Model, beliefs: tuple[Belief, ...], event: Event, state: TableState,
    after: TableState, *, viewer: int | None = None, own: OwnRack | None = None,
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
    """
    if not model.weights["elsewhere"]["power"]:
        return
    public = seen_from = log_shares(free_copies(state), free_copies(after))
    if viewer is not None and own is not None and not isinstance(event, Rack | Passed):
        later = follow_rack(own, state, cast(AnyEvent, event), viewer)
        seen_from = log_shares(free_copies(state) - own.tiles, free_copies(after) - later.tiles)
    had_them = getattr(event, "seat", None)
    for belief in beliefs:
        shares = public if belief.seat == viewer else seen_from
        kinds = np.flatnonzero(shares)
        if not len(kinds) or belief.seat == had_them:
            continue
        if after.live[belief.seat] and belief.fits.any():
            step = Step(turned_up_ratio(model, belief, kinds, shares[kinds]))
            yield Observed("elsewhere", belief.seat, int(kinds[0]), step)


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
    shown = np.zeros(model.card.demand.shape[1], dtype=np.int64)
    for group in belief.exposures:
        shown[group.kind] += group.size
    wanted = np.maximum(model.card.demand[:, kinds].astype(np.int64) - shown[kinds], 0)
    rows = np.ones(model.n_rows)
    ratio = np.exp(model.weights["elsewhere"]["power"] * (wanted @ shares))
    fitting = model.prior * belief.fits
    rows[:-N_UNMODELLED] = ratio * fitting.sum() / (fitting @ ratio)
    return rows
