"""Plan and section of what was understood from a case, drawn to scale without running it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from simulator.look.paper import Sheet
from simulator.look.placing import TakenPlaces, spread, write_at
from simulator.look.route_marks import KIND_COLOURS, EndWords, draw_routes, strip_width
from simulator.look.routes import Route
from simulator.look.ruler import RULER_ACROSS, RULER_UP, rule_across, rule_up
from simulator.look.scales import Units
from simulator.look.theme import FIGURE_WIDTH, INK, MUTED, SIZE_NOTE, SIZE_TEXT, new_figure
from simulator.look.wording import POINTS_PER_INCH, add_heading, fit, heading_height, text_width

__all__ = ["Block", "Ground", "draw_understood"]

# Greys and earths far enough apart in lightness for grey print; materials take them in turn.
FILLS = ("#cfc3ae", "#e9e4d8", "#b9b9b9", "#d9cdd6", "#c3cfd6", "#dcd2b0", "#cbd6c2", "#e6d3c6")
EDGE_ROOM = 0.2  # [in]
AIR_STRIP = 0.36  # [in] above the floor, for its name
HEAD = 0.42  # [in] title of each part
TALLEST_SECTION, TALLEST_PLAN, LEAST_TALL = 3.6, 4.6, 0.9  # [in]
MOST_GUTTER = 2.6  # [in] for the names of materials
ELBOW = 0.32
LEAST_CIRCLE = 0.045  # [in] radius


@dataclass(frozen=True)
class Block:
    """A rectangle of one material in the section [m]; later ones cover earlier ones."""

    across: tuple[float, float]
    depth: tuple[float, float]
    material: str


@dataclass(frozen=True, eq=False)
class Ground:
    """The section as far as it is computed [m].

    Attributes
    ----------
    blocks : tuple of Block
    half_width : float
        Of the floor.
    reach : float
        From the middle line to the end of the ground.
    depth : float
        Down to which the section is drawn.
    surface : float
        Ground surface outside, below the finished floor.
    length : float
        Of the floor, along the ducts.
    """

    blocks: tuple[Block, ...]
    half_width: float
    reach: float
    depth: float
    surface: float
    length: float


def draw_understood(
    ground: Ground,
    routes: Sequence[Route],
    words: Sequence[EndWords],
    lines: Sequence[str],
    units: Units,
    figure: Figure | None = None,
) -> Figure:
    """Draw the section across the ducts and the plan of the floor, each to scale.

    Parameters
    ----------
    ground : Ground
    routes : sequence of Route
    words : sequence of EndWords
        For the plan, one for each route.
    lines : sequence of str
        Written below the title.
    units : {"SI", "US"}
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure
    """
    materials = list(dict.fromkeys(block.material for block in ground.blocks))
    fills = {name: FILLS[number % len(FILLS)] for number, name in enumerate(materials)}
    names = [fit(name, MOST_GUTTER, SIZE_NOTE) for name in materials]
    gutter = max((text_width(name, SIZE_NOTE) for name in names), default=0.0)
    left = 2.0 * RULER_UP + EDGE_ROOM
    strips = strip_width(routes, words)
    top = heading_height(len(lines)) + 0.1
    rulers = 2.0 * RULER_ACROSS
    wide_section = FIGURE_WIDTH - left - gutter - ELBOW - EDGE_ROOM
    wide_plan = FIGURE_WIDTH - left - EDGE_ROOM - sum(strips)
    scale_section = min(wide_section / (2.0 * ground.reach), TALLEST_SECTION / ground.depth)
    scale_plan = min(wide_plan / ground.length, TALLEST_PLAN / (2.0 * ground.half_width))
    tall_section = scale_section * ground.depth + AIR_STRIP
    tall_plan = scale_plan * 2.0 * ground.half_width
    height = top + 2.0 * (HEAD + rulers) + tall_section + tall_plan + EDGE_ROOM
    sheet = new_figure(height, figure)
    wide, tall = map(float, sheet.get_size_inches())
    down = top + HEAD + RULER_ACROSS
    section = _part(sheet, (left, down), (scale_section * 2.0 * ground.reach, tall_section), scale_section)
    _draw_section(section, ground, routes, fills, units)
    down += tall_section + rulers + HEAD
    plan = _part(sheet, (left, down), (scale_plan * ground.length + sum(strips), tall_plan), scale_plan)
    _draw_plan(plan, ground, routes, words, strips, units)
    for part, title in (
        (section, "Section across the ducts, seen from the floor's start"), (plan, "Plan, seen from above"),
    ):  # fmt: skip
        y = (part.bottom + part.height + RULER_ACROSS + 0.12) / tall
        sheet.text(EDGE_ROOM / wide, y, title, fontsize=SIZE_TEXT, fontweight="bold", ha="left", va="bottom")
    add_heading(sheet, "What was understood", list(lines))
    return sheet


def _part(figure: Figure, corner: tuple[float, float], size: tuple[float, float], scale: float) -> Sheet:
    """Axes of a size [in] whose upper left corner lies so far right and down."""
    wide, tall = map(float, figure.get_size_inches())
    bottom = tall - corner[1] - size[1]
    axes = figure.add_axes((corner[0] / wide, bottom / tall, size[0] / wide, size[1] / tall))
    return Sheet(figure, axes, corner[0], bottom, size[0], size[1], scale)


def _draw_section(
    sheet: Sheet, ground: Ground, routes: Sequence[Route], fills: dict[str, str], units: Units
) -> None:
    axes, half = sheet.axes, ground.half_width
    strip = AIR_STRIP / sheet.inches_per_metre
    axes.set_xlim(-ground.reach, ground.reach)
    axes.set_ylim(ground.depth, -strip)
    for block in ground.blocks:
        (y0, y1), (z0, z1) = block.across, block.depth
        look: dict[str, Any] = {
            "facecolor": fills[block.material],
            "edgecolor": MUTED,
            "linewidth": 0.6,
            "zorder": 1.0,
        }
        axes.add_patch(Rectangle((y0, z0), y1 - y0, z1 - z0, **look))
    for side in (-1.0, 1.0):
        if ground.reach > half:
            outside = sorted((side * half, side * ground.reach))
            axes.add_patch(
                Rectangle((outside[0], -strip), outside[1] - outside[0], strip + ground.surface,
                          facecolor="white", linewidth=0.0, zorder=1.4)
            )  # fmt: skip
            axes.plot(outside, [ground.surface] * 2, color=INK, linewidth=1.4, zorder=1.6)
            axes.plot([side * half] * 2, [ground.surface, 0.0], color=INK, linewidth=1.4, zorder=1.6)
            axes.plot([side * half] * 2, [0.0, -strip], color=MUTED, linewidth=1.0, dashes=(3.0, 2.0))
            if (ground.reach - half) * sheet.inches_per_metre > 0.75:
                _note(axes, side * (half + ground.reach) / 2.0, -strip / 2.0, "outside")
    _note(axes, 0.0, -strip / 2.0, "room")
    axes.plot([-half, half], [0.0, 0.0], color=INK, linewidth=3.0, solid_capstyle="butt", zorder=2.8)
    _draw_ducts(sheet, routes)
    _name_materials(sheet, ground, fills)
    rule_across(axes, "across, from the middle of the floor", -ground.reach, ground.reach, sheet.width, units)
    rule_up(axes, "depth", 0.0, ground.depth, sheet.height - AIR_STRIP, units)


def _note(axes: Axes, x: float, y: float, words: str) -> None:
    axes.text(x, y, words, ha="center", va="center", fontsize=SIZE_NOTE, color=MUTED)


def _draw_ducts(sheet: Sheet, routes: Sequence[Route]) -> None:
    """Circles; a cross is air that moves away from the reader, a dot air that comes."""
    axes = sheet.axes
    least = LEAST_CIRCLE / sheet.inches_per_metre
    seen: set[tuple[float, float, str, float]] = set()
    # The widest first, so that a flue shows inside its jacket.
    for route in sorted(routes, key=lambda each: -each.diameter):
        radius = max(route.diameter / 2.0, least)
        colour = KIND_COLOURS[route.kind]
        for across, depth, way in zip(route.across, route.depth, route.directions, strict=True):
            place = (float(across), float(depth), route.kind, float(way))
            if place in seen:
                continue
            seen.add(place)
            circle = Circle((across, depth), radius, facecolor="white", edgecolor=colour, linewidth=1.4)
            circle.set_zorder(3.0)
            circle.set_gid("duct")
            axes.add_patch(circle)
            if route.kind == "jacket":
                continue
            points = radius * sheet.inches_per_metre * POINTS_PER_INCH
            axes.plot(
                [across], [depth], color=colour, marker="x" if way > 0.0 else "o", zorder=3.2,
                markersize=float(np.clip(points, 3.0, 8.0)) * (1.0 if way > 0.0 else 0.55),
                markeredgewidth=1.3 if way > 0.0 else 0.0, gid="away" if way > 0.0 else "back",
            )  # fmt: skip


def _name_materials(sheet: Sheet, ground: Ground, fills: dict[str, str]) -> None:
    """Write each material once on the right, with a line to a place where it can be seen."""
    axes, dots = sheet.axes, sheet.figure.dpi
    places = {name: place for name in fills if (place := _seen_at(ground, name)) is not None}
    if not places:
        return
    frame = axes.get_window_extent()
    points = axes.transData.transform(list(places.values()))
    gap = 1.35 * SIZE_NOTE / POINTS_PER_INCH * dots
    placed = spread(points[:, 1], gap, frame.y0 + 4.0, frame.y1 - 4.0)
    back = axes.transData.inverted()
    for (name, place), point, y in zip(places.items(), points, placed, strict=True):
        joint = [point, (frame.x1 + 0.2 * ELBOW * dots, point[1]), (frame.x1 + 0.75 * ELBOW * dots, y)]
        axes.plot(*back.transform(joint).T, color=INK, linewidth=0.7, zorder=2.9, clip_on=False)
        axes.plot(
            [place[0]], [place[1]], color=INK, marker="o", markersize=3.5, markeredgecolor="white",
            markeredgewidth=0.6, zorder=3.0,
        )  # fmt: skip
        words = fit(name, MOST_GUTTER, SIZE_NOTE)
        write_at(axes, (frame.x1 + ELBOW * dots, y), words, ha="left", va="center", gid="material")


def _seen_at(ground: Ground, material: str) -> tuple[float, float] | None:
    """Find the place [m] furthest to the right where a material is not covered by another one or by air."""
    found = [
        place
        for number, block in enumerate(ground.blocks)
        if block.material == material
        and (place := _seen_in(ground, block, ground.blocks[number + 1 :])) is not None
    ]
    return max(found, default=None)


def _seen_in(ground: Ground, block: Block, later: tuple[Block, ...]) -> tuple[float, float] | None:
    top, bottom = block.depth[0], min(block.depth[1], ground.depth)
    width = block.across[1] - block.across[0]
    for across in block.across[0] + width * np.linspace(0.995, 0.005, 100):
        for depth in top + (bottom - top) * np.array([0.5, 0.25, 0.75, 0.9]):
            in_air = abs(across) > ground.half_width and depth < ground.surface
            covered = any(
                other.across[0] <= across <= other.across[1] and other.depth[0] <= depth <= other.depth[1]
                for other in later
            )
            if not in_air and not covered and top < ground.depth:
                return float(across), float(depth)
    return None


def _draw_plan(
    sheet: Sheet,
    ground: Ground,
    routes: Sequence[Route],
    words: Sequence[EndWords],
    strips: tuple[float, float],
    units: Units,
) -> None:
    axes, half = sheet.axes, ground.half_width
    axes.set_xlim(-strips[0] / sheet.inches_per_metre, ground.length + strips[1] / sheet.inches_per_metre)
    axes.set_ylim(-half, half)
    axes.add_patch(
        Rectangle((0.0, -half), ground.length, 2.0 * half, facecolor="#f4f2ec", edgecolor=INK, linewidth=1.2,
                  zorder=1.0, clip_on=False)
    )  # fmt: skip
    draw_routes(sheet, routes, (0.0, ground.length), words, TakenPlaces(), solid=True)
    second = rule_across(
        axes, "along the floor, from its start", 0.0, ground.length,
        sheet.inches_per_metre * ground.length, units,
    )  # fmt: skip
    up = rule_up(axes, "across", -half, half, sheet.height, units)
    for spine in (*axes.spines.values(), *second.spines.values(), *up.spines.values()):
        spine.set_visible(False)
