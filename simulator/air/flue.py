"""What a case says about its flue run, as plain numbers, and how the stove burns over time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.case.timetable import TICKS_PER_DAY, TICKS_PER_SECOND
from simulator.errors import CaseError
from simulator.physics.combustion import Burn, Fuel, burn
from simulator.physics.draught import Stack

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.schema import Case

IDLE_TEMPERATURE = 293.15
"""Stands for the gas temperature [K] while nothing burns."""
_EMPTY = np.zeros(5)
_NOTHING = np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True, eq=False)
class FlueRun:
    """Flue run of a case.

    Attributes
    ----------
    there : bool
    lane : int
        Lane of the section in which the run lies.
    made : Burn or None
        What a kilogram of fuel turns into.
    diameter : float [m]
        Inside, of the gas pipe.
    pipe_resistance, ground_resistance : float [K.m/W]
        Of the gas pipe (with the contact to the ground where it lies bare), and of the jacket's pipe with its
        contact to the ground.
    jacket_inner, jacket_outer : float [m]
        Outside diameter of the gas pipe and inside diameter of the jacket; 0 without one.
    jacket_flow [m3/s], jacket_power [W] : float
    roughness [m], loss [1] : float
        Of the run.
    stack : Stack or None
    stove_need : float [Pa]
    service_temperature : float [K]
    """

    there: bool = False
    lane: int = 0
    made: Burn | None = None
    diameter: float = 1.0
    pipe_resistance: float = 0.0
    ground_resistance: float = 0.0
    jacket_inner: float = 0.0
    jacket_outer: float = 0.0
    jacket_flow: float = 0.0
    jacket_power: float = 0.0
    roughness: float = 0.0
    loss: float = 0.0
    stack: Stack | None = None
    stove_need: float = 0.0
    service_temperature: float = math.inf

    @property
    def jacketed(self) -> bool:
        """Whether room air is blown round the gas pipe."""
        return self.jacket_outer > 0.0

    def fixed(self) -> dict[str, Any]:
        """Entries of the kernels' `Fixed`."""
        gas = None if self.made is None else self.made.gas
        return {
            "has_flue": self.there,
            "jacketed": self.jacketed,
            "flue_lane": self.lane,
            "flue_diameter": self.diameter,
            "flue_pipe_resistance": self.pipe_resistance,
            "flue_ground_resistance": self.ground_resistance,
            "gas_low": _EMPTY if gas is None else gas.low,
            "gas_high": _EMPTY if gas is None else gas.high,
            "gas_viscosity": _EMPTY if gas is None else gas.viscosity_fit,
            "gas_conductivity": _EMPTY if gas is None else gas.conductivity_fit,
            "gas_made": _NOTHING if gas is None else gas.made,
            "jacket_inner": self.jacket_inner,
            "jacket_outer": self.jacket_outer,
            "jacket_volume_flow": self.jacket_flow,
            "jacket_power": self.jacket_power,
        }


NO_FLUE = FlueRun()
"""A case without a flue run."""


def _ring(inside: float, thickness: float, conductivity: float) -> float:
    """Resistance of a pipe wall [K.m/W] from inside diameter and thickness [m]."""
    if thickness <= 0.0:
        return 0.0
    return math.log(1.0 + 2.0 * thickness / inside) / (2.0 * math.pi * conductivity)


def flue_run_of(case: Case, lane: int | None) -> FlueRun:
    """Collect what a case says about its flue run.

    Raises
    ------
    CaseError
        If the fuel cannot burn.
    """
    flue = case.flue
    if flue is None or lane is None:
        return NO_FLUE
    try:
        made = burn(Fuel(), flue.fuel_moisture, flue.excess_air)
    except ValueError as error:
        raise CaseError(str(error), key="flue.fuel_moisture", value=flue.fuel_moisture) from error
    contact = flue.contact_resistance / (2.0 * math.pi * flue.outside_radius)
    pipe = _ring(flue.diameter, flue.wall_thickness, flue.wall_conductivity)
    jacket = flue.jacket
    stack = None
    if flue.stack is not None and flue.stack.height > 0.0:
        stack = Stack(
            height=flue.stack.height,
            diameter=flue.stack.diameter,
            roughness=flue.stack.roughness,
            loss=flue.stack.loss_coefficient,
            heat_loss=flue.stack.heat_loss,
        )
    return FlueRun(
        there=True,
        lane=lane,
        made=made,
        diameter=flue.diameter,
        pipe_resistance=pipe + (contact if jacket is None else 0.0),
        ground_resistance=0.0
        if jacket is None
        else contact + _ring(jacket.diameter, jacket.wall_thickness, jacket.wall_conductivity),
        jacket_inner=0.0 if jacket is None else flue.diameter + 2.0 * flue.wall_thickness,
        jacket_outer=0.0 if jacket is None else jacket.diameter,
        jacket_flow=0.0 if jacket is None else jacket.flow,
        jacket_power=0.0 if jacket is None else jacket.power,
        roughness=flue.roughness,
        loss=flue.loss_coefficient,
        stack=stack,
        stove_need=flue.stove_draught,
        service_temperature=flue.service_temperature,
    )


def gas_at(case: Case, made: Burn | None, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
    """Flow [kg/s] and entry temperature [K] of the gas at instants.

    Parameters
    ----------
    case : Case
    made : Burn or None
        None for a case without flue run.
    ticks : (n,) int
        Since the start of the case.

    Returns
    -------
    (n, 2) float
    """
    found = np.empty((ticks.size, 2))
    found[:, 0], found[:, 1] = 0.0, IDLE_TEMPERATURE
    flue = case.flue
    if flue is None or made is None:
        return found
    if flue.rate is not None and flue.temperature is not None:
        found[:, 0], found[:, 1] = flue.rate * made.wet_gas, flue.temperature
        return found
    moments = flue.burn or []
    after = np.array([moment.after for moment in moments]) * TICKS_PER_SECOND
    start = case.site.start
    clock = (start.hour * 3600 + start.minute * 60 + start.second) * TICKS_PER_SECOND
    clock += start.microsecond * TICKS_PER_SECOND // 1_000_000
    of_day = (ticks + clock) % TICKS_PER_DAY
    since = np.full(ticks.size, np.iinfo(np.int64).max)
    for lit in flue.lit_at:
        since = np.minimum(since, (of_day - lit * TICKS_PER_SECOND) % TICKS_PER_DAY)
    burning = since <= after[-1]
    rate = np.interp(since, after, [moment.rate for moment in moments])
    found[burning, 0] = rate[burning] * made.wet_gas
    found[:, 1] = np.interp(since, after, [moment.temperature for moment in moments])
    return found


def changes_of_burn(case: Case, begin: int, end: int) -> list[int]:
    """Ticks between two at which the burn has a corner: stove lit, told moments, its end."""
    flue = case.flue
    if flue is None or flue.burn is None:
        return []
    start = case.site.start
    clock = (start.hour * 3600 + start.minute * 60 + start.second) * TICKS_PER_SECOND
    clock += start.microsecond * TICKS_PER_SECOND // 1_000_000
    corners = set()
    for day in range((begin + clock) // TICKS_PER_DAY - 2, (end + clock) // TICKS_PER_DAY + 1):
        for lit in flue.lit_at:
            base = day * TICKS_PER_DAY + lit * TICKS_PER_SECOND - clock
            corners |= {base + round(moment.after * TICKS_PER_SECOND) for moment in flue.burn}
    return sorted(tick for tick in corners if begin < tick < end)
