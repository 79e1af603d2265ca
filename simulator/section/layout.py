"""What one section looks like before it is cut into cells: extents, materials, surfaces, lanes.

The section is the vertical plane across the ducts: `y` [m] across the floor from its middle line,
`z` [m] down from the finished floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from simulator.case.duct_ways import SAME_PLACE, same_place
from simulator.errors import CaseError
from simulator.physics.films import pipe_wall_resistance

if TYPE_CHECKING:
    from simulator.case.duct_ways import DuctBranch
    from simulator.case.schema import Case


@dataclass(frozen=True)
class Solid:
    """A conducting material: conductivity [W/(m.K)], volumetric heat capacity [J/(m3.K)].

    `water` that can freeze is a share of the volume.
    """

    name: str
    conductivity: float
    heat_capacity: float
    water: float = 0.0


@dataclass(frozen=True)
class Region:
    """A rectangle of one solid; later regions cover earlier ones. Bounds in metres."""

    y0: float
    y1: float
    z0: float
    z1: float
    solid: int


@dataclass(frozen=True)
class Surface:
    """A stretch of upward-facing surface that exchanges heat with air through a film.

    `port` is "floor" or "outside"; `film_coefficient` in W/(m2.K), 0 for no exchange.
    """

    port: str
    y0: float
    y1: float
    film_coefficient: float


@dataclass(frozen=True)
class Lane:
    """A place where a duct (or a flue pipe) crosses the section.

    `equalising_resistance` [m2.K/W, per inside wall area] is the film, pipe wall and contact gap through
    which the duct air levels out temperature differences round the pipe; `wall_heat_capacity` [J/(m.K)]
    is the pipe's own.
    """

    across: float
    depth: float
    inside_radius: float
    outside_radius: float
    equalising_resistance: float = 0.1
    wall_heat_capacity: float = 0.0


@dataclass(frozen=True)
class Face:
    """What lies behind the bottom or a side: kind "adiabatic", "temperature" or "heat flow"."""

    kind: str = "adiabatic"


@dataclass(frozen=True)
class SectionLayout:
    """Everything a mesh needs. `mirrored` says that y = 0 is a symmetry plane and only y >= 0 is kept."""

    y_min: float
    y_max: float
    depth: float
    solids: tuple[Solid, ...]
    regions: tuple[Region, ...]
    surfaces: tuple[Surface, ...]
    lanes: tuple[Lane, ...]
    bottom: Face = field(default_factory=Face)
    sides: Face = field(default_factory=Face)
    mirrored: bool = False
    surface_level_outside: float = 0.0
    building_half_width: float = 0.0
    cell_scale: float = 1.0

    @property
    def copies(self) -> int:
        """How many of this section make the whole floor: 2 when mirrored."""
        return 2 if self.mirrored else 1


@dataclass(frozen=True)
class DuctPlaces:
    """All ducts of the floor and the lane of the (possibly mirrored) section that stands for each.

    `flue_lane` is the lane of the flue run, the last duct in the list; None without one.
    """

    across: tuple[float, ...]
    depth: tuple[float, ...]
    lane: tuple[int, ...]
    inside_radius: tuple[float, ...]
    mirrored: bool = False
    flue_lane: int | None = None

    def lane_at(self, across: float, depth: float) -> int:
        """Lane that stands for the duct at a place [m].

        Raises
        ------
        KeyError
            If there is none.
        """
        for a, d, lane in zip(self.across, self.depth, self.lane, strict=True):
            if same_place((across, depth), (a, d)):
                return lane
        raise KeyError((across, depth))


def _mirror_of(branch: DuctBranch, other: DuctBranch) -> bool:
    """Whether one branch is the other's image in the middle line."""
    if len(branch.stretches) != len(other.stretches):
        return False
    told = (branch.extra_length, branch.bends, branch.loss_coefficient)
    if told != (other.extra_length, other.bends, other.loss_coefficient):
        return False
    return all(
        abs(mine.across + its.across) < SAME_PLACE
        and abs(mine.depth - its.depth) < SAME_PLACE
        and abs(mine.begin - its.begin) < SAME_PLACE
        and abs(mine.end - its.end) < SAME_PLACE
        for mine, its in zip(branch.stretches, other.stretches, strict=True)
    )


def _is_mirror_image(case: Case) -> bool:
    """Whether ducts, the air in them and patches are alike on both sides of the middle line."""
    branches = case.duct_branches
    if not all(any(_mirror_of(branch, other) for other in branches) for branch in branches):
        return False
    if case.flue is not None and abs(case.flue.across) >= SAME_PLACE:
        return False
    for patch in case.ground.patches:
        twin = any(
            abs(patch.across_from + other.across_to) < SAME_PLACE
            and abs(patch.across_to + other.across_from) < SAME_PLACE
            and abs(patch.depth_from - other.depth_from) < SAME_PLACE
            and abs(patch.depth_to - other.depth_to) < SAME_PLACE
            and patch.conductivity == other.conductivity
            and patch.heat_capacity == other.heat_capacity
            and patch.water == other.water
            for other in case.ground.patches
        )
        if not twin:
            return False
    return True


def _add_solid(
    solids: list[Solid], name: str, conductivity: float, heat_capacity: float, water: float = 0.0
) -> int:
    solid = Solid(name, conductivity, heat_capacity, water)
    if solid in solids:
        return solids.index(solid)
    solids.append(solid)
    return len(solids) - 1


