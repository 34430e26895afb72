"""Errors: what was given, where, and what would have been accepted."""

import re

import numpy as np
import pytest

from handread import svg
from handread.errors import HandreadError

FULL = [4] * 34 + [8, 8]
CASES = [
    (lambda: svg.tile("5 bam"), r"tile: got '5 bam'.*parse_kind\('5 bam'\) is 4"),
    (lambda: svg.tile("5 bem"), r"tile: got '5 bem'; give a kind by number; .*did you mean 'bam'"),
    (lambda: svg.tile(36), r"tile: got 36; a kind is a whole number from 0 to 35"),
    (lambda: svg.tile(-1), r"tile: got -1; a kind is"),
    (lambda: svg.tile(True), r"tile: got True; a kind is"),
    (lambda: svg.tile(np.True_), r"tile: got .*True.*; a kind is"),
    (lambda: svg.tile(4.0), r"tile: got 4.0; a kind is"),
    (lambda: svg.tile(None), r"tile: got None; a kind is"),
    (lambda: svg.tile(4, title=7), r"tile, title: got 7; accepted: text, or None"),
    (lambda: svg.rack("5 bam, red"), r"rack: got '5 bam, red'; accepted: kinds .*, in a list"),
    (lambda: svg.rack({4, 5}), r"rack: got \{4, 5\}; accepted: kinds"),
    (lambda: svg.rack(7), r"rack: got 7; accepted: kinds"),
    (lambda: svg.rack([3, 99]), r"rack, tile 2: got 99; a kind is"),
    (lambda: svg.rack(FULL), r"rack: 36 tiles, more than 30; .*numpy.repeat\(numpy.arange\(36\)"),
    (lambda: svg.rack(hidden=-1), r"rack, hidden: got -1; .* from 0 to 30"),
    (lambda: svg.rack([], [(4, 3)]), r"rack, group 1: got 2 items, \(4, 3\); .*kind, size, jokers"),
    (lambda: svg.rack([], [(4, 3, 4)]), r"rack, group 1, jokers: got 4; .*group of 3 .* 0 to 3"),
    (lambda: svg.rack([], [(4, 0, 0)]), r"rack, group 1, size: got 0; .* from 1 to 14"),
    (lambda: svg.rack([], [(35, 3, 1)]), r"rack, group 1: got \(35, 3, 1\); .*group of jokers"),
    (lambda: svg.rack([], [4]), r"rack, group 1: got 4; accepted: \(kind, size, jokers\)"),
    (lambda: svg.row([1, 2]), r"row, block 1: got 1; accepted: kinds"),
    (lambda: svg.row("red"), r"row: got 'red'; accepted: blocks"),
    (lambda: svg.floor([(0, 4)]), r"floor, throw 1: got 2 items, .*seat, kind, taken_by"),
    (lambda: svg.floor([("Eest", 4, None)]), r"floor, throw 1, seat: got 'Eest'; a seat is 0 East"),
    (lambda: svg.floor([("west", 4, None)]), r"seat: got 'west'; .*2 West .*so 2 here"),
    (lambda: svg.floor([(4, 4, None)]), r"seat: got 4; a seat is 0 East, 1 South, 2 West or 3"),
    (lambda: svg.floor([(0, 4, 0)]), r"floor, throw 1: .*East cannot take what East threw"),
    (lambda: svg.floor([(0, 4, None)], window=1), r"floor, window: got 1; .* from 0 to 0"),
    (lambda: svg.floor([], window=0), r"floor, window: got 0, but there is no throw"),
    (lambda: svg.floor([(0, 4, 2)], window=0), r"floor, window: .*throw 1 was taken by West"),
    (lambda: svg.floor([], columns=3), r"floor, columns: got 3; .* from 4 to 40"),
    (lambda: svg.live_counts([1, 2]), r"live_counts: got 2 items, \[1, 2\]; .*list or tuple of 36"),
    (lambda: svg.live_counts([5, *FULL[1:]]), r"live_counts, 1 bam: got 5; .* from 0 to 4"),
    (lambda: svg.live_counts([0.5] * 36), r"live_counts, 1 bam: got 0.5; .* whole number"),
    (lambda: svg.live_counts(FULL, [17] * 36), r"live_counts, copies, 1 bam: got 17; .* 0 to 16"),
    (lambda: svg.live_counts(FULL, certain="no"), r"certain: got 'no'; accepted: True or False"),
    (lambda: svg.table(groups=[[]]), r"table, groups: got 1 items, .*list or tuple of 4"),
    (lambda: svg.table(groups=[[], [(4, 3, 9)], [], []]), r"table, groups, South, group 1, jokers"),
    (lambda: svg.table(concealed=[13, 13, 13]), r"table, concealed: got 3 items"),
    (lambda: svg.table(concealed=[13, 13, 13, 31]), r"table, concealed, North: got 31"),
    (lambda: svg.table(racks=[[4]]), r"table, racks: got \[\[4\]\]; accepted: a mapping from seat"),
    (lambda: svg.table(racks={5: []}), r"table, racks: got 5; a seat is"),
    (lambda: svg.table(racks={1: [4]}), r"table, South: racks gives 1 tiles, concealed 13"),
    (lambda: svg.table(live=["no"] * 4), r"table, live, East: got 'no'; accepted: True or False"),
    (lambda: svg.table(holder=4), r"table, holder: got 4; a seat is"),
    (lambda: svg.table(wall=-1), r"table, wall: got -1; tiles left is a whole number from 0"),
    (lambda: svg.table(people=["a"]), r"table, people: got 1 items"),
    (lambda: svg.table(people=[1, 2, 3, 4]), r"table, people, East: got 1; accepted: text"),
    (lambda: svg.table(bottom="South"), r"table, bottom: got 'South'; .*so 1 here"),
]  # fmt: skip


@pytest.mark.parametrize(("call", "message"), CASES, ids=[message for _, message in CASES])
def test_errors_say_what_where_and_what_else(call, message):
    with pytest.raises(HandreadError, match=message):
        call()


def test_long_inputs_are_cut_in_the_message():
    with pytest.raises(HandreadError) as raised:
        svg.live_counts(list(range(100_000)))
    assert len(str(raised.value)) < 300
    assert re.search(r"got 100000 items, \[0, 1, 2, .*\.\.\.", str(raised.value))
