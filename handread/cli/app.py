"""The command line, put together."""

from __future__ import annotations

import typer

from handread.cli import card, study
from handread.cli.count import count
from handread.cli.fit import fit
from handread.cli.prior import prior
from handread.cli.read import read
from handread.cli.simulate import simulate
from handread.cli.watch import watch

app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Read a table of American-style mahjong.",
)
app.command()(read)
app.command()(watch)
app.command()(count)
app.add_typer(card.app, name="card")
app.command()(simulate)
app.command()(prior)
app.command()(fit)
app.add_typer(study.app, name="study")


@app.callback()
def _several() -> None:
    """Read a table of American-style mahjong: who is building what, and why."""
