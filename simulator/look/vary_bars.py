"""One key at a time: bars from what the low value gives to what the high value gives, the longest on top."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.look.quantities import label_across, quantity_of
from simulator.look.scales import FloatArray, Units
from simulator.look.theme import COLOURS, INK, MUTED, SIZE_NOTE, SIZE_TEXT, new_figure, themed
from simulator.look.vary_words import capital, heading_lines, key_word
from simulator.look.wording import add_heading, clean, fit, heading_height

if TYPE_CHECKING:
    from simulator.answers.outputs import Output
    from simulator.answers.vary import Varied

__all__ = ["bars_chart"]

NAMES = 3.1  # [in] for the keys at the left
RIGHT = 0.6
EACH = 0.42  # [in] a bar
ABOVE, BELOW = 0.95, 0.62  # [in] of a band
ROOM = 0.24  # of the width, on either side, for the values at the ends of bars


@themed
def bars_chart(varied: Varied, outputs: list[Output], units: Units) -> Figure:
    """Draw how far each key moves each output from that of the case as it is.

    Parameters
    ----------
    varied : Varied
        One key at a time.
    outputs : list of Output
        One band for each.
    units : {"SI", "US"}

    Returns
    -------
    Figure
    """
    count = len(varied.variations)
    lines = heading_lines(varied, outputs, "Middle line: the case as it is. At the ends: value of the key.")
    band = ABOVE + count * EACH + 0.2 + BELOW
    sheet = new_figure(len(outputs) * band + heading_height(len(lines)))
    wide, tall = sheet.get_size_inches()
    for place, output in enumerate(outputs):
        bottom = (len(outputs) - 1 - place) * band + BELOW
        axes = sheet.add_axes(
            (NAMES / wide, bottom / tall, (wide - NAMES - RIGHT) / wide, (count * EACH + 0.2) / tall)
        )
        _draw(axes, varied, output, units)
    what = capital(outputs[0].name) if len(outputs) == 1 else "What moves the answers"
    add_heading(sheet, f"{what}, one key at a time" if len(outputs) > 1 else f"{what}: what moves it", lines)
    return sheet


def _draw(axes: Axes, varied: Varied, output: Output, units: Units) -> None:
    values = varied.column(output)
    quantity = quantity_of(output.dimension, values)
    drawn = quantity.drawn(values)
    base = float(drawn[0])
    bars = [_ends(varied, drawn, place) for place in range(len(varied.variations))]
    swing = [max((abs(value - base) for _, value in ends), default=0.0) for ends in bars]
    order = sorted(range(len(bars)), key=lambda place: swing[place])
    shown = [value for ends in bars for _, value in ends] + ([base] if np.isfinite(base) else [])
    low, high = min(shown, default=0.0), max(shown, default=1.0)
    air = max(high - low, 1e-6 * max(abs(high), 1.0))
    axes.set_xlim(low - ROOM * air, high + ROOM * air)
    axes.set_ylim(-0.75, len(bars) - 0.25)
    for row, place in enumerate(order):
        for (word, value), colour in zip(bars[place], (COLOURS[0], COLOURS[1]), strict=False):
            axes.barh(row, value - base, left=base, height=0.6, color=colour, gid=f"bar {output.name}")
            right = value >= base
            axes.annotate(
                clean(word), (value, row), xytext=(5.0 if right else -5.0, 0.0), textcoords="offset points",
                ha="left" if right else "right", va="center", fontsize=SIZE_NOTE, color=INK,
            )  # fmt: skip
        if not bars[place]:
            axes.annotate("failed", (base, row), xytext=(5.0, 0.0), textcoords="offset points", va="center",
                          fontsize=SIZE_NOTE, color=MUTED)  # fmt: skip
    axes.axvline(base, color=INK, linewidth=1.0)
    names = [fit(key_word(varied.variations[place]), NAMES - 0.3, SIZE_NOTE) for place in order]
    axes.set_yticks(range(len(bars)), names)
    axes.tick_params(axis="y", length=0.0)
    for side in ("left", "right"):
        axes.spines[side].set_visible(False)
    axes.grid(visible=True, axis="x")
    axes.set_axisbelow(True)
    label_across(axes, quantity, "", units)
    axes.annotate(
        capital(output.name), (0.0, 1.0), xytext=(-(NAMES - 0.2) * 72.0, 34.0), xycoords="axes fraction",
        textcoords="offset points", ha="left", va="bottom", fontsize=SIZE_TEXT, fontweight="bold",
        annotation_clip=False,
    )  # fmt: skip


def _ends(varied: Varied, drawn: FloatArray, place: int) -> list[tuple[str, float]]:
    """Value of a key and of the output at the first and the last value that gave one."""
    rows = [
        (str(row.values[place]), float(drawn[number]))
        for number, row in enumerate(varied.rows)
        if row.values[place] is not None and np.isfinite(drawn[number])
    ]
    return rows if len(rows) < 2 else [rows[0], rows[-1]]
