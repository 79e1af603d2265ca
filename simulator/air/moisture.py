"""What a case says about humidity, as plain numbers for the kernels."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simulator.physics import air_kernels

if TYPE_CHECKING:
    from simulator.case.schema import Case

WATER_DENSITY = 1000.0
"""[kg/m3]."""


@dataclass(frozen=True)
class MoistAir:
    """Humidity of a run.

    Attributes
    ----------
    there : bool
        Whether moisture is computed at all.
    room_humidity, outside_humidity : float [1]
        Relative; the room's is held, or with `vapour_gain` the one at the start.
    vapour_gain : float [kg/s]
        NaN where the room's humidity is held.
    room_air : float [kg]
        Dry air in the room.
    infiltration_air : float [kg/s]
        Outside air leaking in.
    clinging_water : float [kg/m]
        Most that a duct holds per length; infinite where water stands.
    """

    there: bool = False
    room_humidity: float = 0.0
    outside_humidity: float = 0.0
    vapour_gain: float = math.nan
    room_air: float = 0.0
    infiltration_air: float = 0.0
    clinging_water: float = 0.0

    def fixed(self) -> dict[str, Any]:
        """Entries of the kernels' `Fixed`."""
        return {
            "wet": self.there,
            "room_humidity": self.room_humidity,
            "outside_humidity": self.outside_humidity,
            "room_air": self.room_air,
            "clinging_water": self.clinging_water,
        }


NO_MOISTURE = MoistAir()
"""Dry air."""


def moist_air_of(case: Case) -> MoistAir:
    """Collect what a case says about humidity."""
    moisture, room = case.moisture, case.room
    if moisture is None:
        return NO_MOISTURE
    room_air = infiltration = 0.0
    if room.kind != "fixed":
        density = air_kernels.density(room.temperature, air_kernels.pressure_at(case.site.elevation))
        room_air = room.volume * density
        infiltration = room_air * room.air_changes
    film = WATER_DENSITY * math.pi * case.ducts.diameter * moisture.clinging_film
    return MoistAir(
        there=True,
        room_humidity=moisture.room_humidity,
        outside_humidity=moisture.outside_humidity,
        vapour_gain=math.nan if moisture.gain is None else moisture.gain,
        room_air=room_air,
        infiltration_air=infiltration,
        clinging_water=film if case.ducts.drains else math.inf,
    )
