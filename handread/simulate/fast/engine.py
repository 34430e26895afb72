"""The compiled engine from outside: a card laid out once, then one game after the other."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final

import numpy as np

from handread.errors import HandreadError
from handread.simulate.fast import decide, turns
from handread.simulate.fast.compiled import fingerprint
from handread.simulate.fast.layout import (
    BOOK,
    FINE,
    MORE_ROOM,
    MORE_UNIFORMS,
    MOST_TILES,
    TABLE,
    Lists,
)
from handread.simulate.fast.policies import POLICIES, Policy
from handread.simulate.fast.sheet import lists_for, sheet_of
from handread.simulate.game.play import People
from handread.simulate.game.table import TableRules
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Kind
from handread.simulate.registry import kind_named
from handread.simulate.rules.deal import deal, shuffled
from handread.table.play import switches_on
from handread.tiles import N_KINDS

#: Room that a game gets at first; one that needs more is played again with four times as much.
_UNIFORMS: Final = 768
_ENTRIES_A_TARGET: Final = 24
_LEAST_ENTRIES: Final = 30_000


_COUNTERS: Final = tuple(name for name in BOOK.names or () if BOOK[name].shape == ())
#: Fields of the table that the deal and the players are written to.
_DEALT: Final = ("racks", "wall", "policy_at", "params", "judge")


class Shuffled:
    """Stands in for a generator where the order of the tiles is known.

    Parameters
    ----------
    order
        What a shuffle gives; the places of the tiles if None.
    """

    def __init__(self, order: Any = None) -> None:
        self.order = order

    def permutation(self, tiles: Any) -> Any:
        """Known order of the tiles."""
        return np.arange(len(tiles)) if self.order is None else self.order


@lru_cache(maxsize=1)
def _units() -> tuple[Any, Any]:
    """Loop of a game and decisions, compiled at the first call."""
    return turns.unit(fingerprint()), decide.unit(fingerprint())


class Engine:
    """Plays games on one card; its arrays are used again for every game.

    Parameters
    ----------
    card
        The card.
    kinds
        Kinds of player by name that need not be registered.
    audit
        Whether distances are held to a full recomputation at every decision, which is slow.
    keep_decisions
        Whether every decision is put on the book.
    timed
        Whether the cycles of each part of the work are counted, in ``t["spent"]``.

    Notes
    -----
    After a game, ``t``, ``book`` and ``lists`` hold its table, book and lists, ``seed`` its seed
    and ``tiles`` the tiles as shuffled.
    """

    def __init__(
        self, card: PlayCard, *, kinds: Mapping[str, Kind] | None = None, audit: bool = False,
        keep_decisions: bool = False, timed: bool = False,
    ) -> None:  # fmt: skip
        self.card, self.sheet = card, sheet_of(card)
        self.kinds = dict(kinds or {})
        self.audit, self.keep_decisions, self.timed = audit, keep_decisions, timed
        self._table, self._book = np.zeros(1, dtype=TABLE), np.zeros(1, dtype=BOOK)
        self.t, self.book = self._table[0], self._book[0]
        # views that a game is dealt into: a field of a record costs more to find than to write
        self._bytes = self._table.view(np.uint8)
        self._counters = [self._book[name] for name in _COUNTERS]
        self._dealt = {name: self._table[name][0] for name in _DEALT}
        self.lists: Lists = self._room(1)
        self._placed: Lists | None = None
        self._places_of: dict[tuple[int, ...], tuple[Any, Any, Any]] = {}
        self._blanks: dict[tuple[TableRules, str], Any] = {}
        self._policies: dict[str, tuple[Kind, Policy]] = {}
        self.seed, self.tiles = 0, np.zeros(0, dtype=np.int64)
        self._seats: tuple[int, ...] = (0, 1, 2, 3)

    def _room(self, times: int) -> Lists:
        n = len(self.sheet.n_slots)
        entries = times * max(_LEAST_ENTRIES, _ENTRIES_A_TARGET * n)
        return lists_for(self.sheet, n_uniforms=times * _UNIFORMS, n_entries=entries)

    def policy_of(self, name: str) -> tuple[Kind, Policy]:
        """Kind and policy of a kind of player.

        Raises
        ------
        HandreadError
            If the kind has no compiled policy.
        """
        if name in self._policies:
            return self._policies[name]
        kind = self.kinds.get(name)
        kind = kind if kind is not None else kind_named(name)
        for policy in POLICIES:
            if type(kind) is policy.of:
                self._policies[name] = kind, policy
                return kind, policy
        compiled = ", ".join(policy.of.__name__ for policy in POLICIES)
        raise HandreadError(f"kind {name!r} is not compiled; accepted: those of class {compiled}")

    def play(
        self, people: People, *, seed: int, rules: TableRules | None = None, until: str = "end"
    ) -> None:
        """Play one game; the outcome is in ``t`` and ``book``. Parameters as of ``play_game``."""
        if until not in ("end", "passes"):
            raise HandreadError(f"until={until!r}; accepted: 'end', 'passes'")
        seats = tuple(seat for seat in range(4) if people[seat] is not None)
        if len(people) != 4 or len(seats) < 2:
            raise HandreadError(
                f"{len(seats)} people in {len(people)} seats; accepted: 2 to 4 in 4"
            )
        deal_seed, choice_seed = np.random.SeedSequence(seed).spawn(2)
        tiles = shuffled(self.card.card.rules, rng=np.random.default_rng(deal_seed))
        self.seed, self.tiles, self._seats = seed, tiles, seats
        play, times = _units()[0].ctypes, 1
        while True:
            self._lay_out(people, tiles, self._blank(rules or TableRules(), until))
            np.random.default_rng(choice_seed).random(out=self.lists.uniforms)
            play(self._table.ctypes.data, 0, 0, 0, 0)
            status = int(self.t["status"])
            if status not in (MORE_UNIFORMS, MORE_ROOM) or times > 4**6:
                break
            times *= 4
            self.lists = self._room(times)
        if status != FINE:
            raise HandreadError(f"game of seed {seed!r} ended with status {status}, see layout")

    def _places(self, seats: tuple[int, ...]) -> tuple[Any, Any, Any]:
        """Where in the shuffled tiles the racks lie, 36 times the seat of each, and the wall."""
        found = self._places_of.get(seats)
        if found is None:
            # of a generator, the deal asks only to shuffle
            dealt = deal(self.card.card.rules, rng=Shuffled(), seats=seats)  # type: ignore[arg-type]
            racks = np.concatenate([np.array(rack, dtype=np.int64) for rack in dealt.racks])
            offset = np.repeat(N_KINDS * np.arange(4), [len(rack) for rack in dealt.racks])
            wall = np.array(dealt.wall, dtype=np.int64)
            found = self._places_of[seats] = (racks, offset, wall)
        return found

    def _lay_out(self, people: People, tiles: Any, blank: Any) -> None:
        """Write deal and players into a table made blank."""
        self._bytes[:] = blank
        for counter in self._counters:
            counter[0] = 0
        self.book["keep_decisions"] = self.keep_decisions
        racks, offset, wall = self._places(self._seats)
        dealt = self._dealt
        held = np.bincount(tiles[racks] + offset, minlength=4 * N_KINDS)
        dealt["racks"][:] = held.reshape(4, N_KINDS)
        for seat in self._seats:
            person = people[seat]
            if person is not None:
                kind, policy = self.policy_of(person.kind)
                dealt["policy_at"][seat] = policy.address
                dealt["params"][seat] = policy.params(kind, person.style)
                dealt["judge"][seat] = policy.judge(kind, person.style)
        self.t["n_wall"] = len(wall)
        dealt["wall"][: len(wall)] = tiles[wall]

    def _blank(self, rules: TableRules, until: str) -> Any:
        """Table of a game under some rules before the deal, as bytes."""
        if self._placed is not self.lists:
            self._placed = self.lists
            self._blanks.clear()
        found = self._blanks.get((rules, until))
        if found is not None:
            return found
        table = np.zeros(1, dtype=TABLE)
        t, of_card = table[0], self.card.card.rules
        rest = of_card.hand_size - 1
        t["hand_size"] = of_card.hand_size
        t["wall_left"] = t["play_wall"] = of_card.play_wall
        t["concealed"] = rest
        t["concealed"][0] = rest + 1
        t["live"] = t["seated"] = 1
        t["last_seat"] = t["last_kind"] = t["last_taken"] = -1
        t["claimable"][: len(of_card.claimable)] = of_card.claimable
        t["fewest"] = min((size for size in of_card.claimable if size >= 2), default=MOST_TILES)
        on = switches_on(rules.switches)
        for switch in ("second round", "blind pass", "correction", "win over exposure",
                       "last exposure", "dead swap"):  # fmt: skip
            t[switch.replace(" ", "_")] = switch in on
        t["dead_hands"], t["heard"] = rules.dead_hands, rules.heard
        t["until_passes"] = until == "passes"
        t["audit"], t["timed"] = self.audit, self.timed
        self._place(t)
        found = self._blanks[rules, until] = table.view(np.uint8)
        return found

    def _place(self, t: Any) -> None:
        """Tell a table where everything lies."""
        addresses = [array.ctypes.data for array in (*self.sheet, *self.lists)]
        t["at"][: len(addresses)] = addresses
        t["book_at"], t["decide_at"] = self._book.ctypes.data, _units()[1].address
        t["n_targets"], t["width"] = self.sheet.slot_kind.shape
        t["n_uses"], t["n_tiers"] = len(self.sheet.use_target), len(self.sheet.tier_points)
        t["n_steps"], t["n_padded"] = self.sheet.steps.shape
        t["n_hands"], t["n_wants"] = self.lists.known.shape[1], len(self.lists.tally)
        t["n_words"], t["n_listed"] = self.lists.words.shape[1], len(self.lists.short)
        t["n_uniforms"], t["n_entries"] = len(self.lists.uniforms), len(self.lists.entry_target)
