"""``handread simulate``: tables that play themselves, into a file or as a summary."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from handread.card import CompiledCard
    from handread.simulate import Population
    from handread.simulate.summary import Summary


def simulate(
    games: Annotated[int, typer.Option(min=1, help="Games to play.")] = 100,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the batch.")] = 1,
    card: Annotated[str, typer.Option(help="A card that ships, by name, or a file.")] = "house",
    kind: Annotated[str | None, typer.Option(help="Players of one kind only.")] = None,
    seats: Annotated[int, typer.Option(min=2, max=4, help="Players at a table.")] = 4,
    workers: Annotated[int, typer.Option(min=1, help="Processes.")] = 1,
    summary: Annotated[
        bool, typer.Option("--summary", help="Say what the tables look like.")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="The summary as one JSON document.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option(help="Write the games here, as JSON Lines with the truth.")
    ] = None,
) -> None:
    """Let tables play themselves: write the games down, or say what they look like."""
    from handread.card import load_card
    from handread.errors import HandreadError
    from handread.simulate import default_population, people_of

    if summary == (out is not None):
        raise HandreadError("say what to do with the games: --summary or --out FILE, one of them")
    if as_json and not summary:
        raise HandreadError("--json is a form of the summary; accepted: with --summary")
    population = people_of(kind) if kind else default_population()
    compiled = load_card(card)
    options: dict[str, Any] = {
        "n_games": games, "seed": seed, "n_workers": workers, "n_seats": seats,
    }  # fmt: skip
    if out is not None:
        _write(compiled, population, options, out)
        return
    found = _summarise(compiled, population, options)
    if as_json:
        typer.echo(json.dumps(found.to_dict(), allow_nan=False, indent=1))
        return
    from handread.simulate.summary.words import summary_lines

    for line in summary_lines(found):
        typer.echo(line)


def _write(
    card: CompiledCard, population: Population, options: dict[str, Any], out: Path
) -> None:  # fmt: skip
    from handread.simulate import simulate_games, write_games

    with _bars() as bars:
        task = bars.add_task("playing", total=options["n_games"])
        games = bars.track(
            simulate_games(card, population=population, **options), task_id=task,
            total=options["n_games"],
        )  # fmt: skip
        n = write_games(games, out)
    broken = f" of {options['n_games']}, broken off" if n < options["n_games"] else ""
    typer.echo(f"{out}: {n} games{broken}, seed {options['seed']}, population {population.name!r}")


def _summarise(card: CompiledCard, population: Population, options: dict[str, Any]) -> Summary:
    from handread.simulate.summary import summarise_games

    with _bars() as bars:
        task = bars.add_task("playing", total=options["n_games"])
        return summarise_games(
            card, population=population,
            progress=lambda done: bars.update(task, completed=done), **options,
        )  # fmt: skip


def _bars() -> Any:
    from rich.console import Console
    from rich.progress import Progress

    return Progress(console=Console(stderr=True), transient=True)
