"""How loads of fuel burn away: the mass burnt up to any instant, exactly.

Shapes of the burning rate over a load, with x the time since it was laid on over the burn time:

- "even": constant until x = 1 (95 % burnt), then falling straight to nothing;
- "rising and falling": as x exp(-k x), k = 4.744: flames spread, then burn down to embers;
- "quick start": as exp(-k x), k = ln 20: a small load of kindling, in flames at once.

Shapes of our own, without a source; all have burnt 95 % at x = 1. Loads laid on a fire burn each by its own
shape, side by side.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.plant.fire_kernels import BURNT_AT_BURN_TIME, LAST, QUICK, RISE_AND_FALL

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

SHAPES: Final = ("even", "rising and falling", "quick start")


def share_burnt(shape: str, elapsed: ArrayLike) -> NDArray[np.float64]:
    """Share of a load burnt after a time.

    Parameters
    ----------
    shape : str
        One of `SHAPES`.
    elapsed : (...) array_like [-]
        Time since the load was laid on, over the burn time; negative before.

    Returns
    -------
    (...) float [-]
        0 before the load, 0.95 at 1, 1 at the end of its tail.

    Raises
    ------
    ValueError
        For an unknown shape.
    """
    x = np.clip(np.asarray(elapsed, dtype=np.float64), 0.0, LAST)
    if shape == "even":
        tail = 1.0 - BURNT_AT_BURN_TIME
        length = 2.0 * tail / BURNT_AT_BURN_TIME
        left = np.clip(1.0 - (x - 1.0) / length, 0.0, 1.0)
        return np.asarray(np.where(x <= 1.0, BURNT_AT_BURN_TIME * x, 1.0 - tail * left * left))
    if shape == "rising and falling":
        whole = 1.0 - (1.0 + RISE_AND_FALL * LAST) * math.exp(-RISE_AND_FALL * LAST)
        return np.asarray((1.0 - (1.0 + RISE_AND_FALL * x) * np.exp(-RISE_AND_FALL * x)) / whole)
    if shape == "quick start":
        return np.asarray(np.expm1(-QUICK * x) / math.expm1(-QUICK * LAST))
    message = f"shape of a burn must be one of {', '.join(SHAPES)}, got {shape!r}"
    raise ValueError(message)


def burnt_of_loads(
    shape: str, burn_time: float, loads: Iterable[tuple[int, float]], ticks: ArrayLike
) -> NDArray[np.float64]:
    """Mass of all loads burnt up to given instants.

    The mean rate over a step is the difference over its ends divided by its length, exact for any step.

    Parameters
    ----------
    shape : str
    burn_time : float [s]
        Until 95 % of a load is burnt; above 0.
    loads : iterable of (tick, mass [kg])
        As fired; ticks since the start of the case, negative ones before it.
    ticks : (...) array_like of int

    Returns
    -------
    (...) float [kg]

    Raises
    ------
    ValueError
        For an unknown shape or a burn time not above 0.
    """
    if not burn_time > 0.0:
        message = f"burn time must be above 0, got {burn_time:g} s"
        raise ValueError(message)
    moments = np.asarray(ticks)
    total = np.zeros(moments.shape)
    per_tick = 1.0 / (burn_time * TICKS_PER_SECOND)
    for tick, mass in loads:
        total += mass * share_burnt(shape, (moments - tick) * per_tick)
    return total


def mean_rates(
    shape: str,
    burn_time: float,
    loads: Iterable[tuple[int, float]],
    begins: ArrayLike,
    ends: ArrayLike,
) -> NDArray[np.float64]:
    """Mean burning rate over steps [kg/s], see `burnt_of_loads`.

    Parameters
    ----------
    begins, ends : (n,) array_like of int [ticks]
        Of each step.
    """
    every = list(loads)
    first, last = np.asarray(begins), np.asarray(ends)
    burnt = burnt_of_loads(shape, burn_time, every, last) - burnt_of_loads(shape, burn_time, every, first)
    return np.asarray(burnt / ((last - first) / TICKS_PER_SECOND))


def corners(shape: str, burn_time: float, loads: Iterable[tuple[int, float]]) -> list[int]:
    """Ticks at which the rate jumps or bends: loads laid on, and the ends of an even burn and its tail."""
    found: set[int] = set()
    scale = burn_time * TICKS_PER_SECOND
    for tick, _ in loads:
        found.add(tick)
        if shape == "even":
            tail = 2.0 * (1.0 - BURNT_AT_BURN_TIME) / BURNT_AT_BURN_TIME
            found |= {tick + round(scale), tick + round(scale * (1.0 + tail))}
    return sorted(found)
