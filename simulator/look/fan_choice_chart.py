"""The ways to run the fan through a night, drawn over each other."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from simulator.look.bands import BOTTOM, LEAST_SPAN, band, frame, spans
from simulator.look.line_labels import draw_line, end_of, write_at_ends
from simulator.look.scales import TEMPERATURE, FloatArray, Units, pair_up, temperature_text
from simulator.look.theme import COLOURS, FAINT, INK, LINE_STYLES, MUTED, SIZE_NOTE, new_figure, themed
from simulator.look.time_axis import as_days, with_room_at_right, write_dates
from simulator.look.wording import add_heading, heading_height

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from simulator.answers.fan_choice import FanChoice

__all__ = ["fan_choice_chart"]

NAME_ROOM = 2.0  # [in] for names at the ends of lines
RUNS_ROW = 0.3  # [in] for one way's hours of fan
KELVIN_AT_0_DEGC = 273.15


@themed
def fan_choice_chart(
    choice: FanChoice, title: str = "", *, units: Units = "SI", figure: Figure | None = None
) -> Figure:
    """Draw room and floor through the night for each way to run the fan, and when it runs.

    Parameters
    ----------
    choice : FanChoice
    title : str
        Line about the case.
    units : {"SI", "US"}
        The system on the left.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure
    """
    lines = [line for line in (title, choice.tonight.window.describe()) if line.strip()]
    top = heading_height(len(lines)) + 0.15
    rows = RUNS_ROW * len(choice.nights) + 0.15
    sheet = new_figure(8.4, figure)
    tall = float(sheet.get_size_inches()[1]) - top - BOTTOM - rows - 0.1
    panels = {"room": band(sheet, BOTTOM + rows + 0.1 + 0.52 * tall, 0.48 * tall)}
    panels["floor"] = band(sheet, BOTTOM + rows + 0.1, 0.48 * tall, panels["room"])
    runs = band(sheet, BOTTOM, rows, panels["room"])
    start = np.datetime64(choice.tonight.case.site.start, "ms")
    first_night = choice.nights[0].course

    def days(moments: FloatArray) -> FloatArray:
        return as_days(start + np.rint(moments * 1000.0).astype("timedelta64[ms]"))

    whole = days(first_night.moments)
    data_end = with_room_at_right(panels["room"], float(whole[0]), float(whole[-1]), NAME_ROOM)
    mark = choice.limit - KELVIN_AT_0_DEGC
    for measure, axes in panels.items():
        watched = choice.watch if choice.watch != "room" and measure == "floor" else measure
        _draw_measure(axes, choice, watched, days, data_end, units)
        if measure == choice.watch or (measure == "floor" and choice.watch != "room"):
            low, high = axes.get_ylim()
            if low - 0.35 * (high - low) < mark < high:
                axes.set_ylim(min(low, mark - 0.06 * (high - low)), high)
                axes.hlines(mark, float(whole[0]), data_end, color=INK, linewidth=1.0)
                axes.annotate(
                    f"limit {temperature_text(mark, units=units)}", (float(whole[0]), mark),
                    xytext=(6.0, 3.0), textcoords="offset points", fontsize=SIZE_NOTE, color=INK,
                )  # fmt: skip
        axes.tick_params(axis="x", labelbottom=False)
    _draw_runs(runs, choice, days, data_end)
    write_dates(runs, float(whole[0]), float(whole[-1]))
    add_heading(sheet, "Fan on, off or on a thermostat", lines)
    return sheet


def _draw_measure(
    axes: Axes, choice: FanChoice, measure: str, days: object, data_end: float, units: Units
) -> None:
    ends, drawn = [], []
    for night, colour, style in zip(choice.nights, COLOURS, LINE_STYLES, strict=False):
        x, y = days(night.course.moments), night.course.values[measure]  # type: ignore[operator]
        draw_line(axes, x, y, colour, style, name=f"{measure} {night.name}")
        value = temperature_text(float(y[-1]), units=units, both=False, decimals=1)
        ends.append(end_of(f"{night.name} {value}", x, y, colour))
        drawn.append(y)
    frame(axes, drawn, least=LEAST_SPAN)
    pair_up(axes, TEMPERATURE, {"room": "room", "floor": "floor, mean"}.get(measure, measure), units=units)
    axes.axvline(data_end, color=FAINT, linewidth=0.8, zorder=0.8)
    write_at_ends(axes, ends, data_end, NAME_ROOM)


def _draw_runs(axes: Axes, choice: FanChoice, days: object, data_end: float) -> None:
    count = len(choice.nights)
    axes.set_ylim(count, 0.0)
    axes.set_yticks([])
    axes.grid(visible=False)
    for row, (night, colour) in enumerate(zip(choice.nights, COLOURS, strict=False)):
        x = days(night.course.moments)  # type: ignore[operator]
        axes.broken_barh(
            spans(x, night.course.fan > 0.0), (row + 0.25, 0.5), color=colour, linewidth=0.0,
            gid=f"fan {night.name}",
        )  # fmt: skip
        axes.annotate(
            f"{night.name}: fan {night.fan_hours:.1f} h", (data_end, row + 0.5), xytext=(8.0, 0.0),
            textcoords="offset points", ha="left", va="center", fontsize=SIZE_NOTE, color=colour,
        )  # fmt: skip
        axes.hlines(row + 0.5, float(x[0]), data_end, color=FAINT, linewidth=0.8, zorder=0.5)
    axes.set_ylabel("fan runs", color=MUTED)
