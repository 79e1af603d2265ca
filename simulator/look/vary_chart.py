"""The chart that fits a variation: lines over one key, a map over two, bars for one key at a time, dots."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from simulator.look.scales import Units
from simulator.look.vary_bars import bars_chart
from simulator.look.vary_dots import dots_chart
from simulator.look.vary_lines import lines_chart
from simulator.look.vary_map import map_chart

if TYPE_CHECKING:
    from simulator.answers.outputs import Output
    from simulator.answers.vary import Varied

__all__ = ["vary_chart"]

MOST_PANELS = 4


def vary_chart(varied: Varied, *, units: Units = "SI") -> Figure | None:
    """Draw what came of varying a case.

    Parameters
    ----------
    varied : Varied
    units : {"SI", "US"}
        The system that comes first; both are shown.

    Returns
    -------
    Figure or None
        None when no output is a number that any run has. At most four outputs are drawn, the first ones.
    """
    known = [each for each in varied.outputs if each.numeric and _some(varied, each)][:MOST_PANELS]
    if not known:
        return None
    if varied.way == "one at a time":
        return bars_chart(varied, known, units)
    if varied.way == "grid" and len(varied.variations) == 1:
        return lines_chart(varied, known, units)
    two = varied.way == "grid" and len(varied.variations) == 2
    if two and all(each.numbers is not None and len(each.values) > 1 for each in varied.variations):
        return map_chart(varied, known, units)
    return dots_chart(varied, known, units)


def _some(varied: Varied, output: Output) -> bool:
    column = varied.column(output)
    return bool((column == column).any())
