"""The heat chain over time: stove and air, water, house, and what was switched on when."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.errors import DuctfloorError
from simulator.look.bands import BOTTOM, band, frame, spans
from simulator.look.line_labels import LineEnd, draw_line, end_of, write_at_ends
from simulator.look.picking import When, instants, pick_span, shown_units, titles
from simulator.look.scales import TEMPERATURE, FloatArray, Units, pair_up
from simulator.look.theme import COLOURS, LINE_STYLES, MUTED, SIZE_NOTE, new_figure, themed
from simulator.look.time_axis import as_days, with_room_at_right, write_dates
from simulator.look.wording import add_heading, elapsed_text, heading_height, moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["chain_chart"]

NAME_ROOM = 2.45  # [in] for names at the ends of lines
BAND, GAP, BAR = 2.1, 0.22, 0.3  # [in] height of a band, room above it, height of a switch's bar
SWITCHES = (("fan", "fan_setting"), ("feed", "feed_setting"), ("pump", "pump_setting"),
            ("cover", "cover_setting"))  # fmt: skip
FIRE = COLOURS[1]
PALEST = 0.25  # opacity of the smallest share
WELL_ALIGHT = 0.05  # share of the strongest fire from which on the bar counts it as burning

Course = tuple[str, FloatArray]


@themed
def chain_chart(
    results: Results,
    begin: When = 0,
    end: When = -1,
    *,
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw temperatures of stove and air, of the water, and of the house, and under them what was switched.

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
        When the run has no heat chain, there is no such time, or the end is before the beginning.
    """
    shown = shown_units(results, units)
    if "fan_setting" not in results:
        raise DuctfloorError("these results hold no stove, house, rules or upsets; there is no chain to draw")
    first, last = pick_span(results, begin, end, "chart", within=True)
    rows = slice(first, last + 1)
    moments = instants(results)[rows]
    days = as_days(moments)
    bands = [(name, courses) for name, courses in _bands(results, rows) if courses]
    switched = _switched(results, rows)

    lines = titles(results)
    seconds = np.asarray(results.read("time", rows), dtype=np.float64)
    span = elapsed_text(float(seconds[-1] - seconds[0]))
    lines.append(f"{moment_text(moments[0])} to {moment_text(moments[-1])}, {span}.")
    lines[-1] += " Bars below: on; paler where only in part."
    foot = BOTTOM + BAR * len(switched) + 0.1
    tall = heading_height(len(lines)) + 0.15 + len(bands) * (BAND + GAP) + foot
    sheet = new_figure(tall, figure)
    # On a figure of another height the bands take what there is.
    high = (float(sheet.get_size_inches()[1]) - heading_height(len(lines)) - 0.15 - foot) / len(bands) - GAP
    drawn: list[Axes] = []
    bars = band(sheet, BOTTOM, foot - BOTTOM - 0.02)
    data_end = with_room_at_right(bars, float(days[0]), float(days[-1]), NAME_ROOM)
    for number, (name, courses) in enumerate(reversed(bands)):
        axes = band(sheet, foot + number * (high + GAP) + 0.06, high, bars)
        _draw_courses(axes, days, courses, data_end, shown, name)
        axes.tick_params(axis="x", labelbottom=False)
        drawn.append(axes)
    _draw_switches(bars, days, switched, data_end)
    write_dates(bars, float(days[0]), float(days[-1]))
    add_heading(sheet, "Heat chain: temperatures, and what was switched", lines)
    return sheet


