"""The flue run over time: gas and walls, and the pull of the stack against what run and stove need."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.errors import DuctfloorError
from simulator.look.bands import BOTTOM, band, frame, spans
from simulator.look.line_labels import LineEnd, draw_line, end_of, write_at_ends
from simulator.look.picking import When, instants, pick_span, shown_units, titles
from simulator.look.scales import PRESSURE, TEMPERATURE, FloatArray, Units, pair_up
from simulator.look.theme import COLOURS, LINE_STYLES, MUTED, SIZE_TEXT, new_figure, themed
from simulator.look.time_axis import as_days, with_room_at_right, write_dates
from simulator.look.wording import add_heading, elapsed_text, heading_height, moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["flue_chart"]

NAME_ROOM = 2.45  # [in] for names at the ends of lines
BURN_SHADE = "#ececec"
SHORT_FILL = "#D55E00"  # where the pull falls short; a strong colour for a danger
LEAST_PRESSURE = 5.0  # [Pa] shortest upright axis


@themed
def flue_chart(
    results: Results,
    begin: When = 0,
    end: When = -1,
    *,
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw gas and walls of the flue run over time, and below them the draught and what is needed of it.

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
        When the case has no flue run, there is no such time, or the end is before the beginning.
    """
    shown = shown_units(results, units)
    if "flue_mass_flow" not in results:
        raise DuctfloorError("these results hold no flue run; give the case a [flue] table and run it again")
    first, last = pick_span(results, begin, end, "chart", within=True)
    rows = slice(first, last + 1)
    moments = instants(results)[rows]
    days = as_days(moments)

    def read(name: str) -> FloatArray:
        return np.asarray(results.read(name, rows), dtype=np.float64)

    burns = read("flue_mass_flow") > 0.0
    burning = np.where(burns, 1.0, np.nan)
    seconds = read("time")
    burnt = float(np.sum(np.diff(seconds)[burns[1:]]))
    lines = titles(results)
    shade = f"Shaded: the stove burns, {elapsed_text(burnt)} in all." if burnt else "The stove is out."
    span = elapsed_text(float(seconds[-1] - seconds[0]))
    lines.append(f"{moment_text(moments[0])} to {moment_text(moments[-1])}, {span}. {shade}")
    pull, margin = read("flue_draught") * burning, read("flue_margin") * burning
    lines.append(_verdict(margin, moments))

    top = heading_height(len(lines)) + 0.15
    sheet = new_figure(8.0, figure)
    tall = float(sheet.get_size_inches()[1]) - top - BOTTOM
    warm = band(sheet, BOTTOM + 0.48 * tall, 0.52 * tall)
    draught = band(sheet, BOTTOM, 0.44 * tall, warm)
    data_end = with_room_at_right(warm, float(days[0]), float(days[-1]), NAME_ROOM)
    for axes in (warm, draught):
        axes.broken_barh(
            spans(days, burns), (0.0, 1.0), transform=axes.get_xaxis_transform(), color=BURN_SHADE,
            linewidth=0.0, zorder=0.5, gid="burning",
        )  # fmt: skip
    walls = read("flue_wall_temperature")
    courses = [
        ("gas into the run", read("flue_entry_temperature") * burning),
        ("gas out of the run", read("flue_exit_temperature") * burning),
        ("coolest pipe wall", _lowest(walls)),
        ("stack wall at its top", read("flue_stack_wall_temperature") * burning),
        ("dew point of the gas", read("flue_dew_temperature")),
    ]
    ends: list[LineEnd | None] = []
    drawn = [(name, y) for name, y in courses if np.isfinite(y).any()]
    for (name, y), colour, style in zip(drawn, COLOURS, LINE_STYLES, strict=False):
        draw_line(warm, days, y, colour, style, name=name)
        ends.append(end_of(name, days, y, colour))
    frame(warm, [y for _, y in drawn])
    pair_up(warm, TEMPERATURE, "temperature", units=shown)
    write_at_ends(warm, ends, data_end, NAME_ROOM)
    _draw_draught(draught, days, pull, pull - margin, data_end, shown)
    write_dates(draught, float(days[0]), float(days[-1]))
    warm.tick_params(axis="x", labelbottom=False)
    add_heading(sheet, "Flue run: gas, walls and draught", lines)
    return sheet


def _lowest(walls: FloatArray) -> FloatArray:
    """Lowest value of every row that has any."""
    known = np.isfinite(walls)
    lowest = np.where(known, walls, np.inf).min(axis=1)
    return np.where(known.any(axis=1), lowest, np.nan)


def _verdict(margin: FloatArray, moments: np.ndarray[tuple[int], np.dtype[np.datetime64]]) -> str:
    """Say how small the margin of the draught becomes, and what that means."""
    known = np.isfinite(margin)
    if not known.any():
        return "Draught is not known: the stove is out, or the case gives no stack."
    row = int(np.nanargmin(margin))
    least = f"{margin[row]:.1f}".replace("-", "−")
    said = f"Smallest margin of the draught {least} Pa, at {moment_text(moments[row])}"
    if margin[row] < 0.0:
        return f"{said}: the pull falls short, gas with carbon monoxide can come back into the room."
    return f"{said}. Wind, and fans that draw on the same room, are not in it."


def _draw_draught(
    axes: Axes, days: FloatArray, pull: FloatArray, needed: FloatArray, data_end: float, units: Units
) -> None:
    if not np.isfinite(pull).any():
        axes.text(
            0.4, 0.5, "no draught to show", transform=axes.transAxes, ha="center", va="center", color=MUTED,
            fontsize=SIZE_TEXT,
        )  # fmt: skip
    draw_line(axes, days, pull, COLOURS[0], LINE_STYLES[0], name="pull")
    draw_line(axes, days, needed, COLOURS[1], LINE_STYLES[1], name="needed")
    axes.fill_between(
        days, pull, needed, where=(pull < needed).tolist(), color=SHORT_FILL, alpha=0.35, linewidth=0.0,
        zorder=1.0, gid="short",
    )  # fmt: skip
    axes.hlines(0.0, axes.get_xlim()[0], data_end, color=MUTED, linewidth=0.8)
    frame(axes, [pull, needed], with_zero=True, least=LEAST_PRESSURE)
    pair_up(axes, PRESSURE, "pressure", units=units)
    ends = [
        end_of("pull of the stack", days, pull, COLOURS[0]),
        end_of("needed, with reserve", days, needed, COLOURS[1]),
    ]
    write_at_ends(axes, ends, data_end, NAME_ROOM)
