"""Outputs over one varied key, one band for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.look.bands import BOTTOM, band, frame
from simulator.look.line_labels import draw_line
from simulator.look.quantities import label_outside, label_up, quantity_of
from simulator.look.scales import FloatArray, Units
from simulator.look.theme import COLOURS, LINE_STYLES, new_figure, themed
from simulator.look.vary_words import capital, heading_lines, key_word, x_places
from simulator.look.wording import add_heading, clean, heading_height

if TYPE_CHECKING:
    from simulator.answers.outputs import Output
    from simulator.answers.vary import Varied

__all__ = ["lines_chart"]

GAP = 0.3  # [in] between bands
ABOVE = 0.7  # [in] for the scale above the uppermost band
EACH, ALONE = 2.5, 3.6  # [in] height of a band


@themed
def lines_chart(varied: Varied, outputs: list[Output], units: Units) -> Figure:
    """Draw every output over the one key that was varied.

    Parameters
    ----------
    varied : Varied
    outputs : list of Output
        One band for each.
    units : {"SI", "US"}

    Returns
    -------
    Figure
    """
    places, words = x_places(varied, 0)
    variation = varied.variations[0]
    across = quantity_of(variation.kind.dimension if words is None else None, places)
    x = across.drawn(places)
    lines = heading_lines(varied, outputs)
    height = ALONE if len(outputs) == 1 else EACH
    sheet = new_figure(BOTTOM + len(outputs) * (height + GAP) + heading_height(len(lines)) + ABOVE - GAP)
    bands: list[Axes] = []
    for place, output in enumerate(outputs):
        bottom = BOTTOM + (len(outputs) - 1 - place) * (height + GAP)
        axes = band(sheet, bottom, height, bands[0] if bands else None)
        bands.append(axes)
        values = varied.column(output)
        up = quantity_of(output.dimension, values)
        y = up.drawn(values)
        _draw(axes, x, y, COLOURS[place], output.name, joined=words is None)
        known = y[np.isfinite(y)]
        frame(axes, [y], least=max(0.02 * float(np.abs(known).max()), 1e-9))
        label_up(axes, up, output.name, units, height)
        axes.tick_params(axis="x", bottom=False, labelbottom=False)
    if words is None:
        label_outside(bands[-1], bands[0], across, key_word(variation), units)
    else:
        bands[-1].set_xlim(-0.6, len(words) - 0.4)
        bands[-1].set_xticks(range(len(words)), [clean(word) for word in words])
        bands[-1].tick_params(axis="x", bottom=True, labelbottom=True)
        bands[-1].set_xlabel(key_word(variation))
    what = capital(outputs[0].name) if len(outputs) == 1 else "What changes"
    add_heading(sheet, f"{what} with {key_word(variation)}", lines)
    return sheet


def _draw(axes: Axes, x: FloatArray, y: FloatArray, colour: str, name: str, *, joined: bool) -> None:
    order = np.argsort(x, kind="stable")
    order = order[np.isfinite(x[order]) & np.isfinite(y[order])]
    if joined:
        draw_line(axes, x[order], y[order], colour, LINE_STYLES[0], name=name)
    axes.plot(
        x[order], y[order], color=colour, marker="o", markersize=5.5, linestyle="none", gid=f"runs {name}"
    )
