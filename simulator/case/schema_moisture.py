"""The ``[moisture]`` table: vapour in the air, water in the ducts."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from simulator.case.fields import Number, Quantity, Table

Humidity = Annotated[float, Number(0.0, 1.0)]


class Moisture(Table):
    """Humidity of the air; with this table condensation and drying in the ducts are computed."""

    room_humidity: Humidity = Field(
        description="relative humidity of the room air: held, or with gain the one at the start"
    )
    outside_humidity: Humidity = Field(0.8, description="relative humidity of the outside air")
    gain: Annotated[float, Quantity(0.0, 1.0, dimension="mass flow")] | None = Field(
        None, description="vapour given to the room by plants and people; the room's humidity then follows"
    )
    clinging_film: Annotated[float, Quantity(0.0, 0.005)] = Field(
        0.0001, description="thickness of the water film that clings to the duct wall where water drains"
    )
