"""The ``[floor]`` and ``[ducts]`` tables: the floor's build-up, and the ducts under it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.duct_ways import DuctBranch, branches_of, places_of
from simulator.case.fields import Flag, Number, Quantity, Table, Whole, Words, refuse
from simulator.case.nearest import nearest
from simulator.case.pipes import PIPES
from simulator.case.schema_ground import Film, Material, Thickness

Across = Annotated[float, Quantity(-250.0, 250.0)]
DuctDepth = Annotated[float, Quantity(0.0, 100.0, above=True)]
Along = Annotated[float, Quantity(0.0, 2000.0)]
LossCoefficient = Annotated[float, Number(0.0, 1000.0)]


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


class Run(Table):
    """A straight run of duct along the floor; the air goes from `along_from` to `along_to`."""

    across: Across = Field(description="from the floor's middle line")
    depth: DuctDepth = Field(description="centreline, below the finished floor")
    along_from: Along = Field(0.0, description="where the air enters the run, from the floor's start")
    along_to: Along | None = Field(
        None,
        description="where the air leaves it; left out: the floor's end; less than along_from: air runs back",
    )

    @model_validator(mode="after")
    def _some_length(self) -> Run:
        if self.along_to is not None and abs(self.along_to - self.along_from) < 1e-3:
            raise refuse("gives a run without length", key="along_to")
        return self


class Branch(Table):
    """One way of the air from the header to the outlet: runs in the order of the air."""

    name: Annotated[str, Words(60, empty=True)] = Field("", description="name to show")
    runs: Annotated[list[Run], Field(min_length=1, max_length=400)] = Field(
        description="straight runs, in the order of the air"
    )
    bends: Annotated[int, Whole(0, 1000)] = Field(
        0, description="right-angle bends beside the two in each turn between runs"
    )
    extra_length: Annotated[float, Quantity(0.0, 2000.0)] = Field(
        0.0, description="pipe outside the floor: costs pressure, exchanges no heat"
    )
    loss_coefficient: LossCoefficient = Field(0.0, description="of other fittings in this branch")


class Ducts(Table):
    """Air ducts under the floor.

    Evenly spaced (count, spacing, depth) in a layout, each at its own place (lanes), or told run by run
    (branches).
    """

    layout: Literal["parallel", "there and back", "serpentine", "two tiers"] = Field(
        "parallel", description="how the air goes through evenly spaced ducts"
    )
    count: Annotated[int, Whole(1, 2000)] | None = Field(None, description="number of ducts side by side")
    spacing: Annotated[float, Quantity(0.0, 100.0, above=True)] | None = Field(
        None, description="centre to centre"
    )
    depth: DuctDepth | None = Field(None, description="centreline, below the finished floor")
    lower_depth: DuctDepth | None = Field(None, description="centreline of the lower of two tiers")
    passes: Annotated[int, Whole(1, 400)] | None = Field(
        None, description="neighbouring ducts that one branch of a serpentine takes in turn; left out: all"
    )
    lanes: Annotated[list[Lane], Field(min_length=1, max_length=400)] | None = Field(
        None, description="place of each duct, instead of count, spacing and depth"
    )
    branches: Annotated[list[Branch], Field(min_length=1, max_length=400)] | None = Field(
        None, description="the way of the air run by run, instead of count, spacing and depth, or lanes"
    )
    inlet_end: Literal["start", "far"] = Field(
        "start", description="end of the floor at which the air enters the ducts"
    )
    diameter: Annotated[float, Quantity(0.0, 5.0, above=True)] = Field(description="inside diameter")
    along_from: Along = Field(0.0, description="where the ducts begin, from the floor's start")
    length: Annotated[float, Quantity(0.0, 2000.0, above=True)] | None = Field(
        None, description="length of each duct along the floor; left out: to the floor's end"
    )
    material: Annotated[str, Words()] | None = Field(
        None, description="of the pipe; sets wall_conductivity and service_temperature"
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
    surface: Literal["smooth", "ribbed", "rough"] = Field("smooth", description="inside of the pipe")
    roughness: Annotated[float, Quantity(0.0, 0.1)] = Field(0.0, description="height of the wall's roughness")
    manning: Annotated[float, Number(0.005, 0.05)] | None = Field(
        None, description="Manning's n of ribbed pipe, which sets its friction; left out: 0.015"
    )
    film_enhancement: Annotated[float, Number(0.0, 1.0)] = Field(
        0.0, description="film of ribbed or rough pipe: 0 as the smooth pipe, 1 the bound for rough walls"
    )
    entry_loss: LossCoefficient = Field(0.5, description="loss coefficient where air enters a branch")
    exit_loss: LossCoefficient = Field(1.0, description="loss coefficient where air leaves a branch")
    bend_loss: LossCoefficient = Field(0.4, description="loss coefficient of a right-angle bend")
    drains: Annotated[bool, Flag()] = Field(
        True, description="whether water runs off; otherwise it stands in the duct until it dries"
    )
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
        self._one_way_of_telling()
        if self.lanes is None and self.branches is None:
            self._evenly_spaced()
        return self

    def _one_way_of_telling(self) -> None:
        even = ("count", "spacing", "depth", "lower_depth", "passes")
        for other in ("lanes", "branches"):
            if getattr(self, other) is None:
                continue
            for key in even if other == "lanes" else (*even, "lanes", "length"):
                if getattr(self, key) is not None:
                    fix = f"give count, spacing, depth, or {other}"
                    raise refuse(f"is given beside {other}", key=key, fix=fix)
            if self.layout != "parallel":
                raise refuse(f"is given beside {other}", key="layout", fix="it arranges evenly spaced ducts")
        if self.branches is not None:
            if self.inlet_end != "start":
                raise refuse("is given beside branches", key="inlet_end", fix="runs tell their own direction")
            if self.along_from > 0.0:
                raise refuse("is given beside branches", key="along_from", fix="runs tell where they begin")

    def _evenly_spaced(self) -> None:
        if self.count is None:
            raise refuse("needs count, or lanes", fix="for example count = 6")
        if self.depth is None:
            raise refuse("needs depth, the ducts' centreline below the finished floor")
        if self.count > 1 and self.spacing is None:
            raise refuse(f"needs spacing for {self.count} ducts, centre to centre")
        if self.layout == "two tiers":
            if self.lower_depth is None:
                raise refuse("needs lower_depth, the centreline of the lower tier", key="layout")
            if self.lower_depth <= self.depth:
                raise refuse("must lie below depth", key="lower_depth")
            if self.passes not in (None, 1, 2):
                raise refuse("is 1 or 2 for two tiers: both alike, or out below and back above", key="passes")
            return
        if self.lower_depth is not None:
            raise refuse(
                f'does not fit layout = "{self.layout}"', key="lower_depth", fix='it needs "two tiers"'
            )
        if self.layout == "parallel" and self.passes not in (None, 1):
            raise refuse('does not fit layout = "parallel"', key="passes", fix='it needs "serpentine"')
        if self.layout == "there and back" and self.passes not in (None, 2):
            raise refuse('does not fit layout = "there and back"', key="passes", fix='it needs "serpentine"')
        if self.count % self.passes_of_a_branch:
            raise refuse(
                f"must be a multiple of {self.passes_of_a_branch}, the ducts that one branch takes in turn",
                key="count",
            )

    @model_validator(mode="after")
    def _pipe(self) -> Ducts:
        if self.material is not None:
            pipe = PIPES.get(self.material)
            if pipe is None:
                raise refuse(
                    "is no known pipe material",
                    key="material",
                    allowed=", ".join(f'"{name}"' for name in PIPES),
                    fix=nearest(self.material, list(PIPES))
                    or "give wall_conductivity and service_temperature",
                )
            for key, value in (
                ("wall_conductivity", pipe.conductivity),
                ("service_temperature", pipe.service_temperature),
            ):
                if key not in self.model_fields_set:
                    object.__setattr__(self, key, value)
        if self.surface == "rough" and self.roughness <= 0.0:
            raise refuse('needs a roughness, for example "1 mm"', key="surface")
        if self.manning is not None and self.surface != "ribbed":
            raise refuse('needs surface = "ribbed"', key="manning")
        if self.film_enhancement > 0.0 and self.surface == "smooth":
            raise refuse('needs surface = "ribbed" or "rough"', key="film_enhancement")
        if self.roughness > 0.5 * self.diameter:
            raise refuse("is more than half the diameter", key="roughness")
        return self

    @property
    def passes_of_a_branch(self) -> int:
        """Ducts that one branch takes in turn."""
        if self.lanes is not None or self.branches is not None or self.layout == "parallel":
            return 1
        if self.layout == "two tiers":
            return self.passes or 1
        return 2 if self.layout == "there and back" else (self.passes or self.count or 1)

    @property
    def places(self) -> list[tuple[float, float]]:
        """(across, depth) of every duct's centreline [m], as given or evenly about the middle line."""
        return places_of(self)

    def ways(self, floor_length: float) -> tuple[DuctBranch, ...]:
        """Branches of the air under a floor of this length [m]."""
        return branches_of(self, floor_length)

    @property
    def outside_radius(self) -> float:
        """Radius over the wall [m]."""
        return self.diameter / 2.0 + self.wall_thickness
