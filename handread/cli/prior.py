"""``handread prior``: how often people settle on each target of a card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def prior(
    card: Annotated[str, typer.Argument(help="A card that ships, by name, or a file.")],
    out: Annotated[Path, typer.Option(help="Folder to write into.")] = Path("models/priors"),
    games: Annotated[int, typer.Option(help="Games to play to the end of the passes.")] = 20_000,
    racks: Annotated[int, typer.Option(help="Deal random racks instead of playing.")] = 0,
    seed: Annotated[int, typer.Option(help="Seed of games or racks.")] = 2026,
    workers: Annotated[int, typer.Option(help="Processes.")] = 1,
) -> None:
    """Store on which targets of a card simulated people settle after the passes."""
    import numpy as np
    from rich.progress import Progress

    from handread.card import load_card
    from handread.prior import PlayedPrior, RackPrior, played_prior, rack_prior, save_prior

    compiled = load_card(card)
    found: PlayedPrior | RackPrior
    with Progress(transient=True) as bars:
        task = bars.add_task("dealing" if racks else "playing", total=racks or games)

        def done(n: int) -> None:
            bars.update(task, completed=n)

        if racks:
            rng = np.random.default_rng(seed)
            found = rack_prior(compiled, rng=rng, n_racks=racks, progress=done)
        else:
            found = played_prior(
                compiled, n_games=games, seed=seed, n_workers=workers, progress=done
            )
    path = save_prior(compiled, found, out)
    worst = float(found.standard_error.max())
    typer.echo(f"{path}: {compiled.n_targets} targets, {found.source}")
    typer.echo(f"largest standard error {worst:.2g}")
