"""``handread card``: describe and check a card, start one, show a hand, compare two."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from handread.card.compare import CardDiff
    from handread.card.describe import CardReport

_WIDTH = 80


class _CheckByDefault(TyperGroup):
    """A group in which ``card FILE`` means ``card check FILE``."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        if args and not args[0].startswith("-") and args[0] not in self.commands:
            args = ["check", *args]
        return super().parse_args(ctx, args)


app = typer.Typer(
    cls=_CheckByDefault,
    add_completion=False,
    rich_markup_mode=None,
    no_args_is_help=True,
    help="Describe and check a card, start one, show a hand, compare two.",
)

CardArgument = Annotated[str, typer.Argument(help="A card file, or the name of a shipped card.")]


@app.command()
def check(
    file: CardArgument,
    full: Annotated[
        bool, typer.Option("--full", help="List every hand, and the copies asked of each kind.")
    ] = False,
) -> None:
    """Describe a card and say what is wrong with it; status 1 if something is."""
    from handread.card import describe_card, read_card

    report = describe_card(read_card(file))
    _print_report(report, _console(), full=full)
    if report.errors:
        raise typer.Exit(1)


@app.command()
def new(
    file: Annotated[
        Path | None, typer.Argument(help="File to write; without it the card is printed.")
    ] = None,
) -> None:
    """Start a card: a commented file that explains every word and can be checked as it is."""
    from handread.card import CardError, card_template

    if file is None:
        typer.echo(card_template(), nl=False)
        return
    try:
        with file.open("x", encoding="utf-8") as out:
            out.write(card_template())
    except OSError as error:
        raise CardError(f"{str(file)!r} cannot be written: {error.strerror}") from None
    typer.echo(f"Wrote {file}. Check it with: handread card check {file}")


@app.command()
def show(
    hand: Annotated[str, typer.Argument(help="Name of a hand; capitals do not matter.")],
    card: Annotated[
        str, typer.Option(help="A card file, or the name of a shipped card.")
    ] = "house",
    racks: Annotated[int, typer.Option(min=1, max=1000, help="Most racks to show.")] = 3,
    picture: Annotated[
        Path | None, typer.Option(help="Draw the racks too: an SVG file to write.")
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Overwrite the picture if it is there.")
    ] = False,
) -> None:
    """Show example racks of a hand, in words and, on demand, as a picture."""
    from handread.card import example_racks, hand_index, load_card

    compiled = load_card(card)
    index = hand_index(compiled, hand)
    found = example_racks(compiled, hand, racks)
    if picture is not None:
        from handread.card.picture import hand_picture, write_picture

        write_picture(hand_picture(compiled, hand, racks), picture, force=force)
    line = compiled.hands[index]
    total = int((compiled.hand_of == index).sum())
    console = _console()
    kind = "concealed" if line.concealed else "open"
    _say(console, line.name, style="bold")
    _say(console, f"{compiled.families[line.family]}, {kind}, {line.points} points")
    _say(console, line.words)
    _say(console, f"\n{len(found)} of {total} racks" if found else "\nNo rack of its own.")
    for number, rack in enumerate(found, 1):
        _say(console, _between_groups(f"{number:>3}. ", rack.groups, console.width))
    if picture is not None:
        count = f"{len(found)} rack{'s' * (len(found) != 1)}"
        typer.echo(f"\nWrote {picture}: a picture of {count} of {line.name}.")


@app.command()
def diff(before: CardArgument, after: CardArgument) -> None:
    """Say what changed from one card to another."""
    from handread.card import card_diff, load_card

    _print_diff(card_diff(load_card(before), load_card(after)), _console())


def _console() -> Console:
    from rich.console import Console

    console = Console(highlight=False)
    return console if console.width <= _WIDTH else Console(highlight=False, width=_WIDTH)


def _say(console: Console, text: str, style: str = "") -> None:
    """Print a text as it is: names may hold brackets."""
    console.print(text, markup=False, style=style)


def _between_groups(first: str, groups: Iterable[str], width: int) -> str:
    """Groups after a label, broken between groups only and folded under the label."""
    lines = [first]
    for number, group in enumerate(groups):
        joint = ", " if number else ""
        if number and len(lines[-1] + joint + group) >= width:
            lines[-1] += ","
            lines.append(" " * len(first) + group)
        else:
            lines[-1] += joint + group
    return "\n".join(lines)


