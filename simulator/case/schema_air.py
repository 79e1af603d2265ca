"""The ``[fan]``, ``[heat]`` and ``[room]`` tables: what moves, warms and receives the air."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from simulator.case.fields import Checked, Number, Quantity, Table, Words, refuse
from simulator.case.schema_site import AirTemperature, TemperatureColumn, TimeColumn

SupplyTemperature = Annotated[float, Quantity(173.15, 773.15, dimension="temperature")]
HeatPower = Annotated[float, Quantity(0.0, 1e7, dimension="power")]

_VOLUME_FLOW = Quantity(0.0, 50.0, dimension="volume flow")
_MASS_FLOW = Quantity(0.0, 60.0, dimension="mass flow")


class MassFlow(float):
    """A flow that was given by mass [kg/s]."""


@dataclass(frozen=True)
class EitherFlow(Checked):
    """A flow by volume [m3/s] or by mass [kg/s]; the latter comes back as `MassFlow`."""

    def check(self, value: object) -> float:
        """Return the flow."""
        try:
            return _VOLUME_FLOW.check(value)
        except PydanticCustomError as first:
            try:
                return MassFlow(_MASS_FLOW.check(value))
            except PydanticCustomError:
                raise first from None


class Fan(Table):
    """The fan: total flow through all ducts at full speed, by volume or by mass."""

    flow: Annotated[float, Quantity(0.0, 50.0, above=True, dimension="volume flow")] | None = Field(
        None, description="volume flow of all ducts together, of the air entering them"
    )
    mass_flow: Annotated[float, Quantity(0.0, 60.0, above=True, dimension="mass flow")] | None = Field(
        None, description="mass flow of all ducts together, instead of flow"
    )
    off_flow: Annotated[float, EitherFlow()] = Field(
        0.0, description="flow left while the fan is off, of the same kind as the full flow"
    )
    power: HeatPower = Field(0.0, description="electric power at full speed; it ends as heat in the air")
    air_density: Annotated[float, Quantity(0.0, 10.0, above=True, dimension="density")] | None = Field(
        None, description="pins the air's density"
    )
    air_heat_capacity: (
        Annotated[float, Quantity(0.0, 10000.0, above=True, dimension="specific heat")] | None
    ) = Field(None, description="pins the air's heat capacity per mass")
    intake: Literal["room", "outside"] = Field("room", description="where the air comes from")
    exit: Literal["room", "outside"] = Field("room", description="where the air goes")

    @model_validator(mode="after")
    def _one_flow(self) -> Fan:
        if self.flow is None and self.mass_flow is None:
            raise refuse("needs flow, or mass_flow", fix='for example flow = "300 cfm"')
        if self.flow is not None and self.mass_flow is not None:
            raise refuse("is given beside flow", key="mass_flow", fix="give one or the other")
        if self.off_flow > 0.0 and isinstance(self.off_flow, MassFlow) != (self.mass_flow is not None):
            kind = "a mass flow" if self.mass_flow is not None else "a volume flow"
            raise refuse(f"must be {kind}, like the full flow", key="off_flow")
        full = self.flow if self.flow is not None else self.mass_flow
        if full is not None and self.off_flow > full:
            raise refuse("is more than the full flow", key="off_flow")
        return self


class PowerHeat(Table):
    """A heater of one power."""

    kind: Literal["power"] = "power"
    power: HeatPower = Field(description="heat given to the air before the ducts")


class SupplyHeat(Table):
    """A heater that brings the air to one temperature, whatever power that takes."""

    kind: Literal["supply temperature"] = "supply temperature"
    temperature: SupplyTemperature = Field(description="temperature of the air entering the ducts")


class SeriesColumns(Table):
    """Which column holds what."""

    time: TimeColumn = Field(description="column of time")
    temperature: TemperatureColumn = Field(description="column of the temperature entering the ducts")


class SeriesHeat(Table):
    """A temperature entering the ducts that follows a table of values, interpolated between its rows."""

    kind: Literal["supply series"] = "supply series"
    file: Annotated[str, Words(1000)] = Field(description="file, relative to the case file")
    columns: SeriesColumns = Field(description="which column holds what")


class NoHeat(Table):
    """No heater: the fan moves the air as it is."""

    kind: Literal["none"] = "none"


Heat = Annotated[PowerHeat | SupplyHeat | SeriesHeat | NoHeat, Field(discriminator="kind")]


class AirRoom(Table):
    """A room whose air temperature follows from what it gains and loses."""

    kind: Literal["air node"] = "air node"
    temperature: AirTemperature = Field(description="air temperature at the start")
    heat_loss: Annotated[float, Quantity(0.0, 1e6, dimension="heat loss")] = Field(
        description="through walls, roof and windows, per degree; without air changes and floor"
    )
    heat_capacity: Annotated[float, Quantity(0.0, 1e12, above=True, dimension="heat capacity")] = Field(
        description="of the air and all that follows its temperature"
    )
    volume: Annotated[float, Quantity(0.0, 1e7, dimension="volume")] = Field(0.0, description="air volume")
    air_changes: Annotated[float, Quantity(0.0, 200.0 / 3600.0, dimension="rate")] = Field(
        0.0, description="outside air leaking in, as a share of the volume per time"
    )
    gains: HeatPower = Field(0.0, description="other heat given to the room air")
    sun_area: Annotated[float, Quantity(0.0, 1e6, dimension="area")] = Field(
        0.0, description="glazed area times the share of the sun it lets through"
    )
    sun_to_floor: Annotated[float, Number(0.0, 1.0)] = Field(
        0.5, description="share of that sun which the floor takes; the air takes the rest"
    )

    @model_validator(mode="after")
    def _volume(self) -> AirRoom:
        if self.air_changes > 0.0 and self.volume <= 0.0:
            raise refuse("needs the room's volume", key="air_changes", fix="give volume beside it")
        return self


class FixedRoom(Table):
    """A room held at one temperature."""

    kind: Literal["fixed"] = "fixed"
    temperature: AirTemperature = Field(description="air temperature throughout")


Room = Annotated[AirRoom | FixedRoom, Field(discriminator="kind")]
