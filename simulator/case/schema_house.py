"""The house of ``[room]`` with ``kind = "house"``: surfaces under the sky, masses, plants and wet soil."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.fields import Angle, Number, Quantity, Table, Words, refuse
from simulator.case.schema_site import AirTemperature

Share = Annotated[float, Number(0.0, 1.0)]
SurfaceArea = Annotated[float, Quantity(0.0, 1e5, above=True, dimension="area")]
Resistance = Annotated[float, Quantity(0.0, 100.0, dimension="thermal resistance")]
LeafResistance = Annotated[float, Quantity(1.0, 1e5, dimension="vapour resistance")]
#: absorptance of sun unless given: clear sheet, and a painted wall (common practice, no source)
ABSORPTANCE = {"glazing": 0.06, "wall": 0.6}


class Surface(Table):
    """One flat piece of the house's outside; glazing lets sun in, a wall does not.

    After validation `transmittance`, `absorptance` and `azimuth` [degrees clockwise from north] are numbers.
    """

    name: Annotated[str, Words(60)] = Field(description="name to show")
    kind: Literal["glazing", "wall"] = Field(description="whether sun passes through it")
    area: SurfaceArea = Field(description="area")
    tilt: Annotated[float, Angle(0.0, 90.0)] = Field(description="0 deg lies flat, 90 deg stands upright")
    azimuth: Annotated[float, Angle(0.0, 360.0, compass=True)] = Field(
        math.nan, description="where it looks, clockwise from north; a flat one looks nowhere"
    )
    transmittance: Annotated[float, Number(0.0, 1.0, above=True)] = Field(
        math.nan, description="glazing: share of the sun let through at right angles"
    )
    absorptance: Share = Field(math.nan, description="share of the sun taken up by the surface itself")
    emissivity: Share = Field(0.9, description="for long waves, on both faces")
    resistance: Resistance = Field(description="of the sheet or wall itself, without the films on its faces")
    night_cover: Resistance = Field(
        0.0, description="resistance added on the inside while the cover is on; 0: it has no cover"
    )

    @model_validator(mode="after")
    def _complete(self) -> Surface:
        if self.kind == "glazing" and math.isnan(self.transmittance):
            raise refuse(
                "is missing: glazing needs it", key="transmittance", fix="for example transmittance = 0.8"
            )
        if self.kind == "wall":
            if not math.isnan(self.transmittance):
                raise refuse('does not fit kind = "wall"', key="transmittance", fix="leave it out")
            object.__setattr__(self, "transmittance", 0.0)
        if math.isnan(self.absorptance):
            object.__setattr__(self, "absorptance", ABSORPTANCE[self.kind])
            if self.transmittance + self.absorptance > 1.0:
                object.__setattr__(self, "absorptance", 1.0 - self.transmittance)
        if self.transmittance + self.absorptance > 1.0 + 1e-9:
            raise refuse(
                f"makes, with transmittance {self.transmittance:g}, more than the whole of the sun",
                key="absorptance",
                allowed=f"0 to {1.0 - self.transmittance:g}",
            )
        if math.isnan(self.azimuth):
            if self.tilt > 0.0:
                raise refuse(
                    "is missing: a surface that does not lie flat looks somewhere",
                    key="azimuth",
                    fix='for example azimuth = "south", which is "180 deg"',
                )
            object.__setattr__(self, "azimuth", 180.0)
        return self


class Mass(Table):
    """A thing of one temperature in the room, such as barrels of water or a brick wall."""

    name: Annotated[str, Words(60)] = Field(description="name to show")
    heat_capacity: Annotated[float, Quantity(0.0, 1e12, above=True, dimension="heat capacity")] = Field(
        description="heat it holds per degree"
    )
    area: SurfaceArea = Field(description="surface towards the room")
    film: Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="film coefficient")] = Field(
        8.0, description="between its surface and the room, radiation included"
    )
    sun_share: Share = Field(0.0, description="share of the sun let in that it takes")
    temperature: AirTemperature | None = Field(None, description="at the start; left out: that of the room")


class Plants(Table):
    """A stand of plants: their leaves give off vapour, which takes its heat from the room."""

    leaf_area: SurfaceArea = Field(description="one face of all leaves together")
    resistance: LeafResistance = Field(
        200.0, description="of the leaves to vapour by day; well watered 100 to 300 s/m"
    )
    night_resistance: LeafResistance = Field(2000.0, description="of the leaves to vapour in the dark")


class WetSoil(Table):
    """Open soil or water that gives off vapour."""

    area: SurfaceArea = Field(description="area")
    wetness: Share = Field(1.0, description="evaporation as a share of that of a wet surface")


class HouseRoom(Table):
    """A house under sun and sky, told surface by surface."""

    kind: Literal["house"] = "house"
    temperature: AirTemperature = Field(description="air temperature at the start")
    volume: Annotated[float, Quantity(0.0, 1e7, above=True, dimension="volume")] = Field(
        description="air volume"
    )
    heat_capacity: Annotated[float, Quantity(0.0, 1e12, above=True, dimension="heat capacity")] = Field(
        description="of the air and the light things that follow its temperature"
    )
    air_changes: Annotated[float, Quantity(0.0, 200.0 / 3600.0, dimension="rate")] = Field(
        0.0, description="outside air leaking in without wind, as a share of the volume per time"
    )
    wind_factor: Annotated[float, Number(0.0, 10.0)] = Field(
        0.0, description="further air changes per hour for each m/s of wind"
    )
    gains: Annotated[float, Quantity(0.0, 1e7, dimension="power")] = Field(
        0.0, description="other heat given to the room air"
    )
    sun_to_floor: Share = Field(
        0.5, description="share of the sun let in that the floor takes; masses take theirs, the air the rest"
    )
    inside_reflectance: Annotated[float, Number(0.0, 0.95)] = Field(
        0.0,
        description="share of the sun let in that floor and walls throw back, some of it out through the "
        "glazing; leaves and wet soil 0.2, concrete 0.35; 0: all is kept",
    )
    ground_reflectance: Share = Field(0.2, description="of the ground outside; fresh snow 0.8")
    surfaces: Annotated[list[Surface], Field(min_length=1, max_length=60)] = Field(
        description="the outside of the house, without the floor"
    )
    masses: Annotated[list[Mass], Field(max_length=40)] = Field(
        default_factory=list, description="heavy things in the room"
    )
    plants: Plants | None = Field(None, description="left out: there are none")
    wet_soil: WetSoil | None = Field(None, description="left out: there is none")

    @model_validator(mode="after")
    def _shares(self) -> HouseRoom:
        taken = self.sun_to_floor
        for number, mass in enumerate(self.masses, start=1):
            taken += mass.sun_share
            if taken > 1.0 + 1e-9:
                raise refuse(
                    "takes, with the floor and the masses before it, more than the whole of the sun",
                    key=f"masses[{number}].sun_share",
                    allowed=f"0 to {max(0.0, 1.0 - taken + mass.sun_share):g}",
                    fix="sun_to_floor and every sun_share together are at most 1",
                )
        return self

    @property
    def has_cover(self) -> bool:
        """Whether any surface has a night cover."""
        return any(surface.night_cover > 0.0 for surface in self.surfaces)
