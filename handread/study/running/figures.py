"""Every figure of a study, reader by reader, over as many processes as there are."""

from __future__ import annotations

import contextlib
import warnings
from collections.abc import Iterator, Sequence
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from handread.study.frames import UpdateFrame
from handread.study.running.by_kind import kind_lines
from handread.study.running.extra import extra_lines, window_lines
from handread.study.running.packed import PackedMoments
from handread.study.running.plan import StudyPlan
from handread.study.summarising import honest_lines, summarise
from handread.study.summary import Summary, SummaryLine

if TYPE_CHECKING:
    import pandas as pd

#: Games below which other processes would take longer to start than to help.
LEAST_GAMES: Final = 400
Lines = tuple[SummaryLine, ...]


class Block(NamedTuple):
    """Figures of one reader that rest on its moments alone.

    Attributes
    ----------
    what
        "scores", "extra" or "kinds".
    reader
        Whose.
    """

    what: str
    reader: str


def study_summary(
    plan: StudyPlan,
    packed: PackedMoments,
    updates: UpdateFrame | None,
    windows: pd.DataFrame,
    *,
    n_workers: int = 1,
) -> Summary:
    """Work out every figure of a study; the same to the bit with any number of processes.

    Parameters
    ----------
    plan
        The plan; resampling follows from its seed.
    packed
        Beliefs and truths.
    updates
        Claimed and realised bits; None where no reader reports moves.
    windows
        Forecasts of claims and wins.
    n_workers
        Processes.
    """
    blocks = [Block(what, reader) for what in _LINES for reader in packed.readers]
    told: dict[Block, Lines] = {}
    with _begun(packed, plan, blocks, n_workers) as done:
        # meanwhile, here, what rests on the frames that are here
        moved = {name: _honest(plan, updates, name) for name in packed.readers}
        opened = window_lines(windows, resamples=plan.resamples, seed=plan.seed)
        told.update(done)
    scores = [told[Block("scores", name)] + moved[name] for name in packed.readers]
    extra, kinds = (
        [told[Block(what, name)] for name in packed.readers] for what in ("extra", "kinds")
    )  # fmt: skip
    return Summary(plan.base, tuple(chain(*scores, *extra, opened, *kinds)))


@contextlib.contextmanager
def _begun(
    packed: PackedMoments, plan: StudyPlan, blocks: Sequence[Block], n_workers: int
) -> Iterator[Iterator[tuple[Block, Lines]]]:
    """Blocks with their lines as they are done, in no order; other processes begin at once."""
    if n_workers == 1 or plan.test < LEAST_GAMES:
        yield (block_lines(packed.folder, plan, block) for block in blocks)
        return
    from joblib import Parallel, delayed, parallel_config

    with warnings.catch_warnings(), parallel_config(backend="loky", inner_max_num_threads=1):
        # a process that has grown is put in another's place, which loses nothing
        warnings.filterwarnings("ignore", "A worker stopped while some jobs", UserWarning)
        run = Parallel(n_jobs=n_workers, return_as="generator_unordered", batch_size=1)
        with contextlib.closing(
            run(delayed(block_lines)(packed.folder, plan, block) for block in blocks)
        ) as done:
            yield done


def block_lines(folder: Path, plan: StudyPlan, block: Block) -> tuple[Block, Lines]:
    """Work out the figures of one block; runs in a process of its own.

    Parameters
    ----------
    folder
        Folder of a study whose games are all there.
    plan
        Its plan.
    block
        Which figures.
    """
    return block, _LINES[block.what](plan, PackedMoments.of(folder, plan), block.reader)


def _scores(plan: StudyPlan, packed: PackedMoments, reader: str) -> Lines:
    return summarise(
        packed, base=plan.base, versus=plan.versus, resamples=plan.resamples, rng=_rng(plan),
        readers=(reader,),
    ).lines  # fmt: skip


def _honest(plan: StudyPlan, updates: UpdateFrame | None, reader: str) -> Lines:
    if updates is None or reader not in updates.readers:
        return ()
    return honest_lines(updates, reader, resamples=plan.resamples, rng=_rng(plan))


def _rng(plan: StudyPlan) -> np.random.Generator:
    return np.random.default_rng([plan.seed, 11])


def _extra(plan: StudyPlan, packed: PackedMoments, reader: str) -> Lines:
    return extra_lines(
        packed, reader, floor=plan.floor, base=plan.base, versus=plan.versus,
        resamples=plan.resamples, seed=plan.seed,
    )  # fmt: skip


def _kinds(plan: StudyPlan, packed: PackedMoments, reader: str) -> Lines:
    return kind_lines(
        packed, reader, base=plan.base, versus=plan.versus, resamples=plan.resamples,
        seed=plan.seed,
    )  # fmt: skip


#: Figures that rest on moments alone, those that take longest first.
_LINES: Final[dict[str, Any]] = {"scores": _scores, "extra": _extra, "kinds": _kinds}