def _bands(results: Results, rows: slice) -> list[tuple[str, list[Course]]]:
    """Return what each band shows: its name, and named temperatures over time [degC]."""

    def read(name: str) -> FloatArray:
        return np.asarray(results.read(name, rows), dtype=np.float64)

    def there(*pairs: tuple[str, str]) -> list[Course]:
        return [(words, read(name)) for words, name in pairs if name in results]

    moving = np.where(read("mass_flow") > 0.0, 1.0, np.nan)
    stove = there(("stove's shell", "shell_temperature"), ("hood's wall", "hood_wall_temperature"))
    air = there(("air out of the hood", "hood_air_temperature"), ("air at the fan", "fan_air_temperature"))
    air.append(("air into the ducts", read("supply_temperature") * moving))
    water: list[Course] = []
    if "coil_water_temperature" in results:
        coils = read("coil_water_temperature")
        many = coils.shape[1] > 1
        water += [(f"coil {n + 1}, water" if many else "water in the coil", coils[:, n])
                  for n in range(min(coils.shape[1], 3))]  # fmt: skip
    if "tank_layer_temperature" in results:
        layers = read("tank_layer_temperature")
        if layers.shape[1] == 1:
            water.append(("tank", layers[:, 0]))
        else:
            water += [("tank, top layer", layers[:, -1]), ("tank, bottom layer", layers[:, 0])]
            if layers.shape[1] > 2:
                water.insert(-1, ("tank, mean", layers.mean(axis=1)))
    house = there(("room", "room_temperature"), ("floor, mean", "floor_mean_temperature"))
    if "cover_temperature" in results:
        house.append(("coldest surface inside", read("cover_temperature").min(axis=1)))
    house += there(("sky", "sky_temperature"), ("outside", "outside_temperature"))
    return [
        ("stove", stove if "shell_temperature" in results else []),
        ("air", air),
        ("water", water),
        ("house", house),
    ]


def _switched(results: Results, rows: slice) -> list[tuple[str, FloatArray, str]]:
    """Return what can be seen switched or burning: its name, its share over time, its colour."""

    def read(name: str) -> FloatArray:
        return np.asarray(results.read(name, rows), dtype=np.float64)

    found: list[tuple[str, FloatArray, str]] = []
    if "fuel_rate" in results:
        rate = read("fuel_rate")
        most = float(rate.max(initial=0.0))
        found.append(("fire", np.where(rate > WELL_ALIGHT * most, rate / (most or 1.0), 0.0), FIRE))
    for number, (word, name) in enumerate(SWITCHES):
        share = read(name)
        # Defaults of what the case does not have tell nothing.
        if word == "fan" or (word == "pump" and "tank_temperature" in results) or np.ptp(share) > 0.0:
            found.append((word, share, COLOURS[(0, 5, 2, 3)[number]]))
    return found


def _draw_courses(
    axes: Axes, days: FloatArray, courses: Sequence[Course], data_end: float, units: Units, name: str
) -> None:
    ends: list[LineEnd | None] = []
    drawn = [(words, y) for words, y in courses if np.isfinite(y).any()]
    for (words, y), colour, style in zip(drawn, COLOURS, LINE_STYLES, strict=False):
        draw_line(axes, days, y, colour, style, name=words)
        ends.append(end_of(words, days, y, colour))
    frame(axes, [y for _, y in drawn])
    pair_up(axes, TEMPERATURE, name, units=units)
    write_at_ends(axes, ends, data_end, NAME_ROOM)


def _draw_switches(
    axes: Axes, days: FloatArray, switched: list[tuple[str, FloatArray, str]], data_end: float
) -> None:
    axes.grid(visible=False)
    axes.set_ylim(len(switched), 0.0)
    for number, (word, share, colour) in enumerate(switched):
        levels = np.unique(np.ceil(np.clip(share, 0.0, 1.0) * 4.0))
        for level in levels[levels > 0.0]:
            holds = np.ceil(np.clip(share, 0.0, 1.0) * 4.0) == level
            axes.broken_barh(
                spans(days, holds), (number + 0.18, 0.64), color=colour, linewidth=0.0,
                alpha=PALEST + (1.0 - PALEST) * (level - 1.0) / 3.0, gid=f"{word} on",
            )  # fmt: skip
        axes.text(
            data_end + 0.02 * (axes.get_xlim()[1] - axes.get_xlim()[0]), number + 0.5, word, va="center",
            ha="left", fontsize=SIZE_NOTE, color=colour,
        )  # fmt: skip
        axes.axhline(number, color=MUTED, linewidth=0.3)
    axes.set_yticks([])