def _table(*columns: str) -> Table:
    from rich.table import Table

    table = Table(box=None, pad_edge=False, header_style="bold")
    for number, column in enumerate(columns):
        words = column.startswith("<")
        table.add_column(
            column.lstrip("<"),
            justify="left" if words else "right",
            overflow="fold",
            no_wrap=False,
            ratio=2 if number == 0 else None,
        )
    return table


def _print_report(report: CardReport, console: Console, *, full: bool) -> None:
    card = report.card
    rules = card.rules
    _say(console, card.name, style="bold")
    _say(
        console,
        f"{len(card.families)} families, {len(card.hands)} hands, {card.n_targets:,} targets; "
        f"{rules.n_tiles} tiles, {rules.hand_size} to a hand",
    )
    _say(
        console,
        f"{report.n_concealed} hands concealed, {report.n_joker_free} that jokers cannot enter, "
        f"{report.n_all_groups} without single or pair",
    )
    _say(console, f"hash {card.hash}")
    console.print()
    _print_families(report, console)
    _print_hands(report, console, full=full)
    _print_shared(report, console)
    if full:
        _print_demand(report, console)
    moved = [part.words for part in report.automorphisms if part.words]
    words = "; ".join(moved) if moved else "none"
    _say(console, f"\nRelabellings of the suits that leave the card as it is: {words}")
    for problem in report.errors:
        _say(console, f"\nError: {problem}", style="bold red")
    if not full:
        _say(console, "\n--full lists every hand; handread card show HAND shows racks of one")
    _say(console, f"\n{len(report.errors) or 'No'} error{'s' * (len(report.errors) != 1)}")


def _print_families(report: CardReport, console: Console) -> None:
    from rich.text import Text

    table = _table("<Family", "hands", "targets", "confusable", "<most with", "<for example")
    for family in report.families:
        first = next((hand.name for hand in report.hands if hand.family == family.name), "")
        table.add_row(
            Text(family.name), str(family.n_hands), str(family.n_targets),
            f"{family.confusability:.0%}", Text(family.nearest), Text(first),
        )  # fmt: skip
    console.print(table)
    _say(console, "confusable: nine or more tiles in common with another family's target")


def _print_hands(report: CardReport, console: Console, *, full: bool) -> None:
    """All hands; without `full` those of which some targets are not their own or cannot be."""
    from rich.text import Text

    table = _table("<Hand", "<family", "targets", "shared", "impossible", "points", "<")
    for hand, line in zip(report.hands, report.card.hands, strict=True):
        if not (full or hand.n_shared or hand.n_impossible):
            continue
        table.add_row(
            Text(hand.name), Text(hand.family), str(hand.n_targets), str(hand.n_shared or ""),
            str(hand.n_impossible or ""), str(line.points), "concealed" if line.concealed else "",
        )  # fmt: skip
    if table.row_count:
        console.print()
        console.print(table)


def _print_shared(report: CardReport, console: Console) -> None:
    if report.shared:
        _say(console, "\nHands with targets in common", style="bold")
    for pair in report.shared:
        _say(console, f"{pair.first!r} and {pair.second!r}: {pair.n_shared}, {pair.relation}")


def _print_demand(report: CardReport, console: Console) -> None:
    from handread.tiles import FIRST_WIND, JOKER, KINDS, SUITS

    _say(console, "\nDemand: copies of a kind in a target, mean over hands", "bold")
    table = _table("<", *(str(number) for number in range(1, 10)))
    for suit, name in enumerate(SUITS):
        table.add_row(name, *(f"{copies:.2f}" for copies in report.demand[suit * 9 : suit * 9 + 9]))
    console.print(table)
    others = range(FIRST_WIND, JOKER)
    _say(console, ", ".join(f"{KINDS[kind]} {report.demand[kind]:.2f}" for kind in others))


def _print_diff(found: CardDiff, console: Console) -> None:
    if found.is_empty:
        _say(console, f"The cards are the same: {found.n_same} hands.")
        return
    for words in found.card:
        _say(console, f"card: {words}")
    for name in found.removed:
        _say(console, f"gone: {name}")
    for name in found.added:
        _say(console, f"new: {name}")
    for old, name in found.renamed:
        _say(console, f"renamed: {old} to {name}")
    for change in found.changed:
        _say(console, f"changed: {change.name}")
        for words in change.what:
            _say(console, f"    {words}")
    _say(console, f"{found.n_same} hands are the same")
