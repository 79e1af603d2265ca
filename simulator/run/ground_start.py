"""Temperatures of the ground at the start of a run."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.schema import SettledStart
from simulator.climate.ground_temperature import DAY_SECONDS, annual_wave, day_of_year
from simulator.section.periodic import periodic_state

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.section.operators import SectionOperators


def start_temperatures(case: Case, operators: SectionOperators) -> NDArray[np.float64]:
    """Temperatures at the first tick, run-in included.

    Parameters
    ----------
    case : Case
    operators : SectionOperators

    Returns
    -------
    (N,) float [K]
        The same at every station.

    Raises
    ------
    SolverError
        For a settled start of a section that nothing holds at a temperature.
    """
    start = case.ground.start
    depth = operators.cell_depth
    if start.kind == "uniform":
        return np.full(depth.size, start.temperature)
    if start.kind == "profile":
        return np.interp(depth, start.depths, start.temperatures)
    day = day_of_year(case.site.start) - case.ground.run_in / DAY_SECONDS
    if start.kind == "settled":
        return _settled(case, start, operators, day)
    diffusivity = start.diffusivity
    if diffusivity is None:
        lowest = case.ground.layers[-1]
        diffusivity = lowest.conductivity / lowest.heat_capacity
    return annual_wave(
        depth - case.ground.surface_level,
        day,
        mean=start.mean,
        amplitude=start.amplitude,
        coldest_day=start.coldest_day,
        diffusivity=diffusivity,
    )


def _settled(case: Case, start: SettledStart, operators: SectionOperators, day: float) -> NDArray[np.float64]:
    """Put the yearly loads on the ports; the clock starts on the coldest day."""
    mean = np.zeros(operators.injection.shape[1])
    swing = np.zeros(mean.size, dtype=np.complex128)
    # Temperatures are counted from the room's mean: it keeps the sums small.
    for name, level, amplitude in (
        ("floor", start.room_mean, start.room_amplitude),
        ("outside", start.outside_mean, start.outside_amplitude),
    ):
        mean[operators.port(name)] = level - start.room_mean
        swing[operators.port(name)] = -amplitude
    mean[: operators.lanes] = start.duct_heat
    swing[: operators.lanes] = start.duct_heat_amplitude
    bottom, sides = case.ground.bottom, case.ground.sides
    if bottom.kind == "temperature":
        mean[operators.port("bottom")] = bottom.temperature - start.room_mean
    elif bottom.kind == "heat flow":
        mean[operators.port("bottom")] = bottom.flux
    if sides.kind == "temperature":
        mean[operators.port("sides")] = sides.temperature - start.room_mean
    time = math.fmod(day - start.coldest_day, 365.0) * DAY_SECONDS
    return start.room_mean + periodic_state(operators, mean, swing, time)
