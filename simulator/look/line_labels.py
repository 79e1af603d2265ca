"""Names written at the ends of lines instead of in a legend, kept apart from each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from simulator.look.placing import spread, write_at
from simulator.look.scales import FloatArray
from simulator.look.theme import SIZE_NOTE, LineStyle
from simulator.look.wording import POINTS_PER_INCH, fit

__all__ = ["LineEnd", "draw_line", "end_of", "write_at_ends"]

LINE = 1.3  # line height in type sizes
AWAY = 0.28  # [in] from the end of the data to the first letter


@dataclass(frozen=True)
class LineEnd:
    """The last point of a line, in data, with the words and the colour for it."""

    words: str
    x: float
    y: float
    colour: str


def draw_line(
    axes: Axes,
    x: FloatArray,
    y: FloatArray,
    colour: str,
    style: LineStyle,
    *,
    steps: bool = False,
    name: str = "",
) -> None:
    """Draw a line with gaps where there is no value; a value between two gaps becomes a dot.

    Parameters
    ----------
    axes : Axes
    x, y : (N,) float
    colour : str
    style : line style
    steps : bool
        Each value holds from the point before it to its own.
    name : str
        Kept with the line, for whoever looks for it.
    """
    draw_style = "steps-pre" if steps else "default"
    axes.plot(x, y, color=colour, linestyle=style, drawstyle=draw_style, gid=name)
    known = np.isfinite(y)
    around = np.pad(known, 1, constant_values=False)
    alone = known & ~around[:-2] & ~around[2:]
    if alone.any():
        axes.plot(x[alone], y[alone], color=colour, marker="o", markersize=3.5, linestyle="none", gid=name)


def end_of(words: str, x: FloatArray, y: FloatArray, colour: str) -> LineEnd | None:
    """End of a line at its last value; None when it has none."""
    known = np.flatnonzero(np.isfinite(y))
    if not known.size:
        return None
    last = known[-1]
    return LineEnd(words, float(x[last]), float(y[last]), colour)


def write_at_ends(axes: Axes, ends: list[LineEnd | None], data_end: float, room: float) -> None:
    """Write the names right of the data, each joined to its line; the axes must have their final limits.

    Parameters
    ----------
    axes : Axes
        Linear in both directions, with room right of the data.
    ends : list of LineEnd or None
    data_end : float
        Where the data end, on the level axis.
    room : float [in]
        Longest a name may be.
    """
    there = [end for end in ends if end is not None]
    if not there:
        return
    dots = axes.get_figure(root=True).dpi  # type: ignore[union-attr]
    points = axes.transData.transform([(end.x, end.y) for end in there])
    edge = float(axes.transData.transform((data_end, 0.0))[0])
    frame = axes.get_window_extent()
    gap = LINE * SIZE_NOTE / POINTS_PER_INCH * dots
    placed = spread(points[:, 1], gap, frame.y0 + gap / 2.0, frame.y1 - gap / 2.0)
    back = axes.transData.inverted()
    for end, (x, y), height in zip(there, points, placed, strict=True):
        joint = np.array([(x, y), (edge, y), (edge + (AWAY - 0.05) * dots, height)])
        if x < edge - 4.0:
            # The line stops early: a thin trace leads from there to its name.
            trace = back.transform(joint[:2]).T
            axes.plot(*trace, color=end.colour, linewidth=0.6, dashes=(1.0, 3.0), zorder=1.2)
        axes.plot(*back.transform(joint[1:]).T, color=end.colour, linewidth=0.7, zorder=1.2)
        words = fit(end.words, room - AWAY, SIZE_NOTE)
        spot = (edge + AWAY * dots, height)
        write_at(axes, spot, words, color=end.colour, ha="left", va="center", gid="line end")
