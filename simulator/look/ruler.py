"""Lengths beside a map drawn to scale: metres and feet, nothing written outside what is measured."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axes._secondary_axes import SecondaryAxis
from matplotlib.ticker import MaxNLocator

from simulator.look.scales import LENGTH, FloatArray, Units, sides

__all__ = ["RULER_ACROSS", "RULER_UP", "rule_across", "rule_up"]

RULER_UP = 0.72  # [in] one upright scale with its name
RULER_ACROSS = 0.55  # [in] one level scale with its name
TICK_EVERY = 0.75  # [in]
TICK_EVERY_UP = 0.4  # [in]


def _ticks(low: float, high: float, size: float, every: float) -> FloatArray:
    count = max(int(size / every), 2)
    ticks = np.asarray(MaxNLocator(count, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high))
    slack = 1e-6 * (high - low)
    return ticks[(ticks >= low - slack) & (ticks <= high + slack)]


def rule_across(axes: Axes, word: str, low: float, high: float, size: float, units: Units) -> SecondaryAxis:
    """Put metres and feet below and above a map; the system asked for stands below.

    Parameters
    ----------
    axes : Axes
        Data in metres.
    word : str
    low, high : float [m]
        The part that is measured.
    size : float [in]
        Length of the axis on paper.
    units : {"SI", "US"}
    """
    near, far = sides(units)
    axes.set_xticks(_ticks(low, high, size, TICK_EVERY))
    axes.tick_params(
        axis="x", bottom=near == "bottom", top=near == "top",
        labelbottom=near == "bottom", labeltop=near == "top",
    )  # fmt: skip
    axes.xaxis.set_label_position(near)
    axes.set_xlabel(f"{word} [{LENGTH.si}]")
    second = axes.secondary_xaxis(far, functions=LENGTH.functions)
    second.set_xticks(_ticks(float(LENGTH.to_us(low)), float(LENGTH.to_us(high)), size, TICK_EVERY))
    second.set_xlabel(f"{word} [{LENGTH.us}]")
    return second


def rule_up(axes: Axes, word: str, low: float, high: float, size: float, units: Units) -> SecondaryAxis:
    """Put metres and feet side by side on the left of a map; the system asked for is next to it."""
    width = axes.get_position().width * axes.get_figure(root=True).get_size_inches()[0]  # type: ignore[union-attr]
    away = RULER_UP
    axes.set_yticks(_ticks(low, high, size, TICK_EVERY_UP))
    axes.set_ylabel(f"{word} [{LENGTH.si}]")
    second = axes.secondary_yaxis(0.0 if units == "US" else -away / width, functions=LENGTH.functions)
    second.set_yticks(_ticks(float(LENGTH.to_us(low)), float(LENGTH.to_us(high)), size, TICK_EVERY_UP))
    second.set_ylabel(f"{word} [{LENGTH.us}]")
    if units == "US":
        axes.spines["left"].set_position(("outward", away * 72.0))
    return second
