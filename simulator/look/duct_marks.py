"""Ducts in the section: the temperatures in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import Colormap, Normalize
from matplotlib.patches import Circle
from matplotlib.transforms import Bbox

from simulator.look.isotherms import contrast
from simulator.look.paper import Sheet
from simulator.look.placing import TakenPlaces, write_at
from simulator.look.route_marks import KIND_COLOURS
from simulator.look.routes import Kind
from simulator.look.scales import Units, temperature_text
from simulator.look.theme import SIZE_NOTE
from simulator.look.wording import POINTS_PER_INCH, text_width

__all__ = ["Duct", "draw_ducts", "write_in_ducts"]

PAD = 3.0  # [px] of white round a label
PILL = {"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "boxstyle": "round,pad=0.15"}
LINE = 1.25  # line height in type sizes


def _box(middle: tuple[float, float], width: float, height: float) -> Bbox:
    x, y = middle
    return Bbox.from_extents(x - width / 2.0, y - height / 2.0, x + width / 2.0, y + height / 2.0)


@dataclass(frozen=True)
class Duct:
    """A duct where it passes through the section [m], with what moves in it [degC], NaN when nothing does."""

    across: float
    depth: float
    radius: float
    warmth: float
    kind: Kind = "air"


def draw_ducts(axes: Axes, ducts: Sequence[Duct], colours: tuple[Colormap, Normalize]) -> None:
    """Draw circles in the colour of what moves in them, white when nothing does; later ones cover earlier."""
    for duct in ducts:
        colour = colours[0](float(colours[1](duct.warmth))) if np.isfinite(duct.warmth) else "white"
        edge = KIND_COLOURS[duct.kind]
        circle = Circle(
            (duct.across, duct.depth), duct.radius, facecolor=colour, edgecolor=edge, linewidth=1.2
        )
        circle.set_zorder(3.0)
        axes.add_patch(circle)


def write_in_ducts(
    sheet: Sheet,
    ducts: Sequence[Duct],
    colours: tuple[Colormap, Normalize],
    taken: TakenPlaces,
    units: Units,
) -> None:
    """Write the temperature in each duct, or beside it where the duct is too small on paper.

    Parameters
    ----------
    sheet : Sheet
    ducts : sequence of Duct
        Where nothing moves nothing is written.
    colours : Colormap, Normalize
    taken : TakenPlaces
        Those of ducts and labels are added.
    units : {"SI", "US"}
    """
    if not ducts:
        return
    axes, dots = sheet.axes, sheet.figure.dpi
    radii = [duct.radius * sheet.inches_per_metre * dots for duct in ducts]
    height = LINE * SIZE_NOTE / POINTS_PER_INCH * dots
    middles = axes.transData.transform([(duct.across, duct.depth) for duct in ducts])
    for (x, y), radius in zip(middles, radii, strict=True):
        taken.take(_box((x, y), 2.0 * radius + 2.0, 2.0 * radius + 2.0))
    frame = axes.get_window_extent()
    widest: dict[tuple[float, float], float] = {}
    for duct, radius in zip(ducts, radii, strict=True):
        place = duct.across, duct.depth
        widest[place] = max(radius, widest.get(place, 0.0))
    alone = {(duct.across, duct.depth) for duct in ducts if duct.kind != "air"}
    for (x, y), duct in zip(middles, ducts, strict=True):
        warmth, radius = duct.warmth, widest[duct.across, duct.depth]
        if not np.isfinite(warmth):
            continue
        words = temperature_text(float(warmth), units=units, both=False)
        width = text_width(words, SIZE_NOTE) * dots
        # What lies inside a jacket would be covered, or cover it.
        if np.hypot(width, height) < 2.0 * radius and (duct.across, duct.depth) not in alone:
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
                _write(sheet, spot, words, {"color": KIND_COLOURS[duct.kind], "zorder": 3.5, "bbox": PILL})
                break


def _write(sheet: Sheet, spot: tuple[float, float], words: str, look: dict[str, object]) -> None:
    write_at(sheet.axes, spot, words, ha="center", va="center", gid="duct air", **look)
