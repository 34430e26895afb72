"""Reading a card file into a ``Card``, with errors that name the line, the hand and the word."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Any, Final

from handread.card.cardfile import USUAL_POINTS, Card, CardHand, ClubRules, Family, without_jokers
from handread.card.grammar import parse_hand
from handread.card.notation import SIZES
from handread.card.source import Table, Value, read_source
from handread.card.tokens import CardError
from handread.errors import closest
from handread.tiles import MOST_COPIES

#: Longest name of a card, family or hand, in characters.
LONGEST_NAME: Final = 80
_MOST_TILES: Final = 20
_MOST_POINTS: Final = 1_000_000


def parse_card(text: str, source: str = "card") -> Card:
    """Read a card file.

    Parameters
    ----------
    text
        The file.
    source
        Its name, for errors.

    Returns
    -------
    Card
        The card as a value; ``format_card`` writes it back, ``compile_card`` makes arrays of it.

    Raises
    ------
    CardError
        If something is not understood; the message names file, line, hand, place, word, and
        what would have been accepted.

    Examples
    --------
    >>> card = parse_card('''
    ... name = "Card of one hand"
    ... [[family]]
    ... name = "Kongs"
    ... [[family.hand]]
    ... name = "Twin kongs"
    ... tiles = "kong 5 one suit, kong 5 other suit, sextet flowers"
    ... ''')
    >>> card.families[0].hands[0].name
    'Twin kongs'
    """
    data, tables = read_source(text, source)
    entries = _entries(data, tables, source)
    top = entries[0]
    rules = next((_rules(entry) for entry in entries if entry.what == "rules"), ClubRules())
    families: list[tuple[_Entry, list[CardHand]]] = []
    seen: dict[tuple[str, str], int] = {}
    for entry in entries:
        _check_unique(entry, seen)
        if entry.what == "family":
            families.append((entry, []))
        elif entry.what == "hand":
            families[-1][1].append(_hand(entry))
    if not families:
        raise CardError("no [[family]] with a hand; a card needs at least one", place=source)
    found = tuple(_family(entry, tuple(hands)) for entry, hands in families)
    return Card(top.name(), found, rules, top.note(), source)


@dataclass(frozen=True)
class _Entry:
    """One table of the file: its values, and where they stand."""

    raw: dict[str, Any]
    table: Table
    source: str

    @property
    def what(self) -> str:
        return self.table.what

    def wrong(self, problem: str, key: str | None = None) -> CardError:
        value = self.table.values.get(key) if key else None
        place = f"{self.source}, line {value.line if value else self.table.line}"
        name = self.raw.get("name")
        if self.what == "hand" and isinstance(name, str):
            place += f", hand {name[:LONGEST_NAME]!r}"
        return CardError(problem, place=place)

    def text(self, key: str) -> str:
        if key not in self.raw:
            raise self.wrong(f'this {self.what} has no {key}; accepted: {key} = "..."')
        value = self.raw[key]
        if not isinstance(value, str) or not value.strip():
            raise self.wrong(f"{key} = {value!r}; accepted: words in quotation marks", key)
        return value

    def name(self) -> str:
        name = unicodedata.normalize("NFC", " ".join(self.text("name").split()))
        if len(name) > LONGEST_NAME:
            most = f"accepted: at most {LONGEST_NAME}"
            raise self.wrong(f"name {name[:20]!r}... has {len(name)} characters; {most}", "name")
        return name

    def note(self) -> str:
        return " ".join(self.text("note").split()) if "note" in self.raw else ""

    def number(self, key: str, usual: int, low: int, high: int) -> int:
        value = self.raw.get(key, usual)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            accepted = f"accepted: a whole number from {low} to {high:,}"
            raise self.wrong(f"{key} = {value!r}; {accepted}", key)
        return value

    def switch(self, key: str, usual: bool) -> bool:
        value = self.raw.get(key, usual)
        if not isinstance(value, bool):
            raise self.wrong(f"{key} = {value!r}; accepted: true, false", key)
        return value


def _entries(data: dict[str, Any], tables: list[Table], source: str) -> list[_Entry]:
    """Pair what TOML says with the tables of the scan, in the order of the file."""
    families = data.get("family", [])
    raws = {
        "card": [data],
        "rules": [data["rules"]] if "rules" in data else [],
        "family": families,
        "hand": [hand for family in families for hand in family.get("hand", [])],
    }
    queues = {what: iter(found) for what, found in raws.items()}
    entries = []
    for table in tables:
        raw = next(queues[table.what], None)
        if raw is None:
            raise CardError(
                f"this {table.what} cannot be followed", place=f"{source}, line {table.line}"
            )
        entries.append(_Entry(raw, table, source))
    return entries


def _rules(entry: _Entry) -> ClubRules:
    usual = ClubRules()
    names = entry.raw.get("claimable", [SIZES[size - 1] for size in usual.claimable])
    if not isinstance(names, list) or not names:
        accepted = 'accepted: a list such as ["pung", "kong"]'
        raise entry.wrong(f"claimable = {names!r}; {accepted}", "claimable")
    for name in names:
        if name not in SIZES[1:]:
            accepted = closest(str(name), SIZES[1:])
            raise entry.wrong(
                f"{name!r} is no group that a claim can show; {accepted}", "claimable"
            )
    return ClubRules(
        entry.number("jokers", usual.jokers, 0, MOST_COPIES),
        entry.number("flowers", usual.flowers, 0, MOST_COPIES),
        entry.number("hand_size", usual.hand_size, 2, _MOST_TILES),
        tuple(sorted({SIZES.index(name) + 1 for name in names})),
    )


def _family(entry: _Entry, hands: tuple[CardHand, ...]) -> Family:
    name = entry.name()
    if not hands:
        raise entry.wrong(f"family {name!r} has no hands; accepted: [[family.hand]] below it")
    return Family(name, hands, entry.note())


def _hand(entry: _Entry) -> CardHand:
    name = entry.name()
    tiles = entry.text("tiles")
    try:
        pattern = parse_hand(tiles)
    except CardError as error:
        line = _line_of(entry.table.values["tiles"], tiles, error.offset)
        place = f"{entry.source}, line {line}, hand {name!r}"
        place += f", {error.place}" if error.place else ""
        raise CardError(error.problem, place=place, offset=error.offset) from None
    if not entry.switch("jokers", True):
        pattern = without_jokers(pattern)
    return CardHand(
        name,
        pattern,
        entry.switch("concealed", False),
        entry.number("points", USUAL_POINTS, 0, _MOST_POINTS),
        entry.note(),
        entry.table.values["tiles"].line,
    )


def _check_unique(entry: _Entry, seen: dict[tuple[str, str], int]) -> None:
    if entry.what not in ("family", "hand"):
        return
    name = entry.name()
    line = entry.table.line
    first = seen.setdefault((entry.what, name), line)
    if first != line:
        problem = f"name {name!r} is taken by the {entry.what} in line {first}"
        raise entry.wrong(f"{problem}; accepted: a name that no other {entry.what} has", "name")


def _line_of(value: Value, text: str, offset: int | None) -> int:
    """Line of the character at `offset` of a text."""
    if offset is None:
        return value.line
    quote = value.raw[:3] if value.raw[:3] in ('"""', "'''") else ""
    dropped = 1 if quote and value.raw[3:4] == "\n" else 0
    return value.line + dropped + (text.count("\n", 0, offset) if quote else 0)
