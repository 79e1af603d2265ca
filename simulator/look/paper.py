"""The sheet of a map: how large it is drawn, so that a metre is as long across as along."""

from __future__ import annotations

from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.look.theme import FIGURE_WIDTH, new_figure

__all__ = ["Margins", "Sheet", "lay_out"]

TALLEST_MAP = 8.0  # [in]
LOWEST_MAP = 0.35  # [in]


@dataclass(frozen=True)
class Margins:
    """Room round a map [in]."""

    left: float
    right: float
    top: float
    bottom: float


@dataclass(frozen=True)
class Sheet:
    """A figure with axes of the right shape; `width` and `height` [in] are those of the axes."""

    figure: Figure
    axes: Axes
    left: float
    bottom: float
    width: float
    height: float
    inches_per_metre: float


def lay_out(
    figure: Figure | None,
    margins: Margins,
    span: tuple[float, float],
    strips: tuple[float, float] = (0.0, 0.0),
) -> Sheet:
    """Make axes for a map to physical scale, as large as the sheet allows.

    Parameters
    ----------
    figure : Figure or None
        None makes one of the usual width and of the height the map needs.
    margins : Margins
    span : (across, along) [m]
        Size of what is drawn.
    strips : (across, along) [in]
        Paper to add inside the axes, beside what is drawn, for words.

    Returns
    -------
    Sheet
    """
    sheet_width = FIGURE_WIDTH if figure is None else float(figure.get_size_inches()[0])
    wide = max(sheet_width - margins.left - margins.right - strips[0], 1.0)
    if figure is None:
        tall = TALLEST_MAP - strips[1]
    else:
        tall = float(figure.get_size_inches()[1]) - margins.top - margins.bottom - strips[1]
    scale = min(wide / span[0], max(tall, LOWEST_MAP) / span[1])
    width = scale * span[0] + strips[0]
    height = scale * span[1] + strips[1]
    sheet = new_figure(height + margins.top + margins.bottom, figure)
    sheet_height = float(sheet.get_size_inches()[1])
    left = margins.left + (wide + strips[0] - width) / 2.0
    bottom = sheet_height - margins.top - height
    axes = sheet.add_axes(
        (left / sheet_width, bottom / sheet_height, width / sheet_width, height / sheet_height)
    )
    axes.set_aspect("equal", adjustable="box", anchor="C")
    return Sheet(sheet, axes, left, bottom, width, height, scale)
