"""What heats the air on its way to the ducts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

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
    moving = drive.fan_share > 0.0
    fixed = series_temperature if drive.follows_series else drive.supply_temperature
    if fixed == fixed:
        return Supply(fixed_temperature=fixed if moving else float("nan"), power=0.0, power_to_room=0.0)
    power = drive.heat_power if drive.heat_power == drive.heat_power else 0.0
    return Supply(float("nan"), power if moving else 0.0, 0.0 if moving else power)
