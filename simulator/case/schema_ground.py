"""The ``[ground]`` table: size of the modelled ground, its layers, its boundaries and its start."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.fields import Flag, Number, Quantity, Table, Whole, Words, refuse
from simulator.case.materials import MATERIALS, SAME_AS, find
from simulator.case.nearest import nearest

GroundTemperature = Annotated[float, Quantity(173.15, 423.15, dimension="temperature")]
Film = Annotated[float, Quantity(0.0, 1e9, dimension="film coefficient")]
Depth = Annotated[float, Quantity(0.0, 200.0, dimension="length")]
Thickness = Annotated[float, Quantity(0.0, 200.0, above=True, dimension="length")]


class Material(Table):
    """A material: by name, by numbers, or by name with some numbers of your own.

    After validation `conductivity` [W/(m.K)] and `heat_capacity` [J/(m3.K)] are always numbers.
    """

    material: Annotated[str, Words()] | None = Field(None, description="name in the table of materials")
    conductivity: Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="conductivity")] = Field(
        math.nan, description="thermal conductivity"
    )
    density: Annotated[float, Quantity(0.0, 25000.0, above=True, dimension="density")] | None = Field(
        None, description="density"
    )
    specific_heat: Annotated[float, Quantity(0.0, 20000.0, above=True, dimension="specific heat")] | None = (
        Field(None, description="heat capacity per mass")
    )
    heat_capacity: Annotated[float, Quantity(0.0, 1e8, above=True, dimension="volumetric heat capacity")] = (
        Field(math.nan, description="heat capacity per volume, instead of density and specific_heat")
    )

    @property
    def label(self) -> str:
        """Name to show: the material's own, or its conductivity."""
        return self.material or f"{self.conductivity:.3g} W/(m.K)"

    @model_validator(mode="after")
    def _complete(self) -> Material:
        known = None
        if self.material is not None:
            known = find(self.material)
            if known is None:
                raise refuse(
                    "is no known material",
                    key="material",
                    fix=nearest(self.material, [*MATERIALS, *SAME_AS])
                    or "give conductivity, density and specific_heat instead",
                )
        own = not math.isnan(self.heat_capacity)
        if own and (self.density is not None or self.specific_heat is not None):
            raise refuse(
                "is given beside density or specific_heat", key="heat_capacity", fix="give one or the other"
            )
        if known is None:
            if math.isnan(self.conductivity):
                raise refuse("needs a material, or a conductivity", fix='for example material = "concrete"')
            if not own and (self.density is None or self.specific_heat is None):
                raise refuse(
                    "needs density and specific_heat, or heat_capacity", fix="or name a material beside them"
                )
        if known is not None and math.isnan(self.conductivity):
            object.__setattr__(self, "conductivity", known.conductivity)
        if not own:
            density = self.density if self.density is not None or known is None else known.density
            heat = (
                self.specific_heat if self.specific_heat is not None or known is None else known.specific_heat
            )
            if density is not None and heat is not None:
                object.__setattr__(self, "heat_capacity", density * heat)
        return self


class GroundLayer(Material):
    """A layer of ground; only the last may leave out its thickness."""

    thickness: Thickness | None = Field(None, description="thickness; the last layer may leave it out")
    water: Annotated[float, Number(0.0, 0.9)] = Field(
        0.0, description="water that can freeze, as a share of the volume; counts with ground.freezing"
    )


class Patch(Material):
    """A rectangle of another material, as seen across the ducts."""

    across_from: Annotated[float, Quantity(-500.0, 500.0)] = Field(
        description="one side, from the middle line"
    )
    across_to: Annotated[float, Quantity(-500.0, 500.0)] = Field(
        description="other side, from the middle line"
    )
    depth_from: Depth = Field(description="top, below the finished floor")
    depth_to: Depth = Field(description="bottom, below the finished floor")
    water: Annotated[float, Number(0.0, 0.9)] = Field(
        0.0, description="water that can freeze, as a share of the volume; counts with ground.freezing"
    )

    @model_validator(mode="after")
    def _ordered(self) -> Patch:
        if self.across_to <= self.across_from:
            raise refuse("must lie beyond across_from", key="across_to")
        if self.depth_to <= self.depth_from:
            raise refuse("must lie below depth_from", key="depth_to")
        return self


class Adiabatic(Table):
    """A boundary without heat flow."""

    kind: Literal["adiabatic"] = "adiabatic"


class FixedTemperature(Table):
    """A boundary held at one temperature."""

    kind: Literal["temperature"] = "temperature"
    temperature: GroundTemperature = Field(description="temperature of the boundary")


class HeatFlow(Table):
    """A boundary with a fixed heat flow."""

    kind: Literal["heat flow"] = "heat flow"
    flux: Annotated[float, Quantity(-1000.0, 1000.0, dimension="heat flux")] = Field(
        description="heat flow per area, positive upward into the ground"
    )


class UniformStart(Table):
    """Ground at one temperature."""

    kind: Literal["uniform"] = "uniform"
    temperature: GroundTemperature = Field(description="temperature of all ground and floor")


