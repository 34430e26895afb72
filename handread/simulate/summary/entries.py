"""The entries of a summary: each with interval, band, source of the band, and whether it holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.simulate.playcard import PlayCard
from handread.simulate.summary.facts import GameFacts
from handread.simulate.summary.intervals import Interval, over_games, ratio, wilson
from handread.table.events import SEATS

REPORT: Final = "players' report"
GUESS: Final = "guess"


@dataclass(frozen=True)
class Entry:
    """One figure of a summary.

    Attributes
    ----------
    name
        What it is.
    value
        The figure.
    low, high
        Ends of its 95 % interval over games.
    unit
        ``"share"``, ``"mean"`` or ``"ratio"``.
    n
        Games, wins or seats that it rests on.
    band
        Where it should lie; None where nobody says. An end may be infinite.
    source
        Where the band comes from.
    """

    name: str
    value: float
    low: float
    high: float
    unit: str
    n: int
    band: Interval | None = None
    source: str = ""

    @property
    def holds(self) -> bool | None:
        """Whether the figure lies in its band; None without one."""
        return None if self.band is None else bool(self.band[0] <= self.value <= self.band[1])

    @property
    def clear(self) -> bool | None:
        """Whether the whole interval lies on the side that `holds` says; None without a band."""
        if self.band is None:
            return None
        inside = self.band[0] <= self.low and self.high <= self.band[1]
        outside = self.high < self.band[0] or self.low > self.band[1]
        return bool(inside or outside)


@dataclass(frozen=True)
class Summary:
    """What a batch of simulated games looks like.

    Attributes
    ----------
    card, card_hash
        Which card.
    population, population_hash
        Who played.
    seed
        Of the batch.
    n_games
        Games played.
    entries
        The figures.
    """

    card: str
    card_hash: str
    population: str
    population_hash: str
    seed: int
    n_games: int
    entries: tuple[Entry, ...]

    def entry(self, name: str) -> Entry:
        """Entry of a name.

        Raises
        ------
        HandreadError
            If there is none.
        """
        for entry in self.entries:
            if entry.name == name:
                return entry
        names = ", ".join(repr(entry.name) for entry in self.entries)
        raise HandreadError(f"no entry {name!r}; accepted: {names}")

    def to_dict(self) -> dict[str, Any]:
        """Plain numbers and words, for JSON; infinite ends of bands and NaN become None."""
        said = asdict(self)
        for entry, plain in zip(self.entries, said["entries"], strict=True):
            plain["holds"], plain["clear"] = entry.holds, entry.clear
            for key in ("value", "low", "high"):
                plain[key] = _finite(plain[key])
            if entry.band is not None:
                plain["band"] = [_finite(end) for end in entry.band]
        return said


def _finite(number: float) -> float | None:
    return float(number) if np.isfinite(number) else None


def summarise_facts(card: PlayCard, facts: Sequence[GameFacts]) -> tuple[Entry, ...]:
    """All entries of a summary.

    Parameters
    ----------
    card
        The card that was played with.
    facts
        Of each game, at least one of them.

    Raises
    ------
    HandreadError
        If there is no game.
    """
    if not facts:
        raise HandreadError("no game to summarise; accepted: one or more")
    return (
        *_ends(facts),
        *_course(facts),
        *_families(card, facts),
        _pure(card, facts),
        *_changes(facts),
        *_seats(facts),
        *_kinds(facts),
        *_others(facts),
    )


def _share(name: str, found: int, n: int, band: Interval | None = None, source: str = "") -> Entry:
    low, high = wilson(found, n)
    return Entry(name, found / n if n else float("nan"), low, high, "share", n, band, source)


def _mean(
    name: str, per_game: Sequence[tuple[float, float]], n: int, unit: str = "mean",
    band: Interval | None = None, source: str = "",
) -> Entry:  # fmt: skip
    """Entry of a ratio of sums over games."""
    value, (low, high) = over_games(np.array(per_game, dtype=np.float64), ratio)
    return Entry(name, value, low, high, unit, n, band, source)


def _ends(facts: Sequence[GameFacts]) -> list[Entry]:
    wins = [game for game in facts if game.how == "win"]
    drawn = sum(game.thrower is None for game in wins)
    return [
        _share(
            "wall games", sum(game.how == "wall" for game in facts), len(facts), (0.10, 0.25),
            f"{REPORT}, 12 to 21 %, widened",
        ),
        _share(
            "self-drawn share of wins", drawn, len(wins), (0.25, 0.40),
            f"{GUESS} around 31 %, reasoned by players",
        ),
    ]  # fmt: skip


def _course(facts: Sequence[GameFacts]) -> list[Entry]:
    won = [(g.winner, g) for g in facts if g.winner is not None]
    shown = [(0.0 if g.winner is None else float(g.exposures[g.winner]),
              float(g.winner is not None)) for g in facts]  # fmt: skip
    turns = [(float(game.turn), float(game.winner is not None)) for game in facts]
    total = [(float(sum(game.exposures)), 1.0) for game in facts]
    return [
        _mean("winner's exposures", shown, len(won), band=(1.0, 3.0), source=GUESS),
        _mean("exposures at the table", total, len(facts), band=(2.0, 5.0), source=GUESS),
        _mean("winner's own turn", turns, len(won), band=(12.0, 20.0), source=GUESS),
    ]


def _families(card: PlayCard, facts: Sequence[GameFacts]) -> list[Entry]:
    hands = [game.hand for game in facts if game.hand is not None]
    won = np.bincount(
        [card.card.hands[hand].family for hand in hands], minlength=len(card.card.families)
    )
    return [
        _share(f"wins on {family}", int(won[i]), len(hands), (0.03, 0.30), GUESS)
        for i, family in enumerate(card.card.families)
    ]


def _pure(card: PlayCard, facts: Sequence[GameFacts]) -> Entry:
    """Share of wins on hands without pairs and singles, over their share of plans."""
    columns = np.array([
        (
            float(game.hand is not None and card.pure[game.hand]), float(game.hand is not None),
            sum(game.plan_pure), float(sum(kind != "" for kind in game.kinds)),
        )
        for game in facts
    ])  # fmt: skip

    def figure(means: NDArray[np.float64]) -> NDArray[np.float64]:
        wins, plans = means[..., 0] / means[..., 1], means[..., 2] / means[..., 3]
        return np.asarray(wins / plans)

    value, (low, high) = over_games(columns, figure)
    name = "hands without pairs or singles: wins over plans"
    n = int(columns[:, 1].sum())
    return Entry(name, value, low, high, "ratio", n, (1.0, float("inf")), REPORT)


def _changes(facts: Sequence[GameFacts]) -> list[Entry]:
    seats = float(sum(kind != "" for kind in facts[0].kinds))
    entries = []
    for name, field, band in (
        ("seats that change hand after the deal", "changes", (0.5, 1.0)),
        ("seats that change hand in play", "changes_in_play", None),
    ):
        rows = [(float(sum(n > 0 for n in getattr(game, field))), seats) for game in facts]
        source = GUESS if band else ""
        entries.append(_mean(name, rows, int(seats) * len(facts), "share", band, source))
    return entries


def _seats(facts: Sequence[GameFacts]) -> list[Entry]:
    there = [seat for seat in range(4) if facts[0].kinds[seat]]
    won = {seat: sum(game.winner == seat for game in facts) for seat in there}
    entries = [_share(f"games won by {SEATS[s]}", won[s], len(facts)) for s in there]
    most, least = max(there, key=won.__getitem__), min(there, key=won.__getitem__)
    rows = [(float(game.winner == most) - float(game.winner == least), 1.0) for game in facts]
    name = f"largest difference, {SEATS[most]} less {SEATS[least]}"
    return [*entries, _mean(name, rows, len(facts), "share")]


def _kinds(facts: Sequence[GameFacts]) -> list[Entry]:
    """Wins a seat of each kind of player."""
    names = sorted({kind for game in facts for kind in game.kinds if kind})
    entries = []
    for name in names:
        rows = [
            (float(game.winner is not None and game.kinds[game.winner] == name),
             float(game.kinds.count(name)))
            for game in facts
        ]  # fmt: skip
        n = int(sum(row[1] for row in rows))
        entries.append(_mean(f"games won by a {name}", rows, n, "share"))
    return entries


def _others(facts: Sequence[GameFacts]) -> list[Entry]:
    n, seats = len(facts), sum(kind != "" for kind in facts[0].kinds)
    wins = sum(game.how == "win" for game in facts)
    dead = [(float(sum(game.dead)), 1.0) for game in facts]
    folded = [(float(sum(game.folded)), float(seats)) for game in facts]
    jokerless = sum(game.jokerless for game in facts)
    errors = [(float(game.errors), 1.0) for game in facts]
    return [
        _share("games left by all but one seat", sum(g.how == "deserted" for g in facts), n),
        _mean("hands called dead a game", dead, n),
        _mean("wins in error a game", errors, n),
        _mean("seats folded at the end", folded, n * seats, "share"),
        _share("jokerless share of wins", jokerless, wins),
        *_manner(facts),
    ]


def _manner(facts: Sequence[GameFacts]) -> list[Entry]:
    """What watchers see beside the tiles; scripted."""
    pauses = [(game.pauses[0], float(game.pauses[1])) for game in facts]
    places = [(float(game.places[0]), float(game.places[1])) for game in facts]
    n_paused, n_placed = (int(sum(n for _, n in rows)) for rows in (pauses, places))
    entries = []
    if n_paused:
        entries.append(_mean("pause before a throw, seconds", pauses, n_paused))
    if n_placed:
        name = "held tiles thrown from the middle"
        entries.append(_mean(name, places, n_placed, "share"))
    return entries
