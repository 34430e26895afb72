"""Ways from the racks to the targets, kept up as tiles come and go.

For every seat and target: how many tiles are missing bare and how many open, as one byte. While a
seat has shown nothing, a tile that comes or goes takes a row of ``Sheet.steps`` off these bytes or
puts it back; an exposure makes the list of fitting targets, which are few, anew. ``audit`` holds
all of it to a full recomputation.
"""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.bounds import bound_all
from handread.simulate.fast.compiled import compiled, inlined
from handread.simulate.fast.lanes import any_within, find, list_hits, nearest
from handread.simulate.fast.layout import (
    MINUS,
    NONE,
    ONE,
    UNTOUCHED,
    word,
)
from handread.tiles import JOKER, N_KINDS

#: Distance where no target is left, and one that no target is beyond.
FAR = 99
FARTHEST = 15


@compiled
def rows_of(t: Any, seat: int, without_last: int) -> None:
    """Write a seat's exposures to ``t.rows``, those with jokers first."""
    n = t.n_groups[seat] - without_last
    at = 0
    for with_jokers in (1, 0):
        for i in range(n):
            if (1 if t.groups[seat, i, 2] > 0 else 0) == with_jokers:
                for j in range(3):
                    t.rows[at, j] = t.groups[seat, i, j]
                at += 1
    t.n_rows = at


@compiled
def lay_row(t: Any, kind: int, size: int, jokers: int) -> None:
    """Add a group to ``t.rows``, in front if it has jokers."""
    at = t.n_rows
    if jokers > 0:
        for i in range(at, 0, -1):
            for j in range(3):
                t.rows[i, j] = t.rows[i - 1, j]
        at = 0
    t.rows[at, 0] = kind
    t.rows[at, 1] = size
    t.rows[at, 2] = jokers
    t.n_rows += 1


@compiled
def groups_left(t: Any, sheet: Any, g: int) -> int:
    """Groups that the exposures in ``t.rows`` leave of a target, as bits; -1 if they do not fit."""
    left = (1 << sheet.n_groups[g]) - 1
    if t.n_rows > 0 and sheet.concealed[g]:
        return -1
    for s in range(t.n_rows):
        found = False
        for j in range(sheet.n_groups[g]):
            if (
                (left >> j) & 1
                and sheet.kind[g, j] == t.rows[s, 0]
                and sheet.size[g, j] == t.rows[s, 1]
                and (t.rows[s, 2] == 0 or sheet.joker[g, j])
            ):
                left &= ~(1 << j)
                found = True
                break
        if not found:
            return -1
    return left


@compiled
def slots_left(sheet: Any, g: int, left: int, need: Any) -> None:
    """Write what each slot of a target wants in the groups left, shape (n_slots, 2)."""
    for s in range(sheet.n_slots[g]):
        need[s, 0] = sheet.slot_need[g, s, 0]
        need[s, 1] = sheet.slot_need[g, s, 1]
    for j in range(sheet.n_groups[g]):
        if not (left >> j) & 1:
            s = sheet.slot_of[g, sheet.kind[g, j]]
            need[s, 1 if sheet.joker[g, j] else 0] -= sheet.size[g, j]


@compiled
def missing_code(sheet: Any, g: int, need: Any, rack: Any) -> int:
    """Tiles that a rack lacks of a target, 16 x bare + open."""
    code = 0
    for s in range(sheet.n_slots[g]):
        held = rack[sheet.slot_kind[g, s]]
        bare = need[s, 0]
        opened = need[s, 1]
        if held < bare:
            code += 16 * (bare - held) + opened
        elif held - bare < opened:
            code += opened - (held - bare)
    return code


@inlined
def _moved(need: Any, held: int, gained: int) -> int:
    """Change of a code when a rack that holds so many copies of a slot's kind gets or loses one."""
    at = held if gained > 0 else held - 1
    if at < need[0]:
        return -16 * gained
    if at < need[0] + need[1]:
        return -gained
    return 0


