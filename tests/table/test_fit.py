"""Exposures against a card, held to a slow matching of groups one by one."""

from __future__ import annotations

from itertools import permutations

import hypothesis.strategies as st
import numpy as np
from hypothesis import given, settings

from handread.card.compiled import CompiledCard, Hand
from handread.table import Exposure
from handread.table.rules.fit import fitting_targets
from handread.tiles import N_KINDS

# kind, size, jokers allowed: few kinds and sizes, so that groups repeat and collide
group = st.tuples(st.integers(0, 2), st.integers(3, 4), st.booleans())
targets = st.lists(
    st.tuples(st.lists(group, min_size=1, max_size=4), st.booleans()), min_size=1, max_size=6
)
shown = st.lists(
    st.builds(Exposure, st.integers(0, 2), st.integers(3, 4), st.integers(0, 1)), max_size=3
)


def toy_card(rows: list[tuple[list[tuple[int, int, bool]], bool]]) -> CompiledCard:
    """A card with one hand per target, of these groups."""
    shape = (len(rows), 4)
    kinds, sizes = np.full(shape, -1, np.int8), np.zeros(shape, np.uint8)
    jokers = np.zeros(shape, np.bool_)
    for row, (groups, _) in enumerate(rows):
        for column, (kind, size, takes) in enumerate(groups):
            kinds[row, column], sizes[row, column] = kind, size
            jokers[row, column] = takes
    return CompiledCard(
        name="toy",
        hash="0" * 16,
        families=("one",),
        hands=tuple(Hand(str(i), 0, "", concealed, 1) for i, (_, concealed) in enumerate(rows)),
        hand_of=np.arange(len(rows), dtype=np.int32),
        group_kind=kinds,
        group_size=sizes,
        group_joker=jokers,
        demand=np.zeros((len(rows), N_KINDS), np.uint8),
    )


def slowly(groups: list[tuple[int, int, bool]], concealed: bool, exposures: list[Exposure]) -> bool:
    """Whether some way to give each exposure a group of its own works."""
    if exposures and (concealed or len(exposures) > len(groups)):
        return False
    return any(
        all(
            (each.kind, each.size) == (kind, size) and (takes or not each.jokers)
            for each, (kind, size, takes) in zip(exposures, chosen, strict=False)
        )
        for chosen in permutations(groups, len(exposures))
    )


@settings(max_examples=300, deadline=None)
@given(rows=targets, exposures=shown)
def test_fitting_targets_are_those_of_the_slow_matching(rows, exposures):
    fits = fitting_targets(toy_card(rows), tuple(exposures))
    assert fits.tolist() == [slowly(groups, hidden, exposures) for groups, hidden in rows]


def test_no_exposure_fits_every_target_concealed_ones_too():
    card = toy_card([([(0, 3, True)], True), ([(1, 3, True)], False)])
    assert fitting_targets(card, ()).tolist() == [True, True]
    assert fitting_targets(card, (Exposure(0, 3, 0),)).tolist() == [False, False]
