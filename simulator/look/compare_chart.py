"""Several runs over each other: room, floor, air out of the ducts and heat into the ground."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.errors import DuctfloorError
from simulator.look.bands import BOTTOM, band, frame
from simulator.look.line_labels import LineEnd, draw_line, end_of, write_at_ends
from simulator.look.picking import instants, shown_units
from simulator.look.quantities import label_up, quantity_of
from simulator.look.scales import FloatArray, Units
from simulator.look.theme import COLOURS, LINE_STYLES, MUTED, new_figure, themed
from simulator.look.time_axis import as_days, with_room_at_right, write_dates, write_numbers
from simulator.look.wording import add_heading, elapsed_text, heading_height, moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["compare_chart"]

NAME_ROOM = 2.2  # [in] for names at the ends of lines
GAP, EACH = 0.25, 2.0  # [in]
_KELVIN_AT_0_DEGC = 273.15
PANELS = (
    ("room_temperature", "room", "temperature"),
    ("floor_mean_temperature", "floor, mean", "temperature"),
    ("exit_temperature", "air out of the ducts", "temperature"),
    ("duct_heat", "into the ground", "power"),
)


@themed
def compare_chart(
    results: Sequence[Results],
    labels: Sequence[str],
    *,
    units: Units | None = None,
    title: str = "Runs compared",
) -> Figure:
    """Draw the courses of several runs over each other.

    Parameters
    ----------
    results : sequence of Results
        Up to seven.
    labels : sequence of str
        One for each.
    units : {"SI", "US"}, optional
        The system on the left; that of the first run when left out.
    title : str

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there are more runs than colours, or none.
    """
    if not 1 <= len(results) <= len(COLOURS) or len(labels) != len(results):
        raise DuctfloorError(f"{len(results)} runs: allowed: 1 to {len(COLOURS)}, each with a label")
    shown = shown_units(results[0], units)
    dated = len({instants(each)[0] for each in results}) == 1
    seconds = [np.asarray(each.read("time"), dtype=np.float64) for each in results]
    longest = max(float(each[-1]) for each in seconds)
    step = 86400.0 if longest > 72.0 * 3600.0 else 3600.0
    xs = [
        as_days(instants(each)) if dated else moments / step
        for each, moments in zip(results, seconds, strict=True)
    ]
    start = moment_text(instants(results[0])[0])
    lines = [f"From {start}, {elapsed_text(longest)}." if dated else "Counted from the start of each run."]
    height = len(PANELS) * (EACH + GAP) + BOTTOM + heading_height(len(lines)) + 0.2 - GAP
    sheet = new_figure(height)
    bands: list[Axes] = []
    data_end = 0.0
    for place, panel in enumerate(PANELS):
        bottom = BOTTOM + (len(PANELS) - 1 - place) * (EACH + GAP)
        axes = band(sheet, bottom, EACH, bands[0] if bands else None)
        if not bands:
            first, last = min(float(x[0]) for x in xs), max(float(x[-1]) for x in xs)
            data_end = with_room_at_right(axes, first, last, NAME_ROOM)
        bands.append(axes)
        _draw(axes, results, labels, xs, panel, shown, data_end)
        axes.tick_params(axis="x", labelbottom=place == len(PANELS) - 1)
    if dated:
        write_dates(bands[-1], min(float(x[0]) for x in xs), data_end)
    else:
        write_numbers(bands[-1], data_end)
        bands[-1].set_xlabel(f"time since the start [{'days' if step > 3600.0 else 'h'}]")
    add_heading(sheet, title, lines)
    return sheet


def _draw(
    axes: Axes,
    results: Sequence[Results],
    labels: Sequence[str],
    xs: Sequence[FloatArray],
    panel: tuple[str, str, str],
    units: Units,
    data_end: float,
) -> None:
    name, word, dimension = panel
    series = [_course(each, name, dimension) for each in results]
    quantity = quantity_of(dimension, np.concatenate(series))
    drawn = [quantity.drawn(values) for values in series]
    ends: list[LineEnd | None] = []
    for x, y, label, colour, style in zip(xs, drawn, labels, COLOURS, LINE_STYLES, strict=False):
        draw_line(axes, x, y, colour, style, steps=name == "duct_heat", name=name)
        ends.append(end_of(label, x, y, colour))
    frame(axes, drawn, with_zero=name == "duct_heat")
    if name == "duct_heat":
        axes.hlines(0.0, axes.get_xlim()[0], data_end, color=MUTED, linewidth=0.8)
    label_up(axes, quantity, word, units, EACH)
    write_at_ends(axes, ends, data_end, NAME_ROOM)


def _course(results: Results, name: str, dimension: str) -> FloatArray:
    values = np.asarray(results.read(name), dtype=np.float64)
    if name == "exit_temperature":
        values = np.where(np.asarray(results.read("mass_flow")) > 0.0, values, np.nan)
    if name == "duct_heat" and values.size > 1:
        # A row holds the mean since the row before it: the first one has none.
        values = np.concatenate(([np.nan], values[1:]))
    return values + _KELVIN_AT_0_DEGC if dimension == "temperature" else values
