"""One record read: the promises of ``handread read``."""

import json
from io import StringIO
from itertools import pairwise
from pathlib import Path

import pytest
from rich.console import Console

import handread as hr
from handread.reading.tables import bar, wanted
from handread.report import print_game, read_record
from handread.shipped import available, shipped
from handread.tiles import COPIES

DEMOS = available("data", "records")
#: The story of each demo record: whose, and the event of which it speaks, as the ledger names it.
STORIES = {
    "change-of-plan.txt": ("West", "West throws green"),
    "given-away.txt": ("North", "North shows a pung of white with 1 joker"),
    "never-shows.txt": ("East", "East throws flower"),
}


def demo(name: str) -> Path:
    return shipped("data", "records", name)


@pytest.mark.parametrize("name", STORIES)
def test_the_event_of_the_story_is_among_the_first_ten(name: str) -> None:
    seat, event = STORIES[name]
    game = read_record(demo(name), seats=[seat])
    assert event in [entry.seen for entry in game.seats[0].ledger.most(10)]


@pytest.mark.parametrize("name", DEMOS)
def test_every_demo_is_clean_and_gives_one_document(name: str) -> None:
    game = read_record(demo(name))
    assert game.reader.state.flags == ()
    assert game.reader.state.over
    text = json.dumps(game.to_dict(), allow_nan=False)
    document = json.loads(text)
    families = set(game.reader.card.families) | {"undecided", "defending", "other"}
    for seat in ("East", "South", "West", "North"):
        reading = document["seats"][seat]
        assert set(reading["families"]) == families
        assert abs(sum(reading["families"].values()) - 1) < 1e-9
        assert len(reading["needs"]) == 36
        assert reading["hands"]
        assert reading["ledger"]


@pytest.mark.parametrize("name", DEMOS)
def test_a_record_ends_with_what_every_seat_had(name: str) -> None:
    record = hr.load_record(demo(name))
    revealed = [event for event in record.events if isinstance(event, hr.Reveal)]
    assert [event.seat for event in revealed] == [0, 1, 2, 3]
    names = {hand.name for hand in hr.house_card().hands}
    assert all(event.hand in names and event.rack for event in revealed)
    assert not any(isinstance(event, hr.Reveal) for event in record.public(viewer="floor"))


def test_parts_add_up_for_every_entry_of_a_demo() -> None:
    game = read_record(demo("given-away.txt"))
    for reading in game.seats:
        for entry in reading.ledger.entries:
            whole = entry.bits
            for row, bits in enumerate(whole):
                parts = [part.bits[row] for part in entry.parts]
                if abs(bits) < float("inf") and all(abs(b) < float("inf") for b in parts):
                    assert sum(parts) == pytest.approx(bits, abs=1e-9)


def test_at_stops_after_so_many_throws_and_reads_the_same() -> None:
    early = read_record(demo("given-away.txt"), at=12)
    assert len(early.reader.state.floor) == 12
    later = read_record(demo("given-away.txt"), at=13)
    entries = early.seats[0].ledger.entries
    for one, two in zip(entries, later.seats[0].ledger.entries, strict=False):
        assert one.seat.after == two.seat.after
    with pytest.raises(hr.HandreadError, match="accepted: 0 to"):
        read_record(demo("given-away.txt"), at=1000)


def test_the_terminal_page_fits_eighty_columns() -> None:
    console = Console(width=80, record=True, file=StringIO())
    print_game(read_record(demo("change-of-plan.txt"), at=40), console, why=True)
    text = console.export_text()
    assert all(len(line) <= 80 for line in text.splitlines())
    assert "most telling" in text
    assert "not measured" not in text  # the weights are fitted


def test_a_card_beside_the_record_is_read_with_a_prior_dealt_on_the_spot(tmp_path: Path) -> None:
    small = shipped("data", "cards", "small.toml").read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(small.replace("points = 25", "points = 26"))
    (tmp_path / "game.txt").write_text("card mine.toml\ne 5 b\ns n\nw 9 d\n")
    game = read_record(tmp_path / "game.txt")
    assert any("random racks" in note for note in game.notes)
    assert game.seats[0].families.sum() == pytest.approx(1)


def test_bars_grow_with_the_probability() -> None:
    lengths = [len(bar(p / 20).rstrip()) for p in range(21)]
    assert all(one <= two for one, two in pairwise(lengths))
    assert wanted({"5 bam": 4, "6 bam": 3, "flower": 8}, COPIES) == "5 bam, 6 bam (3), flower"
