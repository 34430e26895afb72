"""A table watched: type a line, see what it did; what the command ``handread watch`` runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from handread.errors import HandreadError, closest
from handread.table.count import Live, live
from handread.table.events import SEATS, AnyEvent
from handread.table.journal import Journal
from handread.table.own import OwnRack
from handread.table.screen import count_lines, folded, seat_lines, table_lines
from handread.table.shorthand import EXAMPLES, format_line
from handread.table.shorthand.words import cut

Families = Callable[[Journal], list[list[tuple[str, float]]]]

#: Words that are commands when they stand alone, and help before a part of the shorthand's
#: examples; every other line is shorthand.
COMMANDS: Final = {
    "help": "the shorthand of play; help and one of these words, the rest of it",
    "count": "the full count",
    "list": "the last twenty events with their numbers",
    "quit": "leave; so does Ctrl-D. Everything is saved already",
}
_LISTED: Final = 20


def watch_table(
    journal: Journal,
    ask: Callable[[str], str],
    say: Callable[[str], None],
    *,
    families: Families | None = None,
) -> None:
    """Take lines until there are no more, and say what each did.

    Parameters
    ----------
    journal
        Where the lines go.
    ask
        Given a prompt, the next line; raises EOFError at the end, KeyboardInterrupt when the
        line is given up.
    say
        Shows one line.
    families
        Given the journal, for each seat its top families with their probabilities; None for
        no reading.
    """
    for line in _opening(journal):
        say(line)
    for line in status_lines(journal, families):
        say(line)
    say("")
    while True:
        try:
            typed = ask(prompt(journal))
        except EOFError:
            return
        except KeyboardInterrupt:
            say("the line is given up; quit or Ctrl-D leaves")
            continue
        words = typed.lower().split()
        if words == ["quit"]:
            return
        lines = _command_lines(words, journal)
        for line in _taken(typed, journal, families) if lines is None else lines:
            say(line)
        say("")


def prompt(journal: Journal) -> str:
    """Number of the next event, and whose it would be."""
    state = journal.state
    who = "over" if state.over else "anybody" if state.turn is None else SEATS[state.turn]
    return f"{state.n_events + 1} {who}> "


def _opening(journal: Journal) -> list[str]:
    n = len(journal.events)
    begun = f"taken up after event {n}" if n else "begun"
    lines = folded("", f"{journal.path.name}: {begun}; every line is saved as it is typed")
    if journal.torn is not None:
        lines += folded("! ", f"the last line was unfinished and is gone: {journal.torn!r}")
    return [*lines, "type a line of shorthand, or help, count, list, quit"]


def _command_lines(words: list[str], journal: Journal) -> list[str] | None:
    """What a command says; None for a line that is none."""
    if words[:1] == ["help"] and len(words) < 3:
        return _help_lines(words[-1])
    word = words[0] if len(words) == 1 else ""
    if word not in COMMANDS:
        return None
    if word == "list":
        events = list(enumerate(journal.events, start=1))[-_LISTED:]
        lines = [line for n, event in events for line in folded(f"{n:>4} ", format_line(event))]
        return lines or ["no events yet"]
    count, own, notes = _counted(journal)
    return [*table_lines(count, journal.state, own), *notes]


def _help_lines(part: str) -> list[str]:
    """Examples of a part of the shorthand; of play with what else there is, for help alone."""
    if part in EXAMPLES:
        return list(EXAMPLES[part][1])
    if part != "help":
        return folded("not taken: ", f"no help on {cut(part, 60)!r}; {closest(part, EXAMPLES)}")
    lines = list(EXAMPLES["play"][1])
    for name, what in COMMANDS.items():
        lines.append(f"{name:<6} {what}")
        if name == "help":
            lines += [f"  {name:<6} {about}" for name, (about, _) in EXAMPLES.items()]
    return lines


def _taken(typed: str, journal: Journal, families: Families | None) -> list[str]:
    """Take a line; what there is to say about it."""
    before = journal.events, journal.header
    number = journal.draft.lines + 1
    try:
        journal.write(typed)
    except HandreadError as error:
        # lines are counted in the file, where headings are lines, too; who types counts events
        return folded("not taken: ", str(error).removeprefix(f"line {number}, "))
    except OSError as error:
        return folded("not saved and not taken: ", str(error))
    if (journal.events, journal.header) == before:
        return []
    return status_lines(journal, families, before[0])


def status_lines(
    journal: Journal,
    families: Families | None = None,
    before: tuple[AnyEvent, ...] | None = None,
) -> list[str]:
    """Say how things stand: the last event, flags of what is new, the count, the seats.

    Parameters
    ----------
    journal
        The record as it stands.
    families
        As for ``watch_table``.
    before
        Events before the last line, so that what it changed can be told; None for no line.
    """
    lines = [] if before is None else _news(journal, before)
    count, own, notes = _counted(journal)
    lines += [*count_lines(count, journal.state, own), *notes]
    return [*lines, *_seats(journal, families)]


def _news(journal: Journal, before: tuple[AnyEvent, ...]) -> list[str]:
    """What a line changed, and the flags from there on."""
    events = journal.events
    first = 0
    while first < min(len(before), len(events)) and events[first] == before[first]:
        first += 1
    added = first == len(before)
    lines = [] if added else [f"amended from event {first + 1} on; there are {len(events)} now"]
    for n in range(first, len(events) if added else min(first + 1, len(events))):
        lines += folded(f"event {n + 1}: ", format_line(events[n]))
    for number, words in journal.state.flags:
        if number > first:
            lines += folded(f"! event {number}: ", words)
    return lines


def _counted(journal: Journal) -> tuple[Live, OwnRack | None, list[str]]:
    own = journal.own_rack()
    if own is None:
        return live(journal.state), None, []
    try:
        return live(journal.state, journal.viewer(), own.tiles), own, []
    except HandreadError as error:
        words = f"the own rack does not fit what was seen, write it anew: {error}"
        return live(journal.state), None, folded("! ", words)


def _seats(journal: Journal, families: Families | None) -> list[str]:
    state = journal.state
    notes: list[str] = []
    tops: list[list[tuple[str, float]]] = [[], [], [], []]
    if families is not None:
        try:
            tops = families(journal)
        except HandreadError as error:
            notes = folded("! no reading: ", str(error))
    lines = []
    for seat in range(4):
        top = ", ".join(f"{name} {round(100 * share)} %" for name, share in tops[seat])
        top = top if state.seated[seat] else ""
        if top:
            lines += folded(f"{SEATS[seat]:<6} ", top)
        more = state.exposures[seat] or state.known_in_rack(seat).any()
        if not top or more or not state.live[seat]:
            shown = seat_lines(state, seat)
            lines += [" " * 6 + line[6:] for line in shown] if top else shown
    return [*lines, *notes]
