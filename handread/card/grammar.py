"""Reading the words of a hand.

The grammar, in the words of the trade (``[ ]`` optional, ``|`` or, ``...`` more of the same)::

    hand       part , part ... [where condition , condition ...]
    part       group | block | either
    group      size [of] tile [without jokers]
    size       single | pair | pung | kong | quint | sextet
    block      block [of] ( tile , tile ... )           tiles before a suit share it
    either     either branch or branch ...              branch: a group, a block, or (part , ...)
    tile       number [in] suit | flower | wind | dragon
    number     sums of 0 to 9 (10 and more inside sums), letters, 2 times n; 0 is white
    suit       bam | crak | dot | one suit | the other suit | the third suit | any suit
    wind       east | south | west | north | one wind | the other wind | the third wind
               | the last wind | any wind
    dragon     red | green | white | one dragon | the other dragon | the third dragon
               | any dragon | the [opposite | other opposite] dragon of suit
    condition  n from 1 to 7 [by 2] [but not 3 [or 5 ...]]
               | number is [not] number [or number ...]
               | number is above | below | at least | at most number
               | number is odd | even
               | 0 is white

``of``, ``in``, ``the``, ``a``, ``an`` may be left out; tiles may stand in the plural.
"""

from __future__ import annotations

from handread.card.conditions import parse_condition
from handread.card.notation import (
    DRAGON_VARIABLES,
    SIZES,
    SUIT_VARIABLES,
    WIND_VARIABLES,
    Block,
    DragonTile,
    Either,
    Group,
    NamedTile,
    Number,
    NumberTile,
    Pattern,
    SuitDragon,
    Tile,
    WindTile,
    format_tile,
)
from handread.card.tokens import Tokens
from handread.tiles import DRAGONS, FIRST_DRAGON, FIRST_WIND, FLOWER, SUITS, WHITE, WINDS

_NAMED = {
    **{word: FIRST_WIND + index for index, word in enumerate(WINDS)},
    **{word: FIRST_DRAGON + index for index, word in enumerate(DRAGONS)},
    **{word + "s": FIRST_DRAGON + index for index, word in enumerate(DRAGONS)},
    "flower": FLOWER, "flowers": FLOWER, "soap": WHITE, "soaps": WHITE, "zero": WHITE,
}  # fmt: skip
_SUIT_WORDS = {word + end: word for word in SUITS for end in ("", "s")}
_CHOICES = ("one", "other", "third", "last", "any")
_ALL = {
    "winds": tuple(NamedTile(FIRST_WIND + index) for index in range(4)),
    "dragons": tuple(NamedTile(FIRST_DRAGON + index) for index in range(3)),
}
_TILE_WORDS = (
    "a number and a suit", "flower", *WINDS, *DRAGONS, "one wind", "any wind", "one dragon",
    "any dragon", "dragon of one suit",
)  # fmt: skip


def parse_hand(text: str) -> Pattern:
    """Read the words of one hand.

    Parameters
    ----------
    text
        Parts separated by commas, then optionally ``where`` and conditions on the numbers.

    Returns
    -------
    Pattern
        The hand as a frozen value; ``format_hand`` writes it back.

    Raises
    ------
    CardError
        If a word is not understood: the message names the part, the word, and what would
        have been accepted.

    Examples
    --------
    >>> hand = parse_hand("pung n one suit, pung n+2 one suit where n is odd")
    >>> hand.groups[1].tile.number.constant
    2
    """
    tokens = Tokens(text)
    groups = [_part(tokens)]
    while tokens.take(","):
        if tokens.at_end and groups:
            break  # a comma after the last part does no harm
        groups.append(_part(tokens))
    where = []
    if tokens.take("where"):
        tokens.begin("condition")
        where.append(parse_condition(tokens))
        while tokens.take(","):
            tokens.begin("condition")
            where.append(parse_condition(tokens))
    if not tokens.at_end:
        raise tokens.error(
            "cannot stand here", ("a comma",) if where else ("a comma", "where", "without jokers")
        )
    pattern = Pattern(tuple(groups), tuple(where))
    _check_letters(pattern, tokens)
    return pattern


def _part(tokens: Tokens) -> Group | Block | Either:
    tokens.begin("group")
    if not tokens.take("either"):
        return _group(tokens)
    branches = [_branch(tokens)]
    if tokens.word != "or":
        raise tokens.error("cannot stand here: either needs a second branch", ("or",))
    while tokens.take("or"):
        branches.append(_branch(tokens))
    return Either(tuple(branches))


def _branch(tokens: Tokens) -> tuple[Group | Block, ...]:
    if not tokens.take("("):
        return (_group(tokens),)
    parts = [_group(tokens)]
    while tokens.take(","):
        parts.append(_group(tokens))
    tokens.need(")", "closes the branch")
    return tuple(parts)


