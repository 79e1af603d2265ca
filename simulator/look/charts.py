"""Charts of what changes with time."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.answers.heat_account import up_through_floor
from simulator.errors import DuctfloorError
from simulator.look.bands import BOTTOM, LEAST_SPAN, band, frame, spans
from simulator.look.line_labels import LineEnd, draw_line, end_of, write_at_ends
from simulator.look.picking import When, instants, pick_span, shown_units, titles
from simulator.look.scales import (
    ENERGY,
    FLOW_LARGE,
    FLOW_SMALL,
    TEMPERATURE,
    FloatArray,
    PairOfScales,
    Units,
    length_text,
    pair_up,
    temperature_text,
)
from simulator.look.theme import COLOURS, FAINT, LINE_STYLES, MUTED, new_figure, themed
from simulator.look.time_axis import as_days, with_room_at_right, write_dates, write_numbers
from simulator.look.wording import add_heading, elapsed_text, heading_height, moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["comparison_chart", "night_chart"]

NAME_ROOM = 2.45  # [in] for names at the ends of lines
LEAST_DEEP_POINTS, MOST_DEEP_POINTS = 6, 48
DEEP_EVERY = np.timedelta64(6, "h")  # a map takes a while to read, and metres down no hour's swing shows
LARGE_FLOW = 3000.0  # [W] from here on in kW
FAN_SHADE = "#ececec"


@themed
def night_chart(
    results: Results,
    begin: When = 0,
    end: When = -1,
    *,
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw temperatures over time, with the fan's hours shaded, and heat flows below them.

    Parameters
    ----------
    results : Results
    begin, end : int, str, datetime or datetime64
        First and last row, as index or as local date and time.
    units : {"SI", "US"}, optional
        The system on the left; that of the case when left out. The other one is on the right.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such time, or the end is not after the beginning.
    """
    shown = shown_units(results, units)
    first, last = pick_span(results, begin, end, "chart", within=True)
    rows = slice(first, last + 1)
    moments = instants(results)[rows]
    days = as_days(moments)

    def read(name: str) -> FloatArray:
        return np.asarray(results.read(name, rows), dtype=np.float64)

    flowing = read("mass_flow") > 0.0
    seconds = np.asarray(results.read("time", rows), dtype=np.float64)
    lines = titles(results)
    fan_runs = read("fan_share") > 0.0
    fan_seconds = float(np.sum(np.diff(seconds)[fan_runs[1:]]))
    shade = f"Shaded: the fan runs, {elapsed_text(fan_seconds)} in all." if fan_seconds else "The fan is off."
    span = elapsed_text(float(seconds[-1] - seconds[0]))
    lines.append(f"{moment_text(moments[0])} to {moment_text(moments[-1])}, {span}. {shade}")
    lines[-1] += " Numbers: last values."

    top = heading_height(len(lines)) + 0.15
    sheet = new_figure(8.0, figure)
    tall = float(sheet.get_size_inches()[1]) - top - BOTTOM
    warm = band(sheet, BOTTOM + 0.42 * tall, 0.58 * tall)
    flows = band(sheet, BOTTOM, 0.38 * tall, warm)
    data_end = with_room_at_right(warm, float(days[0]), float(days[-1]), NAME_ROOM)
    for axes in (warm, flows):
        axes.broken_barh(
            spans(days, fan_runs), (0.0, 1.0), transform=axes.get_xaxis_transform(),
            color=FAN_SHADE, linewidth=0.0, zorder=0.5, gid="fan on",
        )  # fmt: skip

    air_moves = np.where(flowing, 1.0, np.nan)
    courses = [
        ("air into the ducts", days, read("supply_temperature") * air_moves),
        ("air out of the ducts", days, read("exit_temperature") * air_moves),
        ("floor, mean", days, read("floor_mean_temperature")),
        ("room", days, read("room_temperature")),
        ("outside", days, read("outside_temperature")),
        ("all ground, mean", days, read("ground_mean_temperature")),
    ]
    deep = _deep_ground(results, moments[0], moments[-1], shown)
    if deep is not None:
        courses.append(deep)
    ends: list[LineEnd | None] = []
    for (name, x, y), colour, style in zip(courses, COLOURS, LINE_STYLES, strict=False):
        draw_line(warm, x, y, colour, style, name=name)
        known = y[np.isfinite(y)]
        value = temperature_text(float(known[-1]), units=shown, both=False) if known.size else ""
        ends.append(end_of(f"{name} {value}", x, y, colour))
    frame(warm, [y for _, _, y in courses])
    pair_up(warm, TEMPERATURE, "temperature", units=shown)
    write_at_ends(warm, ends, data_end, NAME_ROOM)

    _draw_flows(flows, results, rows, days, data_end, shown)
    write_dates(flows, float(days[0]), float(days[-1]))
    warm.tick_params(axis="x", labelbottom=False)
    add_heading(sheet, "Temperatures and heat flows", lines)
    return sheet


