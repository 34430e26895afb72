"""Claims for an exposure, their correction, and jokers redeemed."""

from __future__ import annotations

from handread.card.compiled import CompiledCard
from handread.table.events import SEATS, Correct, Expose, Redeem, Voiced
from handread.table.rules.fit import fitting_targets
from handread.table.rules.reason import (
    Reason,
    add_seen,
    impossible,
    irregular,
    last_throw,
    needs_draw,
    none_left,
    turn_words,
    unseen_copies,
)
from handread.table.rules.throws import check_draw, draw
from handread.table.state import Exposure, TableState, put
from handread.tiles import JOKER, KINDS
from handread.values import evolve


def check_window(state: TableState, seat: int, does: str) -> list[Reason]:
    """Reasons against a claim of the last throw by `seat`."""
    if state.window is None:
        if state.floor and state.floor[-1].kind == JOKER:
            return [impossible(f"{SEATS[seat]} cannot {does}: a thrown joker cannot be claimed")]
        missed = "write 'missed' first if a throw was missed"
        if not state.certain:
            missed = "name the tile ('of 5 bam') of a group whose throw was missed"
        return [impossible(f"{SEATS[seat]} has nothing to {does}: {last_throw(state)}; {missed}")]
    if state.floor[-1].seat == seat:
        words = f"{SEATS[seat]} takes back its own throw; likely another seat"
        return [irregular(words)]
    if not state.live[seat]:
        return [irregular(f"{SEATS[seat]} is dead and may not claim")]
    return []


def check_voiced(state: TableState, event: Voiced) -> list[Reason]:
    """Reasons against a claim said aloud that came to nothing."""
    if not state.floor and state.certain:
        return [impossible(f"{SEATS[event.seat]} has nothing to claim: {last_throw(state)}")]
    if not state.live[event.seat]:
        return [irregular(f"{SEATS[event.seat]} is dead and may not claim")]
    if not state.floor:
        return []
    if state.floor[-1].kind == JOKER:
        return [irregular("a thrown joker cannot be claimed")]
    if state.floor[-1].seat == event.seat:
        return [irregular(f"{SEATS[event.seat]} claims its own throw; likely another seat")]
    if state.window is None and not state.shown and state.certain:
        return [irregular(f"{SEATS[event.seat]} claims too late: {turn_words(state)}")]
    return []


def advance_voiced(state: TableState, event: Voiced) -> TableState:
    """State after a claim that came to nothing: as before."""
    return state


def taken_kind(state: TableState, event: Expose) -> int | None:
    """Kind of the group, None for one whose throw is not on record."""
    last = state.floor[-1].kind if state.window is not None else None
    return last if event.kind is None or event.kind == last else None


def check_expose(state: TableState, event: Expose, card: CompiledCard | None) -> list[Reason]:
    """Reasons against a claim with an exposure."""
    kind = taken_kind(state, event)
    if kind is None and event.kind is not None:
        if state.certain:
            words = f"{SEATS[event.seat]} cannot show {KINDS[event.kind]}: {last_throw(state)}"
            return [impossible(f"{words}; write 'missed' first if a throw was missed")]
        reasons = [] if state.live[event.seat] else [irregular(f"{SEATS[event.seat]} is dead")]
        shown, natural, room = event.kind, event.size - event.jokers, event.size
    else:
        reasons = check_window(state, event.seat, "take")
        if kind is None or any(reason.kind == "impossible" for reason in reasons):
            return reasons
        shown, natural, room = kind, event.size - 1 - event.jokers, event.size - 1
        if state.wall <= 0 and state.certain and "last exposure" not in state.switches:
            words = "the last throw of the wall is taken for an exposure"
            reasons.append(irregular(f"{words}; accepted: a win, or a wall game"))
    group = Exposure(shown, event.size, event.jokers)
    return reasons + _check_group(state, event.seat, group, natural, room, card)


