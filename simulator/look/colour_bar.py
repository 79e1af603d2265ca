"""Colours of temperatures and the bar that explains them in degC and degF at once."""

from __future__ import annotations

from typing import Literal

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from simulator.look.scales import TEMPERATURE, FloatArray, Units, sides
from simulator.look.theme import COLOUR_MAP, MUTED, SIZE_NOTE

__all__ = ["BAR_HEIGHT", "colours_of", "draw_colour_bar"]

BAR_HEIGHT = 0.95  # [in] bar with both scales and its words
POINT = 0.03  # of the bar, the end that stands for all beyond
LEAST_SPAN = 1.0  # [K] an even map is shown even, not as noise in full colour


def colours_of(
    values: list[FloatArray], limits: tuple[float, float] | None = None
) -> tuple[Colormap, Normalize]:
    """Colour map and range for everything that is shown together [degC].

    Parameters
    ----------
    values : list of arrays [degC]
        NaN where there is nothing.
    limits : (low, high), optional
        Range to use instead, for pictures that are compared.
    """
    colour_map = mpl.colormaps[COLOUR_MAP]
    if limits is not None:
        return colour_map, Normalize(*limits)
    known = np.concatenate([np.ravel(part)[np.isfinite(np.ravel(part))] for part in values])
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 0.0)
    lacking = max(LEAST_SPAN - (high - low), 0.0) / 2.0
    return colour_map, Normalize(low - lacking, high + lacking)


def draw_colour_bar(
    figure: Figure,
    box: tuple[float, float, float],
    colours: tuple[Colormap, Normalize],
    word: str,
    units: Units,
    beyond: tuple[bool, bool] = (False, False),
) -> Axes:
    """Draw a level bar with degC on one side and degF on the other.

    Parameters
    ----------
    figure : Figure
    box : (left, bottom, width) [in]
        Place of the bar; `BAR_HEIGHT` is taken upwards from the bottom.
    colours : Colormap, Normalize
    word : str
        What the colours mean.
    units : {"SI", "US"}
        The system below the bar.
    beyond : (bool, bool)
        Whether something is colder or warmer than the bar shows: it then ends in a point.

    Returns
    -------
    Axes
        Those of the bar, data in degC; the second scale is its only child axis.
    """
    width, height = figure.get_size_inches()
    left, bottom, length = box
    bar = figure.add_axes((left / width, (bottom + 0.34) / height, length / width, 0.17 / height))
    extend: Literal["neither", "min", "max", "both"] = (
        ("both" if beyond[1] else "min") if beyond[0] else ("max" if beyond[1] else "neither")
    )
    figure.colorbar(
        ScalarMappable(colours[1], colours[0]),
        cax=bar,
        orientation="horizontal",
        extend=extend,
        extendfrac=POINT,
    )
    near, far = sides(units)
    bar.xaxis.set_major_locator(MaxNLocator(9, steps=[1, 2, 2.5, 5, 10]))
    bar.tick_params(
        axis="x", bottom=near == "bottom", top=near == "top",
        labelbottom=near == "bottom", labeltop=near == "top",
    )  # fmt: skip
    second = bar.secondary_xaxis(far, functions=TEMPERATURE.functions)
    second.xaxis.set_major_locator(MaxNLocator(9, steps=[1, 2, 2.5, 5, 10]))
    for place, unit in ((near, TEMPERATURE.si), (far, TEMPERATURE.us)):
        bar.annotate(
            unit,
            (1.0, 0.0 if place == "bottom" else 1.0),
            xytext=(10.0 + (72.0 * POINT * length if beyond[1] else 0.0), -3.0 if place == "bottom" else 3.0),
            xycoords="axes fraction",
            textcoords="offset points",
            ha="left",
            va="top" if place == "bottom" else "bottom",
            fontsize=SIZE_NOTE,
            fontweight="bold",
        )
    bar.annotate(
        word,
        (0.0, 0.5),
        xytext=(-10.0, 0.0),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="right",
        va="center",
        fontsize=SIZE_NOTE,
        color=MUTED,
    )
    return bar