def _group(tokens: Tokens) -> Group | Block:
    tokens.skip("a", "an", "the")
    if tokens.take("block"):
        return _block(tokens)
    if tokens.word not in SIZES:
        raise tokens.error("is no size of group", (*SIZES, "block", "either"))
    size = SIZES.index(tokens.step()) + 1
    tokens.skip("of")
    tile = _tile(tokens)
    barred = tokens.take("without")
    if barred:
        tokens.need("jokers", "follows without")
    return Group(size, tile, barred and size > 2)


def _block(tokens: Tokens) -> Block:
    tokens.skip("of")
    tokens.need("(", "opens the tiles of a block")
    tiles: list[Tile] = []
    waiting: list[Number] = []  # numbers whose suit comes later: 1, 2, 3 bam
    while True:
        if tokens.at_number:
            number = _tile_number(tokens)
            waiting.append(number)
            if tokens.word != ",":
                tokens.skip("in")
                suit = _suit(tokens, any_too=True)
                tiles += [NumberTile(number, suit) for number in waiting]
                waiting = []
        elif waiting:
            raise tokens.error(
                "cannot stand here: the number before it has no suit", _suit_choices()
            )
        elif tokens.take("all"):
            if tokens.word not in _ALL:
                raise tokens.error("cannot follow all", _ALL)
            tiles += _ALL[tokens.step()]
        else:
            tiles.append(_tile(tokens))
        if not tokens.take(","):
            break
    _check_different(tiles, tokens)
    tokens.need(")", "closes the tiles of a block")
    return Block(tuple(tiles))


def _check_different(tiles: list[Tile], tokens: Tokens) -> None:
    for place, tile in enumerate(tiles):
        words = format_tile(tile)
        if tile in tiles[:place] and " any " not in f" {words} ":
            raise tokens.error(
                f"closes a block with {words!r} twice", (f"pair of {words} instead",)
            )


def _tile_number(tokens: Tokens) -> Number:
    start = tokens.at
    number = tokens.number()
    if not number.terms and not 0 <= number.constant <= 9:
        raise tokens.error("is on no tile", ("1 to 9", "0 for white"), at=start)
    return number


def _tile(tokens: Tokens) -> Tile:
    tokens.skip("a", "an", "the")
    if tokens.at_number:
        number = _tile_number(tokens)
        tokens.skip("in")
        return NumberTile(number, _suit(tokens, any_too=True))
    word = tokens.word
    if word in _NAMED:
        tokens.step()
        return NamedTile(_NAMED[word])
    if word in ("own", "opposite", "dragon") or (word, tokens.ahead) == ("other", "opposite"):
        return _suit_dragon(tokens)
    if word in _CHOICES:
        return _choice(tokens)
    if word in ("joker", "jokers"):
        raise tokens.error("is never asked for by a hand", _TILE_WORDS)
    raise tokens.error("is no tile", _TILE_WORDS)


def _choice(tokens: Tokens) -> Tile:
    which = tokens.step()
    noun = tokens.word.removesuffix("s")
    if noun == "wind" and which in (*WIND_VARIABLES, "any"):
        tokens.step()
        return WindTile(which)
    if noun == "dragon" and which in (*DRAGON_VARIABLES, "any"):
        tokens.step()
        return DragonTile(which)
    if noun == "suit":
        raise tokens.error("cannot stand here: a suit needs a number before it", ("5 in one suit",))
    nouns = ("wind",) if which == "last" else ("wind", "dragon")
    raise tokens.error(f"cannot follow {which!r}", nouns)


def _suit_dragon(tokens: Tokens) -> SuitDragon:
    relation = "own"
    if tokens.take("other"):
        tokens.step()
        relation = "other opposite"
    elif tokens.take("opposite"):
        relation = "opposite"
    else:
        tokens.take("own")
    tokens.need("dragon", "follows here")
    tokens.need("of", "says which suit the dragon belongs to")
    return SuitDragon(relation, _suit(tokens, any_too=False))


def _suit_choices(any_too: bool = True) -> tuple[str, ...]:
    return (*SUITS, *(f"{which} suit" for which in SUIT_VARIABLES), *(("any suit",) * any_too))


def _suit(tokens: Tokens, any_too: bool) -> str:
    tokens.skip("a", "an", "the")
    word = tokens.word
    if word in _SUIT_WORDS:
        tokens.step()
        return _SUIT_WORDS[word]
    if word in SUIT_VARIABLES or (any_too and word == "any"):
        tokens.step()
        tokens.need("suit", f"follows {word!r}")
        return word
    raise tokens.error("is no suit", _suit_choices(any_too))


def _check_letters(pattern: Pattern, tokens: Tokens) -> None:
    used: set[str] = set()
    for part in pattern.groups:
        branches = part.branches if isinstance(part, Either) else ((part,),)
        for piece in (piece for branch in branches for piece in branch):
            for tile in piece.tiles if isinstance(piece, Block) else (piece.tile,):
                if isinstance(tile, NumberTile):
                    used.update(tile.number.variables)
    tokens.check_letters(used)
