"""Maps of the ground and of the floor, drawn to scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure
from matplotlib.transforms import Bbox

from simulator.errors import DuctfloorError
from simulator.look.branches import WATER, Branch, branch_air, read_branches
from simulator.look.colour_bar import BAR_HEIGHT, colours_of, draw_colour_bar
from simulator.look.duct_marks import Duct, draw_ducts, write_in_ducts
from simulator.look.isotherms import draw_isotherms, pad_to_edges, round_levels
from simulator.look.material_marks import gutter_width, write_materials
from simulator.look.paper import Margins, Sheet, lay_out
from simulator.look.picking import When, duration, pick_station, pick_time, row_of, shown_units, titles
from simulator.look.placing import TakenPlaces
from simulator.look.route_marks import EndWords, Part, draw_routes, strip_width
from simulator.look.ruler import RULER_ACROSS, RULER_UP, rule_across, rule_up
from simulator.look.scales import TEMPERATURE, FloatArray, Units, length_text, temperature_text
from simulator.look.scene import Scene, material_outlines, read_scene
from simulator.look.theme import FAINT, INK, MUTED, SIZE_NOTE, themed
from simulator.look.wording import add_heading, elapsed_text, heading_height, moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["plan_map", "section_map", "shown_depth"]

AIR_STRIP = 0.34  # [in] room above the floor for its name
EDGE_ROOM = 0.2  # [in]
STILL = 0.5  # [in] on either side of the floor, for the ends of the ducts when there is nothing to write
# Depth shown unless told otherwise: the ground that answers within days, and never a mere sliver.
DEPTHS_BELOW_DUCT = 1.5
MORE_DEPTH = 1.0  # [m]
LEAST_SHAPE = 0.15
NEARLY_ALL = 0.75


def shown_depth(scene: Scene, depth: float | None = None, whole: bool = False) -> float:
    """Depth [m] that a section is drawn to: what was asked for, or the ground that answers within days."""
    bottom = float(scene.depth_edges[-1])
    if depth is not None:
        if not depth > 0.0:
            raise DuctfloorError(f"depth {depth:g} m: must be above 0")
        return min(depth, bottom)
    width = float(np.ptp(scene.across_edges))
    deepest = float(scene.duct_depth.max(initial=0.0))
    wanted = max(DEPTHS_BELOW_DUCT * deepest + MORE_DEPTH, LEAST_SHAPE * width)
    return bottom if whole or wanted > NEARLY_ALL * bottom else wanted


def _conditions(results: Results, row: int, units: Units) -> str:
    def at(name: str) -> str:
        return temperature_text(float(results.read(name, row)), units=units)

    flowing = float(results.read("mass_flow", row)) > 0.0
    air = f"air enters the ducts at {at('supply_temperature')}" if flowing else "no air moves in the ducts"
    return f"Room {at('room_temperature')}, outside {at('outside_temperature')}, {air}."


def _stamp(results: Results, field: int) -> str:
    seconds = duration(results, field, "field_time")
    return f"{moment_text(results.field_time[field])}, {elapsed_text(seconds)} after the start"


def _heading_lines(results: Results, field: int, units: Units) -> list[str]:
    return [*titles(results), f"{_stamp(results, field)}. "
            + _conditions(results, row_of(results, field), units)]  # fmt: skip


@themed
def section_map(
    results: Results,
    station: float = 0,
    time: When = -1,
    *,
    depth: float | None = None,
    whole: bool = False,
    units: Units | None = None,
    limits: tuple[float, float] | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw the ground across the floor to scale: temperatures, isotherms, materials and ducts.

    Parameters
    ----------
    results : Results
    station : int or float
        An int is the index of the station (from the end when negative), a float its distance from the
        floor's start [m].
    time : int, str, datetime or datetime64
        Index of the map of the ground, or a local date and time; the nearest map is drawn.
    depth : float [m], optional
        How far down to draw; chosen from the depth of the ducts when left out.
    whole : bool
        Draw all the ground there is.
    units : {"SI", "US"}, optional
        The system that comes first; that of the case when left out. Both are always shown.
    limits : (low, high) [degC], optional
        Range of the colours, for pictures that are compared.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such station or time, or the results hold no maps.
    """
    shown = shown_units(results, units)
    scene = read_scene(results)
    field, here = pick_time(results, time), pick_station(results, station)
    row = row_of(results, field)
    ground = np.asarray(results.read("ground_temperature", field)[here], dtype=np.float64)
    ducts = _ducts_at(results, here, row)
    bottom = shown_depth(scene, depth, whole)

    lines = _heading_lines(results, field, shown)
    margins = Margins(
        left=2.0 * RULER_UP + EDGE_ROOM,
        right=gutter_width(scene, bottom),
        top=heading_height(len(lines)) + RULER_ACROSS + 0.1,
        bottom=RULER_ACROSS + BAR_HEIGHT + EDGE_ROOM,
    )
    sheet = lay_out(figure, margins, (float(np.ptp(scene.across_edges)), bottom), strips=(0.0, AIR_STRIP))
    axes = sheet.axes
    axes.set_xlim(scene.across_edges[0], scene.across_edges[-1])
    axes.set_ylim(bottom, -AIR_STRIP / sheet.inches_per_metre)

    seen = ground[scene.depth_edges[:-1] < bottom]
    # The ground sets the range: air far warmer than it would leave the ground in one colour.
    colours = colours_of([seen], limits)
    _paint(axes, (scene.across_edges, scene.depth_edges), ground, colours)
    _draw_materials(axes, scene)
    draw_ducts(axes, ducts, colours)

    taken = TakenPlaces()
    _name_the_top(sheet, scene, taken)
    write_in_ducts(sheet, ducts, colours, taken, shown)
    areas = np.outer(np.diff(scene.depth_edges), np.diff(scene.across_edges))[: seen.shape[0]]
    levels = round_levels(seen, areas, shown)
    grid = pad_to_edges(scene.across, scene.across_edges, scene.depth, scene.depth_edges, ground)
    draw_isotherms(axes, grid, levels, colours, taken, axes.get_window_extent().padded(-3.0))
    _say_if_even(sheet, seen, levels.celsius, shown)
    write_materials(sheet, scene, bottom)

    left, right = float(scene.across_edges[0]), float(scene.across_edges[-1])
    rule_across(axes, "across, from the middle of the floor", left, right, sheet.width, shown)
    rule_up(axes, "depth", 0.0, bottom, sheet.height - AIR_STRIP, shown)
    _add_bar(sheet, colours, "ground and air", shown, [seen, np.array([duct.warmth for duct in ducts])])
    place = length_text(float(results.read("station", here)), units=shown)
    add_heading(sheet.figure, f"Ground across the floor, {place} from the floor's start", lines)
    return sheet.figure


