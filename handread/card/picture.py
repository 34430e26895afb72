"""Example racks of a hand as one picture, and a picture in a file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from handread.card.compiled import CompiledCard
from handread.card.examples import ExampleRack, example_racks, hand_index
from handread.card.notation import SIZES
from handread.card.tokens import CardError
from handread.errors import HandreadError
from handread.svg import Picture
from handread.svg.faces import tiles
from handread.svg.markup import Piece, element, label, stacked, width_of, words, wrapped
from handread.svg.palette import INK, QUIET
from handread.svg.picture import finish
from handread.svg.racks import ROW
from handread.tiles import FIRST_DRAGON, FLOWER, KINDS, suit_of

#: Kinds side by side (more than one where neighbouring singles are of one sort), the size of
#: each, and whether jokers may stand there.
_Part = tuple[tuple[int, ...], int, bool]
_BLOCK: Final = "singles"


def hand_picture(card: CompiledCard, hand: str, most: int = 3) -> Picture:
    r"""Picture of a hand: its name, what the card says of it, example racks one below another.

    Parameters
    ----------
    card
        The card.
    hand
        Name of the hand; capitals do not matter.
    most
        How many racks, at most; they are those of ``example_racks``.

    Raises
    ------
    CardError
        If no hand has that name, or it has no rack of its own.

    Examples
    --------
    >>> from handread.card import house_card
    >>> picture = hand_picture(house_card(), "roundabout", 1)
    >>> print("\n".join(picture.text.splitlines()[::3]))
    Roundabout
    Rack 1: kong of 1 bam, pung of 1 crak, pung of 1 dot, single of flower, pung of white.
    """
    line = card.hands[hand_index(card, hand)]
    racks = example_racks(card, hand, most)
    if not racks:
        raise CardError(f"hand {line.name!r} has no rack of its own that could be drawn")
    total = int((card.hand_of == hand_index(card, hand)).sum())
    kind = "concealed" if line.concealed else "open"
    about = f"{card.families[line.family]}, {kind}, {line.points} points; " + (
        f"{len(racks)} of {total} racks" if total > 1 else "its one rack"
    )
    parts = [_parts(card, rack) for rack in racks]
    head = [words(about, 13, fill=QUIET)]
    head += [words(said, 13) for said in _wrapped_words(line.words, 13, ROW)]
    shown = [_drawn(each) for each in parts]
    said = [f"Rack {n}: {', '.join(map(_said, each))}." for n, each in enumerate(parts, 1)]
    piece = stacked([stacked(head, 1), *shown], 14)
    return finish(piece, about, [line.words, *said], title=line.name)


def _parts(card: CompiledCard, rack: ExampleRack) -> list[_Part]:
    """Groups of a rack in the card's order, singles of one sort as one part."""
    parts: list[_Part] = []
    for kind, size, joker in zip(
        card.group_kind[rack.target], card.group_size[rack.target],
        card.group_joker[rack.target], strict=True,
    ):  # fmt: skip
        if size == 1 and parts and parts[-1][1] == 1 and _sort(parts[-1][0][0]) == _sort(kind):
            parts[-1] = ((*parts[-1][0], int(kind)), 1, False)
        elif size:
            parts.append(((int(kind),), int(size), bool(joker)))
    return parts


def _sort(kind: int) -> int:
    """The suit, or winds, dragons, flowers."""
    suit = suit_of(kind)
    return suit if suit is not None else 3 + (kind >= FIRST_DRAGON) + (kind >= FLOWER)


def _said(part: _Part) -> str:
    kinds, size, joker = part
    if len(kinds) > 1:
        return f"{_BLOCK} of {' '.join(KINDS[kind] for kind in kinds)}"
    without = "" if joker or size < 3 else " without jokers"
    return f"{SIZES[size - 1]} of {KINDS[kinds[0]]}{without}"


def _drawn(parts: Sequence[_Part]) -> Piece:
    """A rack: each part underlined by its name."""
    return wrapped([_underlined(part) for part in parts], ROW, 14, 8)


def _underlined(part: _Part) -> Piece:
    kinds, size, joker = part
    shown = tiles(np.repeat(kinds, size).tolist())
    name = _BLOCK if len(kinds) > 1 else SIZES[size - 1]
    name += "" if joker or size < 3 else ", no jokers"
    rule = element("line", x1=2, y1=1, x2=shown.width - 2, y2=1, stroke=INK, stroke_width=2)
    caption = rule + label(shown.width / 2, 14, name, 11.5, fill=QUIET)
    return stacked([shown, Piece(shown.width, 18, caption)], 4)


def _wrapped_words(text: str, size: float, most: float) -> list[str]:
    """Lines no wider than `most`."""
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and width_of(longer, size) > most:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def write_picture(picture: Picture, path: str | Path, *, force: bool = False) -> None:
    """Write a picture to an SVG file.

    Parameters
    ----------
    picture
        The picture.
    path
        File to write; ends in ``.svg``.
    force
        Whether a file that is there may be overwritten.

    Raises
    ------
    HandreadError
        If the file has another ending, is there already, or cannot be written.
    """
    path = Path(path)
    if path.suffix.lower() != ".svg":
        ends = f"{str(path)!r} ends in {path.suffix!r}" if path.suffix else f"{str(path)!r}"
        raise HandreadError(f"{ends}: a picture is written as SVG; accepted: a name.svg")
    try:
        with path.open("w" if force else "x", encoding="utf-8", newline="\n") as out:
            out.write(picture.svg + "\n")
    except FileExistsError:
        words_ = f"{str(path)!r} is there already and was left as it is"
        raise HandreadError(f"{words_}; --force overwrites it, or give another name") from None
    except OSError as error:
        raise HandreadError(f"{str(path)!r} cannot be written: {error.strerror}") from None
