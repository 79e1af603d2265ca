"""Line charts of a report as drawings in the page: one set of lines, scales in both systems of units."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from markupsafe import Markup, escape

from simulator.look.report.numbers import SYSTEMS
from simulator.look.scales import FloatArray, PairOfScales
from simulator.look.theme import COLOURS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.case.units import System

__all__ = ["Line", "LineChart", "Tick", "chart_markup", "round_ticks", "thinned", "time_ticks"]

WIDTH, HEIGHT = 480.0, 300.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 12.0, 24.0, 40.0
MOST_POINTS = 600
DASHES = ("", "9 4", "2.5 3.5", "12 3 2.5 3", "5 3", "1.5 5")
_HOUR_STEPS = (1, 2, 3, 6, 12, 24, 48, 72, 120, 168, 336, 720, 1440, 2160, 4320, 8760, 17520)


@dataclass(frozen=True, eq=False)
class Line:
    """One course (N,) over x, in the first scale of the chart; NaN leaves a gap.

    `style` counts through colours and dashes; lines of one colour take `dash` beside it.
    """

    name: str
    x: FloatArray
    y: FloatArray
    dataset: str
    style: int = 0
    dash: int | None = None

    @property
    def colour(self) -> str:
        """Colour of the line."""
        return COLOURS[self.style % len(COLOURS)]

    @property
    def dashes(self) -> str:
        """Dashes of the line, as a drawing takes them."""
        return DASHES[(self.style if self.dash is None else self.dash) % len(DASHES)]


@dataclass(frozen=True)
class Tick:
    """A place on an axis (in the first scale) with its text."""

    place: float
    text: str


@dataclass(frozen=True, eq=False)
class LineChart:
    """What a chart shows.

    Attributes
    ----------
    title : str
        Said to readers that see no picture.
    lines : sequence of Line
    scales : PairOfScales
        Of the upright axis.
    x_ticks : dict of str to list of Tick
        For "SI" and "US"; places in the unit of x.
    x_words : dict of str to str
        What x is, in both systems.
    bands : list of (float, float)
        Stretches of x that are shaded.
    least_span : float
        Smallest range of the upright axis.
    """

    title: str
    lines: Sequence[Line]
    scales: PairOfScales
    x_ticks: dict[str, list[Tick]]
    x_words: dict[str, str]
    bands: Sequence[tuple[float, float]] = field(default_factory=list)
    least_span: float = 1.0


def round_ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round numbers from `low` to `high`, both ends left out where they are not round."""
    step = 10.0 ** math.floor(math.log10(max(high - low, 1e-9) / most))
    for factor in (1.0, 2.0, 2.5, 5.0, 10.0, 20.0):
        if (high - low) / (step * factor) <= most:
            step *= factor
            break
    first = math.ceil(low / step - 1e-9)
    return [number * step for number in range(first, math.floor(high / step + 1e-9) + 1)]


def time_ticks(start: dt.datetime, first: float, last: float, most: int = 7) -> list[Tick]:
    """Ticks at whole hours or days; x is in seconds since `start`."""
    hours = (last - first) / 3600.0
    step = next((step for step in _HOUR_STEPS if hours / step <= most), math.ceil(hours / most))
    midnight = dt.datetime.combine(start.date(), dt.time())
    offset = (start - midnight).total_seconds()
    count = math.ceil((first + offset) / (3600.0 * step) - 1e-9)
    ticks: list[Tick] = []
    while (place := 3600.0 * step * count - offset) <= last + 1.0:
        moment = start + dt.timedelta(seconds=place)
        at_midnight = moment.hour == 0 and moment.minute == 0
        ticks.append(Tick(place, f"{moment.day} {moment:%b}" if at_midnight else f"{moment:%H:%M}"))
        count += 1
    return ticks


