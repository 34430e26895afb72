"""Evidence in words: one sentence for what moved, one for the chief reason."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues import claims, elsewhere, hazard, passes, redeems, wins
from handread.reading.attribution import Part
from handread.reading.evidence import Evidence, SeatEvidence
from handread.reading.model import Model
from handread.reading.needs import SIZE_WORDS
from handread.table.events import SEATS, Correct, Discard, Expose, Redeem, Win
from handread.tiles import format_kind

if TYPE_CHECKING:
    from handread.reading.ledger import Entry

Array = NDArray[np.float64]

_FORMS: Final[dict[str, tuple[str, str]]] = {
    "exposure": ("{family} has this group open", "no hand of {family} has this group open"),
    "claims": claims.SENTENCES,
    "refusals": claims.REFUSALS,
    "wins": wins.SENTENCES,
    "redeems": redeems.SENTENCES,
    "quiet turn": ("{seat} drew on without a win", "{seat} drew on without a win"),
    "change of plan": hazard.SENTENCES,
    "passes": passes.SENTENCES,
    "own rack": ("you hold little that {family} needs", "you hold what {family} needs"),
    "elsewhere": elsewhere.SENTENCES,
    "correction": ("the first group was taken back", "the first group was taken back"),
}
_AGAINST: Final[dict[str, str]] = {
    "exposure": "only a group that is taken back or corrected",
    "claims": "{seat} throwing {tile} later",
    "refusals": "{seat} taking {tile} the next time",
    "wins": "the tiles shown",
    "redeems": "{seat} taking {tile} later",
    "quiet turn": "a win",
    "change of plan": "{seat} showing a group of the old plan",
    "passes": "early claims of single tiles",
    "own rack": "nothing",
    "elsewhere": "nothing",
    "correction": "nothing",
}
_DRIFT: Final = ("change of plan", "quiet turn")
_NO_PLAN: Final = {
    "undecided": "a seat without a plan",
    "defending": "a seat that only defends",
    "other": "a plan off the card",
}


def subject(evidence: Evidence, seat: SeatEvidence) -> str:
    """What was seen, for example ``"West throws 5 bam"``."""
    event, name = evidence.event, SEATS[seat.seat]
    what = {observed.what: observed.kind for observed in seat.observed}
    if "throw" in what and isinstance(event, Discard):
        return f"{name} throws {format_kind(event.kind)}"
    if "expose" in what and isinstance(event, Expose | Correct):
        kind = seat.after.exposures[-1].kind if seat.after.exposures else what["expose"]
        tile = format_kind(int(kind)) if kind is not None else "a group"
        jokers = f" with {event.jokers} joker{'s' if event.jokers > 1 else ''}"
        group = f"{SIZE_WORDS.get(event.size, event.size)} of {tile}"
        return f"{name} shows a {group}{jokers if event.jokers else ''}"
    if "redeem" in what and isinstance(event, Redeem):
        return f"{name} redeems a joker with {format_kind(event.kind)}"
    if "win" in what and isinstance(event, Win):
        return f"{name} wins"
    if "pass" in what or "received" in what:
        return f"{name} in the passes"
    if "own rack" in what:
        return "your own rack"
    if "exposure" in what:
        return f"{name} has shown a group"
    elsewhere = what.pop("elsewhere", None)
    if elsewhere is None:
        return _lets_pass(name, what)
    found = f"{format_kind(int(elsewhere))} turns up elsewhere"
    return f"{_lets_pass(name, what)}; {found}" if what else found


def _lets_pass(name: str, what: dict[str, int | None]) -> str:
    """What a seat does about a tile that it does not take."""
    kind = next(iter(what.values()))
    if "voice" in what and kind is not None:
        return f"{name} speaks up for {format_kind(kind)} and takes nothing"
    if "refuse" in what and kind is not None:
        return f"{name} lets {format_kind(kind)} pass"
    if "no win" in what and kind is not None:
        return f"{name} does not win on {format_kind(kind)}"
    return f"{name} has turns that nobody wrote down"


def moved(model: Model, before: Array, after: Array, most: int = 2) -> str:
    """Which rows moved most, for example ``"ladders 41 % to 18 %, courts 12 % to 30 %"``."""
    old, new = model.by_family(before), model.by_family(after)
    order = np.argsort(-np.abs(new - old), kind="stable")[:most]
    names = model.row_names
    return ", ".join(f"{names[i]} {percent(old[i])} to {percent(new[i])}" for i in order)


def percent(prob: float) -> str:
    """Probability in per cent, with enough digits at the ends.

    >>> percent(0.4149), percent(0.004), percent(0.0)
    ('41 %', '0.4 %', '0 %')
    """
    if prob == 0 or 0.095 <= prob < 0.9995:
        return f"{100 * prob:.0f} %"
    return "under 0.1 %" if prob < 0.0005 else f"{100 * prob:.{0 if prob >= 0.9995 else 1}f} %"


def chief(entry: Entry) -> tuple[Part, int]:
    """Find the row that moved most, drift apart, and the source that moved it.

    Where exposures exclude, the row is the likeliest family that they excluded.
    """
    model = entry.model
    before, after = model.by_family(entry.drifted), model.by_family(entry.seat.after.probs)
    parts = [part for part in entry.parts if part.source not in _DRIFT] or list(entry.parts)
    for part in parts:
        gone = part.excluded() & (before > 0)
        if part.source == "exposure" and gone.any():
            return part, int(np.argmax(np.where(gone, before, -1.0)))
    row = int(np.argmax(np.abs(after - before)))
    with_sign = np.sign(after[row] - before[row])
    size = [float(np.nan_to_num(part.bits[row], neginf=-99.0)) * with_sign for part in parts]
    return parts[int(np.argmax(size))], row


def _kinds(seat: SeatEvidence, source: str = "") -> list[int]:
    """Tiles that were heard of; with a source, those that it speaks of."""
    return [
        one.kind
        for one in seat.observed
        if one.kind is not None
        and (not source or (one.what == "elsewhere") == (source == "elsewhere"))
    ]


def sentence(entry: Entry) -> str:
    """Tell one event: what was seen, what moved, the chief reason and its standing."""
    model = entry.model
    part, row = chief(entry)
    forms = _FORMS | {clue.name: (clue.fits, clue.fits_not) for clue in model.clues}
    kinds = _kinds(entry.seat, part.source) or _kinds(entry.seat)
    tile = format_kind(kinds[-1]) if kinds else "the tile"
    name = model.row_names[row]
    family = name if row < len(model.card.families) else _NO_PLAN[name]
    form = forms[part.source][int(part.bits[row] < 0)]
    reason = form.format(seat=SEATS[entry.seat.seat], tile=tile, family=family)
    against = _AGAINST | {clue.name: clue.against for clue in model.clues}
    against_it = against[part.source].format(seat=SEATS[entry.seat.seat], tile=tile, family=family)
    standing = "fitted" if model.weights.measured else "rule of thumb, not measured"
    standing = "exact" if part.source == "exposure" else standing
    return (
        f"{entry.seen} ({entry.told:.2f} bits): "
        f"{moved(model, entry.drifted, entry.seat.after.probs)}. "
        f"Chiefly {part.source.replace('_', ' ')}: {reason} ({standing}). "
        f"Against it would speak {against_it}."
    )
