"""Many small tasks carried out here, over processes, or on a Dask cluster: results as they come.

A task is a function of a shared value and of its own argument, and returns bytes. Nothing is
written where it runs, so a cluster needs no folder in common with the machine that asks.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from handread.errors import HandreadError

T = TypeVar("T")
Shared = Any

#: Tasks handed to a cluster at a time for each of its threads.
IN_FLIGHT: Final = 3
#: Seconds to wait for a cluster.
PATIENCE: Final = 30


@dataclass(frozen=True)
class Hands:
    """Who carries tasks out.

    Attributes
    ----------
    n_workers
        Processes on this machine, each with one thread for linear algebra.
    dask
        Address of a Dask scheduler; its workers then do all of it.
    """

    n_workers: int = 1
    dask: str | None = None

    def __post_init__(self) -> None:
        if self.n_workers < 1:
            raise HandreadError(f"n_workers={self.n_workers!r}; accepted: 1 or more")


def carried_out(
    do: Callable[[Shared, T], bytes], shared: Shared, tasks: Sequence[T], hands: Hands
) -> Iterator[tuple[T, bytes]]:
    """Carry out tasks and yield each with its result, in no order.

    Parameters
    ----------
    do
        Takes the shared value and a task; a function that other processes can import.
    shared
        What every task needs, such as the bytes of trained readers.
    tasks
        What is to be done.
    hands
        Who does it.

    Yields
    ------
    task, bytes
        As each is finished.

    Raises
    ------
    HandreadError
        If there is no Dask, or no cluster at the address.
    """
    if hands.dask is not None and tasks:
        yield from _on_cluster(do, shared, tasks, hands.dask)
    elif hands.n_workers == 1 or len(tasks) < 2:
        for task in tasks:
            yield task, do(shared, task)
    else:
        yield from _over_processes(do, shared, tasks, hands.n_workers)


def _with_task(do: Callable[[Shared, T], bytes], shared: Shared, task: T) -> tuple[T, bytes]:
    return task, do(shared, task)


def _over_processes(
    do: Callable[[Shared, T], bytes], shared: Shared, tasks: Sequence[T], n_workers: int
) -> Iterator[tuple[T, bytes]]:
    from joblib import Parallel, delayed, parallel_config

    with parallel_config(backend="loky", inner_max_num_threads=1):
        run = Parallel(n_jobs=n_workers, return_as="generator_unordered", batch_size=1)
        done = run(delayed(_with_task)(do, shared, task) for task in tasks)
        with contextlib.closing(done):
            yield from done


def _same(value: T) -> T:
    return value


def _on_cluster(
    do: Callable[[Shared, T], bytes], shared: Shared, tasks: Sequence[T], address: str
) -> Iterator[tuple[T, bytes]]:
    """Keep a cluster busy; tasks of a worker that is lost are done again by another."""
    try:
        from distributed import Client, as_completed
    except ModuleNotFoundError:
        raise HandreadError(
            "no Dask here; accepted: pip install 'handread[dask]', or a run without --dask"
        ) from None
    try:
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError) as error:
        raise HandreadError(
            f"no Dask cluster at {address!r} ({error}); accepted: the address that its scheduler "
            "prints, such as tcp://127.0.0.1:8786"
        ) from None
    with client:
        # a task of its own, not a scattered value: it is made again where its worker is lost
        held = client.submit(_same, shared, pure=False)
        waiting = iter(tasks)
        threads = sum(client.nthreads().values())

        def hand_out() -> Any:
            task = next(waiting, None)
            return task and client.submit(_with_task, do, held, task, pure=False)

        first = [hand_out() for _ in range(min(len(tasks), IN_FLIGHT * max(threads, 2)))]
        ready = as_completed(first, loop=client.loop)
        for future in ready:
            yield future.result()
            future.release()
            if following := hand_out():
                ready.add(following)
