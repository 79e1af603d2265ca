"""The ``[floor]`` and ``[ducts]`` tables: the floor's build-up, and the ducts under it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from simulator.case.fields import Quantity, Table, Whole, refuse
from simulator.case.schema_ground import Film, Material, Thickness

Across = Annotated[float, Quantity(-250.0, 250.0)]
DuctDepth = Annotated[float, Quantity(0.0, 100.0, above=True)]


class FloorLayer(Material):
    """A layer of the floor."""

    thickness: Annotated[float, Quantity(0.0, 10.0, above=True)] = Field(description="thickness")


class EdgeInsulation(Material):
    """Upright insulation just outside the floor's edge, from the finished floor down."""

    thickness: Annotated[float, Quantity(0.0, 2.0, above=True)] = Field(description="thickness")
    depth: Thickness = Field(description="lower end, below the finished floor")


class Floor(Table):
    """The heated floor."""

    width: Annotated[float, Quantity(0.0, 500.0, above=True)] = Field(description="across the ducts")
    length: Annotated[float, Quantity(0.0, 2000.0, above=True)] = Field(description="along the ducts")
    film: Film = Field(8.0, description="film between floor and room air, radiation included")
    layers: Annotated[list[FloorLayer], Field(max_length=50)] = Field(
        default_factory=list, description="floor layers from the top down"
    )
    edge_wall: Annotated[float, Quantity(0.0, 5.0)] = Field(
        0.0, description="thickness of a wall standing on the ground just outside the floor's edge"
    )
    edge_insulation: EdgeInsulation | None = Field(None, description="upright insulation at the floor's edge")

    @property
    def thickness(self) -> float:
        """Thickness of all layers [m]."""
        return sum(layer.thickness for layer in self.layers)

    @property
    def area(self) -> float:
        """Floor area [m2]."""
        return self.width * self.length


class Lane(Table):
    """The place of one duct, as seen across the ducts."""

    across: Across = Field(description="from the floor's middle line")
    depth: DuctDepth = Field(description="centreline, below the finished floor")


class Ducts(Table):
    """Parallel air ducts: evenly spaced (count, spacing, depth), or each at its own place (lanes)."""

    count: Annotated[int, Whole(1, 2000)] | None = Field(None, description="number of ducts")
    spacing: Annotated[float, Quantity(0.0, 100.0, above=True)] | None = Field(
        None, description="centre to centre"
    )
    depth: DuctDepth | None = Field(None, description="centreline, below the finished floor")
    lanes: Annotated[list[Lane], Field(min_length=1, max_length=400)] | None = Field(
        None, description="place of each duct, instead of count, spacing and depth"
    )
    diameter: Annotated[float, Quantity(0.0, 5.0, above=True)] = Field(description="inside diameter")
    length: Annotated[float, Quantity(0.0, 2000.0, above=True)] | None = Field(
        None, description="length of each duct; left out: the floor's length"
    )
    wall_thickness: Annotated[float, Quantity(0.0, 1.0)] = Field(
        0.0, description="thickness of the duct wall"
    )
    wall_conductivity: Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="conductivity")] = Field(
        0.19, description="conductivity of the duct wall"
    )
    wall_heat_capacity: Annotated[float, Quantity(0.0, 1e8, dimension="volumetric heat capacity")] = Field(
        0.0, description="heat capacity of the duct wall; 0: the wall stores nothing"
    )
    roughness: Annotated[float, Quantity(0.0, 0.1)] = Field(0.0, description="height of the wall's roughness")
    contact_resistance: Annotated[float, Quantity(0.0, 100.0, dimension="thermal resistance")] = Field(
        0.0, description="resistance between duct wall and ground"
    )
    film: Film | None = Field(None, description="pins the inside film while the fan runs")
    film_off: Film | None = Field(None, description="pins the inside film while the fan is off")
    service_temperature: Annotated[float, Quantity(223.15, 1273.15, dimension="temperature")] = Field(
        333.15, description="highest temperature the duct's material may see for long"
    )

    @model_validator(mode="after")
    def _placed(self) -> Ducts:
        even = {"count": self.count, "spacing": self.spacing, "depth": self.depth}
        if self.lanes is not None:
            for key, value in even.items():
                if value is not None:
                    raise refuse("is given beside lanes", key=key, fix="give count, spacing, depth, or lanes")
            return self
        if self.count is None:
            raise refuse("needs count, or lanes", fix="for example count = 6")
        if self.depth is None:
            raise refuse("needs depth, the ducts' centreline below the finished floor")
        if self.count > 1 and self.spacing is None:
            raise refuse(f"needs spacing for {self.count} ducts, centre to centre")
        return self

    @property
    def places(self) -> list[tuple[float, float]]:
        """(across, depth) of every duct's centreline [m], as given or evenly about the middle line."""
        if self.lanes is not None:
            return [(lane.across, lane.depth) for lane in self.lanes]
        count, spacing, depth = self.count or 0, self.spacing or 0.0, self.depth or 0.0
        return [((number - (count - 1) / 2.0) * spacing, depth) for number in range(count)]

    @property
    def outside_radius(self) -> float:
        """Radius over the wall [m]."""
        return self.diameter / 2.0 + self.wall_thickness
