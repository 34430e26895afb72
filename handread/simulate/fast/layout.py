"""Arrays of the compiled engine: the card, one table in play, lists over targets, the book.

What has a fixed size lies in two records, ``TABLE`` and ``BOOK``, which compiled functions take
by reference; what grows with the card lies in ``Lists`` and ``Sheet``.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from handread.simulate.actions import DECISIONS, N_CLAIMS, N_REDEEMS, PAUSES, PLACES
from handread.simulate.kinds.chance import MOST_COPIES, ROOM
from handread.tiles import N_KINDS

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

#: Row of ``Lists.left`` for all seats that have shown nothing.
UNTOUCHED: Final = word(4)
#: Code beyond the last target: farther than any.
PADDING: Final = 0xF0

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
        ("at", _I, (64,)), ("book_at", _I), ("decide_at", _I), ("policy_at", _I, (4,)),
        ("n_targets", _I), ("n_padded", _I), ("width", _I), ("n_uses", _I), ("n_steps", _I),
        ("n_tiers", _I), ("n_hands", _I), ("n_wants", _I), ("n_words", _I), ("n_listed", _I),
        ("n_uniforms", _I), ("n_entries", _I),
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
        ("counted", _I, (4, N_KINDS)), ("n_fits", _I, (4,)), ("whole", _I, (4,)),
        ("at_least", _I, (4,)), ("at_most", _I, (4,)), ("witness", _I, (4,)),
        ("bound", np.float32, (4, 256)), ("highest", _F, (4,)), ("steep", _F, (4, 3)),
        # the decision at hand
        ("legal", np.uint8, (MOST_ACTIONS,)), ("scores", _F, (MOST_ACTIONS,)),
        ("share", _F, (MOST_ACTIONS,)),
        ("offered", _I), ("just_drawn", _I), ("distance", _I), ("n_near", _I), ("open_score", _F),
        ("fold_score", _F), ("log_prob", _F),
        ("fresh", _F, (N_KINDS,)), ("lives", _F, (N_KINDS,)), ("use", _F, (N_KINDS,)),
        ("wanted", _F, (N_KINDS,)), ("mass", _F, (8,)), ("heat", _F, (N_KINDS,)),
        ("rack", _I, (N_KINDS,)), ("free", _I, (N_KINDS,)), ("rows", _I, (MOST_GROUPS, 3)),
        ("n_rows", _I), ("dear_bare", _F, (N_KINDS, DEAR)), ("dear_open", _F, (N_KINDS, DEAR)),
        ("wet", _I, (N_KINDS,)), ("answers", _I, (4,)),
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
    first_use, use_target
        Targets that use kind k: entries ``first_use[k]`` to ``first_use[k + 1]``.
    base_code
        Code of each target with nothing in the rack, shape (n_padded,): as many bytes as make
        whole words of eight, with PADDING beyond the targets.
    most
        Most copies of each kind that a target wants, shape (36,).
    touch_target, touch_bare, touch_total
        As `use_target`, but those that want most copies of the kind first, with how many they
        want bare and in all.
    hand
        Hand of each target, in ascending order, shape (n_targets,).
    first_step, steps
        What the (m + 1)th copy of kind k takes off the code of each target, in row
        ``first_step[k] + m``, shape (n_steps, n_padded).
    tier
        Targets whose best worth is the same apart from what they lack: the tier of each, shape
        (n_targets,).
    tier_points, tier_flowers, tier_over
        Of each tier, the logarithm of what it pays, as `log_points`; flowers wanted; open copies
        beyond those that the set has, which only jokers can be. Shape (n_tiers,).
    want
        What each slot wants of which kind, as one number, shape (n_targets, n_slots); 0 where
        there is no slot.
    want_kind, want_bare, want_all
        By that number: the kind, copies bare, and copies in all, shape (n_wants,).
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
    base_code: NDArray[np.uint8]
    most: NDArray[np.int64]
    touch_target: NDArray[np.int32]
    touch_bare: NDArray[np.int8]
    touch_total: NDArray[np.int8]
    hand: NDArray[np.int32]
    first_step: NDArray[np.int64]
    steps: NDArray[np.uint8]
    tier: NDArray[np.int32]
    tier_points: NDArray[np.float64]
    tier_flowers: NDArray[np.float64]
    tier_over: NDArray[np.float64]
    want: NDArray[np.int16]
    want_kind: NDArray[np.int64]
    want_bare: NDArray[np.int64]
    want_all: NDArray[np.int64]


class Lists(NamedTuple):
    """Arrays over targets that belong to one table.

    Attributes
    ----------
    target, weight
        Sparse lists of targets with numbers, one row each, shape (N_ROWS, n_targets + 2).
    short
        Tiles short of the targets in row NEAR, shape (n_targets + 2,).
    code
        Missing tiles of each target for each seat, 16 x bare + open, shape (4, n_padded); of no
        meaning where a seat's exposures do not fit.
    words
        The memory of `code`, eight targets a word.
    fits
        Whether a seat's exposures allow each target, same shape.
    fitting
        The targets that they allow, in order, same shape; not kept where all fit.
    left
        Copies that each slot wants bare and open beyond the seat's exposures, shape
        (5, n_targets, n_slots, 2); a seat that has none reads row UNTOUCHED, in place of its own.
    spare
        Room for one target's slots, shape (n_slots, 2).
    uniforms
        Numbers in [0, 1), one for each decision.
    entry_target, entry_weight
        Weights of the minds noted down.
    tier
        Most that the targets of each tier can be worth to a seat, but for what goes with the
        code, shape (4, n_tiers).
    candidate
        Targets that may be near, shape (n_targets + 2,).
    known
        Hands that a seat knows, where it does not know them all, shape (4, n_hands).
    extra, extra_words
        What each target is worth less than the best at no tile missing, in parts as of
        ``TABLE.steep``, shape (5, n_padded), row UNTOUCHED being 0 throughout; and the memory of
        it, eight targets a word.
    tier_extra
        The same by tier, shape (4, n_tiers).
    hits
        Marks of targets, eight a word, shape (n_words,).
    tally, cost
        What a seat lacks of each want, and the costs of what it lacks bare and open, shapes
        (n_wants,) and (n_wants, 2).
    """

    target: NDArray[np.int64]
    weight: NDArray[np.float64]
    short: NDArray[np.int64]
    code: NDArray[np.uint8]
    words: NDArray[np.uint64]
    fits: NDArray[np.bool_]
    fitting: NDArray[np.int32]
    left: NDArray[np.int8]
    spare: NDArray[np.int8]
    uniforms: NDArray[np.float64]
    entry_target: NDArray[np.int32]
    entry_weight: NDArray[np.float32]
    tier: NDArray[np.float64]
    candidate: NDArray[np.int32]
    known: NDArray[np.bool_]
    extra: NDArray[np.uint8]
    extra_words: NDArray[np.uint64]
    tier_extra: NDArray[np.int64]
    hits: NDArray[np.uint64]
    tally: NDArray[np.int64]
    cost: NDArray[np.float64]
