"""Pictures of figures as inline SVG, told apart without colour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from handread.svg.markup import FONTS, element, label, number, shortened, width_of
from handread.svg.palette import EDGE, INK, QUIET, SPENT

#: Size of words, in user units; pictures are drawn for the width of a phone.
SIZE: Final = 12.0
WIDE: Final = 440.0
PANEL: Final = (250.0, 190.0)


@dataclass(frozen=True)
class Dot:
    """A figure with its interval; NaN ends where there is none."""

    value: float
    low: float
    high: float


def picture(width: float, height: float, body: str, title: str) -> str:
    """Return a whole SVG with a title that is read aloud."""
    said = element("title", label_text(title))
    return element(
        "svg", said, body, xmlns="http://www.w3.org/2000/svg", role="img", font_family=FONTS,
        viewBox=f"0 0 {number(width)} {number(height)}",
    )  # fmt: skip


def label_text(text: str) -> str:
    """Plain words as markup."""
    from html import escape

    return escape(text)


def ticks(low: float, high: float, most: int = 5) -> list[float]:
    """Round numbers from low to high, at most so many.

    >>> ticks(0.0, 1.0)
    [0.0, 0.25, 0.5, 0.75, 1.0]
    """
    reach = max(high - low, 1e-9)
    for power in range(-6, 7):
        for step in (1.0, 2.0, 2.5, 5.0):
            each = step * 10.0**power
            if reach / each <= most - 1 + 1e-9:
                first = np.ceil(low / each - 1e-9)
                n = int(np.floor(high / each + 1e-9) - first) + 1
                return [float(round((first + i) * each, 9)) for i in range(n)]
    return [low, high]


def tick_words(value: float) -> str:
    """A tick's number, as short as it goes."""
    return f"{value:g}".replace("-", "−")


@dataclass(frozen=True)
class Scale:
    """A straight map of numbers to places."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Place of a number."""
        share = (value - self.low) / max(self.high - self.low, 1e-12)
        return self.start + share * (self.end - self.start)


def reach(values: Sequence[float], *, zero: bool = True) -> tuple[float, float]:
    """Least and most of the finite numbers, with a little room, zero inside if asked."""
    held = [v for v in values if np.isfinite(v)] + ([0.0] if zero else [])
    low, high = (min(held), max(held)) if held else (0.0, 1.0)
    room = 0.06 * max(high - low, 1e-6)
    return (low - room if low < 0 else low), (high + room if high > 0 else high)


def intervals(rows: Sequence[tuple[str, Dot]], unit: str, title: str) -> str:
    """One line a row: name, dot and interval over an axis, the number at the right.

    Parameters
    ----------
    rows
        Names and figures, from the top.
    unit
        Of the axis.
    title
        Of the picture, for those who do not see it.
    """
    row_height, top = 22.0, 8.0
    names = min(max(width_of(name, SIZE) for name, _ in rows) + 8.0, 0.4 * WIDE)
    height = top + row_height * len(rows) + 40.0
    low, high = reach([v for _, dot in rows for v in (dot.value, dot.low, dot.high)])
    scale = Scale(low, high, names + 4.0, WIDE - 52.0)
    floor = top + row_height * len(rows)
    parts = _axis_below(scale, floor, unit, top)
    if low <= 0 <= high:
        parts.append(_line(scale.at(0), top, scale.at(0), floor, stroke=INK, width=1.0))
    for place, (name, dot) in enumerate(rows):
        y = top + row_height * (place + 0.5)
        parts.append(label(names, y + 4, shortened(name, SIZE, names - 4), SIZE, anchor="end"))
        if np.isfinite(dot.low):
            parts.append(_line(scale.at(dot.low), y, scale.at(dot.high), y, stroke=INK, width=2.0))
        if np.isfinite(dot.value):
            parts.append(element("circle", cx=scale.at(dot.value), cy=y, r=4, fill=INK))
        shown = f"{dot.value:+.2f}".replace("-", "−")
        parts.append(label(WIDE, y + 4, shown, SIZE, anchor="end"))
    return picture(WIDE, height, "".join(parts), title)


def _axis_below(scale: Scale, floor: float, unit: str, top: float) -> list[str]:
    parts = [_line(scale.start, floor, scale.end, floor, stroke=EDGE, width=1.0)]
    for tick in ticks(scale.low, scale.high):
        x = scale.at(tick)
        parts.append(_line(x, top, x, floor, stroke=SPENT, width=0.8))
        parts.append(label(x, floor + 14, tick_words(tick), SIZE - 1, fill=QUIET))
    middle = 0.5 * (scale.start + scale.end)
    parts.append(label(middle, floor + 30, unit, SIZE - 1, fill=QUIET))
    return parts