@themed
def plan_map(
    results: Results,
    time: When = -1,
    *,
    units: Units | None = None,
    limits: tuple[float, float] | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw the floor from above to scale: surface temperatures, isotherms and the ducts below.

    Parameters
    ----------
    results : Results
    time : int, str, datetime or datetime64
        Index of the map, or a local date and time; the nearest map is drawn.
    units : {"SI", "US"}, optional
        The system that comes first; that of the case when left out. Both are always shown.
    limits : (low, high) [degC], optional
        Range of the colours, for pictures that are compared.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such time, or the results hold no maps.
    """
    shown = shown_units(results, units)
    scene = read_scene(results)
    field = pick_time(results, time)
    row = row_of(results, field)
    surface = np.asarray(results.read("floor_surface_temperature", field), dtype=np.float64).T
    along, across = scene.along_edges, scene.floor_across_edges

    branches = read_branches(results)
    routes = [branch.route for branch in branches]
    words = _end_words(results, branches, row, shown)
    flowing = [bool(said.leaving) for said in words]
    strips = strip_width(routes, words) if any(flowing) else (STILL, STILL)
    wet = _wet_parts(results, branches, row)

    lines = _heading_lines(results, field, shown)
    if wet:
        lines.append("Blue: wet duct." if any(wet) else "All ducts are dry.")
    margins = Margins(
        left=2.0 * RULER_UP + EDGE_ROOM,
        right=EDGE_ROOM,
        top=heading_height(len(lines)) + RULER_ACROSS + 0.1,
        bottom=RULER_ACROSS + BAR_HEIGHT + EDGE_ROOM,
    )
    sheet = lay_out(figure, margins, (float(np.ptp(along)), float(np.ptp(across))), strips=(sum(strips), 0.0))
    axes = sheet.axes
    near, far = (strip / sheet.inches_per_metre for strip in strips)
    axes.set_xlim(along[0] - near, along[-1] + far)
    axes.set_ylim(across[0], across[-1])
    colours = colours_of([surface], limits)
    _paint(axes, (along, across), surface, colours)
    corners = along[[0, -1, -1, 0, 0]], across[[0, 0, -1, -1, 0]]
    axes.plot(*corners, color=INK, linewidth=1.2, zorder=3.0, clip_on=False)

    taken = TakenPlaces()
    draw_routes(sheet, routes, (float(along[0]), float(along[-1])), words, taken, flowing=flowing, wet=wet)
    middles_along = np.asarray(results.read("station"), dtype=np.float64)
    middles_across = np.asarray(results.read("across"), dtype=np.float64)
    levels = round_levels(surface, np.outer(np.diff(across), np.diff(along)), shown)
    grid = pad_to_edges(middles_along, along, middles_across, across, surface)
    floor = axes.transData.transform([(along[0], across[0]), (along[-1], across[-1])])
    draw_isotherms(axes, grid, levels, colours, taken, Bbox(floor).padded(-3.0))
    _say_if_even(sheet, surface, levels.celsius, shown)

    for spine in axes.spines.values():
        spine.set_visible(False)
    second = rule_across(
        axes, "along the floor, from its start", float(along[0]), float(along[-1]),
        sheet.width - sum(strips), shown,
    )  # fmt: skip
    for spine in second.spines.values():
        spine.set_visible(False)
    rule_up(axes, "across", float(across[0]), float(across[-1]), sheet.height, shown)
    _add_bar(sheet, colours, "floor surface", shown, [surface])
    add_heading(sheet.figure, "Floor surface from above, with the ducts below it", lines)
    return sheet.figure


def _ducts_at(results: Results, station: int, row: int) -> list[Duct]:
    """Ducts that pass through a station, the widest first."""
    found = []
    for branch in read_branches(results):
        air = branch_air(results, branch, row).mean(axis=0)
        for segment in np.flatnonzero(branch.station == station).tolist():
            run = int(branch.along.run[segment])
            place = float(branch.route.across[run]), float(branch.route.depth[run])
            found.append(Duct(*place, branch.inside_radius, float(air[segment]), branch.route.kind))
    return sorted(found, key=lambda duct: -duct.radius)


def _end_words(results: Results, branches: tuple[Branch, ...], row: int, units: Units) -> list[EndWords]:
    """Write the air at both ends of every branch, with names where it is not plain which is which."""
    mixed = any(branch.route.kind != "air" for branch in branches)
    alike = all(branch.route.across.size == 1 for branch in branches)
    said = []
    for branch in branches:
        ends = branch_air(results, branch, row)[[0, 1], [0, -1]]
        first, last = (temperature_text(float(warmth), units=units) for warmth in ends)
        if not np.isfinite(ends).all():
            said.append(EndWords())
        elif alike and branch.route.kind == "air":
            entering = f"air in {first}" if mixed else "air in\n" + first.replace(" (", "\n(")
            said.append(EndWords(entering, last))
        else:
            said.append(EndWords(f"{branch.route.name}, in {first}", f"{branch.route.name}, out {last}"))
    return said


def _wet_parts(results: Results, branches: tuple[Branch, ...], row: int) -> list[list[Part]]:
    """Wet parts of every branch; nothing at all when moisture was not computed."""
    if WATER not in results:
        return []
    water = np.asarray(results.read(WATER, row), dtype=np.float64)
    edges = np.asarray(results.read("edge"), dtype=np.float64)
    return [
        branch.parts(branch.at_stations(water) > 0.0, edges) if branch.route.kind == "air" else []
        for branch in branches
    ]


def _paint(
    axes: Axes,
    edges: tuple[FloatArray, FloatArray],
    values: FloatArray,
    colours: tuple[Colormap, Normalize],
) -> None:
    # As pixels also in SVG: thousands of cells would make a file that no viewer opens gladly.
    axes.pcolormesh(
        *edges, np.ma.masked_invalid(values), cmap=colours[0], norm=colours[1], rasterized=True, zorder=1.0
    )


def _draw_materials(axes: Axes, scene: Scene) -> None:
    inner, outer = material_outlines(scene)
    halo = LineCollection(inner, colors="white", linewidths=2.2, alpha=0.5, zorder=1.5)
    between = LineCollection(inner, colors=INK, linewidths=0.8, zorder=1.6)
    surface = LineCollection(outer, colors=INK, linewidths=1.4, zorder=1.7)
    for lines in (halo, between, surface):
        axes.add_collection(lines, autolim=False)


def _name_the_top(sheet: Sheet, scene: Scene, taken: TakenPlaces) -> None:
    """Draw the floor as a heavy line with its edges, and write what lies above."""
    axes, half = sheet.axes, scene.floor_half_width
    height = AIR_STRIP / sheet.inches_per_metre
    axes.plot([-half, half], [0.0, 0.0], color=INK, linewidth=4.0, solid_capstyle="butt", zorder=2.8)
    outside = float(scene.across_edges[-1]) - half
    for side in (-1.0, 1.0):
        if outside > 1e-9:
            axes.plot([side * half] * 2, [0.0, -height], color=MUTED, linewidth=1.0, dashes=(3.0, 2.0))
            if outside * sheet.inches_per_metre > 0.75:
                axes.text(
                    side * (half + outside / 2.0), -height / 2.0, "outside", ha="center", va="center",
                    fontsize=SIZE_NOTE, color=MUTED,
                )  # fmt: skip
    axes.text(0.0, -height / 2.0, "room", ha="center", va="center", fontsize=SIZE_NOTE, color=MUTED)
    lower, upper = axes.transData.transform([(0.0, 0.0), (0.0, -height)])[:, 1]
    frame = axes.get_window_extent()
    taken.take(Bbox.from_extents(frame.x0, lower - 3.0, frame.x1, upper))


def _say_if_even(sheet: Sheet, values: FloatArray, levels: FloatArray, units: Units) -> None:
    """Where no isotherm can be drawn, say how warm it is everywhere instead."""
    known = values[np.isfinite(values)]
    if levels.size or not known.size:
        return
    middle = (float(known.min()) + float(known.max())) / 2.0
    within = max(float(np.ptp(known)) / 2.0, 0.01)
    words = f"even: {temperature_text(middle, units=units)} everywhere, to {within:.2f} K"
    note = sheet.axes.annotate(
        words, (0.5, 0.0), xytext=(0.0, 10.0), xycoords="axes fraction", textcoords="offset points",
        ha="center", va="bottom", fontsize=SIZE_NOTE, zorder=4.0,
        bbox={"facecolor": "white", "edgecolor": FAINT, "alpha": 0.9, "boxstyle": "round,pad=0.3"},
    )  # fmt: skip
    note.set_gid("even")


def _add_bar(
    sheet: Sheet, colours: tuple[Colormap, Normalize], word: str, units: Units, values: list[FloatArray]
) -> None:
    width = float(sheet.figure.get_size_inches()[0])
    left = 2.6
    word = f"temperature, {word};\nisotherms in {TEMPERATURE.si if units == 'SI' else TEMPERATURE.us}"
    bottom = sheet.bottom - RULER_ACROSS - BAR_HEIGHT
    low, high = colours[1].vmin, colours[1].vmax
    known = np.concatenate([part[np.isfinite(part)] for part in values])
    beyond = (bool((known < low).any()), bool((known > high).any()))
    draw_colour_bar(sheet.figure, (left, bottom, width - left - 1.2), colours, word, units, beyond)
