"""SI values out to people: which unit, how many digits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from simulator.case.unit_reading import read_unit
from simulator.case.unit_table import TEMPERATURES

System = Literal["SI", "US"]


@dataclass(frozen=True)
class ShownUnit:
    """A unit that answers are written in.

    Attributes
    ----------
    label : str
        How the unit is written after the number.
    scale, zero : float
        SI value = shown number * scale + zero.
    decimals : int
        Digits after the point that are worth writing.
    """

    label: str
    scale: float
    decimals: int
    zero: float = 0.0

    def number(self, value: float) -> float:
        """Return the number to show for an SI value."""
        return (value - self.zero) / self.scale

    def text(self, value: float) -> str:
        """Write an SI value with the unit."""
        number = self.number(value)
        if not math.isfinite(number):
            return f"{number} {self.label}"
        written = f"{number:,.{self.decimals}f}"
        if written.startswith("-") and not written.strip("-0.,"):
            written = written[1:]
        return f"{written} {self.label}"


def _choice(
    unit: str, decimals: int, from_number: float = 0.0, label: str | None = None
) -> tuple[float, ShownUnit]:
    """Return (smallest number in this unit that uses it, unit)."""
    scale, _ = read_unit(unit)
    return from_number, ShownUnit(label or unit, scale, decimals)


_KELVIN_ZERO = TEMPERATURES["degC"][1]
#: dimension -> system -> units from the largest to the smallest, each with the number from which it is used
_SHOWN: dict[str, dict[str, tuple[tuple[float, ShownUnit], ...]]] = {
    "length": {
        "SI": (_choice("m", 2, 1.0), _choice("cm", 1, 1.0), _choice("mm", 2)),
        "US": (_choice("ft", 2, 1.0), _choice("in", 2)),
    },
    "area": {"SI": (_choice("m2", 2),), "US": (_choice("ft2", 1),)},
    "volume": {"SI": (_choice("m3", 2),), "US": (_choice("ft3", 1),)},
    "water volume": {"SI": (_choice("L", 1),), "US": (_choice("gal", 1),)},
    "time": {
        system: (_choice("d", 2, 2.0, "days"), _choice("h", 2, 1.0), _choice("min", 1, 1.0), _choice("s", 1))
        for system in ("SI", "US")
    },
    "temperature": {
        "SI": ((0.0, ShownUnit("degC", 1.0, 1, _KELVIN_ZERO)),),
        "US": ((0.0, ShownUnit("degF", 5.0 / 9.0, 1, TEMPERATURES["degF"][1])),),
    },
    "temperature difference": {"SI": (_choice("K", 2),), "US": (_choice("degF", 2),)},
    "mass": {"SI": (_choice("kg", 1),), "US": (_choice("lb", 1),)},
    "density": {"SI": (_choice("kg/m3", 1),), "US": (_choice("lb/ft3", 2),)},
    "energy": {
        "SI": (_choice("MWh", 2, 10.0), _choice("kWh", 2)),
        "US": (_choice("MMBTU", 2, 10.0, "million BTU"), _choice("BTU", 0)),
    },
    "energy per mass": {"SI": (_choice("MJ/kg", 2),), "US": (_choice("BTU/lb", 0),)},
    "power": {
        "SI": (_choice("kW", 2, 1.0), _choice("W", 1)),
        "US": (_choice("BTU/h", 0),),
    },
    "heat flow per length": {"SI": (_choice("W/m", 1),), "US": (_choice("BTU/(h.ft)", 1),)},
    "heat flux": {"SI": (_choice("W/m2", 1),), "US": (_choice("BTU/(h.ft2)", 2),)},
    "conductivity": {"SI": (_choice("W/(m.K)", 3),), "US": (_choice("BTU/(h.ft.F)", 3),)},
    "film coefficient": {"SI": (_choice("W/(m2.K)", 2),), "US": (_choice("BTU/(h.ft2.F)", 3),)},
    "thermal resistance": {"SI": (_choice("m2.K/W", 3),), "US": (_choice("h.ft2.F/BTU", 2),)},
    "heat loss": {"SI": (_choice("W/K", 1),), "US": (_choice("BTU/(h.F)", 1),)},
    "heat capacity": {
        "SI": (_choice("MJ/K", 2, 1.0), _choice("kJ/K", 1)),
        "US": (_choice("BTU/F", 0),),
    },
    "specific heat": {"SI": (_choice("J/(kg.K)", 0),), "US": (_choice("BTU/(lb.F)", 3),)},
    "volumetric heat capacity": {"SI": (_choice("MJ/(m3.K)", 3),), "US": (_choice("BTU/(ft3.F)", 2),)},
    "diffusivity": {"SI": (_choice("m2/d", 4),), "US": (_choice("ft2/d", 3),)},
    "volume flow": {"SI": (_choice("m3/s", 3),), "US": (_choice("cfm", 0),)},
    "water flow": {
        "SI": (_choice("L/min", 2, 0.5), _choice("L/h", 2)),
        "US": (_choice("gpm", 2, 0.1), _choice("gal/h", 2)),
    },
    "mass flow": {"SI": (_choice("kg/s", 3),), "US": (_choice("lb/h", 0),)},
    "rate": {system: (_choice("1/h", 2),) for system in ("SI", "US")},
    "pressure": {"SI": (_choice("Pa", 1),), "US": (_choice("inH2O", 3, label="in wg"),)},
    "velocity": {"SI": (_choice("m/s", 2),), "US": (_choice("fpm", 0, label="ft/min"),)},
    "vapour resistance": {system: (_choice("s/m", 0),) for system in ("SI", "US")},
}  # fmt: skip


def shown_unit(dimension: str, system: System, largest: float | None = None) -> ShownUnit:
    """Return the unit that values of a dimension are shown in.

    Parameters
    ----------
    dimension : str
        A key of `unit_table.DIMENSIONS`.
    system : {"SI", "US"}
        System of units.
    largest : float, optional
        Largest value to show [SI], which picks between units of different size; left out: the largest
        unit that the dimension is ever shown in, save for time (hours) and energy (kWh, BTU).
    """
    choices = _SHOWN[dimension][system]
    if dimension == "temperature":
        return choices[0][1]
    if largest is None:
        plain = {"time": 1, "energy": 1}.get(dimension, 0)
        return choices[plain][1]
    for smallest, unit in choices:
        if abs(largest) >= smallest * unit.scale * (1.0 - 1e-12):
            return unit
    return choices[-1][1]


def show(value: float, dimension: str, system: System = "SI") -> str:
    """Write an SI value with a unit of the asked system.

    Parameters
    ----------
    value : float
        In SI; temperatures in kelvin.
    dimension : str
        A key of `unit_table.DIMENSIONS`; ``"temperature difference"`` for differences.
    system : {"SI", "US"}
        System of units.

    Returns
    -------
    str
        Such as ``"21.5 degC"``, ``"1,250 BTU/h"`` or ``"3.41 kWh"``.
    """
    return shown_unit(dimension, system, value).text(value)
