"""A house told surface by surface: its numbers for the kernels, its masses at the start, and what drives it.

`house_of` reads a case, `start` gives the masses, `house_climate` sums up sun and sky once, and
`house_drives` (or `HouseClimate.drives`) gives the kernels' inputs over any steps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.climate.cells import CellMeans, cells
from simulator.climate.sky import surroundings
from simulator.climate.sun import sun_on_surfaces
from simulator.house.face_kernels import (
    HEAD,
    LENGTH,
    OUTSIDE,
    SKY,
    HouseFixed,
)
from simulator.physics import air
from simulator.physics.enclosure import radiant_areas, share_kept
from simulator.physics.glazing import diffuse_factor
from simulator.physics.sky import sky_share

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.case.schema_house import HouseRoom
    from simulator.climate.weather import Weather

SURROUNDINGS = 4
"""Columns of the inputs from `OUTSIDE` on: temperature, humidity ratio, sky, wind."""
INSIDE_EMISSIVITY = 0.9
"""Of floor and masses [-]."""
LEAST_EMISSIVITY = 1e-3
LEAF_EXTINCTION = 0.64
"""Of sun in a stand of leaves [-]: share taken up 1 - exp(-0.64 leaf area / floor area), C. Stanghellini
(1987) for a row crop under glass (from memory)."""
SUN_TAKEN_INSIDE = 0.5
"""Share of the sun taken up by glazing that warms its inside face [-]; the middle of the sheet is between
both."""


@dataclass(frozen=True, eq=False)
class House:
    """House of a case.

    Attributes
    ----------
    fixed : HouseFixed
        For the kernels.
    surfaces, masses : tuple of str
        Names, in the order of the arrays.
    temperature : float [K]
        Of the room at the start.
    mass_temperature : (M,) float [K]
        At the start.
    heat_capacity : float [J/K]
        Of the room's air and light things.
    gains : float [W]
        Other heat given to the room's air; no part of the kernels' balance.
    """

    fixed: HouseFixed
    surfaces: tuple[str, ...]
    masses: tuple[str, ...]
    temperature: float
    mass_temperature: NDArray[np.float64]
    heat_capacity: float
    gains: float


@dataclass(frozen=True, eq=False)
class HouseDrives:
    """What drives a house over n steps.

    Attributes
    ----------
    inputs : (n, HEAD + 2 S) float
        Rows for `open_house`; the place `COVER` is 0 and for the timetable to fill.
    """

    inputs: NDArray[np.float64]

    @property
    def sky(self) -> NDArray[np.float64]:
        """Temperature of the sky [K] (n,)."""
        return self.inputs[:, SKY]


@dataclass(frozen=True, eq=False)
class HouseClimate:
    """Sun, sky and air outside over a whole case, ready for steps of any length.

    Attributes
    ----------
    means : CellMeans
        Columns are those of the kernels' inputs from `OUTSIDE` to `WIND`, then of the surfaces' sun.
    """

    means: CellMeans

    def drives(self, begin: NDArray[np.int64], end: NDArray[np.int64]) -> HouseDrives:
        """Return the inputs over steps from (n,) `begin` to `end` [ticks]."""
        first, last = np.atleast_1d(begin), np.atleast_1d(end)
        found = self.means.between(first, last)
        inputs = np.zeros((first.size, found.shape[1] + HEAD - SURROUNDINGS))
        inputs[:, LENGTH] = (last - first) / TICKS_PER_SECOND
        inputs[:, OUTSIDE : OUTSIDE + SURROUNDINGS] = found[:, :SURROUNDINGS]
        inputs[:, HEAD:] = found[:, SURROUNDINGS:]
        return HouseDrives(inputs)


def house_climate(case: Case, weather: Weather) -> HouseClimate:
    """Sum up sun and sky for a case with a house.

    Raises
    ------
    CaseError
        When there is sun, but nothing says where the house stands.
    """
    room = _room(case)
    edges = cells(case)
    around = surroundings(case, weather, edges)
    sun = sun_on_surfaces(case, weather, edges, room.surfaces, room.ground_reflectance)
    columns = np.column_stack([around.temperature, around.ratio, around.sky, around.wind, sun])
    return HouseClimate(CellMeans.over(edges, columns))


def house_drives(
    case: Case, weather: Weather, begin: NDArray[np.int64], end: NDArray[np.int64]
) -> HouseDrives:
    """Return the inputs of a house over steps from (n,) `begin` to `end` [ticks].

    All the sun of the case is summed up at each call: for many calls keep a `house_climate`.
    """
    return house_climate(case, weather).drives(begin, end)


def start(house: House) -> NDArray[np.float64]:
    """Return the temperatures [K] of the masses (M,) at the start."""
    return house.mass_temperature.copy()


def house_of(case: Case) -> House:
    """Collect what a case says about the house.

    Without ``[moisture]`` nothing evaporates or condenses.

    Raises
    ------
    ValueError
        When the case has another kind of room.
    """
    room = _room(case)
    surfaces, masses = room.surfaces, room.masses
    area = np.array([surface.area for surface in surfaces])
    emissivity = np.array([surface.emissivity for surface in surfaces])
    cosine = np.array([math.cos(math.radians(surface.tilt)) for surface in surfaces])
    mass_area = np.array([mass.area for mass in masses])
    floor_area = case.floor.width * case.floor.length
    inside = np.full(1 + len(masses), INSIDE_EMISSIVITY)
    radiant = radiant_areas(
        np.concatenate([area, [floor_area], mass_area]),
        np.maximum(np.concatenate([emissivity, inside]), LEAST_EMISSIVITY),
    )
    count = len(surfaces)
    has_floor = case.floor.film > 0.0
    plants, soil = room.plants, room.wet_soil
    glazed = np.array([surface.kind == "glazing" for surface in surfaces])
    fixed = HouseFixed(
        area=area,
        resistance=np.array([surface.resistance for surface in surfaces]),
        cover_resistance=np.array([surface.night_cover for surface in surfaces]),
        emissivity=emissivity,
        cosine=cosine,
        sky_share=sky_share(cosine),
        sun_inside=np.where(glazed, SUN_TAKEN_INSIDE, 0.0),
        radiant=radiant[:count],
        mass_capacity=np.array([mass.heat_capacity for mass in masses]),
        mass_conductance=np.array([mass.film * mass.area for mass in masses]),
        mass_sun=np.array([mass.sun_share for mass in masses]),
        mass_radiant=radiant[count + 1 :],
        floor_area=floor_area,
        floor_film=case.floor.film,
        floor_radiant=float(radiant[count]) if has_floor else 0.0,
        sun_to_floor=room.sun_to_floor if has_floor else 0.0,
        sun_kept=_sun_kept(room, floor_area),
        volume=room.volume,
        air_changes=room.air_changes,
        wind_changes=room.wind_factor / 3600.0,
        pressure=float(air.pressure_at(case.site.elevation)),
        wet=case.moisture is not None,
        leaf_area=plants.leaf_area if plants is not None else 0.0,
        leaf_day=plants.resistance if plants is not None else 1.0,
        leaf_night=plants.night_resistance if plants is not None else 1.0,
        leaf_sun=_leaf_sun(room, floor_area),
        soil_area=soil.area * soil.wetness if soil is not None else 0.0,
    )
    return House(
        fixed=fixed,
        surfaces=tuple(surface.name for surface in surfaces),
        masses=tuple(mass.name for mass in masses),
        temperature=room.temperature,
        mass_temperature=np.array(
            [room.temperature if mass.temperature is None else mass.temperature for mass in masses]
        ),
        heat_capacity=room.heat_capacity,
        gains=room.gains,
    )


def _room(case: Case) -> HouseRoom:
    room = case.room
    if room.kind != "house":
        message = f'the room of this case is of kind "{room.kind}", not "house"'
        raise ValueError(message)
    return room


def _sun_kept(room: HouseRoom, floor_area: float) -> float:
    """Share of the sun let in that does not pass out again. Things inside stand in the light of both ways."""
    panes = [surface for surface in room.surfaces if surface.kind == "glazing"]
    glazed = sum(pane.area for pane in panes)
    if glazed == 0.0:
        return 1.0
    out = sum(pane.area * pane.transmittance * diffuse_factor(pane.absorptance) for pane in panes)
    walls = sum(surface.area for surface in room.surfaces if surface.kind == "wall")
    return share_kept(room.inside_reflectance, floor_area + walls, glazed, out / glazed)


def _leaf_sun(room: HouseRoom, floor_area: float) -> float:
    """Share of the sun let in that leaves take up, of what neither floor nor masses take."""
    if room.plants is None:
        return 0.0
    rest = 1.0 - room.sun_to_floor - sum(mass.sun_share for mass in room.masses)
    return min(1.0 - math.exp(-LEAF_EXTINCTION * room.plants.leaf_area / floor_area), max(rest, 0.0))
