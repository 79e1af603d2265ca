"""The ``[stove]``, ``[hood]`` and ``[[coils]]`` tables: the fire, the hood over it, and coils in its air."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.fields import Number, Quantity, Table, Words, refuse

Area = Annotated[float, Quantity(0.0, 1e4, above=True, dimension="area")]
Share = Annotated[float, Number(0.0, 1.0)]
BodyMass = Annotated[float, Quantity(0.0, 1e5, above=True, dimension="mass")]
SpecificHeat = Annotated[float, Quantity(0.0, 10000.0, above=True, dimension="specific heat")]
MaterialLimit = Annotated[float, Quantity(273.15, 1473.15, dimension="temperature")]

#: fuel -> (lower heating value of the oven-dry fuel [J/kg], water over mass as fired, way of burning).
#: 18.8 MJ/kg is the mean of stem wood without water (ISO 17225-1 annex B, from memory: 18.5 to 19.8); 8 % is
#: a pellet of ISO 17225-2 class A1 (at most 10 %); 15 % a log dried for two summers and 30 % a chip dried in
#: the open: common practice, no source.
FUELS: dict[str, tuple[float, float, str]] = {
    "logs": (18.8e6, 0.15, "batches"),
    "pellets": (18.8e6, 0.08, "steady"),
    "chips": (18.8e6, 0.30, "steady"),
}


_OF_BATCHES = frozenset({"burn_time", "burn_shape"})
_OF_STEADY = frozenset({"rate", "start_up", "burn_out"})


class StoveHeat(Table):
    """Heat from the fire of ``[stove]``, taken up by the air under ``[hood]``."""

    kind: Literal["stove"] = "stove"


class Stove(Table):
    """A solid-fuel stove: its fire and its hot shell.

    After validation `heating_value` [J/kg], `moisture` and `burn` are always given.
    """

    fuel: Literal["logs", "pellets", "chips"] = Field(
        "logs", description="what burns; sets heating_value, moisture and burn unless they are given"
    )
    heating_value: Annotated[float, Quantity(5e6, 5e7, dimension="energy per mass")] = Field(
        math.nan, description="lower heating value of the fuel without any water in it"
    )
    moisture: Annotated[float, Number(0.0, 0.6)] = Field(
        math.nan, description="water in the fuel as a share of its whole mass"
    )
    burn: Literal["batches", "steady"] | None = Field(
        None, description="loads laid on by the timetable's load, or a steady feed switched by its feed"
    )
    rate: Annotated[float, Quantity(0.0, 0.1, above=True, dimension="mass flow")] | None = Field(
        None, description="steady: fuel burnt while the feed is on, as it comes with its water"
    )
    burn_time: Annotated[float, Quantity(60.0, 172800.0, dimension="time")] = Field(
        5400.0, description="batches: time until 95 % of a load is burnt"
    )
    burn_shape: Literal["even", "rising and falling", "quick start"] = Field(
        "rising and falling", description="batches: how the burning rate runs over a load"
    )
    air_ratio: Annotated[float, Number(1.0, 20.0)] = Field(
        2.0, description="combustion air over the air that burning needs; 1 is none to spare"
    )
    efficiency: Annotated[float, Number(0.05, 0.98)] | None = Field(
        None, description="share of the heating value that does not leave with the flue gas"
    )
    flue_temperature: Annotated[float, Quantity(313.15, 1273.15, dimension="temperature")] | None = Field(
        None, description="gas leaving the stove, instead of efficiency"
    )
    start_up: Annotated[float, Quantity(0.0, 86400.0, dimension="time")] = Field(
        600.0, description="steady: from no fire to the full one after the feed goes on"
    )
    burn_out: Annotated[float, Quantity(0.0, 86400.0, dimension="time")] = Field(
        1200.0, description="steady: from the full fire to none after the feed goes off"
    )
    mass: BodyMass = Field(description="of the stove's shell and all that warms with it")
    specific_heat: SpecificHeat = Field(
        500.0, description="of the shell; steel and cast iron about 500 J/(kg.K)"
    )
    surface: Area = Field(description="outside surface of the shell")
    emissivity: Annotated[float, Number(0.0, 1.0, above=True)] = Field(
        0.9, description="of the shell's outside; bright sheet 0.3, rusty or painted 0.9"
    )
    bare_share: Share = Field(
        0.15, description="share of the surface outside the hood: it heats the room, not the hood's air"
    )
    service_temperature: MaterialLimit = Field(
        723.15, description="highest temperature the shell may see for long"
    )

    @model_validator(mode="after")
    def _complete(self) -> Stove:
        heating_value, moisture, burn = FUELS[self.fuel]
        for key, value in (("heating_value", heating_value), ("moisture", moisture), ("burn", burn)):
            if key not in self.model_fields_set:
                object.__setattr__(self, key, value)
        if self.efficiency is None and self.flue_temperature is None:
            raise refuse(
                "needs efficiency, or flue_temperature",
                fix="for example efficiency = 0.75; the maker's papers or a flue thermometer tell it",
            )
        if self.efficiency is not None and self.flue_temperature is not None:
            raise refuse(
                "is given beside efficiency", key="flue_temperature", fix="the one follows from the other"
            )
        self._way_of_burning()
        return self

    def _way_of_burning(self) -> None:
        if self.burn == "steady" and self.rate is None:
            raise refuse(
                "is missing: a steady fire needs the fuel it burns per time",
                key="rate",
                fix='give rate = "1.5 kg/h", or burn = "batches" with loads in the timetable',
            )
        other = "steady" if self.burn == "batches" else "batches"
        for key in sorted(self.idle_keys):
            if key in self.model_fields_set:
                raise refuse(f'belongs to burn = "{other}"', key=key, fix=f'here burn = "{self.burn}"')

    @property
    def idle_keys(self) -> frozenset[str]:
        """Keys that mean nothing to this way of burning."""
        return _OF_STEADY if self.burn == "batches" else _OF_BATCHES

    @property
    def heat_capacity(self) -> float:
        """Heat capacity of the shell [J/K]."""
        return self.mass * self.specific_heat


class Hood(Table):
    """The hood that leads air round the hot shell, and the fan's place behind it."""

    wall_area: Area = Field(description="inside surface of the hood")
    cross_section: Annotated[float, Quantity(0.0, 100.0, above=True, dimension="area")] = Field(
        description="free area of the air's way round the shell"
    )
    hydraulic_diameter: Annotated[float, Quantity(0.0, 10.0, above=True)] = Field(
        description="of that way; about twice the gap between shell and hood"
    )
    emissivity: Annotated[float, Number(0.0, 1.0, above=True)] = Field(
        0.6, description="of the hood's inside; bright aluminium 0.1, galvanised sheet 0.3, weathered 0.6"
    )
    heat_loss: Annotated[float, Quantity(0.0, 100.0, dimension="film coefficient")] = Field(
        2.0, description="from the hood's wall to the room, per area and degree"
    )
    wall_mass: BodyMass = Field(description="of the hood's wall")
    wall_specific_heat: SpecificHeat = Field(500.0, description="of the hood's wall")
    bypass: Annotated[float, Number(0.0, 0.95)] = Field(
        0.0, description="share of the air that passes without touching the shell"
    )
    film: Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="film coefficient")] | None = Field(
        None, description="pins the film between air and shell, and air and hood"
    )
    fan_place: Literal["after coils", "before coils"] = Field(
        "after coils", description="where the fan stands in the stream"
    )
    fan_service_temperature: MaterialLimit = Field(
        333.15, description="hottest air that the fan bears for long"
    )