def _line(x1: float, y1: float, x2: float, y2: float, *, stroke: str, width: float) -> str:
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width)


@dataclass(frozen=True)
class Frame:
    """Axes of a small picture."""

    across: Scale
    up: Scale
    body: str

    def path(self, x: ArrayLike, y: ArrayLike) -> str:
        """Points of a line, those that are no numbers left out.

        Of points at one place one is kept, and of those at one height the ends: a curve over a
        hundred thousand moments has no more places than the picture has.
        """
        found = [
            (round(self.across.at(float(a)), 1), round(self.up.at(float(b)), 1))
            for a, b in zip(np.asarray(x), np.asarray(y), strict=True)
            if np.isfinite(a) and np.isfinite(b)
        ]
        kept: list[tuple[float, float]] = []
        for point in found:
            flat = len(kept) > 1 and kept[-1][1] == kept[-2][1] == point[1]
            if flat and (point[0] - kept[-1][0]) * (kept[-1][0] - kept[-2][0]) >= 0:
                kept[-1] = point
            elif not kept or point != kept[-1]:
                kept.append(point)
        return " ".join(f"{number(a)},{number(b)}" for a, b in kept)


def frame(
    name: str, across: tuple[float, float], up: tuple[float, float], units: tuple[str, str],
    marks: Sequence[float] = (),
) -> Frame:  # fmt: skip
    """Axes, ticks and name of a small picture.

    Parameters
    ----------
    name
        Above it.
    across, up
        Ends of the axes.
    units
        Words below, and above at the left.
    marks
        Ticks across; round numbers where there are none.
    """
    width, height = PANEL
    x, y = Scale(*across, 34.0, width - 8.0), Scale(*up, height - 34.0, 36.0)
    parts = [label(2, 13, shortened(name, SIZE, width - 4, bold=True), SIZE, bold=True,
                   anchor="start"),
             label(2, 28, units[1], SIZE - 2, fill=QUIET, anchor="start")]  # fmt: skip
    for tick in ticks(*up, most=4):
        parts.append(_line(x.start, y.at(tick), x.end, y.at(tick), stroke=SPENT, width=0.8))
        parts.append(
            label(x.start - 4, y.at(tick) + 4, tick_words(tick), SIZE - 2, fill=QUIET, anchor="end")
        )
    for tick in marks or ticks(*across, most=5):
        parts.append(label(x.at(tick), y.start + 13, tick_words(tick), SIZE - 2, fill=QUIET))
    parts.append(_line(x.start, y.start, x.end, y.start, stroke=EDGE, width=1.0))
    parts.append(label(0.5 * (x.start + x.end), height - 6, units[0], SIZE - 2, fill=QUIET))
    return Frame(x, y, "".join(parts))


def by_turn(gains: Mapping[str, Mapping[int, Dot]], base: str) -> list[str]:
    """One small picture a reader: its gain by own turn in black, the others' in grey.

    Parameters
    ----------
    gains
        By reader, by own turn.
    base
        What the gains are over.
    """
    turns = sorted({turn for held in gains.values() for turn in held})
    ends = reach([v for held in gains.values() for d in held.values() for v in (d.low, d.high)])
    if not turns:
        return []
    pictures = []
    for reader, held in gains.items():
        axes = frame(
            reader, (turns[0] - 1, turns[-1] + 1), ends,
            ("own turn", f"gain over {base}, bits"), marks=turns,
        )  # fmt: skip
        parts = [axes.body]
        if ends[0] < 0 < ends[1]:
            zero = axes.up.at(0.0)
            parts.append(_line(axes.across.start, zero, axes.across.end, zero, stroke=INK, width=1))
        for other, told in gains.items():
            if other != reader:
                parts.append(_poly(axes, told, EDGE, 0.8))
        parts.append(_poly(axes, held, INK, 2.0))
        for turn, dot in held.items():
            x = axes.across.at(turn)
            if np.isfinite(dot.low):
                lines = axes.up.at(dot.low), axes.up.at(dot.high)
                parts.append(_line(x, lines[0], x, lines[1], stroke=INK, width=1.5))
            parts.append(element("circle", cx=x, cy=axes.up.at(dot.value), r=3.5, fill=INK))
        pictures.append(picture(*PANEL, "".join(parts), f"{reader}: gain over {base} by own turn"))
    return pictures


def _poly(axes: Frame, told: Mapping[int, Dot], stroke: str, width: float) -> str:
    turns = sorted(told)
    points = axes.path(turns, [told[turn].value for turn in turns])
    return element("polyline", points=points, fill="none", stroke=stroke, stroke_width=width)


