"""The compiled engine: the same tables as the reference engine plays, some dozens of times faster.

The reference engine (``handread.simulate.game``) is Python over values and recomputes every
distance from scratch at every decision. This one holds a table in arrays and keeps the distances
up as tiles come and go. Both draw one number for each decision from the same generator, so that
one seed gives one game: the same events, decisions and truths, which the tests hold them to.

``play_fast`` plays one game, ``fast_games`` many, and ``write_parts`` writes them down in columns.

How a kind of player is written so that both engines run it
-----------------------------------------------------------
A kind is a class in ``handread.simulate.kinds`` (the values that the reference engine asks), and a
module of the same name in ``handread.simulate.fast.policies`` with its decisions as compiled
functions over the arrays of ``layout``:

1. ``plan(t, lists, sheet, seat)``: scores of committing to each of the near targets, in row SCORE
   of ``lists.weight`` (``t.n_near`` of them, targets in row NEAR, worth in row WORTH, tiles short
   in ``lists.short``), and of staying open and folding in ``t.open_score`` and ``t.fold_score``.
   The engine lists the near targets before, by the kind's *judgement*: every target that could
   have a weight above LEAST is among them. ``near.weigh_near`` makes weights of them. A kind
   that judges otherwise says so by `every` 3, upon which the engine lists nothing, and lists its
   targets itself, in order, as the novice and the planner do; or it gives a `spread` that leaves
   room for what it adds or takes off, as the quiet does.
2. ``settle(t, lists, sheet, seat, action, place)``: the mind after that decision, in ``t.plan``,
   ``t.mode`` and the lists WEIGHTS + seat and WIDE + seat (``weighted.one_target``, ``copy_near``,
   ``even_list``); `place` is where the target stands among the near ones, -1 for open or folded.
   It is called right after `plan`, whose rows still stand. The engine keeps the memory of the
   floor.
3. ``scores(t, lists, sheet, seat, decision)``: scores of any other decision in ``t.scores``, for
   the actions that ``t.legal`` allows; what is not legal is left aside. "place" and "pause" are
   not asked: ``manner`` answers them for every kind. What a seat sees:
   ``t.racks[seat]``, ``t.offered``, ``t.distance``, ``t.groups``, ``t.n_groups``, ``t.turns``,
   ``t.wall_left``, ``t.floor``, ``t.live``, ``t.last_kind``; nothing else of ``t`` is for
   players, the other racks least of all. ``policies.common.shared_scores`` answers wins, early
   redeems and calls; ``near`` has the use of tiles, the weight of groups, values, and what other
   seats may want.
4. ``judgement(kind, style)`` and ``constants(kind, style)``: numbers that go in when a game
   begins, so that constants stay where the kind's class has them. ``t.judge[seat]`` and
   ``t.params[seat, OWN + i]`` hold them; the style is ``t.params[seat, TEMPERATURE]`` and so on.
5. ``unit(said)``: these three behind one address, as the other kinds have it, and ``POLICY =
   Policy(KindClass, unit, judgement, constants)``. Adding a kind changes no other file.

Rules: write plain loops and numbers, ``@compiled`` before every function; `lists` and `sheet` are
passed as one address and their arrays found by name, so keep one in a variable over a loop; pass
numbers that are constants as the names of ``layout`` (``ONE``, ``N_CLAIMS_``), since a literal int
is compiled for its value. Scores are rounded to six decimals before they are used, so a sum in
another order does no harm. A new kind is done when ``tests/simulate/fast`` holds both engines
together on it.

A change of a source that is compiled, here or in ``kinds``, compiles the units again, which takes
about forty seconds of processor; the result is cached beside the sources.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from handread.simulate.fast.batch import fast_games
    from handread.simulate.fast.engine import Engine
    from handread.simulate.fast.parts import read_parts, write_parts
    from handread.simulate.fast.telling import play_fast

__all__ = ["Engine", "fast_games", "play_fast", "read_parts", "write_parts"]

_HOMES = {
    "Engine": "engine", "fast_games": "batch", "play_fast": "telling", "read_parts": "parts",
    "write_parts": "parts",
}  # fmt: skip


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