class Coil(Table):
    """A water coil in the stream between hood and ducts."""

    name: Annotated[str, Words(60, empty=True)] = Field("", description="name to show")
    conductance: Annotated[float, Quantity(0.0, 1e5, above=True, dimension="heat loss")] = Field(
        description="heat passed per degree between air and water, at the rated flows"
    )
    arrangement: Literal[
        "counter flow", "parallel flow", "cross flow", "cross flow, air mixed", "cross flow, water mixed"
    ] = Field("cross flow", description="how air and water pass each other")
    rated_air_flow: Annotated[float, Quantity(0.0, 60.0, above=True, dimension="mass flow")] | None = Field(
        None, description="air flow at which conductance holds; left out: at any"
    )
    rated_water_flow: Annotated[float, Quantity(0.0, 60.0, above=True, dimension="mass flow")] | None = Field(
        None, description="water flow at which conductance holds; left out: at any"
    )
    air_side_share: Share = Field(
        0.8, description="share of the resistance that lies on the air side, at the rated flows"
    )
    water_volume: Annotated[float, Quantity(0.0, 10.0, above=True, dimension="water volume")] = Field(
        description="water held in the coil"
    )
    metal_mass: Annotated[float, Quantity(0.0, 1e4, dimension="mass")] = Field(
        description="metal of the coil"
    )
    metal_specific_heat: SpecificHeat = Field(385.0, description="of the coil's metal; copper 385 J/(kg.K)")
    boiling_temperature: Annotated[float, Quantity(323.15, 453.15, dimension="temperature")] = Field(
        373.15, description="at which the coil's water boils under its pressure"
    )
