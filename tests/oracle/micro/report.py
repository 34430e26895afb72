"""The table of figures: how far the reader is from the exact posterior, term by term.

    python -m tests.oracle.micro.report --games 200 --first-seed 3000

Intervals are 95 % by bootstrap over games; a change is paired by game. Bits throughout.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping

import numpy as np

from handread.reading import Model, build_model
from handread.study import Estimate
from tests.oracle.micro.game import (
    DETACHED,
    LIVELY,
    PLAIN,
    QUIET,
    RACK_LED,
    Game,
    micro_game,
    open_card,
)
from tests.oracle.micro.measure import Distances, distances
from tests.oracle.micro.variants import EXACT, Variant

READER = "reader"
#: The reader with exact forms put in, one at a time.
PUT_IN: Mapping[str, Variant] = {
    "independence: the others' racks in reach": Variant(reach="others"),
    "independence: the others' acts as evidence": Variant(cross=EXACT),
    "independence: both": Variant(reach="others", cross=EXACT),
    "availability: copies with this seat": Variant(reach="seat"),
    "availability: copies with this seat on each row": Variant(reach="row"),
    "hedging": Variant(hedge=EXACT),
    "availability and hedging over whole racks": Variant(throw=EXACT),
    "hazard and destination": Variant(change=EXACT),
    "holdings in claims": Variant(claims=EXACT),
}
#: No exact form: a rule that averages over racks without listing them.
AVERAGED = "throws averaged over racks by a rule"
ALL = Variant(throw=EXACT, change=EXACT, claims=EXACT, cross=EXACT)
#: Everything exact but one part, which is left as the reader has it.
LEFT: Mapping[str, Variant] = {
    "availability and hedging": Variant(change=EXACT, claims=EXACT, cross=EXACT),
    "whole racks (copies on each row instead)": Variant(
        reach="row", hedge=EXACT, change=EXACT, claims=EXACT, cross=EXACT
    ),
    "hazard and destination": Variant(throw=EXACT, claims=EXACT, cross=EXACT),
    "holdings in claims": Variant(throw=EXACT, change=EXACT, cross=EXACT),
    "the others' acts as evidence": Variant(throw=EXACT, change=EXACT, claims=EXACT),
}
_USE = ("single", "pair", "pung", "kong")


def games() -> Iterator[tuple[str, Game]]:
    """The games of the table: cards, players and seats differ."""
    opened = open_card()
    yield "A. open card, two seats, detached", micro_game(habits=DETACHED, card=opened)
    yield "B. open card, two seats, plain", micro_game(habits=PLAIN, card=opened)
    three = (0, 1, 3)
    yield "C. open card, three seats, plain", micro_game(three, 1, habits=PLAIN, card=opened)
    yield "D. open card, three seats, rack-led", micro_game(three, 1, habits=RACK_LED, card=opened)
    yield "E. micro card, two seats, plain", micro_game(habits=PLAIN)
    yield "F. micro card, two seats, rack-led", micro_game(habits=RACK_LED)
    yield "G. micro card, two seats, plain, lore weights", micro_game(habits=PLAIN, weights=QUIET)


def scaled(game: Game, block: str, by: float, names: tuple[str, ...] = ()) -> Model:
    """The reader's model with some weights of a block multiplied; the players keep theirs."""
    held = game.model.weights[block]
    return changed(game, {f"{block}.{name}": by * held[name] for name in names or tuple(held)})


def changed(game: Game, changes: Mapping[str, float]) -> Model:
    """The reader's model with some weights changed; the players keep theirs."""
    weights = game.model.weights.replace(changes)
    return build_model(game.card, weights=weights, prior=game.model.prior)


def mutants(game: Game) -> dict[str, Model]:
    """Models of readers with one term dropped or its sign turned, or a scale changed."""
    hedge, winds = ("some", "much"), ("early", "late")
    joker = ("joker_wanted", "joker_unwanted", "joker_no_plan")
    take = ("take_early", "take_middle", "take_late")
    undecided = ("undecided_early", "undecided_middle", "undecided_late")
    base = game.model.weights["hazard"]["base"]
    out: dict[str, Model] = {}
    for name, block, names in (
        ("use of the tile", "use", _USE), ("hedging", "siblings", hedge), ("demand", "demand", ()),
        ("winds and dragons", "winds_and_dragons", winds), ("flowers", "flowers", ()),
        ("repeats", "repeats", ()), ("following", "following", ()), ("safety", "safety", ()),
        ("tiles of a plan that is left", "use", ("leaving",)), ("middle", "middle", ()),
        ("blocked plans are left", "hazard", ("per_blocked",)),
    ):  # fmt: skip
        out[f"{name} dropped"] = scaled(game, block, 0.0, names)
        out[f"{name} turned"] = scaled(game, block, -1.0, names)
    out["availability dropped"] = changed(game, {"availability.power": 1e-6})
    out["availability turned"] = changed(game, {"availability.power": -1.0})
    out["joker scores dropped"] = scaled(game, "use", 0.0, joker)
    out["hazard dropped"] = changed(game, {"hazard.base": -20.0})
    out["hazard turned"] = changed(game, {"hazard.base": -base})
    out["undecided never decide"] = scaled(game, "hazard", 0.0, undecided)
    out["claims a tenth as likely"] = scaled(game, "claims", 0.1, take)
    out["use of the tile times 0.7"] = scaled(game, "use", 0.7, _USE)
    out["use of the tile times 0.5"] = scaled(game, "use", 0.5, _USE)
    return out


