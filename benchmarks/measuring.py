"""Clocks and errors, and what an entry holds."""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks import section
from simulator.run.plan import plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from benchmarks.section import Section
    from simulator.case.schema import Case

LONG = 2.0
"""Runs are repeated until they took this long together [s], by the wall three times as long."""


@dataclass(frozen=True)
class Timed:
    """Rows of a run, the seconds it took, and the least processor seconds of this process, all threads."""

    rows: NDArray[np.float64]
    seconds: float
    processor: float = 0.0


def timed(call: Callable[[], NDArray[np.float64]], repeats: int, *, wall: bool = False) -> Timed:
    """Run and time, again and again where that is short.

    Seconds are processor seconds of this process, the median of all runs; with `wall` those of the clock on
    the wall, the least of all runs, since everything else on the machine only adds to them.
    """
    clock, choose = (time.perf_counter, min) if wall else (time.process_time, statistics.median)
    seconds: list[float] = []
    processor: list[float] = []
    while True:
        began, busy = clock(), time.process_time()
        rows = call()
        seconds.append(clock() - began)
        processor.append(time.process_time() - busy)
        if len(seconds) >= repeats or sum(seconds) > LONG * (3 if wall else 1):
            return Timed(rows, choose(seconds), min(processor))


def stretched(short: float, short_days: float, long: float, long_days: float, days: float) -> float:
    """Seconds for `days` from those of two shorter runs, so that what is done only once counts once."""
    return short + (long - short) * (days - short_days) / (long_days - short_days)


def error(rows: NDArray[np.float64], reference: NDArray[np.float64]) -> float:
    """Largest difference [K] of exit air, floor mean and room, over the rows that both have."""
    count = min(len(rows), len(reference))
    return float(np.abs(rows[:count] - reference[:count]).max())


def operators_of(case: Case) -> Section:
    """The project's own discretisation in space, for the peers that march it."""
    return section.from_operators(plan(case).operators)


def entry(
    name: str,
    peer_name: str,
    *,
    seconds: float,
    peer_seconds: float,
    error_k: float,
    peer_error_k: float,
    against: str,
    settings: str,
) -> dict[str, Any]:
    """One line of the results."""
    return {
        "name": name,
        "peer": peer_name,
        "ratio": peer_seconds / seconds,
        "error_K": error_k,
        "peer_error_K": peer_error_k,
        "seconds": seconds,
        "peer_seconds": peer_seconds,
        "peer_settings": settings,
        "errors_against": against,
        "clock": "processor",
    }