def thinned(x: FloatArray, y: FloatArray, most: int = MOST_POINTS) -> tuple[FloatArray, FloatArray]:
    """Keep lowest and highest of every stretch, so that a long course keeps its extremes."""
    if x.size <= most:
        return x, y
    kept = {0, x.size - 1}
    for part in np.array_split(np.arange(x.size), most // 2):
        values = y[part]
        if np.isfinite(values).any():
            kept |= {int(part[np.nanargmin(values)]), int(part[np.nanargmax(values)])}
        else:
            kept.add(int(part[0]))
    chosen = np.array(sorted(kept))
    return x[chosen], y[chosen]


@dataclass(frozen=True)
class _Paper:
    """Where values land on the drawing: lowest x and y, and lengths per unit of each."""

    x_low: float
    across: float
    low: float
    high: float

    def x(self, value: float) -> float:
        return LEFT + (value - self.x_low) * self.across

    def y(self, value: float) -> float:
        return HEIGHT - BOTTOM - (value - self.low) / (self.high - self.low) * (HEIGHT - TOP - BOTTOM)


def chart_markup(chart: LineChart) -> Markup:
    """Draw a chart as a scalable drawing, with both sets of scale texts; the page shows one of them."""
    x_all = np.concatenate([line.x for line in chart.lines])
    y_all = np.concatenate([line.y for line in chart.lines])
    known = y_all[np.isfinite(y_all)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    lacking = max(chart.least_span - (high - low), 0.06 * (high - low)) / 2.0
    x_low, x_high = float(x_all.min()), float(x_all.max())
    across = (WIDTH - LEFT - RIGHT) / max(x_high - x_low, 1e-9)
    paper = _Paper(x_low, across, low - lacking, high + lacking)
    title = escape(chart.title)
    parts = [
        f'<svg class="chart" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" aria-label="{title}">',
        f"<title>{title}</title>",
    ]
    parts += [
        f'<rect class="band" x="{paper.x(begin):.1f}" y="{TOP:.1f}" '
        f'width="{max((end - begin) * across, 0.5):.1f}" height="{HEIGHT - TOP - BOTTOM:.1f}"/>'
        for begin, end in chart.bands
    ]
    parts += [_scale_texts(chart, paper, system) for system in SYSTEMS]
    corner = f"M{LEFT:.0f} {TOP:.0f}V{HEIGHT - BOTTOM:.0f}H{WIDTH - RIGHT:.0f}"
    parts.append(f'<path class="axis" d="{corner}"/>')
    parts += [_drawn(line, paper) for line in chart.lines]
    return Markup("".join([*parts, "</svg>"]))


def _scale_texts(chart: LineChart, paper: _Paper, system: System) -> str:
    """Ticks, texts and grid of one system of units."""
    scales = chart.scales
    si = system == "SI"
    low, high = (value if si else float(scales.to_us(value)) for value in (paper.low, paper.high))
    parts = [f'<g class="{system.lower()}">']
    for number in round_ticks(low, high):
        y = paper.y(number if si else float(scales.to_si(number)))
        parts.append(f'<path class="grid" d="M{LEFT:.0f} {y:.1f}H{WIDTH - RIGHT:.0f}"/>')
        parts.append(f'<text class="end" x="{LEFT - 5:.0f}" y="{y + 4.5:.1f}">{_plain(number)}</text>')
    parts.append(f'<text x="4" y="14">{escape(scales.si if si else scales.us)}</text>')
    for tick in chart.x_ticks[system]:
        x = paper.x(tick.place)
        if LEFT - 1.0 <= x <= WIDTH - RIGHT + 1.0:
            where = "end" if x > WIDTH - RIGHT - 18.0 else "middle"
            parts.append(f'<path class="tick" d="M{x:.1f} {HEIGHT - BOTTOM:.0f}v4"/>')
            parts.append(
                f'<text class="{where}" x="{x:.1f}" y="{HEIGHT - BOTTOM + 18:.0f}">{escape(tick.text)}</text>'
            )
    words = escape(chart.x_words[system])
    parts.append(f'<text class="end" x="{WIDTH - RIGHT:.0f}" y="{HEIGHT - 5:.0f}">{words}</text></g>')
    return "".join(parts)


def _drawn(line: Line, paper: _Paper) -> str:
    x, y = thinned(line.x, line.y)
    path, pen = [], False
    for place, value in zip(x.tolist(), y.tolist(), strict=True):
        if math.isfinite(value):
            path.append(f"{'L' if pen else 'M'}{paper.x(place):.1f} {paper.y(value):.1f}")
        pen = math.isfinite(value)
    dashes = f' stroke-dasharray="{line.dashes}"' if line.dashes else ""
    return (
        f'<path class="line" stroke="{line.colour}"{dashes} data-dataset="{line.dataset}" '
        f'd="{"".join(path)}"><title>{escape(line.name)}: {line.dataset}</title></path>'
    )


def _plain(value: float) -> str:
    return f"{value:.6g}".replace("-", "\N{MINUS SIGN}")
