"""A word for whoever waits while passes are compiled, as they are once on a machine."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console

WORDS = "compiling what reads a table: once on this machine, some half a minute"


@contextmanager
def told_of_compiling(console: Console | None = None) -> Iterator[None]:
    """Say so on a terminal as soon as something is compiled, until the end of what is done.

    Parameters
    ----------
    console
        Where to say it; None for standard error.
    """
    from numba.core import event
    from rich.console import Console

    status = (console or Console(stderr=True)).status(WORDS)

    class Told(event.Listener):
        def on_start(self, event: object) -> None:
            status.start()

        def on_end(self, event: object) -> None:
            pass

    try:
        with event.install_listener("numba:compile", Told()):
            yield
    finally:
        status.stop()
