"""The words of a picture tell everything, and what is drawn is what they tell."""

import re
from collections import Counter

from hypothesis import given, settings
from hypothesis import strategies as st

from handread import svg
from handread.tiles import COPIES, KINDS, as_counts, parse_kind, parse_tiles
from tests.svg.drawn import faces, groups, kinds, live, parts, table, throws, tiles, window, written

SEATS = ["East", "South", "West", "North"]
SIZES = {"single": 1, "pair": 2, "pung": 3, "kong": 4, "quint": 5, "sextet": 6}
RUN = re.compile(r"(?:(\d+)x )?(.+)")


def read_tiles(text):
    """Kinds of a list in words, in order, without the limits of the tile set."""
    found = []
    for entry in text.split(", "):
        times, name = RUN.fullmatch(entry).groups()
        found += [parse_kind(name)] * int(times or 1)
    return found


def read_groups(text):
    """Groups from words, as (kind, size, jokers)."""
    found = []
    for entry in text.split(", "):
        form, name, jokers = re.fullmatch(
            r"(group of \d+:|\w+ of) (.+?)(?: with (\d+) jokers?)?", entry
        ).groups()
        size = SIZES[form[:-3]] if form.endswith(" of") else int(form[9:-1])
        found.append((parse_kind(name), size, int(jokers or 0)))
    return found


def read_rack(line):
    """Groups, known tiles and number of unseen ones from the words of a rack."""
    exposed = re.search(r"Exposed: (.*?)\.", line)
    inside = re.search(r"Concealed: (.*?)\.", line)
    shown = read_groups(exposed[1]) if exposed else []
    if not inside:
        return shown, [], 0
    entries = inside[1].split(", ")
    unseen = re.fullmatch(r"(\d+) tiles? not seen", entries[-1])
    known = entries[:-1] if unseen else entries
    return shown, read_tiles(", ".join(known)) if known else [], int(unseen[1]) if unseen else 0


def laid(shown):
    """Kinds that lie in exposed groups."""
    return [
        tile for kind, size, jokers in shown for tile in [kind] * (size - jokers) + [35] * jokers
    ]


@given(kinds)
def test_a_tile_shows_its_number_and_word(kind):
    picture = svg.tile(kind)
    assert picture.text == KINDS[kind]
    assert faces(picture) == [KINDS[kind]]


@settings(deadline=None)
@given(st.lists(tiles, max_size=5))
def test_a_row_tells_its_blocks(blocks):
    picture = svg.row(blocks)
    filled = [block for block in blocks if block]
    name, *lines = picture.text.split("\n")
    assert re.fullmatch(rf"Row of {sum(map(len, filled))} tiles?", name)
    told = [read_tiles(block) for block in lines[0][:-1].split("; ")] if lines else []
    assert told == filled
    assert faces(picture) == [KINDS[kind] for block in filled for kind in block]


@settings(deadline=None)
@given(tiles, groups, st.integers(0, 14))
def test_a_rack_tells_its_groups_and_tiles(known, shown, hidden):
    picture = svg.rack(known, shown, hidden=hidden)
    told = " ".join(picture.text.split("\n")[1:])
    assert read_rack(told) == (shown, known, hidden)
    assert faces(picture) == [KINDS[kind] for kind in laid(shown) + known]
    total = len(known) + hidden + sum(size for _, size, _ in shown)
    assert re.match(rf"Rack of {total} tiles?\n|Rack of 0 tiles", picture.text)


def test_words_of_a_rack_are_read_by_the_parser_of_tiles():
    line = svg.rack([0, 0, 33, 35, 35, 35]).text.split("\n")[1]
    told = parse_tiles(line.removeprefix("Concealed: ").removesuffix("."))
    assert told.tolist() == as_counts([0, 0, 33, 35, 35, 35]).tolist()


def read_floor(lines):
    found, still_open = [], None
    for place, line in enumerate(lines):
        n, seat, name, taker, claim = re.fullmatch(
            r"(\d+)\. (\w+): ([^,]+)(?:, taken by (\w+))?(, may still be claimed)?", line
        ).groups()
        assert int(n) == place + 1
        taken = None if taker is None else SEATS.index(taker)
        found.append((SEATS.index(seat), parse_kind(name), taken))
        still_open = place if claim else still_open
    return found, still_open


@settings(deadline=None)
@given(st.data(), throws)
def test_a_floor_tells_every_throw(data, thrown):
    last = data.draw(window(thrown))
    picture = svg.floor(thrown, window=last)
    name, *lines = picture.text.split("\n")
    assert name.startswith(f"Floor after {len(thrown)} throw")
    assert read_floor(lines) == (thrown, last)
    drawn = written(picture)
    assert Counter(faces(picture)) == Counter(KINDS[kind] for _, kind, _ in thrown)
    told = Counter(text for text in drawn if text.startswith("to "))
    assert told == Counter(f"to {SEATS[taker]}" for *_, taker in thrown if taker is not None)
    assert drawn.count("claim?") == (last is not None)