def _draw_flows(
    axes: Axes, results: Results, rows: slice, days: FloatArray, data_end: float, units: Units
) -> None:
    names = {
        "stove's air" if "shell_temperature" in results else "heater": "heater_power",
        "air to ground": "duct_heat",
        "floor to room": "floor_heat",
    }
    values = {word: np.asarray(results.read(name, rows), dtype=np.float64) for word, name in names.items()}
    if "sun_let_in" in results:
        values.pop("floor to room")
        values["up through the floor, net"] = _up_through_floor(results, rows)
    for flow in values.values():
        # A row holds the mean since the row before it: the first one has none.
        flow[0] = np.nan if flow.size > 1 else flow[0]
    largest = max((float(np.nanmax(np.abs(flow), initial=0.0)) for flow in values.values()), default=0.0)
    scales, factor = (FLOW_LARGE, 1e-3) if largest >= LARGE_FLOW else (FLOW_SMALL, 1.0)
    ends = []
    for (word, flow), colour, style in zip(values.items(), COLOURS[1:], LINE_STYLES, strict=False):
        draw_line(axes, days, flow * factor, colour, style, steps=True, name=word)
        ends.append(end_of(word, days, flow * factor, colour))
    axes.hlines(0.0, axes.get_xlim()[0], data_end, color=MUTED, linewidth=0.8)
    frame(axes, [flow * factor for flow in values.values()], with_zero=True, least=LEAST_SPAN * factor)
    pair_up(axes, scales, "heat flow", units=units)
    write_at_ends(axes, ends, data_end, NAME_ROOM)


def _up_through_floor(results: Results, rows: slice) -> FloatArray:
    """(N,) heat up through a house's floor less sun on it, mean since the row before [W]."""

    def total(name: str) -> FloatArray:
        return np.asarray(results.read(f"ledger_{name}", rows), dtype=np.float64)

    seconds = np.asarray(results.read("time", rows), dtype=np.float64)
    course = up_through_floor(total)
    return np.concatenate(([0.0], np.diff(course) / np.diff(seconds)))


def _deep_ground(
    results: Results, first: np.datetime64, last: np.datetime64, units: Units
) -> tuple[str, FloatArray, FloatArray] | None:
    """Mean temperature of the lowest layer of cells under the floor, from some of the maps."""
    moments = instants(results, "field_time")
    chosen = np.flatnonzero((moments >= first) & (moments <= last))
    if not chosen.size:
        return None
    points = np.clip(int((last - first) / DEEP_EVERY), LEAST_DEEP_POINTS, MOST_DEEP_POINTS)
    chosen = chosen[np.unique(np.linspace(0, chosen.size - 1, points).round().astype(np.int64))]
    half = float(results.attrs["building_half_width_m"])
    across = np.asarray(results.read("section_across"), dtype=np.float64)
    widths = np.diff(np.asarray(results.read("section_across_edges"), dtype=np.float64))
    lengths = np.asarray(results.read("station_length"), dtype=np.float64)
    under = np.abs(across) < half
    weights = np.outer(lengths, widths[under])
    depth = float(results.read("section_depth", -1))
    values = [
        float(np.average(results.read("ground_temperature", int(row))[:, -1, under], weights=weights))
        for row in chosen
    ]
    name = f"ground {length_text(depth, units=units, both=False)} down"
    return name, as_days(moments[chosen]), np.array(values)


