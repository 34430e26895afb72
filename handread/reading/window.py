"""What all seats would do with the throw that lies open, in one compiled pass.

The same, number for number, as asking one seat after the other by ``claiming.claims``.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import ANEW, SHAPES
from handread.clues.codes import claimable_bits
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.claiming import Claims
from handread.reading.look import may_show
from handread.reading.model import Model
from handread.reading.recent import Recent
from handread.reading.window_kernels import answer_all
from handread.table.state import TableState
from handread.values import frozen, made

Array = NDArray[np.float64]

#: What each seat would do, in the order in which it is asked.
Answers = tuple[tuple[int, Claims], ...]
#: A forecast, and the update after it.
_RECENT: Final[Recent[Answers]] = Recent(2)


def others_in_order(state: TableState, thrower: int) -> list[int]:
    """Live seats other than the thrower, nearest in turn first."""
    return [s for step in (1, 2, 3) if state.live[s := (thrower + step) % 4]]


def answers(
    model: Model, beliefs: tuple[Belief, ...], state: TableState, around: Surroundings
) -> Answers:
    """What each seat that may take the open throw would do, nearest to the thrower first.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats.
    state
        The table; a throw lies open.
    around
        What the viewer expects the seats to hold.
    """
    rests_on = (model, beliefs, state, around)
    return _RECENT.get(rests_on, "open", lambda: _answers(model, beliefs, state, around))


def _answers(
    model: Model, beliefs: tuple[Belief, ...], state: TableState, around: Surroundings
) -> Answers:
    thrown = state.floor[state.window or 0]
    order, card, n_rows = others_in_order(state, thrown.seat), model.card, model.n_rows
    views = [around.of(seat) for seat in range(4)]
    # who is not asked has no arrays of its own; the pass leaves what stands there alone
    possible = [np.empty(len(SHAPES), dtype=np.bool_)] * 4
    tables, rows = [np.empty((ANEW + 1, len(SHAPES)))] * 4, [np.empty((3, n_rows))] * 4
    for seat in order[1:]:
        possible[seat] = np.empty(len(SHAPES), dtype=np.bool_)
        tables[seat], rows[seat] = np.empty((ANEW + 1, len(SHAPES))), np.empty((3, n_rows))
    wrong = answer_all(
        tuple([seat in order for seat in range(4)]), thrown.kind, may_show(state),
        *zip(*[(view.unseen, view.pool, view.shares, view.finish) for view in views], strict=True),
        state.known, state.n_known, state.concealed, state.turns, tuple(map(len, state.exposures)),
        *zip(*[(belief.left, belief.fits) for belief in beliefs], strict=True),
        *model.window_rates, card.group_kind, card.group_size, card.group_joker, card.concealed,
        card.wanting[thrown.kind], claimable_bits(card.rules.claimable),
        tuple(possible), tuple(tables), tuple(rows),
    )  # fmt: skip
    return tuple([
        (
            seat,
            made(
                Claims, model=model, belief=beliefs[seat], kind=thrown.kind,
                possible=frozen(possible[seat]), table=frozen(tables[seat]), wrong=wrong[seat],
                answers=frozen(rows[seat]),
            ),
        )
        for seat in order
    ])  # fmt: skip