def filters(game: Game) -> dict[str, tuple[Model, Variant]]:
    """The reader, the reader with exact forms put in, and all exact but one."""
    named = {READER: Variant(), AVERAGED: Variant(throw="averaged")} | dict(PUT_IN)
    named["all exact"] = ALL
    named |= {f"but {name}": variant for name, variant in LEFT.items()}
    return {name: (game.model, variant) for name, variant in named.items()}


def interval(found: Estimate, places: int, sign: str = "") -> str:
    """A figure with its interval; rounding errors of an exact filter read 0."""
    value, low, high = (round(x, places) + 0.0 for x in (found.value, found.low, found.high))
    return f"{value:{sign}.{places}f} [{low:{sign}.{places}f}, {high:{sign}.{places}f}]"


def figure(found: Distances, name: str) -> str:
    """One row of a table."""
    by = "" if name == READER else interval(found.change(name, READER), 4, "+")
    lost, missed = found.mean(name, "lost"), found.mean(name, "unforeseen").value
    foreseen = "" if np.isnan(missed) else f"{round(missed, 4) + 0.0:.4f}"
    bits = interval(found.mean(name), 4)
    return f"| {name} | {bits} | {by} | {interval(lost, 3, '+')} | {foreseen} |"


def table(title: str, found: Distances) -> list[str]:
    """One game's table as lines of Markdown."""
    gain = np.array([found.gain[found.game == game].mean() for game in np.unique(found.game)])
    claims = sum(found.shown[found.game == g].max() > 0 for g in np.unique(found.game))
    head = (
        f"{len(gain)} games, {len(found.game):,} own turns; somebody showed a group in {claims}. "
        f"The exact posterior gains {gain.mean():.3f} bits on the families over the start."
    )
    lines = [f"### {title}", "", head, ""]
    lines += ["| filter | KL from exact | change | log score lost | events unforeseen |"]
    lines += ["|---|---|---|---|---|", *(figure(found, name) for name in found.names)]
    return [*lines, "", bands(found), ""]


def bands(found: Distances) -> str:
    """The reader's distance by own turn and by groups shown, in a sentence."""
    parts = {
        "own turns 1 to 2": found.turn <= 2,
        "3 to 5": (found.turn > 2) & (found.turn <= 5),
        "6 on": found.turn > 5,
        "nothing shown": found.shown == 0,
        "one group shown": found.shown > 0,
    }
    words = []
    for name, among in parts.items():
        if len(np.unique(found.game[among])) > 1:
            words.append(f"{name} {interval(found.mean(READER, among=among), 3)}")
    own, exact = (found.entropy[:, i].mean() for i in (found.column(READER), -1))
    return (
        f"Reader's KL by part of the game: {'; '.join(words)}. Mean entropy of what the reader "
        f"says {own:.3f} bits, of the exact posterior {exact:.3f}."
    )


def mutant_lines(title: str, game: Game, seeds: range) -> list[str]:
    """Readers with wrong weights, against the reader."""
    models = {READER: game.model} | mutants(game)
    found = distances(game, {name: (model, Variant()) for name, model in models.items()}, seeds)
    lines = [f"### Readers with one term wrong: {title}", ""]
    lines += ["| reader | KL from exact | change | log score lost | events unforeseen |"]
    return [*lines, "|---|---|---|---|---|", *(figure(found, name) for name in found.names), ""]


def report(n_games: int, first_seed: int, only: str = "") -> Iterator[str]:
    """Lines of the whole report; `only` the games whose letter is in it, where given."""
    seeds = range(first_seed, first_seed + n_games)
    yield f"Seeds {seeds[0]} to {seeds[-1]}; lively weights unless said: {len(LIVELY)} changed."
    yield ""
    for title, game in games():
        if not only or title[0] in only:
            found = distances(game, filters(game), seeds, alone=True)
            yield from table(title, found)
            if title[0] in "AB":
                yield from mutant_lines(title, game, seeds)


def main() -> None:
    """Print the report."""
    parser = argparse.ArgumentParser(description="The table of figures.")
    parser.add_argument("--games", type=int, default=200)
    parser.add_argument("--first-seed", type=int, default=3000)
    parser.add_argument("--only", default="", help="letters of the games to run")
    asked = parser.parse_args()
    for line in report(asked.games, asked.first_seed, asked.only):
        print(line, flush=True)


if __name__ == "__main__":
    main()
