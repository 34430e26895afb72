"""Work over blocks, by one thread or several: what comes out is the same to the bit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Any, TypeVar

T = TypeVar("T")


def each_block(job: Callable[[int], T], n: int, n_workers: int) -> Iterator[T]:
    """Yield what a job gives for each of `n` blocks, in their order.

    Threads help where the job is compiled code that lets others run beside it.

    Parameters
    ----------
    job
        Takes the number of a block.
    n
        Blocks.
    n_workers
        Threads.

    Examples
    --------
    >>> list(each_block(lambda i: i * i, 4, 2))
    [0, 1, 4, 9]
    """
    if n_workers == 1 or n < 2:
        yield from map(job, range(n))
        return
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(n_workers) as pool:
        yield from pool.map(job, range(n))


def added(parts: Iterable[tuple[Any, ...]]) -> tuple[Any, ...]:
    """Sums of numbers and arrays, first to last.

    >>> added([(1, 2.5), (3, 0.5)])
    (4, 3.0)
    """
    total: list[Any] = []
    for part in parts:
        total = [one + two for one, two in zip(total, part, strict=True)] if total else list(part)
    return tuple(total)
