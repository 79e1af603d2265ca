"""Observed order of accuracy, judged from both sides."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np


def observed_order(sizes: Sequence[float], errors: Sequence[float]) -> float:
    """Slope of log error over log size, by least squares."""
    return float(np.polyfit(np.log(sizes), np.log(errors), 1)[0])


def assert_order(
    sizes: Sequence[float],
    errors: Sequence[float],
    window: tuple[float, float],
    ceiling: float,
) -> None:
    """The order lies in the window and the finest error under the ceiling.

    An order far above the scheme's own means that the errors measure something else, so it fails too.
    """
    order = observed_order(sizes, errors)
    assert window[0] <= order <= window[1], f"order {order:.2f} of {list(errors)} is outside {window}"
    assert errors[-1] <= ceiling, f"finest error {errors[-1]:.3g} is above {ceiling:.3g}"
