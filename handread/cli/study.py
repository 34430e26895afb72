"""``handread study``: a plan in, figures out; broken off, the same command goes on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

_DEFAULT = "run"


class _PlanFirst(TyperGroup):
    """A group whose first word may be a plan: ``handread study quick`` runs it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        if args and args[0] != "--help" and args[0] not in self.commands:
            args = [_DEFAULT, *args]
        return list(super().parse_args(ctx, args))


app = typer.Typer(
    cls=_PlanFirst, no_args_is_help=True, rich_markup_mode=None,
    help="Play games, let readers watch, and say how good each is and whether it knows.\n\n"
    "The first word may be a plan: a TOML file, or the name of one that ships.",
)  # fmt: skip

_Workers = Annotated[int, typer.Option(min=1, help="Processes.")]
_Dask = Annotated[
    str | None, typer.Option(help="Address of a Dask scheduler that does it instead.")
]
_Card = Annotated[str, typer.Option(help="A card that ships, by name, or a file.")]
_Population = Annotated[
    str, typer.Option(help="Who plays: default, a kind alone, or 'all but KIND'.")
]
_Work = Annotated[
    Path | None,
    typer.Option(help="Folder for the games; a run that was broken off goes on from there."),
]
_Named = Annotated[
    list[str] | None, typer.Option(help="NAME=FOLDER of a reader that is used; may be repeated.")
]
_Json = Annotated[bool, typer.Option("--json", help="Every figure as JSON.")]


@app.command()
def run(
    plan: Annotated[Path, typer.Argument(help="A plan: a TOML file, or one that ships by name.")],
    out: Annotated[
        Path | None, typer.Option(help="Folder of the results; study-NAME if not given.")
    ] = None,
    as_json: _Json = False,
    workers: _Workers = 2,
    dask: _Dask = None,
) -> None:
    """Run a plan; also without the word run."""
    from handread.study.running import load_plan, run_study, study_lines

    found = load_plan(plan)
    folder = out or Path(f"study-{found.name}")
    with _told(folder) as tell:
        result = run_study(found, out=folder, n_workers=workers, dask=dask, progress=tell)
    for line in [result.to_json()] if as_json else study_lines(result):
        typer.echo(line)


@app.command()
def matrix(
    plan: Annotated[Path, typer.Argument(help="A plan: a TOML file, or one that ships.")] = Path(
        "matrix"
    ),
    out: Annotated[
        Path | None, typer.Option(help="Folder of the results; study-NAME if not given.")
    ] = None,
    as_json: _Json = False,
    workers: _Workers = 2,
    dask: _Dask = None,
) -> None:
    """Train on some kinds of player, test on another."""
    from handread.study.matrix import load_matrix_plan, matrix_lines, run_matrix

    found = load_matrix_plan(plan)
    folder = out or Path(f"study-{found.name}")
    with _told(folder) as tell:
        result = run_matrix(found, out=folder, n_workers=workers, dask=dask, progress=tell)
    for line in [result.to_json()] if as_json else matrix_lines(result):
        typer.echo(line)


@app.command()
def tune(
    model: Annotated[Path, typer.Argument(help="Folder of a fitted model.")],
    out: Annotated[Path, typer.Option(help="Folder of the tuned model.")],
    card: _Card = "house",
    population: _Population = "default",
    games: Annotated[int, typer.Option(min=2, help="Validation games.")] = 100,
    seed: Annotated[int, typer.Option(min=0, help="Master seed.")] = 20260803,
    workers: _Workers = 2,
) -> None:
    """Choose what copies elsewhere, changes of plan and use count, on held-out games."""
    from handread.clues import load_weights
    from handread.study.tuning import tune as choose
    from handread.study.tuning import write_tuned

    with _told(out) as tell:
        found = choose(
            load_weights(model / "weights.toml"), card=card, population=population, seed=seed,
            n_games=games, n_workers=workers, progress=tell,
        )  # fmt: skip
    for knobs, bits in found.tried.items():
        typer.echo(
            f"elsewhere {knobs.elsewhere:+.1f}, log odds of leaving {knobs.shift:+.1f}, use times "
            f"{knobs.use:.1f}: {bits:+.4f} bits"
        )
    gain = found.gain
    typer.echo(
        f"{write_tuned(model, out, found)}: {tuple(found.knobs)}, gain over "
        f"the fit {gain.value:+.4f} bits [{gain.low:+.4f}, {gain.high:+.4f}] on {games} games"
    )


