"""The page of a study: what was done, how good each reader is, whether it knows."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from html import escape
from typing import Final

import numpy as np

from handread.report.page.figures import Dot, by_turn, intervals, lead, reliability
from handread.report.page.markup import (
    document,
    figure,
    folded,
    number,
    section,
    span,
    table,
    words,
)
from handread.study import (
    lead_curve,
    null_band,
    reliability_of_top,
    stated_top,
)
from handread.study.running import StudyResult
from handread.study.summary import Summary, SummaryLine

Known = Mapping[tuple[str, str, str], SummaryLine]

#: Sets behind the bands of the pictures; the figures of the tables have the plan's.
PICTURE_SETS: Final = 200
_EXPOSURES: Final = ("exposures 0", "exposures 1", "exposures 2 or more")
_WINDOWS: Final = (
    "log gain over availability", "log skill over availability", "Brier skill over availability",
    "event rate", "small probabilities: observed less stated",
)  # fmt: skip


def study_page(result: StudyResult, summary: Summary | None = None) -> str:
    """Put the page of a study together.

    Parameters
    ----------
    result
        A finished study.
    summary
        Its figures, where they are known; else they are computed.

    Returns
    -------
    str
        A whole HTML document.
    """
    lines = (summary or result.summary).lines
    known = {(line.reader, line.part, line.measure): line for line in lines}
    plan = result.plan
    return document(
        f"Study {plan.name}",
        words(_what(result)),
        section("How much each reader knows", *_gains(result, known)),
        section("By own turn and by exposures", *_parts(result, known)),
        section("Whether it knows how much it knows", *_calibration(result, known)),
        section("How early, and at what price", *_leads(result, known)),
        section("Bits claimed and bits realised", *_honesty(result, known)),
        section("Who takes an open throw", *_windows(result, known)),
        section("What this rests on", *_ground(result, known)),
    )


def _what(result: StudyResult) -> str:
    plan = result.plan
    people = result.seeds["made_with"]["population"]
    few = f"; {', '.join(plan.few)} on the first {plan.few_games:,}" if plan.few else ""
    scored = "after each of its throws"
    if plan.moments == "events":
        scored = "after every event"
    if plan.turns:
        scored += f" at own turns {', '.join(map(str, plan.turns))}"
    return (
        f"{plan.test:,} simulated games of population {people} on card {plan.card}, watched by "
        f"{len(plan.readers)} readers{few}. Each live seat is scored {scored}. Intervals are "
        "95 %, by resampling games; games count alike, whatever their length."
    )


def _cell(line: SummaryLine | None, digits: int = 3) -> str:
    return "" if line is None else number(line.value, digits) + span(line.low, line.high, digits)


def _null(line: SummaryLine | None) -> str:
    if line is None:
        return ""
    return f"{number(line.value)}<small>null to {number(line.high)}</small>"


def _gains(result: StudyResult, known: Known) -> Iterator[str]:
    plan = result.plan
    yield words(
        f"Gain is the log score over that of {plan.base}, in bits a moment: 0 for a reader that "
        "knows no more than how often things happen, 1 for one that is right twice as surely."
    )
    rows = [
        (reader, _dot(known[reader, "all", "gain"]))
        for reader in plan.readers
        if (reader, "all", "gain") in known and reader != plan.base
    ]
    rows.sort(key=lambda each: -each[1].value)
    if rows:
        unit, title = f"gain over {plan.base}, bits", f"Gain of each reader over {plan.base}"
        yield figure(
            [intervals(rows, unit, title)],
            "Dots: gain over all moments; lines: intervals over games.",
        )
    heads = ["reader", "gain", f"over {plan.floor}", f"over {plan.versus}", "top 1", "top 3",
             "truth called impossible", "games"]  # fmt: skip
    measures = ("gain", f"gain over {plan.floor}", f"gain over {plan.versus}", "top 1", "top 3",
                "truth called impossible")  # fmt: skip
    lines = []
    for reader in plan.readers:
        found = known.get((reader, "all", "gain"))
        if found is not None:
            cells = [_cell(known.get((reader, "all", measure))) for measure in measures]
            lines.append([escape(reader), *cells, _counts(found)])
    yield table(heads, lines)
    yield words(
        "Differences between readers are paired by game. Top 1 and top 3: how often the true "
        "row is the likeliest, or among the first three.", quiet=True,
    )  # fmt: skip


def _dot(line: SummaryLine) -> Dot:
    return Dot(line.value, line.low, line.high)


def _counts(line: SummaryLine) -> str:
    return f"{line.n_games:,}<small>{line.n_moments:,} moments</small>"


def _parts(result: StudyResult, known: Known) -> Iterator[str]:
    plan = result.plan
    turns = sorted(
        {int(part.split()[-1]) for _, part, _ in known if part.startswith("own turn ")}
    )  # fmt: skip
    gains: dict[str, dict[int, Dot]] = {}
    for reader in plan.readers:
        held = {
            turn: _dot(known[reader, f"own turn {turn}", "gain"])
            for turn in turns
            if (reader, f"own turn {turn}", "gain") in known
        }
        if held and reader != plan.base:
            gains[reader] = held
    yield figure(
        by_turn(gains, plan.base),
        "Each reader in black, the others in grey; at its own turns, with intervals over games.",
    )
    parts = [*(f"own turn {turn}" for turn in turns), *_EXPOSURES]
    for measure in ("gain", f"gain over {plan.versus}"):
        rows = []
        for reader in plan.readers:
            cells = [_cell(known.get((reader, part, measure)), 2) for part in parts]
            if any(cells):
                rows.append([escape(reader), *cells])
        shown = measure if measure != "gain" else f"gain over {plan.base}"
        yield f"<h3>{escape(shown[0].upper() + shown[1:])}, bits</h3>" if rows else ""
        yield table(["reader", *parts], rows)


def _calibration(result: StudyResult, known: Known) -> Iterator[str]:
    plan = result.plan
    yield words(
        "A calibrated reader that says 70 % is right in 70 % of such moments. The error is the "
        "typical distance from that for the row named first, noise removed; it does not say in "
        "which direction, and a calibrated reader's would lie below the null. A power under 1 "
        "means that beliefs should be flatter. Sets: how often the truth lies within a stated "
        "set, less what the set states."
    )
    pictures = []
    for reader in plan.readers:
        moments = result.packed.moments(reader)
        stated, right = stated_top(moments.prob, moments.truth)
        rng = np.random.default_rng([plan.seed, 41])
        curve = reliability_of_top(moments.prob, moments.truth, game=moments.index)
        band = null_band(stated, right, game=moments.index, rng=rng, resamples=PICTURE_SETS)
        shares, _ = np.histogram(
            curve.stated, bins=np.linspace(0, 1, 21), weights=curve.weight
        )  # fmt: skip
        pictures.append(
            reliability(reader, curve.stated, curve.recalibrated, (band.grid, band.low, band.high),
                        shares.tolist())
        )  # fmt: skip
    yield figure(
        pictures,
        "Line: share that was true at each stated probability of the row named first; grey: where "
        "a calibrated reader's would lie in 95 % of studies; bars: how often it was stated.",
    )
    sets = ("50 % set", "80 % set", "95 % set")
    heads = ["reader", "top-label error", "with no exposure", "power", "gain of best power",
             *(f"{each}: covered less stated" for each in sets)]  # fmt: skip
    rows = []
    for reader in plan.readers:
        cells = [
            _null(known.get((reader, part, "top-label error"))) for part in ("all", "exposures 0")
        ]
        cells += [
            _cell(known.get((reader, "all", measure)))
            for measure in ("power", "gain of best power, held out",
                            *(f"{each}: covered less stated" for each in sets))
        ]  # fmt: skip
        rows.append([escape(reader), *cells])
    yield table(heads, rows)


def _leads(result: StudyResult, known: Known) -> Iterator[str]:
    plan = result.plan
    curves = {}
    for reader in plan.readers:
        moments = result.packed.moments(reader)
        told = lead_curve(
            moments.prob, moments.truth, game=moments.index, seat=moments.seat,
            own_turn=moments.own_turn, rng=np.random.default_rng([plan.seed, 42]),
            resamples=PICTURE_SETS,
        )  # fmt: skip
        curves[reader] = (told.wrong_game, told.lead)
    yield words(
        "Lead counts the own turns at the end of a game through which the true row stayed above a "
        "threshold. A lower threshold buys more of it and pays in games in which a wrong row "
        "passed the threshold for some seat."
    )
    yield figure(
        [lead(reader, curves) for reader in curves],
        "Each point of a line is one threshold, 10 to 95 %. Higher and further left is better.",
    )
    heads = ["reader"]
    for cut in ("0.5", "0.8"):
        heads += [f"lead above {cut}, own turns", f"games with a false alarm above {cut}"]
    rows = [
        [escape(reader), *(
            _cell(known.get((reader, "all", measure)), 2)
            for cut in ("0.5", "0.8")
            for measure in (f"lead above {cut}", f"games with a wrong row above {cut}")
        )]
        for reader in plan.readers
    ]  # fmt: skip
    yield table(heads, rows)


def _honesty(result: StudyResult, known: Known) -> Iterator[str]:
    told = [key for key in known if key[2] == "bits claimed"]
    if not told:
        return
    yield words(
        "An update claims the bits by which it moved the belief, and realises those by which it "
        "moved it towards the truth. Claimed over realised is 1 for an honest reader and more for "
        "one that is too sure, or counts twice."
    )
    rows = []
    for reader, part, _ in told:
        measures = ("bits claimed", "bits realised", "bits claimed less realised", "honesty ratio")
        cells = [_cell(known.get((reader, part, measure)), 2) for measure in measures]
        rows.append([escape(reader if part == "all" else f"{reader}, {part}"), *cells])
    yield table(["reader", "claimed", "realised", "difference", "ratio"], rows)
    yield words("Bits a game; no ratio where too little was realised to divide by.", quiet=True)


def _windows(result: StudyResult, known: Known) -> Iterator[str]:
    parts = [part for _, part, _ in known if part.startswith("open throw")]
    rows = []
    for reader in result.plan.readers:
        for part in dict.fromkeys(parts):
            cells = [_cell(known.get((reader, part, measure)), 4) for measure in _WINDOWS]
            if any(cells):
                rows.append([escape(f"{reader}, {part.removeprefix('open throw: ')}"), *cells])
    if rows:
        yield words(
            "Whether a seat shows a group with the throw that lies open, or wins on it, against "
            "what the copies left and the phase of the game say."
        )
        yield table(["reader", *_WINDOWS], rows)


def _ground(result: StudyResult, known: Known) -> Iterator[str]:
    from dataclasses import asdict

    made = result.seeds["made_with"]
    yield table(
        ["plan", ""],
        [[escape(key), escape(_plain(value))] for key, value in asdict(result.plan).items()],
    )
    yield table(["made with", ""], [[escape(k), escape(_plain(v))] for k, v in made.items()])
    lines = [
        [escape(f"{line.reader}, {line.part}, {line.measure}"), _cell(line, 4), escape(line.unit),
         f"{line.n_games:,}", f"{line.n_moments:,}"]
        for line in known.values()
    ]  # fmt: skip
    yield folded(
        f"Every figure ({len(lines):,})",
        table(["reader, part, measure", "value", "unit", "games", "moments"], lines),
    )


def _plain(value: object) -> str:
    if isinstance(value, list | tuple) and all(isinstance(each, str | int) for each in value):
        return ", ".join(map(str, value)) or "none"
    return value if isinstance(value, str) else json.dumps(value)
