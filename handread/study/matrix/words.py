"""A matrix in words."""

from __future__ import annotations

from collections.abc import Iterator

from handread.study.intervals import Estimate
from handread.study.matrix.results import MatrixResult


def matrix_lines(result: MatrixResult) -> Iterator[str]:
    """Lines of text that sum a matrix up: headlines, then every cell.

    Parameters
    ----------
    result
        A finished matrix.

    Yields
    ------
    str
    """
    plan = result.plan
    yield (
        f"{plan.name}: {plan.training:,} training games a row, {plan.test:,} test games a kind, "
        f"card {plan.card!r}, master seed {plan.seed}; bits, 95 % intervals over games"
    )
    yield ""
    yield "regret to the reader of the kind's own games, over kinds not trained on"
    for line in result.headlines:
        row, kind = line.worst_pair
        yield (
            f"  {line.trainer:<14}{line.rows:<18}mean {_span(line.mean)}  worst "
            f"{_span(line.worst)} ({row} on {kind})"
        )
    for trainer in plan.all_trainers:
        yield ""
        yield trainer
        for cell in result.cells:
            if cell.trainer == trainer:
                known = "" if not cell.knows else " (knows the kind)"
                yield (
                    f"  {cell.row + ' on ' + cell.kind:<32}gain {_span(cell.gain)}  over own base "
                    f"{_span(cell.gain_own_base)}  prior shift {_span(cell.prior_shift)}  regret "
                    f"{_span(cell.regret)}{known}"
                )


def _span(figure: Estimate) -> str:
    return f"{figure.value:+.3f} [{figure.low:+.3f}, {figure.high:+.3f}]"
