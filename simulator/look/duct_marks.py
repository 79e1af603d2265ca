"""Ducts in the maps: temperatures in them, and the way the air goes."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import Colormap, Normalize
from matplotlib.patheffects import withStroke
from matplotlib.transforms import Bbox
from numpy.typing import NDArray

from simulator.look.isotherms import contrast
from simulator.look.paper import Sheet
from simulator.look.placing import TakenPlaces, spread, write_at
from simulator.look.scales import FloatArray, Units, temperature_text
from simulator.look.scene import Scene
from simulator.look.theme import FAINT, INK, MUTED, SIZE_NOTE
from simulator.look.wording import POINTS_PER_INCH, text_width

__all__ = ["draw_lanes", "write_in_ducts"]

PAD = 3.0  # [px] of white round a label
PILL = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "boxstyle": "round,pad=0.15"}
LINE = 1.25  # line height in type sizes


def _box(middle: tuple[float, float], width: float, height: float) -> Bbox:
    x, y = middle
    return Bbox.from_extents(x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)


def write_in_ducts(
    sheet: Sheet,
    scene: Scene,
    in_ducts: FloatArray,
    colours: tuple[Colormap, Normalize],
    taken: TakenPlaces,
    units: Units,
) -> None:
    """Write the temperature of the air in each duct, or beside it where the duct is too small on paper.

    Parameters
    ----------
    sheet : Sheet
    scene : Scene
    in_ducts : (D,) float [degC]
        NaN where no air moves: nothing is written there.
    colours : Colormap, Normalize
    taken : TakenPlaces
        Those of ducts and labels are added.
    units : {"SI", "US"}
    """
    axes, dots = sheet.axes, sheet.figure.dpi
    radius = scene.duct_radius * sheet.inches_per_metre * dots
    height = LINE * SIZE_NOTE / POINTS_PER_INCH * dots
    middles = axes.transData.transform(np.column_stack([scene.duct_across, scene.duct_depth]))
    for x, y in middles:
        taken.take(_box((x, y), 2.0 * radius + 2.0, 2.0 * radius + 2.0))
    frame = axes.get_window_extent()
    for (x, y), warmth in zip(middles, in_ducts, strict=True):
        if not np.isfinite(warmth):
            continue
        words = temperature_text(float(warmth), units=units, both=False)
        width = text_width(words, SIZE_NOTE) * dots
        if np.hypot(width, height) < 2.0 * radius:
            ink = contrast(colours[0](float(colours[1](warmth))))
            _write(sheet, (x, y), words, {"color": ink, "zorder": 3.5})
            continue
        away = radius + height / 2.0 + PAD + 2.0
        aside = radius + width / 2.0 + PAD + 3.0
        second_row = away + height + PAD + 2.0
        for spot in ((x, y - away), (x, y + away), (x, y - second_row), (x + aside, y), (x - aside, y)):
            box = _box(spot, width + 2.0 * PAD, height + PAD)
            if taken.is_free(box, 1.0) and frame.x0 <= box.x0 and box.x1 <= frame.x1 and frame.y0 <= box.y0:
                taken.take(box)
                _write(sheet, spot, words, {"color": INK, "zorder": 3.5, "bbox": PILL})
                break


def _write(sheet: Sheet, spot: tuple[float, float], words: str, look: dict[str, object]) -> None:
    write_at(sheet.axes, spot, words, ha="center", va="center", gid="duct air", **look)


def draw_lanes(
    sheet: Sheet,
    scene: Scene,
    air: tuple[float, FloatArray] | None,
    taken: TakenPlaces,
    units: Units,
) -> None:
    """Draw the ducts under a plan as dashed lines, with the way of the air and its temperatures at both ends.

    Parameters
    ----------
    sheet : Sheet
        The axes reach beyond the floor on both sides, which is where the temperatures go.
    scene : Scene
    air : (entering, leaving (D,)) [degC] or None
        None when no air moves.
    taken : TakenPlaces
    units : {"SI", "US"}
    """
    axes, dots = sheet.axes, sheet.figure.dpi
    start, end = float(scene.along_edges[0]), float(scene.along_edges[-1])
    stub = 0.3 / sheet.inches_per_metre
    height = LINE * SIZE_NOTE / POINTS_PER_INCH * dots
    halo = [withStroke(linewidth=3.4, foreground="white", alpha=0.6)]
    for across in scene.duct_across:
        axes.plot(
            [start - stub, end + stub], [across, across], color=INK, linewidth=1.3, dashes=(6.0, 3.0),
            zorder=2.2, path_effects=halo, gid="duct",
        )  # fmt: skip
        if air is not None:
            arrows = [start - stub * 0.4, *(start + (end - start) * np.array([0.25, 0.75])), end + stub]
            axes.plot(
                arrows, [across] * len(arrows), color=INK, marker=">", markersize=7.0, linestyle="none",
                markeredgecolor="white", markeredgewidth=0.6, zorder=2.4, gid="flow",
            )  # fmt: skip
        left, y = axes.transData.transform((start, across))
        right = axes.transData.transform((end, across))[0]
        taken.take(Bbox.from_extents(left, y - 4.0, right, y + 4.0))
    lowest, highest = axes.transData.transform([(0.0, axes.get_ylim()[0]), (0.0, axes.get_ylim()[1])])[:, 1]
    if air is None:
        _beside(sheet, (start - stub * 1.2, 0.0), "no air moves", "right", MUTED)
        return
    entering, leaving = air
    _beside(
        sheet, (start - stub * 1.2, float(scene.duct_across.mean())),
        "air in\n" + temperature_text(entering, units=units).replace(" (", "\n("), "right", INK,
    )  # fmt: skip
    shown = _few_enough(scene.duct_across, int((highest - lowest + 2.0 * height) // height))
    wanted = axes.transData.transform(np.column_stack([np.zeros(shown.size), scene.duct_across[shown]]))[:, 1]
    placed = spread(wanted, height, lowest - height / 2.0, highest + height / 2.0)
    for duct, y in zip(shown, placed, strict=True):
        spot = axes.transData.inverted().transform((0.0, y))[1]
        words = temperature_text(float(leaving[duct]), units=units)
        _beside(sheet, (end + stub * 1.5, float(spot)), words, "left", INK)
        axes.plot(
            [end + stub * 1.08, end + stub * 1.45], [scene.duct_across[duct], spot],
            color=FAINT, linewidth=0.8, clip_on=False,
        )  # fmt: skip


def _few_enough(across: FloatArray, most: int) -> NDArray[np.int64]:
    """Ducts to write at: all of them, or evenly chosen ones with both outermost when there is no room."""
    order = np.argsort(across)
    if order.size <= most:
        return order
    return order[np.unique(np.linspace(0, order.size - 1, max(most, 2)).round().astype(np.int64))]


def _beside(sheet: Sheet, place: tuple[float, float], words: str, ha: str, colour: str) -> None:
    sheet.axes.text(
        *place, words, ha=ha, va="center", fontsize=SIZE_NOTE, color=colour, gid="duct air", parse_math=False,
        clip_on=False,
    )  # fmt: skip