def _check_group(
    state: TableState, seat: int, group: Exposure, natural: int, room: int,
    card: CompiledCard | None,
) -> list[Reason]:  # fmt: skip
    """Reasons against a group: `natural` more copies, `room` more tiles from the rack."""
    reasons = []
    if group.size < 1 or not 0 <= group.jokers < group.size:
        words = f"a group of {group.size} with {group.jokers} jokers"
        return [impossible(f"{words}: at least the tile taken is no joker")]
    if natural > unseen_copies(state, group.kind):
        fewest = group.jokers + natural - unseen_copies(state, group.kind)
        least = f"a {group.size} of them now needs {fewest} jokers or more"
        reasons.append(none_left(state, group.kind, natural))
        reasons.append(impossible(f"{least}, not {group.jokers}"))
    if group.jokers > unseen_copies(state, JOKER) + state.jokers_held[seat]:
        reasons.append(none_left(state, JOKER, group.jokers))
    if room >= state.concealed[seat]:
        held = f"{SEATS[seat]} holds {state.concealed[seat]} concealed tiles"
        reasons.append(impossible(f"{held}: too few to show {group.size} and throw one"))
    if group.size not in state.rules.claimable:
        sizes = ", ".join(str(size) for size in state.rules.claimable)
        reasons.append(irregular(f"a group of {group.size} may not be claimed; accepted: {sizes}"))
    if card is not None and not fitting_targets(card, (*state.exposures[seat], group)).any():
        words = f"{SEATS[seat]}'s exposures with {group.size} of {KINDS[group.kind]}"
        fits = f"fit no hand of the card {card.name!r}"
        reasons.append(irregular(f"{words} {fits}; ground for a dead hand"))
    return reasons


def _use_jokers(state: TableState, seat: int, used: int) -> tuple[int, ...]:
    """Jokers known to be in each rack after `seat` has shown or thrown `used` of its own."""
    held = state.jokers_held
    return put(held, seat, max(held[seat] - used, 0)) if used and held[seat] else held


def advance_expose(state: TableState, event: Expose) -> TableState:
    """State after a claim with an exposure: the claimer holds 14 and throws."""
    seat, kind = event.seat, taken_kind(state, event)
    changes: dict[str, object] = {}
    if kind is None:  # a group that lay there before anybody wrote
        kind = event.kind or 0
        natural, room = event.size - event.jokers, event.size
    else:
        natural, room = event.size - 1 - event.jokers, event.size - 1
        taken = evolve_throw(state, seat)
        changes = {"floor": taken, "holder": seat, "turn": seat, "window": None, "shown": True}
    group = Exposure(kind, event.size, event.jokers)
    return evolve(
        state,
        exposures=put(state.exposures, seat, (*state.exposures[seat], group)),
        seen=add_seen(state, (kind, natural), (JOKER, event.jokers)),
        concealed=put(state.concealed, seat, state.concealed[seat] - room),
        jokers_held=_use_jokers(state, seat, event.jokers),
        **changes,
    )


def evolve_throw(state: TableState, seat: int) -> tuple[object, ...]:
    """Floor with the last throw taken by `seat`."""
    last = state.floor[-1]
    return (*state.floor[:-1], type(last)(last.seat, last.kind, seat))


def check_correct(state: TableState, event: Correct, card: CompiledCard | None) -> list[Reason]:
    """Reasons against mending the size of a group just shown."""
    seat = event.seat
    if not state.exposures[seat]:
        return [impossible(f"{SEATS[seat]} shows no group that could be mended")]
    reasons = []
    if not (state.shown and state.holder == seat):
        words = f"{SEATS[seat]}'s group is fixed: it has thrown or redeemed since it was shown"
        reasons.append(irregular(words))
    elif "correction" not in state.switches:
        reasons.append(irregular("this table does not let a shown group be mended"))
    before, rest = _without_last(state, seat)
    natural = max(event.size - event.jokers - 1, 0)
    group = Exposure(before.kind, event.size, event.jokers)
    return reasons + _check_group(rest, seat, group, natural, event.size - 1, card)


