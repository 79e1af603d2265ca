"""The ``[water]`` table: tank, pump and the water's way through the coils."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.fields import Quantity, Table, Whole, refuse

WaterTemperature = Annotated[float, Quantity(273.15, 373.15, dimension="temperature")]


class Water(Table):
    """A tank without pressure, warmed by the coils."""

    tank_volume: Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="water volume")] = Field(
        description="water in the tank"
    )
    layers: Annotated[int, Whole(1, 50)] = Field(
        1, description="layers by height; 1 is a tank stirred through"
    )
    height: Annotated[float, Quantity(0.0, 50.0, above=True)] | None = Field(
        None, description="of the water in the tank; needed with more than one layer"
    )
    temperature: WaterTemperature = Field(description="of the water at the start")
    heat_loss: Annotated[float, Quantity(0.0, 1e4, dimension="heat loss")] = Field(
        description="of the whole tank to the room, per degree"
    )
    make_up: Annotated[float, Quantity(0.0, 1.0, dimension="water flow")] = Field(
        0.0, description="fresh water flowing in; as much of the tank's flows off"
    )
    make_up_temperature: WaterTemperature = Field(283.15, description="of the fresh water")
    pump_flow: Annotated[float, Quantity(0.0, 0.1, above=True, dimension="water flow")] = Field(
        description="water that the pump moves through the coils while it is on"
    )
    pump_power: Annotated[float, Quantity(0.0, 1e5, dimension="power")] = Field(
        0.0, description="electric power of the pump; it ends as heat in the water"
    )
    coils: Literal["series", "parallel"] = Field(
        "series", description="water through one coil after the other, against the air; or shared evenly"
    )
    safe_low: WaterTemperature | None = Field(
        None, description="coldest the tank may be for what lives or soaks in it"
    )
    safe_high: WaterTemperature | None = Field(
        None, description="warmest the tank may be for what lives or soaks in it"
    )

    @model_validator(mode="after")
    def _fits(self) -> Water:
        if self.layers > 1 and self.height is None:
            raise refuse(
                "is missing: layers need the water's height", key="height", fix='give height = "1.2 m"'
            )
        if self.safe_low is not None and self.safe_high is not None and self.safe_high <= self.safe_low:
            raise refuse("must be above safe_low", key="safe_high")
        return self
