"""Pressure over flow: what the fan gives, what the ducts take, and where the two meet."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from simulator.look.line_labels import draw_line
from simulator.look.placing import TakenPlaces, write_at
from simulator.look.scales import AIR_FLOW, PRESSURE, FloatArray, PairOfScales, Units, pair_across, pair_up
from simulator.look.theme import COLOURS, INK, LINE_STYLES, MUTED, SIZE_NOTE, new_figure
from simulator.look.time_axis import write_numbers
from simulator.look.wording import POINTS_PER_INCH, add_heading, heading_height, text_width

__all__ = ["Curve", "Point", "draw_fan_chart", "flow_text", "pressure_text"]

LEFT, RIGHT, BOTTOM = 0.95, 0.95, 0.7  # [in]
AWAY = 12.0  # [px] from a curve or a point to its words
FURTHER = (1.0, 2.0, 3.5, 5.0, 7.0, 10.0, 14.0)  # distances that are tried, in these steps
LINE = 1.3  # line height in type sizes
FAN_LOOKS, OTHER_LOOKS = (0, 1, 4, 5), (2, 3, 6)
NAME_STEP = 8  # every so many points of a curve are tried as the place of its name
CHART = 4.6  # [in]
SECONDS_PER_HOUR = 3600.0
HEADROOM = 1.18  # pressures are shown up to so many times the highest of fan and meeting points
BEYOND = 1.06  # flows are shown up to so many times the largest


@dataclass(frozen=True, eq=False)
class Curve:
    """Pressure [Pa] over flow [m3/s] with a name; `of_fan` curves set the frame, others are cut by it."""

    label: str
    flow: FloatArray
    pressure: FloatArray
    of_fan: bool = False


@dataclass(frozen=True)
class Point:
    """Where fan and ducts meet: flow [m3/s], pressure [Pa], and a name."""

    label: str
    flow: float
    pressure: float


def flow_text(flow: float, units: Units) -> str:
    """Write a volume flow [m3/s] in both systems."""
    return _both(flow * SECONDS_PER_HOUR, AIR_FLOW, units, (_figures, _figures))


def pressure_text(pressure: float, units: Units) -> str:
    """Write a pressure [Pa] in both systems."""
    return _both(pressure, PRESSURE, units, (_figures, _inches))


def _inches(value: float) -> str:
    return f"{value:.2f}" if abs(value) >= 0.1 else f"{value:.3f}"


def _figures(value: float) -> str:
    return f"{value:.3g}" if abs(value) < 1000.0 else f"{value:.0f}"


def _both(value: float, scales: PairOfScales, units: Units, write: tuple[object, object]) -> str:
    si = f"{write[0](value)} {scales.si}"  # type: ignore[operator]
    us = f"{write[1](float(scales.to_us(value)))} {scales.us}"  # type: ignore[operator]
    return f"{si} ({us})" if units == "SI" else f"{us} ({si})"


def draw_fan_chart(
    curves: Sequence[Curve],
    points: Sequence[Point],
    title: str,
    lines: Sequence[str],
    units: Units,
    figure: Figure | None = None,
) -> Figure:
    """Draw curves of pressure over flow and the points at which fan and ducts meet.

    Parameters
    ----------
    curves : sequence of Curve
        Up to four of the fan and three others.
    points : sequence of Point
    title : str
    lines : sequence of str
        Written below the title.
    units : {"SI", "US"}
        The system on the left and below.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure
    """
    top = heading_height(len(lines)) + 0.85
    sheet = new_figure(top + CHART + BOTTOM, figure)
    wide, tall = map(float, sheet.get_size_inches())
    axes = sheet.add_axes(
        (LEFT / wide, BOTTOM / tall, (wide - LEFT - RIGHT) / wide, 1.0 - (top + BOTTOM) / tall)
    )
    axes.grid(visible=True)
    axes.set_axisbelow(True)
    most_flow, most_pressure = _reach(curves, points)
    last = most_flow * SECONDS_PER_HOUR
    axes.set_xlim(0.0, last)
    axes.set_ylim(0.0, most_pressure)
    pair_up(axes, PRESSURE, "pressure", units=units)
    second = pair_across(axes, AIR_FLOW, "flow at the fan", units=units)
    write_numbers(axes, last)
    write_numbers(second, float(AIR_FLOW.to_us(last)))
    drawn = []
    for curve, look in zip(curves, _looks(curves), strict=True):
        colour, style = COLOURS[look], LINE_STYLES[look]
        flow, pressure = _cut(curve, most_flow, most_pressure)
        draw_line(axes, flow * SECONDS_PER_HOUR, pressure, colour, style, name=curve.label)
        if flow.size > 1:
            drawn.append((curve, colour, _dense(axes, flow * SECONDS_PER_HOUR, pressure)))
    taken = TakenPlaces()
    for point in points:
        _draw_point(axes, point)
    met = [axes.transData.transform([(point.flow * SECONDS_PER_HOUR, point.pressure)]) for point in points]
    guides = [_dense(axes, *_guide(point)) for point in points]
    traces = np.concatenate([trace for _, _, trace in drawn] + met + guides)
    for point, spot in zip(points, met, strict=True):
        words = f"{flow_text(point.flow, units)}\n{pressure_text(point.pressure, units)}"
        words = f"{point.label}\n{words}" if point.label else words
        _write_beside(axes, words, spot, traces, taken, {"color": INK, "gid": "meeting words"})
    for curve, colour, trace in drawn:
        # A fan's curve is named where it begins, that of the ducts where it ends.
        spots = trace[::NAME_STEP] if curve.of_fan else trace[::-NAME_STEP]
        _write_beside(axes, curve.label, spots, traces, taken, {"color": colour, "gid": "curve name"})
    add_heading(sheet, title, list(lines))
    return sheet


def _reach(curves: Sequence[Curve], points: Sequence[Point]) -> tuple[float, float]:
    """Largest flow [m3/s] and pressure [Pa] to be shown: all of the fan's curves and every meeting point."""
    fans = [curve for curve in curves if curve.of_fan] or list(curves)
    flows = [float(curve.flow.max()) for curve in fans] + [point.flow for point in points]
    pressures = [float(curve.pressure.max()) for curve in fans] + [point.pressure for point in points]
    if not any(curve.of_fan for curve in curves) and points:
        # A fixed flow has no curve: some way beyond the point shows where the ducts' curve leads.
        flows, pressures = [1.3 * point.flow for point in points], [1.5 * point.pressure for point in points]
    return BEYOND * max(flows, default=1.0) or 1.0, HEADROOM * max(pressures, default=1.0) or 1.0


