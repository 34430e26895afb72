"""A card file as text: where each value stands, and what is refused before it is read.

A card is TOML of a plain kind: tables ``[rules]``, ``[[family]]``, ``[[family.hand]]`` and
lines ``key = value``. The scan knows the line of every value, so that errors can name it,
and refuses forms that a card never needs (dotted keys, nested lists), which also keeps the
time to read a hostile file in proportion to its size.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any, Final

from handread.card.tokens import CardError
from handread.errors import closest

#: Largest card file, in bytes.
LARGEST_FILE: Final = 1 << 20
#: Most hands on a card.
MOST_HANDS: Final = 500
#: Most families on a card.
MOST_FAMILIES: Final = 100

#: Keys of each table, in the order in which ``format_card`` writes them.
KEYS: Final = {
    "card": ("name", "note"),
    "rules": ("jokers", "flowers", "hand_size", "claimable"),
    "family": ("name", "note"),
    "hand": ("name", "tiles", "concealed", "points", "jokers", "note"),
}
_HEADERS: Final = {"[rules]": "rules", "[[family]]": "family", "[[family.hand]]": "hand"}
_KEY: Final = re.compile(r"\s*([A-Za-z_]{1,40})\s*=\s*(.*)", re.DOTALL)
_ONE_LINE_TEXT: Final = re.compile(r"\"(?:[^\"\\]++|\\.)*+\"|'[^']*+'")
_LIST: Final = re.compile(r"\[(?:[\s,]|\"[A-Za-z ]*\"|'[A-Za-z ]*'|#[^\n]*\n)*+\]")
_PLAIN: Final = re.compile(r"(?:true|false|[+-]?\d{1,9})\s*(?:#.*)?")


@dataclass(frozen=True)
class Value:
    """Where a value stands: its first line, and the lines of its text as they are written."""

    line: int
    raw: str


@dataclass
class Table:
    """One table of a card file as the scan sees it; filled while scanning."""

    what: str
    line: int
    values: dict[str, Value] = field(default_factory=dict)


def read_source(text: str, source: str) -> tuple[dict[str, Any], list[Table]]:
    """Read a card file's TOML, with the place of every value.

    Parameters
    ----------
    text
        The file.
    source
        Its name, for errors.

    Returns
    -------
    tuple of dict and list of Table
        What ``tomllib`` makes of it; the tables in the order of the file, the top first.

    Raises
    ------
    CardError
        If the file is too large, or is no card of the plain kind described above.
    """
    if len(text) > LARGEST_FILE:
        raise CardError(
            f"has {len(text):,} characters; a card has at most {LARGEST_FILE:,}", place=source
        )
    tables = _scan(text.replace("\r\n", "\n").split("\n"), source)
    try:
        return tomllib.loads(text), tables
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"at line (\d+)", str(error))
        place = f"{source}, line {found[1]}" if found else source
        raise CardError(f"cannot be read as TOML: {error}", place=place) from None


def _scan(lines: list[str], source: str) -> list[Table]:
    tables = [Table("card", 1)]
    counts = {"family": 0, "hand": 0}
    at = 0
    while at < len(lines):
        line = lines[at]
        place = f"{source}, line {at + 1}"
        bare = line.strip()
        if not bare or bare.startswith("#"):
            at += 1
        elif bare.startswith("["):
            what = _header(bare, place)
            tables.append(Table(what, at + 1))
            _check_counts(what, counts, place)
            at += 1
        else:
            at = _scan_value(lines, at, tables[-1], place)
    return tables


def _header(bare: str, place: str) -> str:
    header = re.sub(r"\s", "", bare.split("#", 1)[0])
    if header not in _HEADERS:
        raise CardError(
            f"{bare[:60]!r} heads no part of a card; {closest(header, _HEADERS)}", place=place
        )
    return _HEADERS[header]


def _check_counts(what: str, counts: dict[str, int], place: str) -> None:
    if what not in counts:
        return
    counts[what] += 1
    most = MOST_HANDS if what == "hand" else MOST_FAMILIES
    if counts[what] > most:
        raise CardError(f"{what} number {counts[what]}; a card has at most {most}", place=place)
    if what == "hand" and not counts["family"]:
        raise CardError(
            "a hand before the first [[family]]; write [[family]] and its name first", place=place
        )


def _scan_value(lines: list[str], at: int, table: Table, place: str) -> int:
    found = _KEY.match(lines[at])
    if found is None:
        raise CardError(
            f"{lines[at].strip()[:60]!r} is no line of a card; accepted: key = value, "
            f"a comment after #, {', '.join(_HEADERS)}",
            place=place,
        )
    key, rest = found[1], found[2]
    if key not in KEYS[table.what]:
        owner = "card" if table.what == "card" else f"[{table.what}]"
        raise CardError(
            f"{key!r} is nothing that a {owner} says; {closest(key, KEYS[table.what])}", place=place
        )
    if key in table.values:
        raise CardError(
            f"{key!r} is said twice, first in line {table.values[key].line}", place=place
        )
    end = _value_end(lines, at, rest, key, place)
    table.values[key] = Value(at + 1, "\n".join([rest, *lines[at + 1 : end]]))
    return end


def _value_end(lines: list[str], at: int, rest: str, key: str, place: str) -> int:
    """Number of the line after the value that begins with `rest` in line `at`."""
    if rest.startswith(('"""', "'''")):
        return _text_end(lines, at, rest, key, place)
    if rest.startswith("["):
        return _list_end(lines, at, rest, key, place)
    if rest[:1] in ('"', "'"):
        if not _ONE_LINE_TEXT.match(rest):
            problem = f"the text of {key!r} is opened with {rest[0]} and not closed in its line"
            raise CardError(problem, place=place)
        return at + 1
    if not _PLAIN.fullmatch(rest.strip()):
        accepted = "accepted: words in quotation marks, a whole number, true, false"
        problem = f"{rest.strip()[:60]!r} cannot be the value of {key!r}; {accepted}"
        raise CardError(problem, place=place)
    return at + 1


def _text_end(lines: list[str], at: int, rest: str, key: str, place: str) -> int:
    quote = rest[:3]
    for number in range(at, len(lines)):
        text = rest[3:] if number == at else lines[number]
        if "\\" in text.split(quote)[0]:
            problem = f"the text of {key!r} holds a backslash; accepted: any words without one"
            raise CardError(problem, place=place)
        if quote in text:
            return number + 1
    raise CardError(f"the text of {key!r} is opened with {quote} and never closed", place=place)


def _list_end(lines: list[str], at: int, rest: str, key: str, place: str) -> int:
    found = _LIST.match("\n".join([rest, *lines[at + 1 : at + 40]]))
    if found is None:
        accepted = 'accepted: words in quotation marks between [ and ], such as ["pung", "kong"]'
        raise CardError(f"the list of {key!r} cannot be read; {accepted}", place=place)
    return at + 1 + found[0].count("\n")
