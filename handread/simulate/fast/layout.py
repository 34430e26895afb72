"""Arrays of the compiled engine: the card, one table in play, lists over targets, the book.

What has a fixed size lies in two records, ``TABLE`` and ``BOOK``, which compiled functions take
by reference; what grows with the card lies in ``Lists`` and ``Sheet``.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.simulate.actions import DECISIONS, N_CLAIMS, N_REDEEMS, PAUSES, PLACES
from handread.simulate.kinds.chance import MOST_COPIES, ROOM
from handread.simulate.playcard import PlayCard, Targets
from handread.tiles import FLOWER, N_KINDS

#: A machine word; mypy does not tell it from an int.
word: Any = np.int64


def _words(n: int) -> Any:
    """Numbers from 0 as machine words: a plain int in a call would be compiled for its value."""
    return tuple(word(i) for i in range(n))


MINUS, NONE, ONE, TWO, FOUR = (word(i) for i in (-1, 0, 1, 2, 4))
N_KINDS_, N_CLAIMS_, N_REDEEMS_ = word(N_KINDS), word(N_CLAIMS), word(N_REDEEMS)
N_PLACES_, N_PAUSES_ = word(len(PLACES)), word(len(PAUSES))

#: Decisions by number, in the order of ``actions.DECISIONS``.
(
    PLAN, PASS, BLIND, STOP, COURTESY, SAY_WIN, EARLY, REDEEM, THROW, CLAIM, MEND, CALL, PLACE,
    PAUSE,
) = _words(14)  # fmt: skip
DECISION_NAMES: Final = tuple(DECISIONS)

#: Places in ``TABLE.params``: the style, in the order of ``player.Style``; a kind's own
#: constants begin at OWN.
(
    TEMPERATURE, FLEXIBILITY, EAGERNESS, CAUTION, THRIFT, TASTE, MEMORY, CARELESSNESS, BLUFF,
    SLOWNESS,
) = range(10)  # fmt: skip
OWN: Final = 16
N_PARAMS: Final = 40

#: Places in ``TABLE.judge``: how a kind judges the way to a target; see ``near.worth_of_way``.
PAIR_COST, JOKER_COST, AWARE, POINTS, HIDDEN, SPREAD, STAY, EVERY = range(8)
N_JUDGE: Final = 8

#: Modes of a mind, as in ``view.STATES``.
SEARCHING, BUILDING, WAITING, FOLDED, DEAD = _words(5)

#: Rows of ``Lists.target`` and ``Lists.weight``: what each seat weighs, what it would weigh
#: uncommitted, targets that are near enough to matter at a look, and room to work in.
WEIGHTS: Final = word(0)
WIDE: Final = word(4)
NEAR: Final = word(8)
WORTH: Final = word(8)
SCORE: Final = word(9)
WORK: Final = word(10)
WEIGHED: Final = word(11)
N_ROWS: Final = 12

#: What is asked of a unit that plays one kind: ``(what, seat, decision or action, place)``.
SCORE_PLAN, SETTLE, SCORE_OTHERS = _words(3)
#: What is asked of the unit that decides: ``(what, seat, decision, number of actions)``.
DECIDE, LOOK, NOTE_MIND, LAY_WAYS, DISTANCE, DISTANCE_WITH, POSSIBLE = _words(7)

#: Length of a list that stands for the same weight on every target.
EVEN: Final = -1

#: Capacities.
MOST_TILES: Final = 320
MOST_GROUPS: Final = 8
MOST_EVENTS: Final = 4096
MOST_ROWS: Final = 4096
MOST_DECISIONS: Final = 16384
MOST_ACTIONS: Final = 160
DEAR: Final = 17

#: What went wrong in a game, in ``TABLE.status``.
FINE, MORE_UNIFORMS, MORE_ROOM, NO_ACTION = range(4)

#: Codes of events in ``BOOK.events``.
(
    ABSENT, PASSED, STOPPED, DISCARD, VOICED, EXPOSE, CORRECT, REDEEMED, DEAD_HAND, WIN_IN_ERROR,
    DREW, WIN, WALL_GAME,
) = _words(13)  # fmt: skip

#: How a discard says from where and when the tile came: 0 for no place or 1 + place, and PLACED
#: times 1 + pause; 0 in games from before there were either.
PLACED: Final = word(1 + len(PLACES))

#: Parts of the work for which cycles are counted, in ``TABLE.spent``: decisions by number, then
#: these.
NEAR_TARGETS, PLANS, CHOICE, RECORDING, WAYS, DISTANCES, PROOF = (word(i) for i in range(14, 21))
N_PARTS: Final = 21

#: Reasons of ``truth.Change`` by number.
WHYS: Final = (
    "folded", "resumed", "committed", "exposed", "blocked", "opened", "nearer", "drifted",
)  # fmt: skip

_I, _F = np.int64, np.float64

TABLE: Final = np.dtype(
    [
        # hidden
        # where the arrays and units lie
        ("at", _I, (48,)), ("book_at", _I), ("decide_at", _I), ("policy_at", _I, (4,)),
        ("n_targets", _I), ("width", _I), ("n_uses", _I), ("n_uniforms", _I), ("n_entries", _I),
        ("racks", _I, (4, N_KINDS)), ("wall", _I, (MOST_TILES,)), ("n_wall", _I), ("drawn", _I),
        ("next_uniform", _I), ("status", _I), ("timed", _I), ("spent", _I, (N_PARTS,)),
        ("cycles", _I), ("audit", _I), ("breaches", _I),
        # public
        ("wall_left", _I), ("play_wall", _I), ("holder", _I), ("turn", _I), ("shown", _I),
        ("over", _I), ("n_events", _I), ("live", _I, (4,)), ("seated", _I, (4,)),
        ("turns", _I, (4,)), ("concealed", _I, (4,)), ("n_groups", _I, (4,)),
        ("groups", _I, (4, MOST_GROUPS, 3)), ("floor", _I, (N_KINDS,)),
        ("exposed", _I, (N_KINDS,)), ("seen", _I, (N_KINDS,)), ("returned", _I, (4, N_KINDS)),
        ("last_seat", _I), ("last_kind", _I), ("last_taken", _I), ("offence", _I, (4,)),
        # rules
        ("hand_size", _I), ("claimable", _I, (8,)), ("fewest", _I), ("nearest", _I, (4,)),
        ("second_round", _I), ("blind_pass", _I),
        ("correction", _I), ("win_over_exposure", _I), ("last_exposure", _I), ("dead_swap", _I),
        ("dead_hands", _I), ("heard", _I), ("until_passes", _I),
        # players and their minds
        ("params", _F, (4, N_PARAMS)), ("judge", _F, (4, N_JUDGE)),
        ("plan", _I, (4,)), ("mode", _I, (4,)), ("n_list", _I, (8,)),
        ("remembered", _F, (4, N_KINDS)), ("noticed", _I, (4, N_KINDS)),
        # ways to the targets, kept up as tiles come and go
        ("counted", _I, (4, N_KINDS)), ("spread", np.int32, (4, 256)), ("n_fits", _I, (4,)),
        ("witness", _I, (4,)),
        # the decision at hand
        ("legal", np.uint8, (MOST_ACTIONS,)), ("scores", _F, (MOST_ACTIONS,)),
        ("offered", _I), ("just_drawn", _I), ("distance", _I), ("n_near", _I), ("open_score", _F),
        ("fold_score", _F), ("log_prob", _F),
        ("fresh", _F, (N_KINDS,)), ("lives", _F, (N_KINDS,)), ("use", _F, (N_KINDS,)),
        ("wanted", _F, (N_KINDS,)), ("mass", _F, (8,)), ("heat", _F, (N_KINDS,)),
        ("rack", _I, (N_KINDS,)), ("free", _I, (N_KINDS,)), ("rows", _I, (MOST_GROUPS, 3)),
        ("n_rows", _I), ("dear_bare", _F, (N_KINDS, DEAR)), ("dear_open", _F, (N_KINDS, DEAR)),
        ("wet", _I, (N_KINDS,)), ("bound", np.float32, (4, 256)), ("answers", _I, (4,)),
        ("distances", _I, (4,)), ("blind", _I, (4,)), ("given", _I, (4, 4)), ("n_given", _I, (4,)),
        # chances of finishing, see ``kinds.chance``
        ("came", _F, (N_KINDS, MOST_COPIES)),
        ("luck", _F, (N_KINDS, MOST_COPIES)), ("tail", _F, (MOST_COPIES,)), ("room", _F, (ROOM,)),
        ("odds", _F, (MOST_COPIES, MOST_COPIES)),
    ],
    align=True,
)  # fmt: skip

BOOK: Final = np.dtype(
    [
        ("n_rows", _I), ("n_entries", _I), ("n_changes", _I), ("n_draws", _I), ("n_passes", _I),
        ("n_stops", _I), ("n_decisions", _I), ("keep_decisions", _I),
        ("events", np.int16, (MOST_EVENTS, 8)),
        ("rows", np.int32, (MOST_ROWS, 6)),  # at, seat, state, plan, distance, first entry
        ("changes", np.int32, (MOST_ROWS, 5)),  # at, seat, before, after, why
        ("draws", np.int16, (MOST_TILES, 3)),  # at, seat, kind
        ("steps", np.int8, (8,)), ("given", np.int8, (8, 4, 3)), ("n_given", np.int8, (8, 4)),
        ("received", np.int8, (8, 4, 3)), ("n_received", np.int8, (8, 4)),
        ("blind", np.int8, (8, 4)), ("stops", np.int8, (4,)),
        ("decisions", np.int32, (MOST_DECISIONS, 3)),  # seat, decision, action
        ("log_probs", _F, (MOST_DECISIONS,)),
    ],
    align=True,
)  # fmt: skip


class Sheet(NamedTuple):
    """A card as the compiled engine reads it.

    A *slot* of a target is one kind that it wants: so many copies bare, so many open.

    Attributes
    ----------
    kind, size, joker, n_groups
        Groups, as in ``playcard.Targets``.
    concealed
        Whether each target forbids exposures, shape (n_targets,).
    points, log_points
        What each target pays, and the logarithm of it over 30, shape (n_targets,).
    copies
        Copies of each kind in the set, shape (36,).
    n_slots, slot_kind
        Slots of each target and their kinds, shapes (n_targets,) and (n_targets, n_slots).
    slot_need
        Copies that each slot wants bare and open, shape (n_targets, n_slots, 2).
    slot_of
        Slot of each kind in each target, -1 for none, shape (n_targets, 36).
    first_use, use_target, use_slot
        Targets that use kind k, and the slot: entries ``first_use[k]`` to
        ``first_use[k + 1]``.
    base_code, base_spread
        Code of each target with nothing in the rack, and how many have each code.
    most
        Most copies of each kind that a target wants, shape (36,).
    flat_need
        The memory of `slot_need` in one dimension.
    touch_target, touch_bare, touch_total
        As `use_target`, but those that want most copies of the kind first, with how many they
        want bare and in all.
    flowers
        Flowers that each target wants, shape (n_targets,).
    over
        Open copies of each target beyond those that the set has, which only jokers can be.
    hand
        Hand of each target, in ascending order, shape (n_targets,).
    """

    kind: NDArray[np.int8]
    size: NDArray[np.uint8]
    joker: NDArray[np.bool_]
    n_groups: NDArray[np.int64]
    concealed: NDArray[np.bool_]
    points: NDArray[np.float64]
    log_points: NDArray[np.float64]
    copies: NDArray[np.int64]
    n_slots: NDArray[np.int64]
    slot_kind: NDArray[np.int8]
    slot_need: NDArray[np.int8]
    slot_of: NDArray[np.int8]
    first_use: NDArray[np.int64]
    use_target: NDArray[np.int32]
    use_slot: NDArray[np.int8]
    base_code: NDArray[np.uint8]
    base_spread: NDArray[np.int32]
    most: NDArray[np.int64]
    flat_need: NDArray[np.int8]
    touch_target: NDArray[np.int32]
    touch_bare: NDArray[np.int8]
    touch_total: NDArray[np.int8]
    flowers: NDArray[np.float64]
    over: NDArray[np.float64]
    hand: NDArray[np.int32]


class Lists(NamedTuple):
    """Arrays over targets that belong to one table.

    Attributes
    ----------
    target, weight
        Sparse lists of targets with numbers, one row each, shape (N_ROWS, n_targets + 2).
    short
        Tiles short of the targets in row NEAR, shape (n_targets + 2,).
    code
        Missing tiles of each target for each seat, 16 x bare + open, shape (4, n_targets).
    fits
        Whether a seat's exposures allow each target, same shape.
    fitting
        The targets that they allow, in order, same shape; not kept where all fit.
    left
        Copies that each slot wants bare and open beyond the seat's exposures, shape
        (4, n_targets, n_slots, 2).
    spare
        Room for one target's slots, shape (n_slots, 2).
    uniforms
        Numbers in [0, 1), one for each decision.
    entry_target, entry_weight
        Weights of the minds noted down.
    flat_left
        The memory of `left`, one row a seat.
    upper, base_upper
        Most that each target can be worth to a seat, and the part of it that does not go with
        the code, shape (4, n_targets).
    candidate
        Targets that may be near, shape (n_targets + 1,).
    """

    target: NDArray[np.int64]
    weight: NDArray[np.float64]
    short: NDArray[np.int64]
    code: NDArray[np.uint8]
    fits: NDArray[np.bool_]
    fitting: NDArray[np.int32]
    left: NDArray[np.int8]
    spare: NDArray[np.int8]
    uniforms: NDArray[np.float64]
    entry_target: NDArray[np.int32]
    entry_weight: NDArray[np.float32]
    flat_left: NDArray[np.int8]
    upper: NDArray[np.float32]
    base_upper: NDArray[np.float32]
    candidate: NDArray[np.int32]


def sheet_of(card: PlayCard) -> Sheet:
    """Lay a card out for the compiled engine.

    Raises
    ------
    HandreadError
        If the card's tile set or hands are larger than the engine's arrays.
    """
    targets = card.targets
    n, width = targets.kind.shape
    if card.card.rules.n_tiles > MOST_TILES or int(targets.size.sum(axis=1).max(initial=0)) > 15:
        raise HandreadError(
            f"card {card.card.name!r} has {card.card.rules.n_tiles} tiles and hands of "
            f"{int(targets.size.sum(axis=1).max(initial=0))}; accepted: {MOST_TILES} and 15 at most"
        )
    n_slots = np.zeros(n, dtype=np.int64)
    slot_kind = np.full((n, width), -1, dtype=np.int8)
    slot_need = np.zeros((n, width, 2), dtype=np.int8)
    slot_of = np.full((n, N_KINDS), -1, dtype=np.int8)
    every = np.arange(n)
    for j in range(width):
        there = every[j < targets.n]
        kind = targets.kind[there, j].astype(np.int64)
        new = slot_of[there, kind] < 0
        slot_of[there[new], kind[new]] = n_slots[there[new]]
        slot_kind[there[new], n_slots[there[new]]] = kind[new]
        n_slots[there[new]] += 1
        slot = slot_of[there, kind].astype(np.int64)
        slot_need[there, slot, targets.joker[there, j].astype(np.int64)] += targets.size[there, j]
    wanted = slot_need.astype(np.int64).sum(axis=1)
    base = (16 * wanted[:, 0] + wanted[:, 1]).astype(np.uint8)
    use_target, use_kind = np.nonzero(slot_of >= 0)
    order = np.argsort(use_kind, kind="stable")
    counts = np.bincount(use_kind, minlength=N_KINDS)
    return Sheet(
        targets.kind, targets.size, targets.joker, targets.n, targets.concealed, targets.points,
        np.log(targets.points / 30.0), targets.copies, n_slots, slot_kind, slot_need, slot_of,
        np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        use_target[order].astype(np.int32), slot_of[use_target, use_kind][order],
        base, np.bincount(base, minlength=256).astype(np.int32), _most(slot_kind, slot_need),
        slot_need.reshape(-1), *_touched(slot_need, use_target[order], use_kind[order],
        slot_of[use_target, use_kind][order]), *_extremes(targets, slot_kind, slot_need),
        card.card.hand_of,
    )  # fmt: skip


def _most(slot_kind: NDArray[np.int8], slot_need: NDArray[np.int8]) -> NDArray[np.int64]:
    """Most copies of each kind that a target wants."""
    most = np.zeros(N_KINDS, dtype=np.int64)
    there = slot_kind >= 0
    np.maximum.at(most, slot_kind[there].astype(np.int64), slot_need.sum(axis=2)[there])
    return most


def _touched(
    slot_need: NDArray[np.int8], target: NDArray[np.int64], kind: NDArray[np.int64],
    slot: NDArray[np.int8],
) -> tuple[Any, Any, Any]:  # fmt: skip
    """Uses of each kind, those that want most copies first: target, copies bare, copies in all."""
    need = slot_need[target, slot]
    total = need.sum(axis=1, dtype=np.int8)
    order = np.lexsort((-total, kind))
    return target[order].astype(np.int32), need[order, 0].copy(), total[order]


def _extremes(
    targets: Targets, slot_kind: NDArray[np.int8], slot_need: NDArray[np.int8]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Flowers that each target wants, and open copies beyond those in the set."""
    total = slot_need.sum(axis=2, dtype=np.int64)
    there = slot_kind >= 0
    flowers = np.where(there & (slot_kind == FLOWER), total, 0).sum(axis=1)
    beyond = total - targets.copies[slot_kind.astype(np.int64)]
    over = np.where(there & (beyond > 0), np.minimum(beyond, slot_need[:, :, 1]), 0).sum(axis=1)
    return flowers.astype(np.float64), over.astype(np.float64)


def lists_for(sheet: Sheet, *, n_uniforms: int, n_entries: int) -> Lists:
    """Room for one table over a card's targets."""
    n, width = sheet.slot_kind.shape
    left = np.zeros((4, n, width, 2), dtype=np.int8)
    return Lists(
        target=np.zeros((N_ROWS, n + 2), dtype=np.int64),
        weight=np.zeros((N_ROWS, n + 2)),
        short=np.zeros(n + 2, dtype=np.int64),
        code=np.zeros((4, n), dtype=np.uint8),
        fits=np.zeros((4, n), dtype=np.bool_),
        fitting=np.zeros((4, n), dtype=np.int32),
        left=left,
        spare=np.zeros((width, 2), dtype=np.int8),
        uniforms=np.zeros(n_uniforms),
        entry_target=np.zeros(n_entries, dtype=np.int32),
        entry_weight=np.zeros(n_entries, dtype=np.float32),
        flat_left=left.reshape(4, -1),
        upper=np.zeros((4, n), dtype=np.float32),
        base_upper=np.zeros((4, n), dtype=np.float32),
        candidate=np.zeros(n + 1, dtype=np.int32),
    )
