"""The ``[flue]`` table: combustion gas of a stove through a run under the floor, bare or in a jacket."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.fields import Number, Quantity, Table, TimeOfDay, refuse
from simulator.case.schema_floor import Across, Along, DuctDepth, LossCoefficient

GasTemperature = Annotated[float, Quantity(223.15, 1473.15, dimension="temperature")]
BurnRate = Annotated[float, Quantity(0.0, 0.1, dimension="mass flow")]
PipeDiameter = Annotated[float, Quantity(0.0, 5.0, above=True)]


class Jacket(Table):
    """An outer pipe round the flue with room air blown through the gap, in the direction of the gas."""

    diameter: PipeDiameter = Field(description="inside diameter of the outer pipe")
    flow: Annotated[float, Quantity(0.0, 50.0, dimension="volume flow")] = Field(
        description="air that the jacket's own blower moves while the stove burns"
    )
    power: Annotated[float, Quantity(0.0, 1e5, dimension="power")] = Field(
        0.0, description="electric power of that blower; it ends as heat in the air"
    )
    wall_thickness: Annotated[float, Quantity(0.0, 1.0)] = Field(0.0, description="of the outer pipe")
    wall_conductivity: Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="conductivity")] = Field(
        50.0, description="of the outer pipe"
    )


class Stack(Table):
    """The chimney behind the run."""

    height: Annotated[float, Quantity(0.0, 200.0)] = Field(
        description="rise from the run to the chimney's top"
    )
    diameter: PipeDiameter = Field(description="inside diameter")
    loss_coefficient: LossCoefficient = Field(0.0, description="of bends, cap and fittings in it")
    heat_loss: Annotated[float, Quantity(0.0, 100.0, dimension="film coefficient")] = Field(
        2.0, description="from gas to the outside air per inside area and degree"
    )
    roughness: Annotated[float, Quantity(0.0, 0.1)] = Field(
        0.001, description="height of the wall's roughness"
    )


class Burning(Table):
    """A moment of the burn; straight lines between moments."""

    after: Annotated[float, Quantity(0.0, 172800.0, dimension="time")] = Field(
        description="time since lighting"
    )
    rate: BurnRate = Field(description="fuel burnt")
    temperature: GasTemperature = Field(description="gas entering the run")


class Flue(Table):
    """The flue run: its place, its gas and the chimney behind it."""

    across: Across = Field(description="from the floor's middle line")
    depth: DuctDepth = Field(description="centreline, below the finished floor")
    along_from: Along = Field(0.0, description="where the gas enters the run, from the floor's start")
    along_to: Along | None = Field(None, description="where the gas leaves it; left out: the floor's end")
    diameter: PipeDiameter = Field(description="inside diameter of the gas pipe")
    wall_thickness: Annotated[float, Quantity(0.0, 1.0)] = Field(0.0, description="of the gas pipe")
    wall_conductivity: Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="conductivity")] = Field(
        15.0, description="of the gas pipe"
    )
    roughness: Annotated[float, Quantity(0.0, 0.1)] = Field(
        0.0005, description="height of the wall's roughness"
    )
    contact_resistance: Annotated[float, Quantity(0.0, 100.0, dimension="thermal resistance")] = Field(
        0.0,
        description="resistance between the outermost pipe and the ground, for example a sand bed's air gap",
    )
    loss_coefficient: LossCoefficient = Field(
        2.0, description="of stove outlet, bends and fittings of the run"
    )
    service_temperature: Annotated[float, Quantity(223.15, 1473.15, dimension="temperature")] = Field(
        873.15, description="highest temperature the gas pipe may see for long"
    )
    fuel: Literal["wood"] = Field("wood", description="what burns")
    fuel_moisture: Annotated[float, Number(0.0, 0.6)] = Field(
        0.15, description="water in the fuel as a share of its whole mass"
    )
    excess_air: Annotated[float, Number(1.0, 20.0)] = Field(
        2.0, description="air over the air that combustion needs; 1 is none to spare"
    )
    rate: BurnRate | None = Field(
        None, description="fuel burnt, all the time; with temperature, instead of burn"
    )
    temperature: GasTemperature | None = Field(None, description="gas entering the run, all the time")
    lit_at: Annotated[list[Annotated[int, TimeOfDay()]], Field(max_length=48)] = Field(
        default_factory=list, description="times of day at which the stove is lit"
    )
    burn: Annotated[list[Burning], Field(min_length=2, max_length=500)] | None = Field(
        None, description="one burn from lighting to the end of its tail"
    )
    stove_draught: Annotated[float, Quantity(0.0, 1000.0, dimension="pressure")] = Field(
        12.0, description="draught that the stove asks for at its flue outlet"
    )
    jacket: Jacket | None = Field(
        None, description="outer pipe with its own blower; left out: the gas pipe lies bare"
    )
    stack: Stack | None = Field(None, description="chimney; without it draught is not computed")

    @model_validator(mode="after")
    def _burns(self) -> Flue:
        steady = self.rate is not None or self.temperature is not None
        if steady and self.burn is not None:
            raise refuse("is given beside rate and temperature", key="burn", fix="give one or the other")
        if steady and (self.rate is None or self.temperature is None):
            raise refuse(
                "needs both rate and temperature", key="rate" if self.rate is not None else "temperature"
            )
        if not steady and self.burn is None:
            raise refuse("needs rate and temperature, or burn and lit_at")
        if self.burn is not None:
            if not self.lit_at:
                raise refuse("needs lit_at, the times of day at which the stove is lit", key="burn")
            moments = [moment.after for moment in self.burn]
            if moments[0] != 0.0:
                raise refuse('must begin with after = "0 min"', key="burn")
            if any(later <= earlier for earlier, later in pairwise(moments)):
                raise refuse("must rise from entry to entry", key="burn")
            if any(later <= earlier for earlier, later in pairwise(self.lit_at)):
                raise refuse("must rise from entry to entry", key="lit_at")
            gaps = [
                b - a for a, b in zip(self.lit_at, [*self.lit_at[1:], self.lit_at[0] + 86400], strict=True)
            ]
            if moments[-1] > min(gaps):
                raise refuse("lasts longer than the time to the next lighting", key="burn")
        elif self.lit_at:
            raise refuse("needs burn", key="lit_at")
        if (
            self.jacket is not None
            and self.jacket.diameter <= self.diameter + 2.0 * self.wall_thickness + 1e-4
        ):
            raise refuse("must be wider than the gas pipe", key="jacket.diameter")
        if self.along_to is not None and abs(self.along_to - self.along_from) < 1e-3:
            raise refuse("gives a run without length", key="along_to")
        return self

    @property
    def inside_diameter(self) -> float:
        """Inside diameter of the pipe that lies in the ground [m]."""
        return self.diameter if self.jacket is None else self.jacket.diameter

    @property
    def outside_radius(self) -> float:
        """Radius over the pipe that lies in the ground [m]."""
        wall = self.wall_thickness if self.jacket is None else self.jacket.wall_thickness
        return self.inside_diameter / 2.0 + wall

    @property
    def place(self) -> tuple[float, float]:
        """Across and depth of the centreline [m]."""
        return self.across, self.depth

    def ends(self, floor_length: float) -> tuple[float, float]:
        """Where the gas enters and leaves the run along the floor [m]."""
        return self.along_from, floor_length if self.along_to is None else self.along_to