@inlined
def left_row(t: Any, seat: int) -> int:
    """Row of ``lists.left`` with what a seat's exposures leave of the targets."""
    return UNTOUCHED if t.whole[seat] else seat


@compiled
def _touch(t: Any, lists: Any, sheet: Any, seat: int, kind: int, gained: int) -> None:
    """Bring the ways up to date with one copy of a kind that came or went."""
    held, codes = t.counted[seat, kind], lists.code[seat]
    t.counted[seat, kind] += gained
    at = held if gained > 0 else held - 1
    if at >= sheet.most[kind]:
        return
    if gained > 0:
        t.at_least[seat] -= 1
    else:
        t.at_most[seat] += 1
    if t.whole[seat] == 0:
        for i in range(t.n_fits[seat]):
            g = word(lists.fitting[seat, i])
            s = sheet.slot_of[g, kind]
            if s >= 0:
                codes[g] += _moved(lists.left[seat, g, s], held, gained)
        return
    step = sheet.steps[sheet.first_step[kind] + at]
    if gained > 0:
        for g in range(len(codes)):
            codes[g] -= step[g]
    else:
        for g in range(len(codes)):
            codes[g] += step[g]


@compiled
def catch_up(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Bring a seat's ways up to date with its rack."""
    for k in range(JOKER):
        while t.counted[seat, k] < t.racks[seat, k]:
            _touch(t, lists, sheet, seat, k, ONE)
        while t.counted[seat, k] > t.racks[seat, k]:
            _touch(t, lists, sheet, seat, k, MINUS)
    more = t.racks[seat, JOKER] - t.counted[seat, JOKER]
    if more != 0:
        t.counted[seat, JOKER] = t.racks[seat, JOKER]
        t.at_least[seat] -= max(more, 0)
        t.at_most[seat] -= min(more, 0)
        bound_all(t, lists, sheet, seat)


@compiled
def lay_ways(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Make everything about one seat's ways anew, from its rack and exposures."""
    rows_of(t, seat, NONE)
    n_targets = len(sheet.n_slots)
    t.witness[seat] = 0
    t.at_least[seat], t.at_most[seat] = 0, FAR
    t.whole[seat] = 1 if t.n_rows == 0 else 0
    if t.n_rows == 0:
        for k in range(JOKER):
            t.counted[seat, k] = 0
        fits, codes = lists.fits[seat], lists.code[seat]
        for g in range(n_targets):
            fits[g] = True
        for g in range(len(codes)):
            codes[g] = sheet.base_code[g]
        t.n_fits[seat] = n_targets
        t.counted[seat, JOKER] = t.racks[seat, JOKER]
        bound_all(t, lists, sheet, seat)
        catch_up(t, lists, sheet, seat)
        return
    for k in range(N_KINDS):
        t.counted[seat, k] = t.racks[seat, k]
    for g in range(n_targets):
        lists.fits[seat, g] = False
    n, kind = 0, t.rows[0, 0]
    for i in range(sheet.first_use[kind], sheet.first_use[kind + 1]):
        g = word(sheet.use_target[i])
        left = groups_left(t, sheet, g)
        if left < 0:
            continue
        lists.fits[seat, g] = True
        slots_left(sheet, g, left, lists.left[seat, g])
        code = missing_code(sheet, g, lists.left[seat, g], t.counted[seat])
        lists.code[seat, g] = code
        lists.fitting[seat, n] = g
        n += 1
    t.n_fits[seat] = n
    bound_all(t, lists, sheet, seat)


@inlined
def short_of(code: int, jokers: int) -> int:
    """Tiles short, by a code and the jokers held."""
    opened = code & 15
    return (code >> 4) + (opened - jokers if opened > jokers else 0)


@compiled
def distance_of(t: Any, lists: Any, sheet: Any, seat: int) -> int:
    """Tiles that a seat is short of the nearest target; FAR if none fits."""
    catch_up(t, lists, sheet, seat)
    if t.at_least[seat] < t.at_most[seat]:
        t.at_least[seat] = t.at_most[seat] = _shortest(t, lists, seat)
    found: int = t.at_most[seat]
    return found


@compiled
def _shortest(t: Any, lists: Any, seat: int) -> int:
    """Distance by the codes as they are; a tile that came or went moves it by one at most."""
    jokers, best = t.racks[seat, JOKER], max(t.at_least[seat], NONE)
    if t.whole[seat]:
        if t.at_most[seat] - best > 2:
            return nearest(lists.words[seat], jokers)
        while best < t.at_most[seat] and not any_within(lists.words[seat], jokers, best):
            best += 1
        return best
    best = word(FAR)
    for i in range(t.n_fits[seat]):
        best = min(best, short_of(word(lists.code[seat, lists.fitting[seat, i]]), jokers))
    return best


@compiled
def within(t: Any, lists: Any, sheet: Any, seat: int, farthest: int, more: int) -> int:
    """List the fitting targets short of `farthest` tiles at most, and target `more` if it fits.

    They are in ``lists.candidate``, in order; `more` is -1 for none. Returns how many.
    """
    jokers = t.racks[seat, JOKER]
    if t.whole[seat]:
        words, nothing = lists.words[seat], lists.extra_words[UNTOUCHED]
        find(words, nothing, jokers, ONE, ONE, farthest, lists.hits)
        return list_hits(lists.hits, len(sheet.n_slots), more, lists.candidate)
    n = NONE
    for i in range(t.n_fits[seat]):
        g = word(lists.fitting[seat, i])
        if g == more or short_of(word(lists.code[seat, g]), jokers) <= farthest:
            lists.candidate[n] = g
            n += 1
    return n


@compiled
def distance_with(t: Any, lists: Any, sheet: Any, seat: int, kind: int) -> int:
    """Tiles short of the nearest target with one more tile, which is no joker."""
    best = distance_of(t, lists, sheet, seat)
    if best == FAR:
        return FAR
    jokers, held, codes = t.racks[seat, JOKER], t.racks[seat, kind], lists.code[seat]
    if t.whole[seat]:
        for i in range(sheet.first_use[kind], sheet.first_use[kind + 1]):
            if sheet.touch_total[i] <= held:
                break
            moved = 16 if held < sheet.touch_bare[i] else 1
            if short_of(word(codes[sheet.touch_target[i]]) - moved, jokers) < best:
                return best - 1
        return best
    for i in range(t.n_fits[seat]):
        g = word(lists.fitting[seat, i])
        code, s = word(codes[g]), sheet.slot_of[g, kind]
        if s >= 0 and short_of(code, jokers) <= best:
            moved = _moved(lists.left[seat, g, s], held, ONE)
            if moved != 0 and short_of(code + moved, jokers) < best:
                return best - 1
    return best


@compiled
def audit(t: Any, lists: Any, sheet: Any) -> None:
    """Count in ``t.breaches`` all that is not as a full recomputation has it."""
    for seat in range(4):
        if t.seated[seat] == 0:
            continue
        catch_up(t, lists, sheet, seat)
        rows_of(t, seat, NONE)
        n, best = 0, FAR
        for g in range(len(sheet.n_slots)):
            left = groups_left(t, sheet, g)
            if lists.fits[seat, g] != (left >= 0):
                t.breaches += 1
            if left < 0:
                continue
            if t.n_rows > 0 and lists.fitting[seat, n] != g:
                t.breaches += 1
            n += 1
            slots_left(sheet, g, left, lists.spare)
            code = missing_code(sheet, g, lists.spare, t.racks[seat])
            best = min(best, short_of(code, t.racks[seat, JOKER]))
            if code != lists.code[seat, g]:
                t.breaches += 1
        if n != t.n_fits[seat] or best != distance_of(t, lists, sheet, seat):
            t.breaches += 1
