"""Readable: in contrast, without colour, by shape."""

import math
import re
from collections import Counter

import pytest

from handread import svg
from handread.svg import palette
from handread.svg.marks import suit_mark, wind_mark
from handread.tiles import COPIES, KINDS
from tests.svg.drawn import parts

COLOURS = re.compile(r' (?:fill|stroke)="#[0-9a-f]{6}"')


def luminance(colour):
    """Relative luminance of an sRGB colour.

    Source: W3C, Web Content Accessibility Guidelines (WCAG) 2.1, 2018, definition of
    "relative luminance"; contrast ratios from the same text.
    """
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    low, high = sorted([luminance(one), luminance(other)])
    return (high + 0.05) / (low + 0.05)


def every_picture():
    live = [min(n, kind % 5) for kind, n in enumerate(COPIES)]
    thrown = [(n % 4, n, 3 if n == 5 else None) for n in range(36)]
    yield svg.row([range(18), range(18, 36)], title="All kinds")
    yield svg.rack(range(28), [(4, 4, 2), (35, 3, 0), (2, 7, 1)], hidden=3, title="Rack")
    yield svg.live_counts(live, certain=False, title="Live")
    yield svg.live_counts([0] * 36)
    taken = [(seat, kind, (seat + 1) % 4) for seat, kind, _ in thrown]
    yield svg.floor(taken)
    yield svg.table(
        thrown, window=35, wall=9, people=["a", "b", "c", "d"], holder=2,
        live=[True, False, True, False], racks={0: range(13)}, title="Table",
    )  # fmt: skip


def test_contrast_is_that_of_the_guidelines():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.1: 1 to 21
    assert contrast("#777777", "#777777") == pytest.approx(1)


def test_every_word_stands_out_from_its_ground():
    """WCAG 2.1, success criterion 1.4.3 (AA): 4.5 to 1 for text."""
    for picture in every_picture():
        drawn = parts(picture)
        for place, part in enumerate(drawn):
            if part.tag != "text":
                continue
            x, y = part.point()
            y -= float(part.node.get("font-size")) * 0.35
            x += 2 if part.node.get("text-anchor") == "start" else 0
            grounds = [
                under.node.get("fill")
                for under in drawn[:place]
                if under.tag == "rect"
                and under.node.get("fill") != "none"
                and under.box()[0] < x < under.box()[2]
                and under.box()[1] < y < under.box()[3]
            ]
            assert contrast(part.node.get("fill"), grounds[-1]) >= 4.5, part.node.text


def test_every_mark_stands_out_from_its_ground():
    """WCAG 2.1, success criterion 1.4.11 (AA): 3 to 1 for graphics; here 4.5."""
    marks = [(palette.FACE, ground) for ground in palette.SUIT_INK]
    marks += [(palette.FLOWER_INK, palette.FACE), (palette.FLOWER_INK, palette.SPENT)]
    marks += [(palette.INK, palette.FACE), (palette.INK, palette.SPENT), (palette.INK, palette.MAT)]
    assert min(contrast(*pair) for pair in marks) >= 4.5


def test_the_mat_covers_the_document_so_that_any_background_will_do():
    for picture in every_picture():
        first = next(part for part in parts(picture) if part.tag == "rect")
        width, height = re.search(r'width="([\d.]+)" height="([\d.]+)"', picture.svg).groups()
        assert first.box() == pytest.approx((0, 0, float(width), float(height)))
        assert first.node.get("fill") == palette.MAT


def colourless(picture, *, words):
    """The drawing without colours and, on demand, without words."""
    drawing = re.sub("<(title|desc).*</desc>|<title.*?</title>", "", picture.svg)
    drawing = COLOURS.sub("", drawing[drawing.index("<g ") :])
    return drawing if words else re.sub(r">[^<>]+</text>", "></text>", drawing)


def test_kinds_differ_without_colour_and_without_words():
    shapes = Counter(colourless(svg.tile(kind), words=False) for kind in range(36))
    honours = [colourless(svg.tile(kind), words=False) for kind in range(27, 36)]
    assert len(set(honours)) == 9
    assert len(shapes) == 3 + 9  # numbers are words; each suit is a shape of its own
    assert len({colourless(svg.tile(kind), words=True) for kind in range(36)}) == 36


