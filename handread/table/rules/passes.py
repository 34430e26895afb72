"""The passes before play: order of the steps, who may stop, what may be passed."""

from __future__ import annotations

from handread.table.events import PASS_STEPS, SEATS, Passed, Stopped
from handread.table.rules.reason import Reason, impossible, irregular
from handread.table.state import TableState
from handread.tiles import JOKER
from handread.values import evolve

_FOLLOWS = {
    None: ("right",),
    "right": ("across",),
    "across": ("left",),
    "left": ("second left", "courtesy"),
    "second left": ("second across",),
    "second across": ("last right",),
    "last right": ("courtesy",),
    "courtesy": (),
}


def played(state: TableState) -> bool:
    """Whether play has begun: anything thrown, shown or drawn, or joined in the middle."""
    return bool(state.floor) or any(state.exposures) or any(state.draws) or not state.certain


def check_passed(state: TableState, event: Passed) -> list[Reason]:
    """Reasons against a step of the passes."""
    if event.step not in PASS_STEPS:
        return [impossible(f"no step {event.step!r}; accepted: {', '.join(PASS_STEPS)}")]
    if played(state):
        return [impossible(f"the passes are over, play has begun; {event.step!r} comes before it")]
    reasons = [*_order(state, event.step), *_numbers(event)]
    if not all(state.seated):
        reasons.append(irregular("there are no passes unless four seats play"))
    if event.given is not None and JOKER in event.given:
        reasons.append(irregular("a joker may not be passed"))
    return reasons


def _order(state: TableState, step: str) -> list[Reason]:
    follows = _FOLLOWS[state.passed[-1] if state.passed else None]
    second = step in PASS_STEPS[3:6]
    if second and (state.stopped or "second round" not in state.switches):
        return [irregular(f"step {step!r} after the second round was stopped; accepted: courtesy")]
    if step in follows:
        return []
    after = f"after {state.passed[-1]!r}" if state.passed else "first"
    accepted = ", ".join(follows) or "none, the passes are over"
    return [irregular(f"step {step!r} cannot come {after}; accepted: {accepted}")]


def _numbers(event: Passed) -> list[Reason]:
    reasons = []
    for name, numbers in (("blind", event.blind), ("counts", event.counts)):
        if numbers is not None and (len(numbers) != 4 or not all(0 <= n <= 3 for n in numbers)):
            reasons.append(impossible(f"{name} {numbers!r}: four numbers, 0 to 3, East first"))
    for name, tiles in (("given", event.given), ("received", event.received)):
        if tiles is not None and len(tiles) > 3:
            reasons.append(impossible(f"{name} {len(tiles)} tiles: at most 3 go in a step"))
    if reasons:
        return reasons
    if event.counts is not None:
        if event.step != "courtesy":
            reasons.append(irregular(f"counts at step {event.step!r}: only the courtesy has them"))
        elif event.counts[:2] != event.counts[2:]:
            reasons.append(irregular("facing seats give the same number in the courtesy"))
    return reasons


def check_blind(state: TableState, event: Passed) -> list[Reason]:
    """Reasons against tiles sent on unseen."""
    if event.blind is None or not any(event.blind):
        return []
    if event.step not in ("left", "last right"):
        return [irregular(f"blind at step {event.step!r}: only left and last right allow it")]
    if "blind pass" not in state.switches:
        return [irregular("this table does not allow blind passes")]
    return []


def advance_passed(state: TableState, event: Passed) -> TableState:
    """State after a step of the passes."""
    return evolve(state, passed=(*state.passed, event.step))


def check_stopped(state: TableState, event: Stopped) -> list[Reason]:
    """Reasons against stopping the second round."""
    who = "nobody" if event.seat is None else SEATS[event.seat]
    if played(state):
        return [impossible(f"{who} cannot stop the passes: play has begun")]
    if state.stopped or (state.passed and state.passed[-1] != "left"):
        at = "again" if state.stopped else f"after {state.passed[-1]!r}"
        return [irregular(f"the second round is stopped {at}; accepted: once, after 'left'")]
    return []


def advance_stopped(state: TableState, event: Stopped) -> TableState:
    """State after the second round was stopped."""
    return evolve(state, stopped=True)