def _cut(curve: Curve, most_flow: float, most_pressure: float) -> tuple[FloatArray, FloatArray]:
    """Cut a curve where it leaves the frame."""
    flow, pressure = curve.flow, curve.pressure
    inside = (flow <= most_flow * (1.0 + 1e-12)) & (pressure <= most_pressure)
    if inside.all():
        return flow, pressure
    last = int(np.argmin(inside))
    if last == 0:
        return flow[:0], pressure[:0]
    before, after = last - 1, last
    shares = [1.0]
    for values, most in ((flow, most_flow), (pressure, most_pressure)):
        if values[after] > most:
            shares.append(float((most - values[before]) / (values[after] - values[before])))
    share = min(shares)
    edge = [values[before] + share * (values[after] - values[before]) for values in (flow, pressure)]
    return np.append(flow[:last], edge[0]), np.append(pressure[:last], edge[1])


def _write_beside(
    axes: Axes, words: str, spots: FloatArray, traces: FloatArray, taken: TakenPlaces, look: dict[str, object]
) -> None:
    """Write words beside the first of some spots [px] where they cover no curve and no other words."""
    dots = axes.get_figure(root=True).dpi  # type: ignore[union-attr]
    rows = words.split("\n")
    width = max(text_width(row, SIZE_NOTE) for row in rows) * dots
    height = LINE * SIZE_NOTE / POINTS_PER_INCH * dots * len(rows)
    frame = axes.get_window_extent().padded(-3.0)
    sides = ((1.0, 0.0), (-1.0, 0.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, 1.0))
    for strict in (True, False):
        for away, (x, y), (right, up) in itertools.product(FURTHER, spots, sides):
            start = x + right * away * AWAY
            middle = y + up * (height + AWAY) / 2.0
            left = start if right > 0.0 else start - width
            box = Bbox.from_bounds(left, middle - height / 2.0, width, height)
            inside = frame.x0 <= box.x0 and box.x1 <= frame.x1 and frame.y0 <= box.y0 and box.y1 <= frame.y1
            clear = not box.padded(3.0).count_contains(traces) and taken.is_free(box)
            if inside and (clear or not strict):
                taken.take(box)
                align = "left" if right > 0.0 else "right"
                write_at(
                    axes, (start, middle), words, ha=align, va="center", multialignment=align, zorder=6.0,
                    linespacing=1.15, **look,
                )  # fmt: skip
                if away > 1.0 and up == 0.0:
                    near = x + right * AWAY, y
                    joint = axes.transData.inverted().transform([near, (start - right * 4.0, middle)]).T
                    axes.plot(*joint, color=MUTED, linewidth=0.7, zorder=2.0)
                return


def _dense(axes: Axes, x: FloatArray, y: FloatArray) -> FloatArray:
    """Points [px] along a line, close enough that no letter slips between two of them."""
    corners = axes.transData.transform(np.column_stack([x, y]))
    lengths = np.hypot(*np.diff(corners, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    places = np.linspace(0.0, along[-1], max(int(along[-1] / 3.0), 2))
    return np.column_stack([np.interp(places, along, corners[:, 0]), np.interp(places, along, corners[:, 1])])


def _guide(point: Point) -> tuple[FloatArray, FloatArray]:
    """Lead from a meeting point to both axes."""
    x, y = point.flow * SECONDS_PER_HOUR, point.pressure
    return np.array([x, x, 0.0]), np.array([0.0, y, y])


def _looks(curves: Sequence[Curve]) -> list[int]:
    """Pick colour and line style of each curve, by number: the ducts look alike in every chart."""
    fans, others = iter(FAN_LOOKS), iter(OTHER_LOOKS)
    return [next(fans if curve.of_fan else others) for curve in curves]


def _draw_point(axes: Axes, point: Point) -> None:
    """Draw a meeting point with thin lines to both axes."""
    x, y = point.flow * SECONDS_PER_HOUR, point.pressure
    axes.plot(*_guide(point), color=INK, linewidth=0.8, dashes=(2.0, 2.0), zorder=2.0)
    axes.plot(
        [x], [y], color=INK, marker="o", markersize=8.0, markerfacecolor="white", markeredgewidth=1.8,
        zorder=5.0, gid="meeting point", clip_on=False,
    )  # fmt: skip
