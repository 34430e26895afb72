"""``handread fit``: what clues are worth, from simulated or revealed games."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def fit(
    records: Annotated[
        Path | None,
        typer.Argument(help="Games with their truth, as handread simulate writes; or play them."),
    ] = None,
    out: Annotated[Path, typer.Option(help="Folder of the model.")] = Path("models/fitted"),
    games: Annotated[int, typer.Option(min=1, help="Games to play where no file is given.")] = 1000,
    seed: Annotated[int, typer.Option(min=0, help="Master seed of the games played.")] = 20260701,
    card: Annotated[str, typer.Option(help="A card that ships, by name, or a file.")] = "house",
    start: Annotated[
        Path | None, typer.Option(help="Weights to start from; the lore weights if not given.")
    ] = None,
    rounds: Annotated[
        int, typer.Option(min=1, help="Times that games are walked, each time by better weights.")
    ] = 1,
    refits: Annotated[
        bool, typer.Option("--refits", help="Fit again without each clue and with other priors, "
                           "and say in refits.toml what changes.")
    ] = False,
    people: Annotated[
        int, typer.Option(min=0, help="People of the sampled posterior; 0 for the mode alone.")
    ] = 0,
    choices: Annotated[int, typer.Option(min=1, help="Choices of each of these people.")] = 200,
    onto: Annotated[
        Path | None, typer.Option(help="Lay draws of people beside the weights of this model, "
                                  "which stay as they are; fit nothing else.")
    ] = None,
    work: Annotated[
        Path | None, typer.Option(help="Folder for what is gathered on the way; a run that was "
                                  "broken off goes on from there.")
    ] = None,
    workers: Annotated[int, typer.Option(min=1, help="Processes.")] = 1,
) -> None:  # fmt: skip
    """Fit the weights of the clues to games whose truth is known, and write a model."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    from handread.card import load_card
    from handread.clues import load_weights
    from handread.fitting.plan import FitPlan, carry_out, fit_lines
    from handread.reading import stored_model

    plan = FitPlan(
        out=out, games=games, seed=seed, card=card, records=records, start=start, rounds=rounds,
        refits=refits, people=people, choices=choices, onto=onto, work=work, workers=workers,
    )  # fmt: skip
    model = stored_model(load_card(card), load_weights(start))
    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn()
    with Progress(*columns, console=Console(stderr=True), transient=True) as bars:
        task = bars.add_task("fitting", total=1)

        def tell(what: str, done: int, total: int) -> None:
            bars.update(task, description=what, completed=done, total=total or None)

        result = carry_out(plan, model, progress=tell)
    for line in fit_lines(result):
        typer.echo(line)
