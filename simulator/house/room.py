"""The room as one air node: what it holds, loses and gains."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.physics import air_kernels

if TYPE_CHECKING:
    from simulator.case.schema import Case


@dataclass(frozen=True)
class Room:
    """Room of a case, as plain numbers.

    Attributes
    ----------
    fixed : bool
        The temperature is given and never changes.
    temperature : float [K]
        Fixed, or at the start.
    heat_capacity : float [J/K]
    envelope_loss, infiltration_loss : float [W/K]
        To the outside, per kelvin.
    gains : float [W]
    sun_area : float [m2]
        Glazed area times what it lets through, referred to sun on the horizontal.
    sun_to_floor : float
        Share of that sun which lands on the floor.
    """

    fixed: bool
    temperature: float
    heat_capacity: float = 0.0
    envelope_loss: float = 0.0
    infiltration_loss: float = 0.0
    gains: float = 0.0
    sun_area: float = 0.0
    sun_to_floor: float = 0.0


def room_of(case: Case) -> Room:
    """Collect what a case says about the room.

    Infiltration is volume times air changes times the volumetric heat capacity of air at the room's starting
    temperature and the site's pressure.
    """
    room = case.room
    if room.kind == "fixed":
        return Room(fixed=True, temperature=room.temperature)
    if room.kind == "house":
        # What a house loses and gains follows step by step from its surfaces.
        return Room(
            fixed=False,
            temperature=room.temperature,
            heat_capacity=room.heat_capacity,
            gains=room.gains,
        )
    pressure = air_kernels.pressure_at(case.site.elevation)
    air = air_kernels.density(room.temperature, pressure) * air_kernels.heat_capacity(room.temperature)
    return Room(
        fixed=False,
        temperature=room.temperature,
        heat_capacity=room.heat_capacity,
        envelope_loss=room.heat_loss,
        infiltration_loss=room.volume * room.air_changes * air,
        gains=room.gains,
        sun_area=room.sun_area,
        sun_to_floor=room.sun_to_floor if case.floor.film > 0.0 else 0.0,
    )
