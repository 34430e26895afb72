"""Tables with chosen racks, and players who do what a test tells them, for single rules."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from handread.simulate import Habit, PlayCard, Player, Private, Style, TableRules, View
from handread.simulate.choice import Scores
from handread.simulate.game.table import Table
from handread.simulate.rules.deal import Deal
from handread.table.events import Header
from handread.tiles import parse_tiles

Script = dict[int, list[tuple[str, int]]]


@dataclass(frozen=True, eq=False)
class Told:
    """Answers the decisions of each seat from a list of (decision, action); else action 0."""

    script: Script
    name: str = "told"
    version: int = 1
    about: str = "Does what it is told."
    weights_mean: str = "Nothing."
    habits: tuple[Habit, ...] = field(default=(Habit("obeys", "scripted", "a test"),))

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        scores = np.full(len(view.legal), -50.0)
        told = self.script.get(view.seat, [])
        if told and told[0][0] == view.decision:
            scores[told.pop(0)[1]] = 50.0
        else:
            scores[int(np.argmax(view.legal))] = 50.0
        return scores

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        return private


def table_of(
    card: PlayCard, racks: dict[int, str], script: Script, *, rules: TableRules | None = None,
    first: str = "", n_wall: int | None = None,
) -> Table:  # fmt: skip
    """Table after the deal: racks begin with the tiles named, the rest is what is over.

    `first` are the tiles to be drawn first; with `n_wall` the rest of the wall is thrown away.
    """
    rules = rules or TableRules()
    left = np.repeat(np.arange(36), card.targets.copies).tolist()
    held: dict[int, list[int]] = defaultdict(list)
    for seat, words in racks.items():
        for kind in np.repeat(np.arange(36), parse_tiles(words)).tolist():
            left.remove(kind)
            held[seat].append(kind)
    drawn = np.repeat(np.arange(36), parse_tiles(first)).tolist() if first else []
    for kind in drawn:
        left.remove(kind)
    rng = np.random.default_rng(0)
    rest = [int(kind) for kind in rng.permutation([kind for kind in left if kind < 34])]
    over = [kind for kind in left if kind >= 34]
    for seat in range(4):
        while len(held[seat]) < 13 + (seat == 0):
            held[seat].append(rest.pop())
    wall = (drawn + rest + over)[:n_wall]
    header = Header(switches=rules.switches)
    player = Player(Told(script), Style(), card)
    dealt = Deal(tuple(tuple(held[seat]) for seat in range(4)), tuple(wall))
    return Table(card, (player,) * 4, dealt, rng, header=header, rules=rules)
