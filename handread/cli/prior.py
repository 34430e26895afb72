"""``handread prior``: how often random racks settle on each target of a card."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def prior(
    card: Annotated[str, typer.Argument(help="A card that ships, by name, or a file.")],
    out: Annotated[Path, typer.Option(help="Folder to write into.")] = Path("models/priors"),
    racks: Annotated[int, typer.Option(help="Random racks to deal.")] = 200_000,
    seed: Annotated[int, typer.Option(help="Seed of the random racks.")] = 2026,
) -> None:
    """Deal random racks, exchange nine tiles, and store on which target each settles."""
    import numpy as np
    from rich.progress import Progress

    from handread.card import load_card
    from handread.prior import rack_prior, save_prior

    compiled = load_card(card)
    with Progress(transient=True) as bars:
        task = bars.add_task("dealing racks", total=racks)
        found = rack_prior(
            compiled,
            rng=np.random.default_rng(seed),
            n_racks=racks,
            progress=lambda done: bars.update(task, completed=done),
        )
    path = save_prior(compiled, found, out)
    worst = float(found.standard_error.max())
    typer.echo(f"{path}: {compiled.n_targets} targets, largest standard error {worst:.2g}")