@app.command()
def report(
    result: Annotated[Path, typer.Argument(help="Folder of a finished study or matrix.")],
    out: Annotated[
        Path | None, typer.Option(help="File of the page; report.html in the folder.")
    ] = None,
) -> None:
    """Write one page with tables and figures, complete in itself."""
    from handread.report.page import write_page

    typer.echo(str(write_page(result, out)))


@app.command()
def peer(
    out: Annotated[Path, typer.Option(help="Folder of the peer.")] = Path("peers/house"),
    card: _Card = "house",
    population: _Population = "default",
    games: Annotated[int, typer.Option(min=8, help="Training games.")] = 20_000,
    held: Annotated[int, typer.Option(min=8, help="Games that say when to stop.")] = 1_000,
    seed: Annotated[int, typer.Option(min=0, help="Master seed.")] = 20260801,
    rows: Annotated[int, typer.Option(min=8, help="Rows at most.")] = 1_000_000,
    minutes: Annotated[float, typer.Option(help="Time for growing trees at most.")] = 45.0,
    threads: Annotated[
        int, typer.Option(min=1, help="Threads that grow trees; 1 where others compute too.")
    ] = 1,
    work: _Work = None,
    workers: _Workers = 2,
    dask: _Dask = None,
) -> None:
    """Train a discriminative peer: boosted trees on features of the public record."""
    from handread.study.peer import PeerPlan, train_peer
    from handread.study.running import Hands

    plan = PeerPlan(card, population, seed, games, held, rows, minutes)
    folder = work or out.with_name(f"{out.name}-work")
    with _told(folder) as tell:
        _, curve = train_peer(
            plan, out=out, work=folder, hands=Hands(workers, dask), threads=threads, progress=tell
        )
    typer.echo(f"{out}: gain over rates by own turn on {held:,} games held out")
    for point in curve:
        typer.echo(
            f"  {point.games:,} games, {point.rows:,} rows: {point.gain:+.3f} bits "
            f"[{point.low:+.3f}, {point.high:+.3f}], {point.iterations} iterations "
            f"(stopped: {point.stopped})"
        )


@app.command()
def pool(
    out: Annotated[Path, typer.Option(help="Folder of the pool.")] = Path("pools/house"),
    first: Annotated[str, typer.Option(help="The one reader.")] = "default",
    second: Annotated[str, typer.Option(help="The other.")] = "peer",
    model: _Named = None,
    peer_folder: Annotated[
        list[str] | None,
        typer.Option("--peer", help="NAME=FOLDER of a peer that is used; may be repeated."),
    ] = None,
    card: _Card = "house",
    population: _Population = "default",
    games: Annotated[int, typer.Option(min=2, help="Games the weight is fitted on.")] = 400,
    seed: Annotated[int, typer.Option(min=0, help="Master seed.")] = 20260802,
    work: _Work = None,
    workers: _Workers = 2,
    dask: _Dask = None,
) -> None:
    """Fit the weight of two readers pooled: what the one knows that the other does not."""
    from handread.study.pooling import PoolPlan, fit_pool, stored_names

    plan = PoolPlan(
        first, second, card, population, seed, games=games,
        models=stored_names(model, "default=models/default"),
        peers=stored_names(peer_folder, "peer=peers/house"),
    )  # fmt: skip
    folder = work or out.with_name(f"{out.name}-work")
    with _told(folder) as tell:
        fit = fit_pool(plan, out=out, work=folder, n_workers=workers, dask=dask, progress=tell)
    typer.echo(f"{out}: weight of {second!r} beside {first!r}: {fit.weight}")
    typer.echo(
        f"  on these games the pool gains {fit.gain_over_first:+.3f} bits over {first!r} and "
        f"{fit.gain_over_second:+.3f} over {second!r}"
    )


@contextmanager
def _told(folder: Path) -> Iterator[Callable[[str, int, int], None]]:
    """Bars for what is being done; where it is broken off, say how it goes on."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
    from rich.progress import TimeRemainingColumn as TimeLeft

    columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeLeft()
    with Progress(*columns, console=Console(stderr=True), transient=True) as bars:
        tasks: dict[str, Any] = {}

        def tell(what: str, done: int, total: int) -> None:
            if what not in tasks:
                tasks[what] = bars.add_task(what, total=total)
            bars.update(tasks[what], completed=done, total=total)

        try:
            yield tell
        except KeyboardInterrupt:
            bars.stop()
            typer.echo(f"stopped; what is done is kept in {folder}, the same command goes on")
            raise
