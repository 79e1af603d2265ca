"""Bands of a chart: axes over the width of the sheet, one above the other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from simulator.look.scales import FloatArray

__all__ = ["BOTTOM", "LEAST_SPAN", "LEFT", "RIGHT", "band", "frame", "spans"]

LEFT, RIGHT, BOTTOM = 0.95, 0.95, 0.7  # [in]
LEAST_SPAN = 0.5  # shortest upright axis, so that what is even does not show noise


def band(figure: Figure, bottom: float, height: float, share: Axes | None = None) -> Axes:
    """Axes over the width of the sheet; bottom and height [in]."""
    wide, tall = figure.get_size_inches()
    axes = figure.add_axes(
        (LEFT / wide, bottom / tall, (wide - LEFT - RIGHT) / wide, height / tall), sharex=share
    )
    axes.grid(visible=True, axis="y")
    axes.set_axisbelow(True)
    return axes


def frame(
    axes: Axes, values: Sequence[FloatArray], *, with_zero: bool = False, least: float = LEAST_SPAN
) -> None:
    """Set upright limits with some air above and below what is drawn."""
    known = np.concatenate([np.ravel(part)[np.isfinite(np.ravel(part))] for part in values])
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    if with_zero:
        low, high = min(low, 0.0), max(high, 0.0)
    lacking = max(least - (high - low), 0.0) / 2.0
    air = 0.06 * max(high - low, least)
    axes.set_ylim(low - lacking - air, high + lacking + air)


def spans(x: FloatArray, holds: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Begin and length of spans in which something holds; a row speaks for the time since the row before."""
    steps = np.diff(np.concatenate([[0], holds[1:].astype(np.int64), [0]]))
    begins, ends = np.flatnonzero(steps == 1), np.flatnonzero(steps == -1)
    return [(float(x[a]), float(x[b] - x[a])) for a, b in zip(begins.tolist(), ends.tolist(), strict=True)]
