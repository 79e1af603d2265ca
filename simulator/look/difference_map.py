"""The floor from above: by how much one run is warmer or colder than another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator
from scipy.interpolate import RegularGridInterpolator

from simulator.errors import DuctfloorError
from simulator.look.branches import read_branches
from simulator.look.colour_bar import BAR_HEIGHT
from simulator.look.isotherms import Levels, draw_isotherms, pad_to_edges
from simulator.look.paper import Margins, Sheet, lay_out
from simulator.look.picking import When, duration, pick_time, shown_units
from simulator.look.placing import TakenPlaces
from simulator.look.route_marks import EndWords, draw_routes
from simulator.look.ruler import RULER_ACROSS, RULER_UP, rule_across, rule_up
from simulator.look.scales import FloatArray, PairOfScales, Units, sides
from simulator.look.scene import read_scene
from simulator.look.theme import INK, MUTED, SIZE_NOTE, themed
from simulator.look.wording import add_heading, clean, elapsed_text, heading_height, moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["difference_map", "floor_difference"]

DIFFERENCE: Final = PairOfScales("K", "°F", 1.8)
COLOUR_MAP: Final = "RdBu_r"
"""Blue colder, red warmer; told apart by colour-blind readers (Brewer, colorbrewer2.org)."""
LEAST: Final = 0.1  # [K] smallest range of the colours
LINES: Final = 9
STILL, EDGE_ROOM = 0.5, 0.2  # [in]
SAME: Final = 1e-3  # [m]


def floor_difference(first: Results, second: Results, field: int, other_field: int) -> FloatArray:
    """Floor surface of the second run less that of the first (S, F) [K], at the places of the first.

    Parameters
    ----------
    first, second : Results
    field, other_field : int
        Index of the map of either.

    Raises
    ------
    DuctfloorError
        When the floors differ in size.
    """
    mine, theirs = read_scene(first), read_scene(second)
    for name in ("along_edges", "floor_across_edges"):
        a, b = getattr(mine, name), getattr(theirs, name)
        if abs(a[0] - b[0]) > SAME or abs(a[-1] - b[-1]) > SAME:
            raise DuctfloorError("the floors differ in size, so there is no map of their difference")
    values = np.asarray(first.read("floor_surface_temperature", field), dtype=np.float64)
    others = np.asarray(second.read("floor_surface_temperature", other_field), dtype=np.float64)
    places = [np.asarray(first.read(name), dtype=np.float64) for name in ("station", "across")]
    other_places = [np.asarray(second.read(name), dtype=np.float64) for name in ("station", "across")]
    if others.shape != values.shape or not all(
        np.allclose(a, b, atol=SAME) for a, b in zip(places, other_places, strict=True)
    ):
        others = _moved(others, other_places, places)
    return others - values


def _moved(values: FloatArray, places: list[FloatArray], wanted: list[FloatArray]) -> FloatArray:
    """Values at other places, straight between those known and even beyond them."""
    for axis in (0, 1):
        if places[axis].size == 1:
            places = [*places]
            places[axis] = np.array([places[axis][0] - 0.5, places[axis][0] + 0.5])
            values = np.repeat(values, 2, axis=axis)
    inside = [np.clip(want, known[0], known[-1]) for want, known in zip(wanted, places, strict=True)]
    grid = np.meshgrid(*inside, indexing="ij")
    return np.asarray(RegularGridInterpolator(tuple(places), values)(tuple(grid)), dtype=np.float64)


@themed
def difference_map(
    first: Results,
    second: Results,
    labels: tuple[str, str],
    time: When = -1,
    *,
    units: Units | None = None,
) -> Figure:
    """Draw by how much the floor of the second run is warmer than that of the first.

    Parameters
    ----------
    first, second : Results
    labels : (str, str)
    time : int, str, datetime or datetime64
        A map of the first run; of the second the map as long after its start is taken.
    units : {"SI", "US"}, optional
        The system that comes first; that of the first run when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When the floors differ in size, or there are no maps at that time.
    """
    shown = shown_units(first, units)
    field = pick_time(first, time)
    elapsed = duration(first, field, "field_time")
    there = np.asarray(second.read("field_time"), dtype=np.float64)
    if not there.size:
        raise DuctfloorError("the second run holds no maps; set output.fields in the case and run it again")
    other_field = int(np.argmin(np.abs(there - elapsed)))
    values = floor_difference(first, second, field, other_field).T
    scene = read_scene(first)
    along, across = scene.along_edges, scene.floor_across_edges

    stamp = f"{moment_text(first.field_time[field])}, {elapsed_text(elapsed)} after the start"
    late = float(there[other_field]) - elapsed
    if abs(late) > 1.0:
        stamp += f"; {clean(labels[1])} {elapsed_text(abs(late))} {'later' if late > 0 else 'earlier'}"
    lines = [f"Red: {labels[1]} is warmer. Blue: {labels[1]} is colder.", f"{stamp}."]
    margins = Margins(
        left=2.0 * RULER_UP + EDGE_ROOM, right=EDGE_ROOM,
        top=heading_height(len(lines)) + RULER_ACROSS + 0.1, bottom=RULER_ACROSS + BAR_HEIGHT + EDGE_ROOM,
    )  # fmt: skip
    size = float(np.ptp(along)), float(np.ptp(across))
    sheet = lay_out(None, margins, size, strips=(2.0 * STILL, 0.0))
    axes = sheet.axes
    aside = STILL / sheet.inches_per_metre
    axes.set_xlim(along[0] - aside, along[-1] + aside)
    axes.set_ylim(across[0], across[-1])
    most = max(float(np.abs(values).max()), LEAST)
    colours: tuple[Colormap, Normalize] = (mpl.colormaps[COLOUR_MAP], Normalize(-most, most))
    axes.pcolormesh(along, across, values, cmap=colours[0], norm=colours[1], rasterized=True, zorder=1.0)
    axes.plot(along[[0, -1, -1, 0, 0]], across[[0, 0, -1, -1, 0]], color=INK, linewidth=1.2, zorder=3.0,
              clip_on=False)  # fmt: skip
    taken = TakenPlaces()
    routes = [branch.route for branch in read_branches(first)]
    draw_routes(
        sheet, routes, (float(along[0]), float(along[-1])), [EndWords()] * len(routes), taken,
        flowing=[False] * len(routes), wet=[],
    )  # fmt: skip
    grid = pad_to_edges(
        np.asarray(first.read("station"), dtype=np.float64), along,
        np.asarray(first.read("across"), dtype=np.float64), across, values,
    )  # fmt: skip
    draw_isotherms(axes, grid, _levels(values, shown), colours, taken, axes.get_window_extent().padded(-3.0))
    _finish(sheet, axes, (along, across), colours, shown)
    add_heading(sheet.figure, f"Floor surface: {labels[1]} less {labels[0]}", lines)
    return sheet.figure


def _levels(values: FloatArray, units: Units) -> Levels:
    low, high = float(values.min()), float(values.max())
    if units == "US":
        low, high = low * DIFFERENCE.factor, high * DIFFERENCE.factor
    if high - low < 1e-3:
        return Levels(np.empty(0), ())
    marks = np.asarray(MaxNLocator(LINES, steps=[1, 2, 5, 10]).tick_values(low, high))
    step = float(np.diff(marks).min())
    decimals = 0 if step >= 1.0 else 1 if step >= 0.1 else 2
    texts = tuple(f"{mark + 0.0:+.{decimals}f}°".replace("-", "−") for mark in marks)
    return Levels(marks / DIFFERENCE.factor if units == "US" else marks, texts)


def _finish(
    sheet: Sheet, axes: Axes, edges: tuple[FloatArray, FloatArray], colours: tuple[Colormap, Normalize],
    units: Units,
) -> None:  # fmt: skip
    along, across = edges
    for spine in axes.spines.values():
        spine.set_visible(False)
    second = rule_across(
        axes,
        "along the floor, from its start",
        float(along[0]),
        float(along[-1]),
        sheet.width - 2.0 * STILL,
        units,
    )
    for spine in second.spines.values():
        spine.set_visible(False)
    rule_up(axes, "across", float(across[0]), float(across[-1]), sheet.height, units)
    wide, tall = sheet.figure.get_size_inches()
    left, bottom = 2.6, sheet.bottom - RULER_ACROSS - BAR_HEIGHT
    bar = sheet.figure.add_axes(
        (left / wide, (bottom + 0.34) / tall, (wide - left - 1.2) / wide, 0.17 / tall)
    )
    sheet.figure.colorbar(ScalarMappable(colours[1], colours[0]), cax=bar, orientation="horizontal")
    near, far = sides(units)
    bar.xaxis.set_major_locator(MaxNLocator(9, steps=[1, 2, 2.5, 5, 10]))
    bar.tick_params(
        axis="x", bottom=near == "bottom", top=near == "top",
        labelbottom=near == "bottom", labeltop=near == "top",
    )  # fmt: skip
    other = bar.secondary_xaxis(far, functions=DIFFERENCE.functions)
    other.xaxis.set_major_locator(MaxNLocator(9, steps=[1, 2, 2.5, 5, 10]))
    for place, unit in ((near, DIFFERENCE.si), (far, DIFFERENCE.us)):
        bar.annotate(
            unit, (1.0, 0.0 if place == "bottom" else 1.0), xytext=(10.0, -3.0 if place == "bottom" else 3.0),
            xycoords="axes fraction", textcoords="offset points", ha="left",
            va="top" if place == "bottom" else "bottom", fontsize=SIZE_NOTE, fontweight="bold",
        )  # fmt: skip
    bar.annotate(
        f"difference;\nlines in {DIFFERENCE.si if units == 'SI' else DIFFERENCE.us}", (0.0, 0.5),
        xytext=(-10.0, 0.0), xycoords="axes fraction", textcoords="offset points", ha="right", va="center",
        fontsize=SIZE_NOTE, color=MUTED,
    )  # fmt: skip
