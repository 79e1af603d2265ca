"""What heats the air on its way to the ducts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from simulator.plant.heater_kernels import supply_values

if TYPE_CHECKING:
    from simulator.case.timetable import Drive


@dataclass(frozen=True)
class Supply:
    """Heating of the supply air during one step.

    Attributes
    ----------
    fixed_temperature : float [K]
        Supply temperature held by the heater; NaN where a power is given instead.
    power : float [W]
        Heat into the supply air.
    power_to_room : float [W]
        Heat of a fire that burns while no fan carries it to the ducts.
    """

    fixed_temperature: float
    power: float
    power_to_room: float


def supply_for(drive: Drive, series_temperature: float) -> Supply:
    """Supply during a step.

    A fire that burns while the fan stands still warms the room instead of the ducts.

    Parameters
    ----------
    drive : Drive
        Timetable values of the step.
    series_temperature : float [K]
        Supply temperature at this time, for a heater that follows a series.
    """
    fixed, power, to_room = supply_values(
        drive.fan_share, drive.heat_power, drive.supply_temperature, series_temperature
    )
    return Supply(fixed_temperature=fixed, power=power, power_to_room=to_room)
