"""What stove, fan, coils, tank and flue may see, as plain data for those who warn."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from simulator.plant.chain import Plant

FREEZING = 273.15
"""Of water [K]."""


@dataclass(frozen=True)
class Limit:
    """A limit of one temperature.

    Attributes
    ----------
    quantity : str
        Dataset of the results that it holds for.
    number : int or None
        Which coil of the dataset, counted from 0; None where there is one row.
    what : str
        The part, in words.
    kind : {"highest", "lowest"}
    value : float [K]
    while_burning : bool
        Whether it holds only while fuel burns.
    source : str
    """

    quantity: str
    number: int | None
    what: str
    kind: Literal["highest", "lowest"]
    value: float
    while_burning: bool
    source: str


def limits_of(plant: Plant) -> list[Limit]:
    """Limits of a plant: shell, fan, coils, tank, flue.

    The flue's is the dew point of the gas where it leaves the stove: below it, water and tar settle. The top
    of a chimney is colder, so a margin over it is common practice.
    """
    found = [
        Limit(
            "shell_temperature",
            None,
            "stove shell",
            "highest",
            plant.shell_service,
            while_burning=False,
            source="the case: stove.service_temperature",
        ),
        Limit(
            "fan_air_temperature",
            None,
            "air at the fan",
            "highest",
            plant.fan_service,
            while_burning=False,
            source="the case: hood.fan_service_temperature",
        ),
        Limit(
            "stove_gas_temperature",
            None,
            "flue gas leaving the stove",
            "lowest",
            plant.dew_point,
            while_burning=True,
            source="dew point of the gas of this fuel, moisture and air_ratio",
        ),
    ]
    for number, name in enumerate(plant.names):
        boiling = float(plant.fixed.boiling[number])
        found.append(
            Limit(
                "coil_water_temperature",
                number,
                f"water in {name}",
                "highest",
                boiling,
                while_burning=False,
                source=f"the case: coils[{number + 1}].boiling_temperature",
            )
        )
        found.append(
            Limit(
                "coil_water_temperature",
                number,
                f"water in {name}",
                "lowest",
                FREEZING,
                while_burning=False,
                source="water freezes and bursts the coil",
            )
        )
    if plant.fixed.layers:
        if not math.isnan(plant.safe_low):
            found.append(
                Limit(
                    "tank_temperature",
                    None,
                    "tank",
                    "lowest",
                    plant.safe_low,
                    while_burning=False,
                    source="the case: water.safe_low",
                )
            )
        if not math.isnan(plant.safe_high):
            found.append(
                Limit(
                    "tank_temperature",
                    None,
                    "tank",
                    "highest",
                    plant.safe_high,
                    while_burning=False,
                    source="the case: water.safe_high",
                )
            )
    return found
