"""Named materials for floors and ground.

Conductivity [W/(m.K)], density [kg/m3] and specific heat [J/(kg.K)]: design values of the kind tabulated
in ISO 10456 (value from memory; the standard itself was not at hand). Ground types with a volumetric heat
capacity follow ISO 13370, table of ground properties (value from memory): clay or silt 1.5 W/(m.K) and
3.0 MJ/(m3.K), sand or gravel 2.0 and 2.0, rock 3.5 and 2.0. Entries marked "common practice" have no
source. Real soil varies by a factor of two either way with moisture: give your own numbers when known.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Properties:
    """Thermal properties of one material.

    Attributes
    ----------
    conductivity : float
        [W/(m.K)]
    density : float
        [kg/m3]
    specific_heat : float
        [J/(kg.K)]
    source : str
        Where the numbers come from.
    """

    conductivity: float
    density: float
    specific_heat: float
    source: str

    @property
    def heat_capacity(self) -> float:
        """Volumetric heat capacity [J/(m3.K)]."""
        return self.density * self.specific_heat


_ISO_10456 = "ISO 10456, value from memory"
_ISO_13370 = "ISO 13370, value from memory"
_PRACTICE = "common practice, no source"

MATERIALS: dict[str, Properties] = {
    "concrete": Properties(1.65, 2200.0, 1000.0, _ISO_10456),
    "dense concrete": Properties(2.0, 2400.0, 1000.0, _ISO_10456),
    "reinforced concrete": Properties(2.3, 2300.0, 1000.0, _ISO_10456),
    "lightweight concrete": Properties(0.5, 1200.0, 1000.0, _PRACTICE),
    "cement screed": Properties(1.4, 2000.0, 1000.0, _PRACTICE),
    "cement mortar": Properties(1.0, 1800.0, 1000.0, _ISO_10456),
    "brick": Properties(0.8, 1800.0, 1000.0, _PRACTICE),
    "clay tile": Properties(1.0, 2000.0, 800.0, _ISO_10456),
    "ceramic tile": Properties(1.3, 2300.0, 840.0, _ISO_10456),
    "limestone": Properties(1.7, 2200.0, 1000.0, _ISO_10456),
    "granite": Properties(2.8, 2600.0, 1000.0, _ISO_10456),
    "softwood": Properties(0.13, 500.0, 1600.0, _ISO_10456),
    "hardwood": Properties(0.18, 700.0, 1600.0, _ISO_10456),
    "plywood": Properties(0.13, 500.0, 1600.0, _ISO_10456),
    "asphalt": Properties(0.7, 2100.0, 1000.0, _ISO_10456),
    "steel": Properties(50.0, 7800.0, 450.0, _ISO_10456),
    "expanded polystyrene": Properties(0.038, 20.0, 1450.0, _PRACTICE),
    "extruded polystyrene": Properties(0.035, 35.0, 1450.0, _PRACTICE),
    "polyurethane foam": Properties(0.027, 35.0, 1400.0, _PRACTICE),
    "mineral wool": Properties(0.038, 60.0, 1030.0, _PRACTICE),
    "foam glass": Properties(0.045, 120.0, 1000.0, _PRACTICE),
    "loose expanded clay": Properties(0.12, 350.0, 1000.0, _PRACTICE),
    "crushed stone": Properties(0.7, 1600.0, 900.0, _PRACTICE),
    "gravel": Properties(2.0, 2000.0, 1000.0, _ISO_13370),
    "sand and gravel": Properties(2.0, 2000.0, 1000.0, _ISO_13370),
    "dry sand": Properties(0.35, 1600.0, 830.0, _PRACTICE),
    "moist sand": Properties(1.5, 1750.0, 1100.0, _PRACTICE),
    "wet sand": Properties(2.2, 2000.0, 1350.0, _PRACTICE),
    "clay": Properties(1.5, 1800.0, 1670.0, _ISO_10456),
    "clay or silt": Properties(1.5, 1800.0, 3.0e6 / 1800.0, _ISO_13370),
    "dry clay": Properties(0.6, 1500.0, 950.0, _PRACTICE),
    "dry earth": Properties(0.5, 1500.0, 900.0, _PRACTICE),
    "loam": Properties(1.2, 1700.0, 1300.0, _PRACTICE),
    "wet loam": Properties(1.7, 1950.0, 1550.0, _PRACTICE),
    "rock": Properties(3.5, 2500.0, 800.0, _ISO_13370),
    "water": Properties(0.6, 1000.0, 4190.0, _ISO_10456),
}

#: other names in use
SAME_AS: dict[str, str] = {
    "cement": "cement mortar",
    "screed": "cement screed",
    "wood": "softwood",
    "EPS": "expanded polystyrene",
    "XPS": "extruded polystyrene",
    "rock wool": "mineral wool",
    "sand": "moist sand",
    "dry gravel": "crushed stone",
    "moist clay": "clay",
    "silt": "clay or silt",
    "earth": "loam",
    "soil": "loam",
}


def find(name: str) -> Properties | None:
    """Return the properties of a named material, or None when there is no such name."""
    return MATERIALS.get(SAME_AS.get(name, name))
