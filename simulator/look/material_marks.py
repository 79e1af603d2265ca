"""Names of the materials of the ground, written beside the section with a line to each."""

from __future__ import annotations

import numpy as np

from simulator.look.paper import Sheet
from simulator.look.placing import spread, write_at
from simulator.look.scene import Scene
from simulator.look.theme import INK, SIZE_NOTE
from simulator.look.wording import POINTS_PER_INCH, clean, fit, text_width

__all__ = ["gutter_width", "write_materials"]

LEAST_GUTTER = 0.9  # [in]
MOST_GUTTER = 2.6
ELBOW = 0.32  # [in] from the map to the first letter
AFTER = 0.15


def _places(scene: Scene, bottom: float) -> dict[int, tuple[float, float, float]]:
    """For each material in sight a point inside near its right end, and that end: across, depth, end [m]."""
    rows = np.flatnonzero(scene.depth_edges[:-1] < bottom)
    lower = np.minimum(scene.depth_edges[1:], bottom)[rows]
    heights = lower - scene.depth_edges[:-1][rows]
    found: dict[int, tuple[float, float, float]] = {}
    for index in range(len(scene.material_names)):
        here = scene.material[rows] == index
        if not here.any():
            continue
        column = int(np.flatnonzero(here.any(axis=0))[-1])
        inside = np.flatnonzero(here[:, column])
        runs = np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1)
        run = max(runs, key=lambda cells: float(heights[cells].sum()))
        top = float(scene.depth_edges[:-1][rows][run[0]])
        depth = (top + float(lower[run[-1]])) / 2.0
        end = float(scene.across_edges[column + 1])
        found[index] = (float(scene.across[column]), depth, end)
    return found


def gutter_width(scene: Scene, bottom: float) -> float:
    """Room [in] that the names need on the right of the map."""
    names = [clean(scene.material_names[index]) for index in _places(scene, bottom)]
    longest = max((text_width(name, SIZE_NOTE) for name in names), default=0.0)
    return float(np.clip(longest + ELBOW + AFTER, LEAST_GUTTER, MOST_GUTTER))


def write_materials(sheet: Sheet, scene: Scene, bottom: float) -> None:
    """Write each material that is in sight once, on the right of the map, with a line to where it lies.

    Parameters
    ----------
    sheet : Sheet
    scene : Scene
    bottom : float [m]
        Depth down to which the map is drawn.
    """
    places = _places(scene, bottom)
    if not places:
        return
    axes, dots = sheet.axes, sheet.figure.dpi
    gap = 1.35 * SIZE_NOTE / POINTS_PER_INCH * dots
    points = np.array(list(places.values()))
    wanted = axes.transData.transform(points[:, :2])[:, 1]
    frame = axes.get_window_extent()
    placed = spread(wanted, gap, frame.y0 + 4.0, frame.y1 - 4.0)
    back = axes.transData.inverted()
    right = float(axes.get_xlim()[1])
    room = MOST_GUTTER - ELBOW - AFTER + 0.02
    for (index, (across, depth, end)), y in zip(places.items(), placed, strict=True):
        elbow = back.transform((frame.x1 + 0.7 * ELBOW * dots, y))
        reaches_frame = end > right - 1e-9
        start = right if reaches_frame else across
        path = np.array([(start, depth), (right + 0.25 * (elbow[0] - right), depth), elbow])
        axes.plot(
            path[:, 0],
            path[:, 1],
            color=INK,
            linewidth=0.7,
            zorder=2.9,
            clip_on=False,
        )
        if not reaches_frame:
            axes.plot(
                [start], [depth], color=INK, marker="o", markersize=3.5, markeredgecolor="white",
                markeredgewidth=0.6, zorder=3.0,
            )  # fmt: skip
        words = fit(scene.material_names[index], room, SIZE_NOTE)
        write_at(axes, (frame.x1 + ELBOW * dots, y), words, ha="left", va="center", gid="material")
