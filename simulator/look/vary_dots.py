"""Many keys at once: each output over each key, one dot for each run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from simulator.answers.vary import rank_correlation
from simulator.look.bands import frame
from simulator.look.quantities import quantity_of
from simulator.look.scales import Units
from simulator.look.theme import COLOURS, FAINT, MUTED, SIZE_NOTE, new_figure, themed
from simulator.look.vary_words import heading_lines, key_word, x_places
from simulator.look.wording import add_heading, clean, fit, heading_height

if TYPE_CHECKING:
    from simulator.answers.outputs import Output
    from simulator.answers.vary import Varied

__all__ = ["dots_chart"]

MOST_KEYS = 5
LEFT, RIGHT, BOTTOM, GAP = 1.0, 0.25, 0.75, 0.28  # [in]
EACH = 2.0  # [in] height of a panel


@themed
def dots_chart(varied: Varied, outputs: list[Output], units: Units) -> Figure:
    """Draw every output over every key, in panels.

    Parameters
    ----------
    varied : Varied
    outputs : list of Output
        One row of panels for each.
    units : {"SI", "US"}
        The system shown.

    Returns
    -------
    Figure
    """
    keys = list(range(min(len(varied.variations), MOST_KEYS)))
    lines = heading_lines(varied, outputs, "Numbers above the panels: rank correlation, −1 to 1.")
    top = heading_height(len(lines)) + 0.25
    sheet = new_figure(BOTTOM + len(outputs) * (EACH + GAP) + top)
    wide, tall = sheet.get_size_inches()
    width = (wide - LEFT - RIGHT - (len(keys) - 1) * GAP) / len(keys)
    for row, output in enumerate(outputs):
        values = varied.column(output)
        up = quantity_of(output.dimension, values)
        y = up.drawn(values)
        unit = up.unit
        if units == "US" and up.scales is not None:
            y, unit = up.scales.to_us(y), up.scales.us
        strengths = rank_correlation(varied, output)
        for column, place in enumerate(keys):
            bottom = BOTTOM + (len(outputs) - 1 - row) * (EACH + GAP)
            axes = sheet.add_axes(
                ((LEFT + column * (width + GAP)) / wide, bottom / tall, width / wide, EACH / tall)
            )
            x_si, words = x_places(varied, place)
            across = quantity_of(varied.variations[place].kind.dimension if words is None else None, x_si)
            x, x_unit = across.drawn(x_si), across.unit
            if units == "US" and across.scales is not None:
                x, x_unit = across.scales.to_us(x), across.scales.us
            axes.plot(
                x, y, color=COLOURS[row], marker="o", markersize=4.0, alpha=0.75, linestyle="none",
                gid=f"runs {output.name}",
            )  # fmt: skip
            axes.grid(visible=True, color=FAINT)
            axes.set_axisbelow(True)
            known = y[np.isfinite(y)]
            frame(axes, [y], least=max(0.02 * float(np.abs(known).max()), 1e-9))
            axes.margins(x=0.08)
            if words is not None:
                axes.set_xticks(range(len(words)), [clean(word) for word in words])
                axes.set_xlim(-0.6, len(words) - 0.4)
            axes.tick_params(axis="x", labelbottom=row == len(outputs) - 1)
            axes.tick_params(axis="y", labelleft=column == 0)
            if column == 0:
                axes.set_ylabel(
                    fit(f"{output.name} [{unit}]" if unit else output.name, EACH, SIZE_NOTE + 1.5)
                )
            if row == len(outputs) - 1:
                name = key_word(varied.variations[place])
                axes.set_xlabel(fit(f"{name} [{x_unit}]" if x_unit else name, width, SIZE_NOTE + 1.5))
            strength = strengths[place]
            if strength is not None:
                axes.annotate(
                    f"{strength:+.2f}".replace("-", "−"), (1.0, 1.0), xytext=(0.0, 3.0),
                    xycoords="axes fraction", textcoords="offset points", ha="right", va="bottom",
                    fontsize=SIZE_NOTE, color=MUTED,
                )  # fmt: skip
    add_heading(sheet, "What changes with each key", lines)
    return sheet
