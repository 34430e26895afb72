"""``handread simulate``: tables that play themselves, into a file or as a summary."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from handread.card import CompiledCard
    from handread.simulate.summary import Summary


def simulate(
    games: Annotated[int, typer.Option(min=1, help="Games to play.")] = 100,
    seed: Annotated[int, typer.Option(min=0, help="Seed of the batch.")] = 1,
    card: Annotated[str, typer.Option(help="A card that ships, by name, or a file.")] = "house",
    kind: Annotated[str | None, typer.Option(help="Players of one kind only.")] = None,
    seats: Annotated[int, typer.Option(min=2, max=4, help="Players at a table.")] = 4,
    workers: Annotated[int, typer.Option(min=1, help="Processes.")] = 1,
    engine: Annotated[
        str, typer.Option(help="fast (compiled), reference, or auto: fast for many games.")
    ] = "auto",
    summary: Annotated[
        bool, typer.Option("--summary", help="Say what the tables look like.")
    ] = False,
    as_json: Annotated[
        bool, typer.Option("--json", help="The summary as one JSON document.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option(help="Write the games here, as JSON Lines with the truth.")
    ] = None,
    columns: Annotated[
        Path | None, typer.Option(help="Write them in columns, Parquet files in this folder.")
    ] = None,
    resume: Annotated[
        bool, typer.Option("--resume", help="Go on where a run that was broken off stopped.")
    ] = False,
) -> None:
    """Let tables play themselves: write the games down, or say what they look like."""
    from handread.card import load_card
    from handread.errors import HandreadError
    from handread.simulate import default_population, people_of

    places = [place for place in (out, columns) if place is not None]
    if len(places) + summary != 1:
        raise HandreadError(
            "say what to do with the games: --summary, --out FILE or --columns FOLDER, one of them"
        )
    if as_json and not summary:
        raise HandreadError("--json is a form of the summary; accepted: with --summary")
    if resume and summary:
        raise HandreadError("--resume goes on with files; accepted: with --out or --columns")
    population = people_of(kind) if kind else default_population()
    compiled = load_card(card)
    options: dict[str, Any] = {
        "n_games": games, "seed": seed, "n_workers": workers, "n_seats": seats,
        "population": population,
    }  # fmt: skip
    if places:
        _write(compiled, places[0], options, engine, resume=resume, columns=out is None)
        return
    found = _summarise(compiled, options | {"engine": engine})
    if as_json:
        typer.echo(json.dumps(found.to_dict(), allow_nan=False, indent=1))
        return
    from handread.simulate.summary.words import summary_lines

    for line in summary_lines(found):
        typer.echo(line)


def _write(
    card: CompiledCard, place: Path, options: dict[str, Any], engine: str, *, resume: bool,
    columns: bool,
) -> None:  # fmt: skip
    from handread.errors import HandreadError
    from handread.simulate import write_lines
    from handread.simulate.fast import write_parts

    if columns and engine == "reference":
        raise HandreadError("columns are written by the compiled engine; accepted: --engine fast")
    n_games = options["n_games"]
    with _bars() as bars:
        task = bars.add_task("playing", total=n_games)

        def tell(done: int) -> None:
            bars.update(task, completed=done)

        if columns:
            n = write_parts(card, place, resume=resume, progress=tell, **options)
        else:
            n = write_lines(card, place, resume=resume, progress=tell, engine=engine, **options)
    broken = f" of {n_games}, broken off; --resume goes on" if n < n_games else ""
    name = options["population"].name
    typer.echo(f"{place}: {n} games{broken}, seed {options['seed']}, population {name!r}")


def _summarise(card: CompiledCard, options: dict[str, Any]) -> Summary:
    from handread.simulate.summary import summarise_games

    with _bars() as bars:
        task = bars.add_task("playing", total=options["n_games"])
        return summarise_games(
            card, progress=lambda done: bars.update(task, completed=done), **options
        )


def _bars() -> Any:
    from rich.console import Console
    from rich.progress import Progress

    return Progress(console=Console(stderr=True), transient=True)
