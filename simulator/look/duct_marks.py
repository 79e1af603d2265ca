"""Ducts in the section: the temperatures in them."""

from __future__ import annotations

import numpy as np
from matplotlib.colors import Colormap, Normalize
from matplotlib.transforms import Bbox

from simulator.look.isotherms import contrast
from simulator.look.paper import Sheet
from simulator.look.placing import TakenPlaces, write_at
from simulator.look.scales import FloatArray, Units, temperature_text
from simulator.look.scene import Scene
from simulator.look.theme import INK, SIZE_NOTE
from simulator.look.wording import POINTS_PER_INCH, text_width

__all__ = ["write_in_ducts"]

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
