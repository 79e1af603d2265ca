"""The ``[fan]``, ``[heat]`` and ``[room]`` tables: what moves, warms and receives the air."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic_core import PydanticCustomError

from simulator.case.fields import Checked, Number, Quantity, Table, Words, refuse
from simulator.case.schema_house import HouseRoom
from simulator.case.schema_site import AirTemperature, TemperatureColumn, TimeColumn
from simulator.case.schema_stove import StoveHeat

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


Pressure = Annotated[float, Quantity(0.0, 20000.0, dimension="pressure")]
CurveFlow = Annotated[float, Quantity(0.0, 50.0, dimension="volume flow")]


class CurveTable(Table):
    """Pressure of a fan over its flow, at full speed: points, or a polynomial."""

    flows: Annotated[list[CurveFlow], Field(min_length=2, max_length=200)] | None = Field(
        None, description="flows of the points, rising"
    )
    pressures: Annotated[list[Pressure], Field(min_length=2, max_length=200)] | None = Field(
        None, description="pressure rise at each flow"
    )
    coefficients: Annotated[list[float], Field(min_length=2, max_length=8)] | None = Field(
        None, description="polynomial instead of points: Pa over powers of m3/s, from the power 0 up"
    )
    highest_flow: Annotated[float, Quantity(0.0, 50.0, above=True, dimension="volume flow")] | None = Field(
        None, description="where the polynomial ends"
    )

    @model_validator(mode="after")
    def _points_or_polynomial(self) -> CurveTable:
        if self.coefficients is not None:
            for key in ("flows", "pressures"):
                if getattr(self, key) is not None:
                    raise refuse("is given beside coefficients", key=key, fix="give points or a polynomial")
            if self.highest_flow is None:
                raise refuse("needs highest_flow, where the polynomial ends", key="coefficients")
            self._falling_polynomial(self.coefficients, self.highest_flow)
            return self
        if self.highest_flow is not None:
            raise refuse("belongs to coefficients", key="highest_flow")
        if self.flows is None or self.pressures is None:
            raise refuse("needs flows and pressures, or coefficients and highest_flow")
        if len(self.flows) != len(self.pressures):
            raise refuse(f"has {len(self.pressures)} entries beside {len(self.flows)} flows", key="pressures")
        if any(after <= before for before, after in zip(self.flows, self.flows[1:], strict=False)):
            raise refuse("must rise from entry to entry", key="flows")
        if self.pressures[0] <= 0.0:
            raise refuse("must begin above 0: a fan gives pressure at little flow", key="pressures")
        if self.pressures[-1] >= self.pressures[-2]:
            raise refuse(
                "does not fall at the end: a fan whose pressure rises for ever meets no resistance",
                key="pressures",
                fix="add points up to the free delivery, where the pressure is 0",
            )
        return self

    def _falling_polynomial(self, coefficients: list[float], highest: float) -> None:
        if not all(math.isfinite(value) for value in coefficients):
            raise refuse("must be finite numbers", key="coefficients")
        if coefficients[0] <= 0.0:
            raise refuse("must begin above 0: a fan gives pressure at no flow", key="coefficients")
        slope = sum(n * value * highest ** (n - 1) for n, value in enumerate(coefficients) if n)
        if not slope < 0.0:
            raise refuse(
                "rises at highest_flow: a fan whose pressure rises for ever meets no resistance",
                key="coefficients",
            )


class Loss(Table):
    """A resistance that all the air passes: grille, filter, coil, header, fitting."""

    name: Annotated[str, Words(60, empty=True)] = Field("", description="name to show")
    coefficient: Annotated[float, Number(0.0, 1e6)] = Field(
        description="loss coefficient: pressure loss over the dynamic pressure in the diameter beside it"
    )
    diameter: Annotated[float, Quantity(0.0, 10.0, above=True)] = Field(
        description="of the free opening that the coefficient counts on"
    )


class Fan(Table):
    """The fan: total flow through all ducts at full speed, or pressure over flow from which that follows."""

    flow: Annotated[float, Quantity(0.0, 50.0, above=True, dimension="volume flow")] | None = Field(
        None, description="volume flow of all ducts together, of the air entering them"
    )
    mass_flow: Annotated[float, Quantity(0.0, 60.0, above=True, dimension="mass flow")] | None = Field(
        None, description="mass flow of all ducts together, instead of flow"
    )
    curve: CurveTable | None = Field(
        None, description="pressure over flow at full speed; the flow then follows from the ducts' resistance"
    )
    free_delivery: Annotated[float, Quantity(0.0, 50.0, above=True, dimension="volume flow")] | None = Field(
        None, description="flow against no resistance, with shut_off a curve of two numbers"
    )
    shut_off: Annotated[float, Quantity(0.0, 20000.0, above=True, dimension="pressure")] | None = Field(
        None, description="pressure at no flow"
    )
    shape: Literal["parabola", "line"] = Field(
        "parabola", description="shape of the curve between shut_off and free_delivery"
    )
    curve_density: Annotated[float, Quantity(0.1, 10.0, dimension="density")] = Field(
        1.2, description="density of the air that the curve was taken with"
    )
    losses: Annotated[list[Loss], Field(max_length=50)] = Field(
        default_factory=list, description="resistances in series with all branches"
    )
    efficiency: Annotated[float, Number(0.0, 1.0, above=True)] | None = Field(
        None,
        description="air power over electric power, instead of power; 0.35 for a curve without either",
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
        ways = [
            key for key in ("flow", "mass_flow", "curve", "free_delivery") if getattr(self, key) is not None
        ]
        if not ways and self.shut_off is not None:
            raise refuse("needs free_delivery beside it", key="shut_off")
        if not ways:
            raise refuse("needs flow, or mass_flow, or a curve", fix='for example flow = "300 cfm"')
        if len(ways) > 1:
            raise refuse(f"is given beside {ways[0]}", key=ways[1], fix="give one or the other")
        if (self.free_delivery is None) != (self.shut_off is None):
            key = "free_delivery" if self.shut_off is None else "shut_off"
            raise refuse(
                f"needs {'shut_off' if key == 'free_delivery' else 'free_delivery'} beside it", key=key
            )
        if self.off_flow > 0.0 and isinstance(self.off_flow, MassFlow) != (self.mass_flow is not None):
            kind = "a mass flow" if self.mass_flow is not None else "a volume flow"
            raise refuse(f"must be {kind}, like the full flow", key="off_flow")
        full = self.full_flow
        if full is not None and self.off_flow > full:
            raise refuse("is more than the full flow", key="off_flow")
        if self.efficiency is not None and self.power > 0.0:
            raise refuse("is given beside power", key="efficiency", fix="give one or the other")
        return self

    @property
    def has_curve(self) -> bool:
        """Whether the flow follows from a curve of pressure over flow."""
        return self.curve is not None or self.free_delivery is not None

    @property
    def full_flow(self) -> float | None:
        """Largest flow there can be at full speed [m3/s or kg/s]; None where only the curve knows."""
        if self.flow is not None or self.mass_flow is not None:
            return self.flow if self.flow is not None else self.mass_flow
        return self.free_delivery


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


Heat = Annotated[PowerHeat | SupplyHeat | SeriesHeat | NoHeat | StoveHeat, Field(discriminator="kind")]


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


Room = Annotated[AirRoom | FixedRoom | HouseRoom, Field(discriminator="kind")]
