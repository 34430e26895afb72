"""The most telling moments: where a rival knew most that a reader did not, game by game."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.card import load_card
from handread.card.compiled import CompiledCard
from handread.card.examples import target_words
from handread.errors import HandreadError
from handread.simulate import SimulatedGame
from handread.study.against.public import SeatRecord, seat_record
from handread.study.against.shortfalls import both_moments
from handread.study.moments import Moments
from handread.study.running.bench import play_seed
from handread.study.running.extra import gain_of
from handread.study.running.results import StudyResult
from handread.study.truth import truth_rows
from handread.table.events import SEATS
from handread.table.play import apply, start
from handread.table.state import TableState

if TYPE_CHECKING:
    import pandas as pd

#: Columns of the frame of telling moments beyond those of ``SeatRecord``.
TELLING_COLUMNS: Final[dict[str, str]] = {
    "bits": "log score of the rival less the reader's, bits",
    "game": "game of the study",
    "seed": "seed from which it is played again",
    "seat": "seat that is read",
    "event": "public events on record by then",
    "own_turn": "own turns of the seat so far",
    "exposures": "groups that it shows",
    "kind": "kind of player at the seat",
    "state": "what the seat was about",
    "truth": "true row, or rows with their weights",
    "plan": "hand and groups that the seat was committed to, empty for none",
    "distance": "tiles short of it, or of the nearest target without a plan",
    "changed": "the last change of its plan: own turns ago, and why; empty for none",
    "reader_prob": "probability that the reader gave to the truth",
    "rival_prob": "probability that the rival gave to the truth",
    "reader_first": "row that the reader named first",
    "reader_first_prob": "and its probability",
    "rival_first": "row that the rival named first",
    "rival_first_prob": "and its probability",
}


@dataclass(frozen=True)
class TellingMoment:
    """A moment at which the rival gave the truth far more than the reader did.

    Attributes
    ----------
    bits
        Log score of the rival less the reader's.
    game, seed
        Game of the study, and the seed from which ``play_seed`` plays it again.
    seat, event, own_turn, exposures
        Seat that is read, public events on record, own turns and groups of the seat so far.
    kind, state
        Kind of player at the seat, and what it was about.
    truth
        True row; rows with their weights where there are several.
    plan, distance
        Hand and groups that the seat was committed to, empty for none; tiles short of it.
    changed
        Last change of the seat's plan: own turns ago, and why; empty for none.
    reader_prob, rival_prob
        Probability that each gave to the truth, mean over rows by weight.
    reader_first, reader_first_prob, rival_first, rival_first_prob
        The row that each named first, and its probability.
    record
        What the table had seen of the seat.
    """

    bits: float
    game: int
    seed: int
    seat: str
    event: int
    own_turn: int
    exposures: int
    kind: str
    state: str
    truth: str
    plan: str
    distance: int
    changed: str
    reader_prob: float
    rival_prob: float
    reader_first: str
    reader_first_prob: float
    rival_first: str
    rival_first_prob: float
    record: SeatRecord


def telling_moments(
    result: StudyResult, reader: str, rival: str, *, n: int = 100, last: int = 8
) -> tuple[TellingMoment, ...]:  # fmt: skip
    """Return the moments at which the rival's log score beat the reader's by most.

    At most one of each seat and game, since the moments of a seat are much alike. They are the
    extremes of a difference that goes both ways: they show what there may be to learn, not how
    often; that is what ``shortfalls`` says.

    Parameters
    ----------
    result
        A finished study.
    reader, rival
        Two of its readers.
    n
        How many moments, 1 or more; fewer come back where the rival was better at fewer.
    last
        How many of the seat's throws are told, the newest; 0 for all.

    Returns
    -------
    tuple of TellingMoment
        The most telling first.

    Raises
    ------
    HandreadError
        If there is no such reader, `n` is below 1, or a game played again from its seed is not
        the one that was studied, as after a change of the players.

    Examples
    --------
    >>> import tempfile
    >>> from handread.study.running import StudyPlan, run_study
    >>> plan = StudyPlan(name="tiny", seed=3, card="small", training=2, test=2, turns=(1,),
    ...     readers=("base rates", "floor"), versus="floor", windows=(), moves=())
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     found = telling_moments(run_study(plan, out=folder), "floor", "base rates", n=1)
    >>> found[0].own_turn, found[0].bits > 0, len(found[0].record.throws.split(", "))
    (1, True, 1)
    """
    if n < 1:
        raise HandreadError(f"n={n!r}; accepted: 1 or more")
    first, second, fewer = both_moments(result.packed, reader, rival)
    bits = -gain_of(first, second)
    kinds, states = result.packed.kinds(fewer), result.packed.states(fewer)
    card, seeds = load_card(result.plan.card), result.seeds["seeds"]["test"]
    found: list[TellingMoment] = []
    for place in _most_telling(first, bits, n):
        seed = int(seeds[int(first.game[place])])
        game = play_seed(result.plan, seed)
        said = {"seed": seed, "kind": str(kinds[place]), "state": str(states[place])}
        said |= {"bits": float(bits[place]), **_beliefs(first, second, place)}
        found.append(_telling(card, game, first, place, said, last))
    return tuple(found)


def telling_frame(found: Iterable[TellingMoment]) -> pd.DataFrame:
    """Lay telling moments out as a frame.

    Parameters
    ----------
    found
        The moments.

    Returns
    -------
    pandas.DataFrame
        One line a moment: the columns of ``TELLING_COLUMNS``, then the parts of its
        ``SeatRecord``.
    """
    import pandas as pd

    lines = []
    for each in found:
        line = asdict(each)
        lines.append(line | line.pop("record"))
    shown = [*TELLING_COLUMNS, *SeatRecord.__dataclass_fields__]
    return pd.DataFrame(lines, columns=shown)


def _most_telling(moments: Moments, bits: NDArray[np.float64], n: int) -> list[int]:
    """Places of the moments with most bits, above 0, one of each game and seat."""
    met: set[tuple[int, str]] = set()
    kept: list[int] = []
    for place in np.argsort(-bits, kind="stable").tolist():
        who = (int(moments.game[place]), str(moments.seat[place]))
        if bits[place] <= 0.0 or len(kept) == n:
            break
        if who not in met:
            met.add(who)
            kept.append(place)
    return kept


def _beliefs(first: Moments, second: Moments, place: int) -> dict[str, Any]:
    """What the two readers said at a moment."""
    said: dict[str, Any] = {}
    for name, moments in (("reader", first), ("rival", second)):
        prob = moments.prob[place]
        best = int(prob.argmax())
        said[f"{name}_prob"] = float(moments.truth[place] @ prob)
        said[f"{name}_first"] = moments.rows[best]
        said[f"{name}_first_prob"] = float(prob[best])
    return said


def _telling(
    card: CompiledCard, game: SimulatedGame, moments: Moments, place: int,
    said: dict[str, Any], last: int,
) -> TellingMoment:  # fmt: skip
    """One moment, with the game played again up to there."""
    seat, event = SEATS.index(str(moments.seat[place])), int(moments.event[place])
    events = tuple(game.record.public("floor"))[:event]
    state = start(game.record.header, card.rules)
    turns_at = []  # own turns of the seat after each event
    for each in events:
        state = apply(state, each, card)
        turns_at.append(state.turns[seat])
    _check(card, game, moments, place, state)
    row = game.truth.moments.row(seat, event)
    plan = int(game.truth.moments.plan[row])
    hand = ""
    if plan >= 0:
        hand = f"{card.hands[int(card.hand_of[plan])].name}: {', '.join(target_words(card, plan))}"
    return TellingMoment(
        game=int(moments.game[place]), seat=SEATS[seat], event=event,
        own_turn=int(moments.own_turn[place]), exposures=int(moments.exposures[place]),
        truth=_row_words(moments.rows, moments.truth[place]), plan=hand,
        distance=int(game.truth.moments.distance[row]),
        changed=_changed(game, seat, event, turns_at),
        record=seat_record(card, game.record.header, events, seat, last=last), **said,
    )  # fmt: skip


def _check(
    card: CompiledCard, game: SimulatedGame, moments: Moments, place: int, state: TableState
) -> None:
    """Refuse a game that is not the one of the study: other turns, groups or truth there."""
    seat, event = SEATS.index(str(moments.seat[place])), int(moments.event[place])
    shown = state.exposures[seat]
    same = state.n_events == event and state.turns[seat] == moments.own_turn[place]
    same = same and len(shown) == moments.exposures[place]
    if same:
        truth = truth_rows(card, game, seat, event, shown)[0]
        same = np.allclose(truth, moments.truth[place])
    if not same:
        raise HandreadError(
            f"game {int(moments.game[place])}, played from seed {game.truth.seed}, is another at "
            f"event {event} than the study's; accepted: a study of the players as they are now"
        )


def _row_words(rows: tuple[str, ...], truth: NDArray[np.float64]) -> str:
    order: list[int] = np.argsort(-truth, kind="stable").tolist()
    held = [(rows[place], float(truth[place])) for place in order]
    said = [(row, weight) for row, weight in held if weight > 0.0]
    if len(said) == 1:
        return said[0][0]
    return ", ".join(f"{row} {weight:.2f}" for row, weight in said)


def _changed(game: SimulatedGame, seat: int, event: int, turns_at: list[int]) -> str:
    """Words of the last change of the seat's plan that it acted on by then."""
    made = [each for each in game.truth.changes if each.seat == seat and each.at < event]
    if not made:
        return ""
    change = made[-1]
    then = turns_at[change.at - 1] if change.at else 0
    return f"{change.why} {turns_at[-1] - then} own turns ago"