def test_suits_are_bars_angles_and_rings():
    tags = [set(re.findall(r"<(\w+)", suit_mark(suit, 13, "#000000"))) for suit in range(3)]
    assert tags == [{"rect"}, {"path"}, {"circle"}]


@pytest.mark.parametrize("kind", range(36), ids=KINDS)
def test_taken_and_gone_tiles_differ_without_colour(kind):
    there = colourless(svg.floor([(0, kind, None)]), words=False)
    taken = colourless(svg.floor([(0, kind, 1)]), words=False)
    assert "stroke-dasharray" in taken
    assert "stroke-dasharray" not in there
    none_left = [4] * 34 + [8, 8]
    none_left[kind] = 0
    assert colourless(svg.live_counts(none_left), words=False).count("stroke-dasharray") == 1


def test_words_are_large_enough():
    for picture in every_picture():
        sizes = [float(size) for size in re.findall(r'font-size="([\d.]+)"', picture.svg)]
        assert min(sizes) >= 9


def test_colours_are_those_of_the_palette():
    named = {value for value in vars(palette).values() if isinstance(value, str)}
    named |= {*palette.SUIT_INK, *palette.SUIT_GROUND}
    for picture in every_picture():
        assert set(re.findall(r'(?:fill|stroke)="(#[^"]+)"', picture.svg)) <= named


def test_pips_show_the_count():
    counts = [4] * 34 + [8, 8]
    counts[7] = 1
    drawing = svg.live_counts(counts).svg
    pips = re.findall(r'height="5.8" rx="1.5" fill="([^"]+)"', drawing)
    assert len(pips) == 152
    assert pips.count("none") == 3
    assert pips[28:32] == [palette.INK, "none", "none", "none"]


def test_as_many_pips_as_a_card_can_have_copies():
    most = [4] * 34 + [16, 16]
    picture = svg.live_counts([4] * 34 + [15, 9], most)
    pips = re.findall(r'width="([^"]+)" height="5.8" rx="1.5" fill="([^"]+)"', picture.svg)
    assert len(pips) == sum(most)
    assert [fill for _, fill in pips[-16:]].count("none") == 7
    assert min(float(width) for width, _ in pips) > 1.5
    assert "flower 15 of 16, joker 9 of 16" in picture.text


def test_a_whole_game_stays_a_small_document():
    thrown = [(n % 4, n % 35, None) for n in range(99)]
    picture = svg.table(thrown, concealed=(1, 1, 1, 1))
    assert len(picture.svg) < 120_000
    width = float(re.search(r'width="([\d.]+)"', picture.svg)[1])
    assert width < 1100


def test_a_hand_of_fourteen_stands_in_one_row():
    for blocks in (
        [range(14)],
        [[0, 0]] * 7,
        [[0, 0], *[[1, 1, 1]] * 4],
        [[0] * 6, [1] * 6, [2, 2]],
    ):
        height = float(re.search(r'height="([\d.]+)"', svg.row(blocks).svg)[1])
        assert height == 58 + 20


@pytest.mark.parametrize(
    ("wind", "side"), [(0, (1, 0)), (1, (0, 1)), (2, (-1, 0)), (3, (0, -1))], ids=KINDS[27:31]
)
def test_winds_point_to_their_side_with_north_upwards(wind, side):
    drawing = wind_mark(wind, "#000000")
    turn = math.radians(float(re.search(r'<g transform="rotate\((\d+)\)">', drawing)[1]))
    points = re.search(r'<polygon points="([^"]+)" fill="#000000"', drawing)[1].split()
    tip = max((tuple(map(float, point.split(","))) for point in points), key=lambda p: abs(p[1]))
    x = tip[0] * math.cos(turn) - tip[1] * math.sin(turn)
    y = tip[0] * math.sin(turn) + tip[1] * math.cos(turn)
    assert (x, y) == pytest.approx((13.5 * side[0], 13.5 * side[1]))