def _without_last(state: TableState, seat: int) -> tuple[Exposure, TableState]:
    """Last group of a seat, and the state in which all of it but the tile taken is racked."""
    group = state.exposures[seat][-1]
    rest = evolve(
        state,
        exposures=put(state.exposures, seat, state.exposures[seat][:-1]),
        seen=add_seen(state, (group.kind, 1 + group.jokers - group.size), (JOKER, -group.jokers)),
        concealed=put(state.concealed, seat, state.concealed[seat] + group.size - 1),
        jokers_held=put(state.jokers_held, seat, state.jokers_held[seat] + group.jokers),
    )
    return group, rest


def advance_correct(state: TableState, event: Correct) -> TableState:
    """State after the size of a group was mended."""
    seat = event.seat
    before, rest = _without_last(state, seat)
    group = Exposure(before.kind, event.size, event.jokers)
    natural = event.size - 1 - event.jokers
    return evolve(
        rest,
        exposures=put(rest.exposures, seat, (*rest.exposures[seat], group)),
        seen=add_seen(rest, (group.kind, natural), (JOKER, event.jokers)),
        concealed=put(rest.concealed, seat, rest.concealed[seat] - event.size + 1),
        jokers_held=_use_jokers(rest, seat, event.jokers),
    )


def check_redeem(state: TableState, event: Redeem) -> list[Reason]:
    """Reasons against a natural given for an exposed joker."""
    seat, owner, kind = event.seat, event.owner, event.kind
    reasons = _check_joker_there(state, owner, kind)
    if unseen_copies(state, kind) < 1:
        reasons.append(none_left(state, kind))
    if not state.live[seat]:
        reasons.append(irregular(f"{SEATS[seat]} is dead and may not redeem"))
    elif event.early:
        words = f"{SEATS[seat]} redeems before drawing; ground for a dead hand"
        reasons.append(irregular(words))
    elif state.turn not in (None, seat):
        words = f"{SEATS[seat]} redeems out of turn, before drawing"
        ground = "ground for a dead hand"
        reasons.append(irregular(f"{words}, {ground}: {turn_words(state)}"))
    elif state.holder != seat and needs_draw(state, seat):
        reasons += check_draw(state, seat)
    if not state.live[owner] and "dead swap" not in state.switches:
        reasons.append(irregular(f"{SEATS[owner]} is dead: its jokers are out of play here"))
    return reasons


def _check_joker_there(state: TableState, owner: int, kind: int) -> list[Reason]:
    if kind == JOKER:
        return [impossible("a joker is redeemed with the natural tile that it stands for")]
    if any(group.kind == kind and group.jokers for group in state.exposures[owner]):
        return []
    shown = ", ".join(
        f"{group.size} of {KINDS[group.kind]} with {group.jokers} jokers"
        for group in state.exposures[owner]
    )
    words = f"no joker stands for {KINDS[kind]} in {SEATS[owner]}'s exposures"
    return [impossible(f"{words}; there lie: {shown or 'none'}")]


def redeem_draws(state: TableState, event: Redeem) -> bool:
    """Whether a redeem implies that its seat has drawn."""
    in_turn = state.turn in (None, event.seat) and state.live[event.seat]
    return in_turn and not event.early and needs_draw(state, event.seat)


def advance_redeem(state: TableState, event: Redeem) -> TableState:
    """State after a natural was given for a joker, with the draw that it implies."""
    if redeem_draws(state, event):
        state = draw(state, event.seat)
    groups = list(state.exposures[event.owner])
    at = next(i for i, each in enumerate(groups) if each.kind == event.kind and each.jokers)
    groups[at] = Exposure(event.kind, groups[at].size, groups[at].jokers - 1)
    held = state.jokers_held
    return evolve(
        state,
        exposures=put(state.exposures, event.owner, tuple(groups)),
        seen=add_seen(state, (event.kind, 1), (JOKER, -1)),
        jokers_held=put(held, event.seat, held[event.seat] + 1),
        shown=False,
    )
