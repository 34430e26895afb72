"""Who holds what: the viewer's expectation over all seats and the wall, made before an event.

Tiles that one seat keeps are not with another. Each seat's odds of holding a kind go up with the
probability that it needs the kind, since it then has kept every copy that came its way; matrix
scaling fits the expected copies to the number of copies unseen and to the size of every rack.
Which plans can be finished depends in turn on who keeps what, so the two are swept twice, the
second time half-way.
"""

from __future__ import annotations

from operator import attrgetter, sub
from typing import Final

from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.expecting import expect
from handread.reading.model import Model
from handread.reading.seated import passed_on, unknown_in_rack, unseen_from
from handread.table.own import OwnRack
from handread.table.state import TableState
from handread.values import frozen, made, read_only

#: What the compiled pass asks of each belief beside what its targets want, in its order.
_OF_BELIEF: Final = attrgetter("fits", "probs")


def surroundings(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    *,
    viewer: int | None = None,
    own: OwnRack | None = None,
) -> Surroundings:
    """Expect who holds what.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats.
    state
        The table.
    viewer, own
        The viewer's seat and its concealed tiles; None on the floor.
    """
    copies, redeemed = state.free, sum(state.jokers_held)  # those redeemed have been seen
    racks = list(map(sub, state.concealed, state.n_known))
    if viewer is not None and own is not None:
        copies = read_only(unseen_from(state, viewer, own))
        racks[viewer] = unknown_in_rack(state, viewer, own)
        redeemed -= state.jokers_held[viewer]
    unseen, holds, odds, needs, finish, shares, pool = expect(
        *zip(*[(*belief.wants.groups, *_OF_BELIEF(belief)) for belief in beliefs], strict=True),
        copies, redeemed, tuple(racks), state.known, state.concealed, state.turns, state.wall,
        *passed_on(model, state, own),
    )  # fmt: skip
    floor = None if viewer is None else surroundings(model, beliefs, state)
    return made(
        Surroundings, unseen=frozen(unseen), holds=frozen(holds), odds=frozen(odds),
        needs=frozen(needs), finish=frozen(finish), shares=frozen(shares), pool=pool,
        viewer=viewer, floor=floor,
    )  # fmt: skip