def _scales_of(unit: str, largest: float) -> tuple[PairOfScales | None, float]:
    """Both scales for a stored unit, and the factor that leads to the first of them."""
    if unit == "degC":
        return TEMPERATURE, 1.0
    if unit == "W":
        return (FLOW_LARGE, 1e-3) if largest >= LARGE_FLOW else (FLOW_SMALL, 1.0)
    return (ENERGY, 1.0 / 3.6e6) if unit == "J" else (None, 1.0)


@themed
def comparison_chart(
    results: Sequence[Results],
    labels: Sequence[str],
    name: str = "floor_mean_temperature",
    *,
    by: Literal["elapsed", "date"] = "elapsed",
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw one series of several results over each other.

    Parameters
    ----------
    results : sequence of Results
        Up to seven.
    labels : sequence of str
        One for each.
    name : str
        A series with one value a row.
    by : {"elapsed", "date"}
        Count from the start of each case, or write dates and times.
    units : {"SI", "US"}, optional
        The system on the left; that of the first case when left out.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When labels and results do not match in number, or the series has no single value a row.
    StoreError
        When one of the results has no such series.
    """
    if len(results) != len(labels) or not 1 <= len(results) <= len(COLOURS):
        raise DuctfloorError(
            f"{len(results)} results and {len(labels)} labels: give as many of each, 1 to {len(COLOURS)}"
        )
    if any(each.dims(name) != ("time",) or name == "time" for each in results):
        raise DuctfloorError(f"{name}: only series with one value a row can be compared")
    shown = shown_units(results[0], units)
    series = [np.asarray(each.read(name), dtype=np.float64) for each in results]
    longest = max(float(each.read("time", -1)) for each in results)
    in_days = longest > 72.0 * 3600.0
    if by == "date":
        xs = [as_days(instants(each)) for each in results]
    else:
        step = 86400.0 if in_days else 3600.0
        xs = [np.asarray(each.read("time"), dtype=np.float64) / step for each in results]
    largest = max(float(np.nanmax(np.abs(values), initial=0.0)) for values in series)
    scales, factor = _scales_of(results[0].units(name), largest)

    said = str(results[0][name].long_name)
    lines = ["; ".join(dict.fromkeys(title for each in results for title in titles(each)))]
    begins = sorted({moment_text(instants(each)[0]) for each in results})
    lines.append(f"From {begins[0]}, {elapsed_text(longest)}." if len(begins) == 1
                 else f"From {begins[0]} and other starts, up to {elapsed_text(longest)}.")  # fmt: skip
    lines = [line for line in lines if line]
    top = heading_height(len(lines)) + 0.2
    sheet = new_figure(6.0, figure)
    axes = band(sheet, BOTTOM, float(sheet.get_size_inches()[1]) - top - BOTTOM)
    first, last = min(float(x[0]) for x in xs), max(float(x[-1]) for x in xs)
    data_end = with_room_at_right(axes, first, last, NAME_ROOM)
    ends: list[LineEnd | None] = []
    for x, values, label, colour, style in zip(xs, series, labels, COLOURS, LINE_STYLES, strict=False):
        draw_line(axes, x, values * factor, colour, style, name="compared")
        ends.append(end_of(label, x, values * factor, colour))
    least = LEAST_SPAN if scales is TEMPERATURE else max(largest * factor * 1e-3, 1e-9)
    frame(axes, [values * factor for values in series], least=least)
    quantity = name.replace("_", " ")
    if scales is None:
        unit = results[0].units(name)
        axes.set_ylabel(quantity if unit == "1" else f"{quantity} [{unit}]")
    else:
        pair_up(axes, scales, quantity, units=shown)
    if by == "date":
        write_dates(axes, first, last)
    else:
        write_numbers(axes, last)
        axes.set_xlabel(f"time since the start [{'days' if in_days else 'h'}]")
    axes.axvline(data_end, color=FAINT, linewidth=0.8, zorder=0.8)
    write_at_ends(axes, ends, data_end, NAME_ROOM)
    add_heading(sheet, said[:1].upper() + said[1:], lines)
    return sheet