def test_the_order_of_throws_can_be_read_from_the_picture():
    thrown = [(0, 0, None), (1, 1, 3), (3, 2, None), (0, 3, None), (2, 4, None), (1, 5, None)]
    columns = svg.floors.ways_round(thrown)
    assert columns == [[0, 1, 2], [3, 4], [5]]
    assert [n for column in columns for n in column] == list(range(6))


@given(throws)
def test_ways_round_keep_the_order_and_hold_each_seat_once(thrown):
    columns = svg.floors.ways_round(thrown)
    assert [n for column in columns for n in column] == list(range(len(thrown)))
    for column in columns:
        seats = [thrown[n][0] for n in column]
        assert seats == sorted(set(seats))


@settings(deadline=None, max_examples=40)
@given(live(), st.booleans())
def test_live_counts_tell_every_kind(counts, certain):
    left, copies = counts
    picture = svg.live_counts(left, copies, certain=certain)
    told = {}
    for line in picture.text.split("\n")[1:]:
        for entry in re.sub(r"^[\w, ]+: ", "", line)[:-1].split(", "):
            name, most, n, of = re.fullmatch(r"(.+?) (at most )?(\d+) of (\d+)", entry).groups()
            assert bool(most) is not certain
            told[name] = (int(n), int(of))
    assert told == dict(zip(KINDS, zip(left, copies, strict=True), strict=True))
    assert faces(picture) == list(KINDS)
    prefix = "" if certain else "At most "
    assert picture.text.startswith(f"{prefix}{sum(left)} of {sum(copies)} tiles live")
    assert written(picture).count("at most") == (0 if certain else 36)
    drawn = [text for text in written(picture) if re.fullmatch(r"of \d+", text)]
    assert drawn == [f"of {n}" for n in copies]


def test_live_counts_take_the_standard_set_for_granted():
    assert svg.live_counts(COPIES) == svg.live_counts(COPIES, COPIES)
    assert svg.live_counts(COPIES).text.startswith("152 of 152 tiles live\nBams: 1 bam 4 of 4,")


@settings(deadline=None, max_examples=40)
@given(table())
def test_a_table_tells_everything(given_table):
    people = given_table.pop("people")
    given_table.pop("title")
    picture = svg.table(**given_table)
    name, *lines = picture.text.split("\n")
    assert name.startswith(f"Table after {len(given_table['throws'])} throw")
    for seat, line in enumerate(lines[:4]):
        head = line.split(". ")[0].rstrip(".").split(", ")
        assert head[0] == SEATS[seat]
        assert ("not playing" in head) is not given_table["live"][seat]
        assert ("to throw" in head) is (given_table["holder"] == seat)
        known = given_table["racks"].get(seat)
        hidden = given_table["concealed"][seat] if known is None else 0
        assert read_rack(line) == (given_table["groups"][seat], known or [], hidden)
    rest = lines[4:]
    if given_table["wall"] is not None:
        assert re.fullmatch(rf"{given_table['wall']} tiles? left in the wall\.", rest.pop(0))
    assert read_floor(rest) == (given_table["throws"], given_table["window"])
    seen = [kind for _, kind, _ in given_table["throws"]]
    seen += [kind for shown in given_table["groups"] for kind in laid(shown)]
    seen += [kind for rack in given_table["racks"].values() for kind in rack]
    assert Counter(faces(picture)) == Counter(KINDS[kind] for kind in seen)
    assert svg.table(**given_table, people=people).text.count("\n") == len(lines)


def test_the_next_seat_sits_to_the_right():
    places = {}
    for bottom in range(4):
        picture = svg.table(people=list("abcd"), bottom=bottom, wall=80)
        found = {}
        for part in names_of_seats(picture):
            found[part.node.text] = part.point()
        places[bottom] = found
        low, right, top, left = (SEATS[(bottom + n) % 4] for n in range(4))
        assert found[low][1] > found[right][1] > found[top][1]
        assert found[right][0] > found[left][0]
        assert found[right][1] == found[left][1]
    assert places[0]["East"] == places[1]["South"]


def names_of_seats(picture):
    return [p for p in parts(picture) if p.tag == "text" and p.node.get("font-size") == "17"]


def test_backs_are_as_many_as_tiles_not_seen():
    for hidden in (1, 5, 6, 13, 30):
        picture = svg.rack(hidden=hidden)
        assert picture.svg.count('width="7.5"') == hidden
