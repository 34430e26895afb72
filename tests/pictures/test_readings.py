"""Readings on a page: small, well formed, said whole in words as well."""

import xml.etree.ElementTree as ET

import pytest

import handread as hr
from handread import svg
from handread.reading.show import holds_picture, needs_picture, reading_html, reading_text
from handread.reading.words import percent
from handread.table.events import Absent, Dead
from handread.tiles import KINDS
from tests.svg.drawn import SVG

HOSTILE = "<script>alert('&')</script>"
CARD = f"""
name = "Hostile"
[[family]]
name = "{HOSTILE}"
[[family.hand]]
name = "One {HOSTILE}"
tiles = "sextet flower, kong n one suit, kong n other suit"
[[family]]
name = "Plain"
[[family.hand]]
name = "Two"
tiles = "pair n one suit, kong n other suit, kong red, kong n third suit"
"""


@pytest.fixture(scope="module")
def reading(checkout):
    record = hr.load_record(checkout / "data" / "records" / "given-away.txt")
    reader = hr.Reader(hr.house_card(), header=record.header)
    for event in record.public():
        reader.observe(event)
    return reader.reading("North")


def page_of(reading):
    return ET.fromstring(reading._repr_html_())


def test_a_reading_stays_small_and_is_well_formed(reading):
    html = reading._repr_html_()
    assert len(html.encode()) < 80_000
    root = ET.fromstring(html)
    ids = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(ids) == len(set(ids))
    assert not any(node.tag in ("script", "style", "link", "img") for node in root.iter())


def test_families_stand_there_with_bars_as_long_as_their_probabilities(reading):
    families, hands = page_of(reading).iter("table")
    rows = [list(row) for row in families.find("tbody")]
    assert [row[0].text for row in rows] == list(reading.families.index)
    for row, prob in zip(rows, reading.families, strict=True):
        assert row[2].text == percent(float(prob))
        style = row[1].find("div/div").get("style")
        assert abs(float(style.split("width:")[1].split("px")[0]) - 160 * prob) <= 0.05
        assert row[1].find("div").get("aria-hidden") == "true"  # the number is beside it
    assert [row[0].text for row in hands.find("tbody")] == reading.hands["hand"][:5].tolist()
    assert {head.get("scope") for head in page_of(reading).iter("th")} == {"col"}


def test_the_needs_are_those_of_the_reading(reading):
    (drawn,) = page_of(reading).iter(f"{SVG}svg")
    assert drawn.get("aria-label") == "Still needed by North's plan, in its rack or not"
    title = "Still needed by North's plan, in its rack or not"
    assert needs_picture(reading) == svg.probabilities(reading.needs.to_numpy(), title=title)
    holds = holds_picture(reading)
    assert "Highest: " + KINDS[int(reading.holds.to_numpy().argmax())] in holds.text


def test_the_words_say_everything_that_the_page_shows(reading):
    words = reading_text(reading)
    page = page_of(reading)
    for table in page.iter("table"):
        for cell in table.find("tbody").iter("td"):
            assert (cell.text or "") in words
    for event in page.iter("li"):
        assert event.text in words
    assert needs_picture(reading).text in words
    assert page.find("p").text == words.splitlines()[0] == _headline(reading)
    for name, prob in reading.families.items():
        assert f"{name} {percent(float(prob))}" in words


def _headline(reading):
    return f"North after {reading.state.turns[3]} own turns"


def test_the_truth_of_the_record_is_not_in_it(reading, checkout):
    record = hr.load_record(checkout / "data" / "records" / "given-away.txt")
    comments = [event.text for event in record.events if isinstance(event, hr.Comment)]
    assert comments
    for form in reading._repr_mimebundle_().values():
        assert not any(text in form for text in comments)


def test_forms_are_given_as_a_front_end_asks(reading):
    whole = reading._repr_mimebundle_()
    assert whole == {"text/html": reading_html(reading), "text/plain": reading_text(reading)}
    assert set(reading._repr_mimebundle_(include={"text/plain"})) == {"text/plain"}
    assert set(reading._repr_mimebundle_(exclude=["text/plain"])) == {"text/html"}


def test_names_of_a_card_stay_text(tmp_path):
    path = tmp_path / "card.toml"
    path.write_text(CARD, encoding="utf-8")
    reader = hr.Reader(hr.load_card(path))
    reader.observe(hr.Discard(0, 4))
    html = reader.reading("East")._repr_html_()
    assert "<script>" not in html
    assert HOSTILE in [cell.text for cell in ET.fromstring(html).iter("td")]


def test_the_headline_says_who_plays_no_more():
    reader = hr.Reader(hr.load_card("small"))
    reader.observe(Absent(1))
    reader.observe(hr.Discard(0, 4))
    reader.observe(Dead(3))
    assert reading_text(reader.reading("East")).startswith("East after 1 own turn\n")
    assert reading_text(reader.reading("South")).startswith("South after 0 own turns; nobody")
    assert reading_text(reader.reading("North")).startswith("North after 0 own turns; dead hand")
    assert reader.reading("North")._repr_html_()
