"""A study in words: the figures that one looks at first, each with interval and counts."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from handread.study.running.results import StudyResult
from handread.study.summary import SummaryLine

#: Parts in which gain and calibration are shown.
PARTS = (
    "own turn 4", "own turn 8", "own turn 12", "own turn 16",
    "exposures 0", "exposures 1", "exposures 2 or more",
)  # fmt: skip


def study_lines(result: StudyResult) -> Iterator[str]:
    """Lines of text that sum a study up.

    Parameters
    ----------
    result
        A finished study.

    Yields
    ------
    str
        One figure a line, readers under one another.
    """
    plan, summary = result.plan, result.summary
    n_games = len(np.unique(result.packed.moments(plan.base).game))
    people = result.seeds["made_with"]["population"]
    yield (
        f"{plan.name}: {n_games:,} test games on card {plan.card!r}, population {people!r}, "
        f"master seed {plan.seed}; 95 % intervals over games"
    )
    known = {(line.reader, line.part, line.measure): line for line in summary.lines}
    for part in ("all", *PARTS):
        yield ""
        yield part
        for reader in plan.readers:
            gain = known.get((reader, part, "gain"))
            if gain is None:
                continue
            over = _span(known.get((reader, part, f"gain over {plan.floor}")))
            error = _null(known.get((reader, part, "top-label error")))
            counts = f"(n = {gain.n_games} games, {gain.n_moments} moments)"
            words = [f"  {reader:<30}", f"gain {_span(gain)}", f"over {plan.floor} {over}"]
            words += [f"error {error}", counts]
            yield "  ".join(words)
    yield from _others(result, known)


def _others(
    result: StudyResult, known: dict[tuple[str, str, str], SummaryLine]
) -> Iterator[str]:  # fmt: skip
    versus = result.plan.versus
    measures = (
        f"gain over {versus}", "power", "honesty ratio", "bits claimed less realised",
        "50 % set: covered less stated", "80 % set: covered less stated",
        "95 % set: covered less stated", "lead above 0.5", "games with a wrong row above 0.5",
        "lead above 0.8", "games with a wrong row above 0.8", "truth called impossible",
    )  # fmt: skip
    for reader in result.plan.readers:
        yield ""
        yield reader
        for measure in measures:
            line = known.get((reader, "all", measure))
            if line is not None:
                yield _measure(measure, line)
        for (name, part, measure), line in known.items():
            if name == reader and part.startswith("open throw"):
                yield _measure(f"{part}, {measure}", line)


def _measure(words: str, line: SummaryLine) -> str:
    counts = f"(n = {line.n_games} games, {line.n_moments} moments)"
    return f"  {words:<62} {_span(line)} {line.unit} {counts}"


def _span(line: SummaryLine | None) -> str:
    if line is None:
        return "none".ljust(24)
    if np.isfinite(line.low):
        return f"{line.value:+.3f} [{line.low:+.3f}, {line.high:+.3f}]"
    return f"{line.value:+.3f} [no interval]"


def _null(line: SummaryLine | None) -> str:
    if line is None:
        return "none"
    return f"{line.value:+.3f} (null to {line.high:.3f})"