class ProfileStart(Table):
    """Ground temperature by depth below the finished floor: straight lines between points, flat beyond."""

    kind: Literal["profile"] = "profile"
    depths: Annotated[list[Depth], Field(min_length=2, max_length=1000)] = Field(description="depths, rising")
    temperatures: Annotated[list[GroundTemperature], Field(min_length=2, max_length=1000)] = Field(
        description="temperature at each depth"
    )

    @model_validator(mode="after")
    def _matching(self) -> ProfileStart:
        if len(self.depths) != len(self.temperatures):
            raise refuse(
                f"has {len(self.temperatures)} entries beside {len(self.depths)} depths", key="temperatures"
            )
        if any(after <= before for before, after in zip(self.depths, self.depths[1:], strict=False)):
            raise refuse("must rise from entry to entry", key="depths")
        return self


class AnnualWaveStart(Table):
    """Undisturbed ground in a yearly wave (Kusuda and Achenbach), at the date of the start."""

    kind: Literal["annual wave"] = "annual wave"
    mean: GroundTemperature = Field(description="yearly mean of the ground surface")
    amplitude: Annotated[float, Quantity(0.0, 60.0, dimension="temperature difference")] = Field(
        description="half the yearly swing of the ground surface"
    )
    coldest_day: Annotated[int, Whole(1, 366)] = Field(
        20, description="day of the year of the coldest surface"
    )
    diffusivity: Annotated[float, Quantity(0.0, 1e-3, above=True, dimension="diffusivity")] | None = Field(
        None, description="diffusivity; left out: that of the lowest layer"
    )


class SettledStart(Table):
    """Ground under a building long in use: the yearly wave that outside, room and ducts make."""

    kind: Literal["settled"] = "settled"
    outside_mean: GroundTemperature = Field(description="yearly mean of the outside air")
    outside_amplitude: Annotated[float, Quantity(0.0, 60.0, dimension="temperature difference")] = Field(
        description="half the yearly swing of the outside air"
    )
    room_mean: GroundTemperature = Field(description="yearly mean of the room air")
    room_amplitude: Annotated[float, Quantity(0.0, 60.0, dimension="temperature difference")] = Field(
        0.0, description="half the yearly swing of the room air"
    )
    duct_heat: Annotated[float, Quantity(-1000.0, 1000.0, dimension="heat flow per length")] = Field(
        0.0, description="yearly mean of the heat that each duct gives the ground, per length"
    )
    duct_heat_amplitude: Annotated[float, Quantity(0.0, 1000.0, dimension="heat flow per length")] = Field(
        0.0, description="half the yearly swing of that heat, greatest on the coldest day"
    )
    coldest_day: Annotated[int, Whole(1, 366)] = Field(20, description="day of the year of the coldest air")


Bottom = Annotated[FixedTemperature | HeatFlow | Adiabatic, Field(discriminator="kind")]
Sides = Annotated[FixedTemperature | Adiabatic, Field(discriminator="kind")]
Start = Annotated[
    UniformStart | ProfileStart | AnnualWaveStart | SettledStart, Field(discriminator="kind")
]


class Ground(Table):
    """The ground under and beside the floor.

    Layers follow each other downward from the underside of the floor's own layers. Beside the building the
    same levels hold, and the first layer reaches up to the outside surface.
    """

    depth: Thickness = Field(description="bottom of the model, below the finished floor")
    outside_width: Depth = Field(0.0, description="ground modelled beside the building; 0 ends at its edge")
    surface_level: Annotated[float, Quantity(0.0, 50.0)] = Field(
        0.0, description="outside ground surface, this far below the finished floor"
    )
    outside_film: Film = Field(25.0, description="film between outside ground surface and outside air")
    bottom: Bottom = Field(description="lower boundary of the model")
    sides: Sides = Field(default_factory=Adiabatic, description="outer boundaries of the model")
    layers: Annotated[list[GroundLayer], Field(min_length=1, max_length=100)] = Field(
        description="ground layers from the top down"
    )
    patches: Annotated[list[Patch], Field(max_length=200)] = Field(
        default_factory=list, description="rectangles of other material; later ones win"
    )
    start: Start = Field(description="temperatures at the start")
    run_in: Annotated[float, Quantity(0.0, 631152000.0, dimension="time")] = Field(
        0.0, description="time simulated before the start, to settle the ground"
    )
    run_in_drive: Literal["timetable", "off"] = Field("off", description="what fan and heat do in the run-in")
    freezing: Annotated[bool, Flag()] = Field(
        False, description="follow the freezing of the ground's water, on the full mesh"
    )

    @property
    def _waters(self) -> list[float]:
        return [layer.water for layer in self.layers] + [patch.water for patch in self.patches]

    @model_validator(mode="after")
    def _something_freezes(self) -> Ground:
        if self.freezing and not any(water > 0.0 for water in self._waters):
            raise refuse(
                "needs water in a layer or patch",
                key="freezing",
                fix="give a layer water, for example water = 0.2, or leave freezing out",
            )
        return self