def layout_from_case(case: Case, equalising_film: float) -> tuple[SectionLayout, DuctPlaces]:
    """Translate a case into a section layout.

    Parameters
    ----------
    case : Case
        A validated case, SI units.
    equalising_film : float
        Inside film of the ducts at full flow [W/(m2.K)], used for levelling round the pipe.

    Returns
    -------
    tuple[SectionLayout, DuctPlaces]
        The layout, and where every duct of the floor lies.

    Raises
    ------
    CaseError
        If no ground is left in the model.
    """
    floor, ground = case.floor, case.ground
    half = floor.width / 2.0
    y_edge = half + ground.outside_width
    places = sorted(case.ducts.places)
    mirrored = bool(case.numerics.symmetry) and _is_mirror_image(case)
    solids: list[Solid] = []
    regions: list[Region] = []
    top = floor.thickness
    outside_top = 0.0
    for index, layer in enumerate(ground.layers):
        last = index == len(ground.layers) - 1
        bottom = ground.depth if last or layer.thickness is None else top + layer.thickness
        solid = _add_solid(
            solids,
            _name(layer, f"ground layer {index + 1}"),
            layer.conductivity,
            layer.heat_capacity,
            layer.water if ground.freezing else 0.0,
        )
        # Outside the building there is no slab: the first ground layer reaches up to the surface.
        start = outside_top if index == 0 else top
        regions.append(Region(-y_edge, y_edge, start, min(bottom, ground.depth), solid))
        top = bottom
    top = 0.0
    for index, part in enumerate(floor.layers):
        solid = _add_solid(
            solids, _name(part, f"floor layer {index + 1}"), part.conductivity, part.heat_capacity
        )
        regions.append(Region(-half, half, top, top + part.thickness, solid))
        top += part.thickness
    insulation = floor.edge_insulation
    if insulation is not None and ground.outside_width > 0.0:
        solid = _add_solid(
            solids, _name(insulation, "edge insulation"), insulation.conductivity, insulation.heat_capacity
        )
        outer = half + insulation.thickness
        for y0, y1 in ((half, outer), (-outer, -half)):
            regions.append(Region(y0, y1, 0.0, insulation.depth, solid))
    for index, patch in enumerate(ground.patches):
        solid = _add_solid(
            solids,
            _name(patch, f"patch {index + 1}"),
            patch.conductivity,
            patch.heat_capacity,
            patch.water if ground.freezing else 0.0,
        )
        regions.append(Region(patch.across_from, patch.across_to, patch.depth_from, patch.depth_to, solid))
    surfaces = [Surface("floor", -half, half, floor.film)]
    wall = half + floor.edge_wall
    if y_edge > wall + SAME_PLACE:
        surfaces.append(Surface("outside", wall, y_edge, ground.outside_film))
        surfaces.append(Surface("outside", -y_edge, -wall, ground.outside_film))
    inside = case.ducts.diameter / 2.0
    outside = inside + case.ducts.wall_thickness
    equalising = 1.0 / max(equalising_film, 1e-3) + case.ducts.contact_resistance * inside / outside
    equalising += float(
        pipe_wall_resistance(case.ducts.diameter, case.ducts.wall_thickness, case.ducts.wall_conductivity)
    )
    wall_capacity = case.ducts.wall_heat_capacity * math.pi * (outside**2 - inside**2)
    lanes: list[Lane] = []
    duct_lane: list[int] = []
    for across, depth in places:
        seen = abs(across) if mirrored else across
        for number, lane in enumerate(lanes):
            if same_place((lane.across, lane.depth), (seen, depth)):
                duct_lane.append(number)
                break
        else:
            duct_lane.append(len(lanes))
            lanes.append(Lane(seen, depth, inside, outside, equalising, wall_capacity))
    radii = [inside] * len(places)
    flue_lane = None
    if case.flue is not None:
        flue_lane = len(lanes)
        across, depth = case.flue.place
        places = [*places, (across, depth)]
        duct_lane.append(flue_lane)
        radii.append(case.flue.inside_diameter / 2.0)
        lanes.append(
            Lane(across, depth, radii[-1], case.flue.outside_radius, 1.0 / max(equalising_film, 1e-3))
        )
    layout = SectionLayout(
        y_min=0.0 if mirrored else -y_edge,
        y_max=y_edge,
        depth=ground.depth,
        solids=tuple(solids),
        regions=tuple(regions),
        surfaces=tuple(surfaces),
        lanes=tuple(lanes),
        bottom=Face(ground.bottom.kind),
        sides=Face(ground.sides.kind),
        mirrored=mirrored,
        surface_level_outside=ground.surface_level if ground.outside_width > 0.0 else 0.0,
        building_half_width=half,
        cell_scale=case.numerics.cell_scale,
    )
    if layout.depth <= 0.0 or not regions:
        problem = "no ground is left below the floor"
        raise CaseError(problem, key="ground.depth", value=ground.depth, fix="make the model deeper")
    return layout, DuctPlaces(
        tuple(a for a, _ in places),
        tuple(d for _, d in places),
        tuple(duct_lane),
        tuple(radii),
        mirrored,
        flue_lane,
    )


def _name(solid: object, fallback: str) -> str:
    name = getattr(solid, "material", None)
    return str(name) if name else fallback
