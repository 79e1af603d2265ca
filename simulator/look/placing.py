"""Keeping words apart: boxes in pixels, taken places, and lists spread out along a line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.text import Text
from matplotlib.transforms import Bbox

from simulator.look.scales import FloatArray
from simulator.look.theme import SIZE_NOTE

__all__ = ["Corners", "TakenPlaces", "spread", "write_at"]


Corners = tuple[float, float, float, float]
"""Left, lower, right and upper edge of a box [px]."""


class TakenPlaces:
    """Boxes [px] that nothing else may cover.

    Thousands of places are tried for a picture, so edges are compared as plain numbers.
    """

    def __init__(self) -> None:
        self._taken: list[Corners] = []

    def is_free(self, box: Bbox, gap: float = 2.0) -> bool:
        """Whether a box keeps at least `gap` [px] from every taken one."""
        return self.are_free((box.x0, box.y0, box.x1, box.y1), gap)

    def are_free(self, corners: Corners, gap: float = 2.0) -> bool:
        """Whether the box between these edges keeps at least `gap` [px] from every taken one."""
        left, low, right, high = corners[0] - gap, corners[1] - gap, corners[2] + gap, corners[3] + gap
        for x0, y0, x1, y1 in self._taken:
            if left <= x1 and x0 <= right and low <= y1 and y0 <= high:
                return False
        return True

    def take(self, box: Bbox) -> None:
        """Mark a box as taken."""
        self._taken.append((box.xmin, box.ymin, box.xmax, box.ymax))

    def middles(self) -> FloatArray:
        """(N, 2) middles of the taken boxes [px]."""
        edges = np.array(self._taken, dtype=np.float64).reshape(-1, 4)
        return (edges[:, :2] + edges[:, 2:]) / 2.0


def write_at(axes: Axes, spot: Sequence[float] | FloatArray, words: str, **look: Any) -> Text:
    """Write at a place in pixels of the figure; mark-up in the words stays as it is."""
    x, y = axes.transData.inverted().transform(spot)
    return axes.text(
        float(x), float(y), words, **{"fontsize": SIZE_NOTE, "clip_on": False, "parse_math": False, **look}
    )


def spread(wanted: FloatArray, gap: float, low: float, high: float) -> FloatArray:
    """Move positions as little as needed so that neighbours are `gap` apart and all lie in [low, high].

    Groups that run into each other are merged and centred on their mean, as in isotonic regression by
    pooling (Barlow et al., "Statistical Inference under Order Restrictions", 1972).

    Parameters
    ----------
    wanted : (N,) float
        In any order.
    gap : float
        Made smaller when the positions would not fit otherwise.
    low, high : float

    Returns
    -------
    (N,) float
        In the order given.
    """
    count = wanted.size
    if count == 0:
        return wanted.copy()
    if count > 1:
        gap = min(gap, (high - low) / (count - 1))
    order = np.argsort(wanted, kind="stable")
    # With the gaps taken out, "gap apart" becomes "not falling".
    shifts = gap * np.arange(count)
    targets = np.clip(wanted[order], low, high) - shifts
    groups: list[tuple[float, int]] = []
    for target in targets:
        total, members = float(target), 1
        while groups and groups[-1][0] / groups[-1][1] >= total / members:
            before, size = groups.pop()
            total, members = total + before, members + size
        groups.append((total, members))
    level = np.concatenate([np.full(members, total / members) for total, members in groups])
    placed = np.clip(level, low, high - shifts[-1]) + shifts
    result = np.empty(count)
    result[order] = placed
    return result
