"""Outputs over two varied keys: shaded, with lines of equal value that carry their numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.text import Text
from matplotlib.ticker import MaxNLocator

from simulator.look.isotherms import contrast
from simulator.look.quantities import Quantity, label_across, label_up, quantity_of
from simulator.look.scales import FloatArray, Units
from simulator.look.theme import COLOUR_MAP, INK, SIZE_NOTE, SIZE_TEXT, new_figure, themed
from simulator.look.vary_words import capital, heading_lines, key_word
from simulator.look.wording import add_heading, heading_height

if TYPE_CHECKING:
    from simulator.answers.outputs import Output
    from simulator.answers.vary import Varied

__all__ = ["map_chart"]

LINES = 9
TALL = 4.2  # [in] of one map
SIDE, BETWEEN, BELOW, ABOVE = 0.95, 1.9, 0.72, 0.98  # [in]


@themed
def map_chart(varied: Varied, outputs: list[Output], units: Units) -> Figure:
    """Draw every output over the two keys that were varied, one map for each.

    Parameters
    ----------
    varied : Varied
        On a grid of two keys with numbers.
    outputs : list of Output
    units : {"SI", "US"}

    Returns
    -------
    Figure
    """
    lines = heading_lines(varied, outputs, "Dots: runs; between them straight on.")
    columns = 1 if len(outputs) == 1 else 2
    rows = math.ceil(len(outputs) / columns)
    top = heading_height(len(lines))
    sheet = new_figure(rows * (TALL + BELOW + ABOVE) + top)
    wide, tall = sheet.get_size_inches()
    width = (wide - 2.0 * SIDE - (columns - 1) * BETWEEN) / columns
    for place, output in enumerate(outputs):
        row, column = divmod(place, columns)
        bottom = tall - top - row * (TALL + BELOW + ABOVE) - ABOVE - TALL
        axes = sheet.add_axes(
            ((SIDE + column * (width + BETWEEN)) / wide, bottom / tall, width / wide, TALL / tall)
        )
        _draw(axes, varied, output, units)
    what = capital(outputs[0].name) if len(outputs) == 1 else "What changes"
    names = " and ".join(key_word(variation) for variation in varied.variations)
    add_heading(sheet, f"{what} with {names}", lines)
    return sheet


def _draw(axes: Axes, varied: Varied, output: Output, units: Units) -> None:
    counts = [len(variation.values) for variation in varied.variations]
    grids = [varied.numbers(place).reshape(counts) for place in (0, 1)]
    values = varied.column(output).reshape(counts)
    level, upright = (
        quantity_of(variation.kind.dimension, grid)
        for variation, grid in zip(varied.variations, grids, strict=True)
    )
    x, y = level.drawn(grids[0]), upright.drawn(grids[1])
    order = np.ix_(np.argsort(x[:, 0]), np.argsort(y[0, :]))
    x, y, values = x[order], y[order], values[order]
    shown = quantity_of(output.dimension, values)
    z = _in_system(shown, shown.drawn(values), units)
    colour_map = mpl.colormaps[COLOUR_MAP]
    known = z[np.isfinite(z)]
    span = float(np.ptp(known))
    levels = np.array(MaxNLocator(LINES, steps=[1, 2, 2.5, 5, 10]).tick_values(known.min(), known.max()))
    masked = np.ma.masked_invalid(z)
    if span > 1e-9 * max(float(np.abs(known).max()), 1e-9):
        fine = np.linspace(float(known.min()), float(known.max()), 129)
        axes.contourf(x, y, masked, levels=fine, cmap=colour_map, zorder=1.0)
        low, high = float(known.min()), float(known.max())
        inks = [contrast(colour_map((mark - low) / (high - low))) for mark in levels]
        drawn = axes.contour(x, y, masked, levels=levels, colors=inks, linewidths=1.0, zorder=2.0)
        words = _written(levels)
        colours = {words[float(mark)]: colour_map((mark - low) / (high - low)) for mark in levels}
        _keep_inside(axes, axes.clabel(drawn, fmt=words, fontsize=SIZE_NOTE, inline=False), colours)
    axes.plot(
        x[np.isfinite(z)], y[np.isfinite(z)], color=INK, marker="o", markersize=3.0, linestyle="none",
        markerfacecolor="white", markeredgewidth=0.7, zorder=3.0, gid=f"runs {output.name}", clip_on=False,
    )  # fmt: skip
    axes.plot(
        x[~np.isfinite(z)], y[~np.isfinite(z)], color=INK, marker="x", markersize=6.0, linestyle="none",
        zorder=3.0, gid="failed", clip_on=False,
    )  # fmt: skip
    label_across(axes, level, key_word(varied.variations[0]), units)
    label_up(axes, upright, key_word(varied.variations[1]), units, TALL)
    unit = shown.unit if shown.scales is None or units == "SI" else shown.scales.us
    title = f"{capital(output.name)} [{unit}]" if unit else capital(output.name)
    axes.annotate(
        title, (0.0, 1.0), xytext=(0.0, 40.0), xycoords="axes fraction", textcoords="offset points",
        ha="left", va="bottom", fontsize=SIZE_TEXT, fontweight="bold", annotation_clip=False,
    )  # fmt: skip


def _keep_inside(
    axes: Axes, texts: Sequence[Text], colours: dict[str, tuple[float, float, float, float]]
) -> None:
    """Put the ground's colour behind the numbers, and take away those that the edge would cut."""
    frame = axes.get_window_extent()
    for text in list(texts):
        ground = colours[text.get_text()]
        text.set_bbox({"facecolor": ground, "edgecolor": "none", "pad": 1.0})
        text.set_color(contrast(ground))
        box = text.get_window_extent()
        if box.x0 < frame.x0 or box.x1 > frame.x1 or box.y0 < frame.y0 or box.y1 > frame.y1:
            text.set_visible(False)


def _in_system(quantity: Quantity, drawn: FloatArray, units: Units) -> FloatArray:
    """Numbers in the system asked for, so that its levels are round."""
    return drawn if units == "SI" or quantity.scales is None else quantity.scales.to_us(drawn)


def _written(levels: FloatArray) -> dict[float, str]:
    step = float(np.diff(levels).min()) if levels.size > 1 else 1.0
    decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0.0 else 0
    decimals += int(round(step * 10**decimals, 6) != round(step * 10**decimals))
    return {float(level): f"{level + 0.0:,.{decimals}f}".replace("-", "−") for level in levels}
