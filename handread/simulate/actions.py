"""Decisions of a player and the numbering of its actions; the order is fixed and never changes.

Every decision has a fixed list of actions, written as ints from 0. What is not possible at the
moment is barred by the mask ``View.legal``; what is possible but against the rules (a group
that fits no hand, a win that is none) is not barred: people err.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from handread.errors import HandreadError, closest
from handread.table.events import SEATS
from handread.tiles import KINDS, N_KINDS

#: Largest group that can be shown.
LARGEST: Final = 6
N_CLAIMS: Final = 2 + LARGEST * LARGEST
N_REDEEMS: Final = 1 + 4 * N_KINDS

NO: Final = 0
WIN: Final = 1

#: Where in the rack a throw may come from, by action of "place".
PLACES: Final = ("end", "middle")
#: Seconds that a seat may think before a throw, by action of "pause".
PAUSES: Final = (0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 13.0, 21.0)

#: Decision -> number of actions; None where it depends on the card ("plan": one action a
#: target, then OPEN, then FOLD).
DECISIONS: Final[dict[str, int | None]] = {
    "plan": None,  # what to build from now on: a target, nothing in particular, nothing at all
    "pass": N_KINDS,  # one tile of a pass
    "blind": 4,  # how many received tiles to send on unseen
    "stop": 2,  # whether to stop the second round of passes
    "courtesy": 4,  # how many tiles to offer in the courtesy
    "win": 2,  # whether to say that the hand is complete
    "early": N_REDEEMS,  # a redeem before drawing, which the rules forbid
    "redeem": N_REDEEMS,  # a redeem, or none (any more)
    "throw": N_KINDS,  # which kind to throw
    "claim": N_CLAIMS,  # what to do with another seat's throw
    "mend": N_CLAIMS,  # whether to correct the group just shown
    "call": 5,  # which seat to call dead, or none
    "place": len(PLACES),  # where in the rack the tile thrown comes from
    "pause": len(PAUSES),  # how long to think before the throw
}


@dataclass(frozen=True)
class Group:
    """A group to show with a claimed tile: its size, and how many of its tiles are jokers."""

    size: int
    jokers: int


def claim_action(size: int, jokers: int) -> int:
    """Action that shows a group of `size` with `jokers` jokers.

    Examples
    --------
    >>> claim_action(3, 0), group_of(claim_action(4, 2))
    (14, Group(size=4, jokers=2))
    """
    return 2 + (size - 1) * LARGEST + jokers


def group_of(action: int) -> Group:
    """Group that a claim or mend action shows; the inverse of ``claim_action``.

    Raises
    ------
    HandreadError
        If the action shows none.
    """
    if not 2 <= action < N_CLAIMS:
        raise HandreadError(f"action {action!r} shows no group; accepted: 2 to {N_CLAIMS - 1}")
    size, jokers = divmod(action - 2, LARGEST)
    return Group(size + 1, jokers)


def redeem_action(owner: int, kind: int) -> int:
    """Action that gives `kind` for a joker in an exposure of seat `owner`.

    >>> redeem_of(redeem_action(2, 4))
    (2, 4)
    """
    return 1 + owner * N_KINDS + kind


def redeem_of(action: int) -> tuple[int, int]:
    """Owner and kind of a redeem action; the inverse of ``redeem_action``."""
    if not 1 <= action < N_REDEEMS:
        raise HandreadError(f"action {action!r} is no redeem; accepted: 1 to {N_REDEEMS - 1}")
    return divmod(action - 1, N_KINDS)


def n_actions(decision: str, n_targets: int) -> int:
    """Length of a decision's list of actions.

    >>> n_actions("throw", 500), n_actions("plan", 500)
    (36, 502)
    """
    if decision not in DECISIONS:
        raise HandreadError(f"no decision {decision!r}; {closest(decision, DECISIONS)}")
    number = DECISIONS[decision]
    return n_targets + 2 if number is None else number


def action_words(decision: str, action: int) -> str:
    """Say an action in words.

    >>> action_words("throw", 4), action_words("claim", claim_action(4, 1))
    ('5 bam', 'show 4 with 1 jokers')
    """
    if decision in ("pass", "throw"):
        return KINDS[action]
    if decision in ("blind", "courtesy"):
        return f"{action} tiles"
    if decision == "place":
        return f"from the {PLACES[action]}"
    if decision == "pause":
        return f"after {PAUSES[action]:g} seconds"
    if action == NO:
        return "no" if decision != "plan" else "target 0"
    if decision in ("redeem", "early"):
        owner, kind = redeem_of(action)
        return f"give {KINDS[kind]} for a joker of {SEATS[owner]}"
    if decision == "call":
        return f"call {SEATS[action - 1]} dead"
    if decision in ("claim", "mend") and action > WIN:
        group = group_of(action)
        return f"show {group.size} with {group.jokers} jokers"
    return f"target {action}" if decision == "plan" else "yes"
