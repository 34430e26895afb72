"""The shorthand described, for the README and for help on the screen."""

from __future__ import annotations

from typing import Final

from handread.values import FrozenMap

#: Markdown: how to write, examples, the grammar. The lines of its first block are parsed by a test;
#: an empty line parts what ``EXAMPLES`` names.
SHORTHAND_HELP: Final = """\
One short line per event. A line begins with the seat that acts, `e`, `s`, `w` or `n`; what
follows is a tile (it was thrown) or a deed. So `s s` is South throwing a south wind, and `n n`
North throwing a north wind: the first letter is always a seat, never a wind. Every word may be
cut to letters that say it (`kong` to `k`); capitals do not matter. A tile is a number and a suit
with a space between (`5 b`), or a word (`r` red, `g` green, `wh` white, `e` `s` `we` `n` winds,
`f` flower, `j` joker). Draws are not written: a throw from thirteen tiles means that the seat
drew first.

```
title Thursday, second game # header lines come first
card house
dealer e
viewer floor                # or the seat that writes
pass right                  # the passes, where noted: right, across, left,
pass left blind 0 1 0 0     # second left, second across, last right, courtesy
stop w                      # West stops the second round

e 5 b                       # East throws 5 bam
s r                         # South throws a red
w p                         # West takes it and shows a pung
w k 2                       # ... or a kong, two of it jokers (also q, se)
w correct k 1               # ... and mends the size before its throw
n c                         # North voiced a claim and lost it
n c w                       # ... or withdrew it
w 3 c held middle pause 8   # from the rack, from its middle, after 8 seconds
w 3 c d                     # the tile just drawn, thrown at once
s sw w r                    # South gives a red for West's joker (or: s redeem)

n dead s                    # North is called dead, by South
n dead s returned           # ... and its last group goes back
e error                     # East says that it has won, and has not
s absent                    # nobody sits at South
missed 2                    # two throws went unseen
joined 60                   # the record starts here, 60 left in the wall
joined floor 5 b 5 b r      # ... or with what lies on the floor
n p 1 of 5 b                # a group that lay there or came in a missed turn

w m c                       # West wins on the last throw (also: w win claimed)
w m d 3 c                   # West wins on its own draw, 3 crak
wall                        # a wall game
w had : ladder of four      # what a seat was building, after the end
w had rack 5 b 5 b r        # ... or the tiles it showed

e rack 5 b 5 b r f          # a viewer's own concealed tiles
e drew 5 b                  # ... and its draw; the viewer's own need no seat
# a comment, alone or after any line

fix w r                     # the last event was: West threw a red
fix 12 s 6 b                # event 12 was: South threw 6 bam
add 11 n f                  # after event 11 North threw a flower
cut 14                      # event 14 never happened; cut alone is the last
undo                        # takes back the last line, an amendment too
```

The grammar. `[ ]` may be left out, `{ }` may repeat, `|` parts alternatives. A word in capitals
is a rule, a word in small letters stands for itself or for enough of its first letters.

```
LINE     = [ HEADING | EVENT | AMEND ] [ # text ]
HEADING  = title text | card text | hash text | dealer SEAT | viewer ( floor | SEAT )
         | people key key key key | unit text | format number | rule [ no ] switch
AMEND    = fix [ number ] EVENT | add [ number ] EVENT | cut [ number ] | undo
EVENT    = SEAT DEED | pass STEP { blind FOUR | counts FOUR | gave TILES | got TILES }
         | stop [ SEAT ] | missed [ number ] | joined [ number ] [ floor TILES ]
         | wall [ game ] | rack TILES | drew [ TILE ]
SEAT     = e | s | w | n | east | south | west | north
DEED     = TILE { drawn | held | end | middle | pause number }
         | SIZE [ number [ jokers ] ] [ of TILE ] | correct SIZE [ number [ jokers ] ]
         | claim [ lost | withdrawn ] | ( redeem | swap ) SEAT TILE [ early ]
         | dead [ SEAT ] [ returned ] | error [ hidden ] | absent
         | ( win | maj ) ( claimed | drawn ) [ TILE ]
         | ( reveal | had ) [ rack TILES ] [ : text ] | rack TILES | drew [ TILE ]
SIZE     = single | pair | pung | kong | quint | sextet
STEP     = right | across | left | second left | second across | last [ right ] | courtesy
TILE     = ( 1 | 2 | ... | 9 ) ( bam | crak | dot ) | east | south | west | north
         | green | red | white | soap | flower | joker | bird
TILES    = { TILE }
FOUR     = number number number number
```

`p` is pung, `c` claim, `l` left where other words begin so too, and after a seat a tile's letters
come before a deed's (`r` is red; redeem is `sw` or `rede`). Event numbers count as the events
stand at that line, comments included; a fix, add or cut without a number means the last event
that is no comment. `rule` says what a table plays otherwise: `no second round`, `no blind pass`,
`no correction` of a shown group, `no win over exposure`, `no dead swap` of a dead seat's jokers,
`last exposure` of the wall's last throw allowed. Text that begins with `"` is a JSON string, for
what a line cannot hold otherwise.
"""

#: Parts of the examples: by name, what each is about and its lines.
EXAMPLES: Final = FrozenMap({
    name: (about, tuple(part.split("\n")))
    for (name, about), part in zip(
        {
            "begin": "header lines and the passes",
            "play": "throws, claims, redeems",
            "rare": "dead hands, errors, what went unseen",
            "end": "wins, a wall game, hands shown after it",
            "own": "the viewer's own tiles; comments",
            "mend": "what was written wrongly",
        }.items(),
        SHORTHAND_HELP.split("```")[1].strip("\n").split("\n\n"),
        strict=True,
    )
})  # fmt: skip
