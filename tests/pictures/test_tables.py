"""Tables and live counts: what a state holds is what its picture shows and says."""

import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings

import handread as hr
from handread.card import card_template, parse_card
from handread.card.compile import compile_card
from handread.table import live, no_rack, replay
from handread.table.events import Absent, Dead, Expose, Joined, Missed, Redeem
from handread.table.own import OwnRack
from handread.table.picture import count_picture, table_picture
from handread.tiles import KINDS, parse_kind
from tests.reading.records import unruly_records
from tests.svg.drawn import SVG, faces, written

CARD = hr.load_card("small")
OPENING = [hr.Discard(0, 4), Expose(2, 3, jokers=1), hr.Discard(2, 31)]


def rack_of(kinds, unknown=0):
    return OwnRack(np.bincount(kinds, minlength=36).astype(np.int64), unknown)


@settings(max_examples=25)
@given(unruly_records(CARD))
def test_whatever_a_record_may_hold_can_be_drawn(record):
    header, events = record
    state = replay(events, header, CARD)
    picture = table_picture(state)
    root = ET.fromstring(picture.svg)
    assert root.find(f"{SVG}desc").text == "\n".join(picture.text.split("\n")[1:])
    groups = [group for groups in state.exposures for group in groups]
    assert len(faces(picture)) == len(state.floor) + sum(group.size for group in groups)
    throws = picture.text.split("\n")[-len(state.floor) :] if state.floor else []
    said = [line.split(": ")[1].split(",")[0] for line in throws]
    assert said == [KINDS[throw.kind] for throw in state.floor]
    assert count_picture(state).text.startswith(
        f"{'' if state.certain else 'At most '}{live(state).unseen.sum()} of 152"
    )


def test_seats_say_what_they_are():
    state = replay([Absent(1), hr.Discard(0, 4), Dead(3)])
    lines = table_picture(state, people=["ann", "", "cleo", "dan"]).text.splitlines()
    assert lines[1:5] == [
        "East (ann). Concealed: 13 tiles not seen.",
        "South (nobody sits here), not playing.",
        "West (cleo). Concealed: 13 tiles not seen.",
        "North (dan, dead hand), not playing. Concealed: 13 tiles not seen.",
    ]


def test_racks_are_shown_where_they_are_given_and_nowhere_else():
    state = replay(OPENING)
    picture = table_picture(state, racks={3: [0] * 4 + [9] * 4 + [27] * 5}, bottom=3)
    assert "North. Concealed: 4x 1 bam, 4x 1 crak, 5x east." in picture.text
    assert picture.text.count("not seen") == 3
    assert faces(picture).count("east") == 5
    same = table_picture(state, racks={3: rack_of([0] * 4 + [9] * 4 + [27] * 5)}, bottom=3)
    assert same == picture


def test_a_rack_known_in_part_is_refused_with_what_would_do():
    with pytest.raises(hr.HandreadError, match=r"3 tiles of the rack of seat 2 .* known whole"):
        table_picture(replay(OPENING), racks={2: rack_of([4] * 7, unknown=3)})
    with pytest.raises(hr.HandreadError, match="West: racks gives 2 tiles, concealed 10"):
        table_picture(replay(OPENING), racks={2: [1, 2]})
    with pytest.raises(hr.HandreadError, match="people: got 2 items"):
        table_picture(replay([]), people=["a", "b"])


def test_what_cannot_be_drawn_stands_in_the_title():
    missed = table_picture(replay([*OPENING, Missed(3)]), title="Club night")
    assert missed.text.splitlines()[0] == (
        "Club night: turns were not seen, some 96 tiles left in the wall"
    )
    assert "left in the wall." not in missed.text.split("\n", 1)[1]
    joined = table_picture(replay([Joined(wall=40, floor=(4, 4, 20)), hr.Discard(1, 5)]))
    assert "3 tiles of the floor not shown" in joined.text
    back = table_picture(replay([hr.Discard(0, 4), Expose(0, 3)]))
    assert back.text.startswith("throw 1 was taken back by East\n")
    over = table_picture(replay([hr.Discard(0, 4), hr.Win(2, True)]))
    assert over.text.startswith("the game is over\n")
    assert "to throw" not in over.text


def test_the_count_is_the_live_count():
    state = replay([*OPENING, hr.Discard(3, 31)])
    own = rack_of([4, 22, 22, 35])
    count = live(state, 1, own.tiles)
    picture = count_picture(state, own, title="South counts")
    assert picture == count_picture(state, own.tiles, viewer=1, title="South counts")
    assert picture.text.startswith(f"South counts\n{count.unseen.sum()} of 152 tiles live\n")
    for kind in (4, 22, 31, 35):
        unseen, copies = count.unseen[kind], count.copies[kind]
        assert f"{KINDS[kind]} {unseen} of {copies}" in picture.text
    assert count_picture(state) != picture


def test_a_count_asks_whose_rack_it_is_where_that_matters():
    state = replay([*OPENING, Redeem(3, 2, 4)])
    rack = rack_of([35, 22])
    with pytest.raises(hr.HandreadError, match=r"North is known to hold tiles .* viewer=0 to 3"):
        count_picture(state, rack)
    assert "joker 7 of 8" in count_picture(state, rack, viewer=3).text  # the redeemed one is it
    assert "joker 6 of 8" in count_picture(state, rack, viewer=0).text
    with pytest.raises(hr.HandreadError, match=r"got shape \(2,\); accepted: counts of the 36"):
        count_picture(state, np.zeros(2, dtype=int))


def test_a_count_of_a_rack_of_which_nothing_is_known():
    state = replay(OPENING)
    assert count_picture(state, no_rack(state, 1)) == count_picture(state)


def test_a_card_with_as_many_jokers_and_flowers_as_may_be_is_counted():
    text = (
        card_template().replace("jokers = 8", "jokers = 16").replace("flowers = 8", "flowers = 16")
    )
    card = compile_card(parse_card(text))
    state = replay([hr.Discard(0, parse_kind("flower"))], card=card)
    assert "flower 15 of 16, joker 16 of 16" in count_picture(state).text


def test_a_state_shows_itself():
    state = replay(OPENING)
    picture = table_picture(state)
    assert state._repr_html_() == picture._repr_html_()
    assert state._repr_mimebundle_() == picture._repr_mimebundle_()
    assert set(state._repr_mimebundle_(include={"text/plain"})) == {"text/plain"}
    assert "West, " not in repr(state)  # repr stays that of the value
    assert "to throw" not in written(picture)