def reliability(
    name: str, stated: ArrayLike, seen: ArrayLike, band: tuple[ArrayLike, ArrayLike, ArrayLike],
    shares: Sequence[float],
) -> str:  # fmt: skip
    """Stated probability against what came true, over the band of a calibrated reader.

    Parameters
    ----------
    name
        Above it.
    stated, seen
        Curve, shape (n,).
    band
        Stated probabilities, low and high.
    shares
        Share of the moments in each of equal bins of stated probability.
    """
    axes = frame(name, (0, 1), (0, 1), ("stated", "share that was true"))
    grid, low, high = (np.asarray(each, dtype=np.float64) for each in band)
    low, high = np.clip(low, 0.0, 1.0), np.clip(high, 0.0, 1.0)
    known = np.isfinite(low) & np.isfinite(high)
    around = axes.path(
        np.concatenate([grid[known], grid[known][::-1]]),
        np.concatenate([low[known], high[known][::-1]]),
    )
    parts = [axes.body, element("polygon", points=around, fill="#cfd5dc", stroke="none")]
    most = max([*shares, 1e-9])
    step = (axes.across.end - axes.across.start) / max(len(shares), 1)
    for place, share in enumerate(shares):
        tall = 0.15 * (axes.up.start - axes.up.end) * share / most
        parts.append(
            element("rect", x=axes.across.start + place * step + 0.5, y=axes.up.start - tall,
                    width=step - 1, height=tall, fill=EDGE)
        )  # fmt: skip
    corner = axes.path([0, 1], [0, 1])
    parts.append(element("polyline", points=corner, stroke=QUIET, stroke_dasharray="2 3",
                         fill="none"))  # fmt: skip
    parts.append(element("polyline", points=axes.path(stated, seen), stroke=INK, fill="none",
                         stroke_width=2))  # fmt: skip
    return picture(*PANEL, "".join(parts), f"{name}: reliability of the row named first")


def lead(name: str, curves: Mapping[str, tuple[ArrayLike, ArrayLike]]) -> str:
    """Lead against false alarms: this reader in black, the others in grey.

    Parameters
    ----------
    name
        Which reader is meant.
    curves
        By reader: share of games with a wrong row, and lead in own turns. Thresholds that every
        game passes wrongly are not drawn.
    """
    held = {reader: (np.asarray(x), np.asarray(y)) for reader, (x, y) in curves.items()}
    held = {reader: (x[x < 0.995], y[x < 0.995]) for reader, (x, y) in held.items()}
    high = max(float(y.max(initial=0.0)) for _, y in held.values())
    axes = frame(
        name, (0, 1), (0, max(high * 1.05, 1.0)),
        ("games with a false alarm", "own turns before the end"),
    )  # fmt: skip
    parts = [axes.body]
    for other in sorted(held, key=lambda each: each == name):
        black = other == name
        parts.append(
            element("polyline", points=axes.path(*held[other]), fill="none",
                    stroke=INK if black else EDGE, stroke_width=2.0 if black else 0.8)
        )  # fmt: skip
    return picture(*PANEL, "".join(parts), f"{name}: lead against false alarms")


def shaded(
    rows: Sequence[str], columns: Sequence[str], values: Sequence[Sequence[float]], title: str
) -> str:  # fmt: skip
    """A table of numbers with greys that follow them: white is 0, darker is more.

    Parameters
    ----------
    rows, columns
        Names.
    values
        Numbers, one list a row; NaN is left empty.
    title
        Of the picture, for those who do not see it.
    """
    names = max(width_of(row, SIZE) for row in rows) + 10.0
    cell = max(min((WIDE - names) / max(len(columns), 1), 96.0), 60.0)
    tall, top = 28.0, 26.0
    held = [v for line in values for v in line if np.isfinite(v)]
    most = max([*held, 1e-9])
    parts = [
        label(names + (i + 0.5) * cell, 16, shortened(name, SIZE, cell - 4), SIZE)
        for i, name in enumerate(columns)
    ]
    for j, (row, line) in enumerate(zip(rows, values, strict=True)):
        y = top + j * tall
        parts.append(label(names - 6, y + 18, row, SIZE, anchor="end"))
        for i, value in enumerate(line):
            if not np.isfinite(value):
                continue
            share = min(max(value / most, 0.0), 1.0)
            grey = f"#{3 * f'{round(255 - 105 * share):02x}'}"
            x = names + i * cell
            parts.append(element("rect", x=x + 1, y=y + 1, width=cell - 2, height=tall - 2,
                                 fill=grey, stroke=SPENT))  # fmt: skip
            shown = f"{value:+.2f}".replace("-", "−")
            parts.append(label(x + cell / 2, y + 18, shown, SIZE))
    width = names + cell * len(columns)
    return picture(width, top + tall * len(rows) + 4, "".join(parts), title)
