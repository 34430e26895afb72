"""``handread study``: a plan in, figures out; broken off, the same command goes on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def study(
    plan: Annotated[Path, typer.Argument(help="A plan: a TOML file, or one that ships by name.")],
    out: Annotated[
        Path | None, typer.Option(help="Folder of the results; study-NAME if not given.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Every figure as JSON.")] = False,
    workers: Annotated[int, typer.Option(min=1, help="Processes.")] = 2,
) -> None:
    """Play games, let readers watch, and say how good each is and whether it knows."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as TimeLeft

    from handread.study.running import load_plan, run_study, study_lines

    found = load_plan(plan)
    folder = out or Path(f"study-{found.name}")
    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeLeft()
    with Progress(*columns, console=Console(stderr=True), transient=True) as bars:
        tasks: dict[str, object] = {}

        def tell(what: str, done: int, total: int) -> None:
            if what not in tasks:
                tasks[what] = bars.add_task(what, total=total)
            bars.update(tasks[what], completed=done)  # type: ignore[arg-type]

        try:
            result = run_study(found, out=folder, n_workers=workers, progress=tell)
        except KeyboardInterrupt:
            bars.stop()
            typer.echo(f"stopped; games so far are kept in {folder}, the same command goes on")
            raise
    if as_json:
        typer.echo(result.to_json())
        return
    for line in study_lines(result):
        typer.echo(line)
