"""From cells to sparse operators with named ports.

The semi-discrete section is

    capacity * dT/dt = -stiffness @ T + sum over ports of injection * load

Ports: one per lane (load: heat from the duct, W per metre of one whole duct), then "floor", "outside",
"bottom", "sides" (load: temperature behind the film [K], or heat flow [W/m2] for a bottom of that kind).
What a port reads is `reading @ T`: the wall temperature of a lane before the drop in the first half cell, or
the sum of conductance * cell temperature for a surface, so that the heat taken in by a surface is
`conductance * load - reading @ T`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.section.assembly import SURFACE_PORTS, Assembly
from simulator.section.kept_transition import kept_transition
from simulator.section.mesh import RectangularMesh, build_mesh
from simulator.section.near_field import Ring, build_ring
from simulator.section.pieces import (
    add_ends,
    add_floor_and_ground_surfaces,
    add_ring,
    add_triangles,
    link_rectangles,
)

if TYPE_CHECKING:
    import scipy.sparse as sp
    from numpy.typing import NDArray

    from simulator.section.keeper import Keeper
    from simulator.section.layout import SectionLayout
    from simulator.section.links import Links


@dataclass(frozen=True)
class SectionOperators:
    """One section as matrices. N cells, M lanes, P = M + 4 ports, F floor cells.

    Attributes
    ----------
    capacity : (N,) float [J/(m.K)]
    links : Links
        Of the stiffness matrix, which is symmetric; films of the surfaces included.
    injection : (N, P) float
        What a unit load of each port puts into the cells [W/m per load unit].
    reading : (N, P) float
        What each port reads.
    conductance : (P,) float [W/(m.K)]
        Total film-to-cell conductance of surface ports, 0 for lanes and for a heat-flow bottom.
    wall_resistance : (M,) float [K.m/W]
        Wall temperature minus lane reading, per heat flow of one whole duct.
    lane_fraction : (M,) float
        Share of each duct that lies in the section (0.5 on a symmetry plane).
    floor_cells : (F,) int; floor_centres, floor_widths : (F,) float [m]
    surface_share : (F,) float
        Floor surface temperature = share * cell temperature + (1 - share) * temperature behind the film.
    cell_across, cell_depth : (N,) float [m]
        Representative points.
    cell_of : (ny, nz) int
        Cell number of each rectangle, -1 where there is none (void, or inside a near field).
    first_ring_cell : (M,) int
        Number of the first polar cell of each lane; they run ring by ring, sector by sector.
    water : (N,) float [m2]
        Water that can freeze in each cell: volume per metre of section.
    """

    layout: SectionLayout
    mesh: RectangularMesh
    rings: tuple[Ring, ...]
    capacity: NDArray[np.float64]
    links: Links
    injection: NDArray[np.float64]
    reading: NDArray[np.float64]
    conductance: NDArray[np.float64]
    wall_resistance: NDArray[np.float64]
    lane_fraction: NDArray[np.float64]
    floor_cells: NDArray[np.int64]
    floor_centres: NDArray[np.float64]
    floor_widths: NDArray[np.float64]
    surface_share: NDArray[np.float64]
    cell_across: NDArray[np.float64]
    cell_depth: NDArray[np.float64]
    cell_of: NDArray[np.int64]
    first_ring_cell: NDArray[np.int64]
    water: NDArray[np.float64]

    @cached_property
    def stiffness(self) -> sp.csc_array:
        """(N, N) sparse [W/(m.K)], symmetric."""
        return self.links.matrix(self.cells)

    def shifted(self, rate: complex) -> sp.csc_array:
        """(N, N) sparse: stiffness + rate * capacity, for a real or complex rate [1/s]."""
        import scipy.sparse as sp  # noqa: PLC0415 - slow to load, and a kept section needs none

        return sp.csc_array(self.stiffness + sp.diags_array(rate * self.capacity))

    @property
    def cells(self) -> int:
        """Number of unknown temperatures."""
        return int(self.capacity.size)

    @property
    def lanes(self) -> int:
        """Number of lanes."""
        return len(self.layout.lanes)

    @property
    def capacity_under_floor(self) -> NDArray[np.float64]:
        """(N,) capacity [J/(m.K)] of the cells between the building's edges, 0 for the rest."""
        inside = np.abs(self.cell_across) < self.layout.building_half_width
        return np.where(inside, self.capacity, 0.0)

    def port(self, name: str) -> int:
        """Column of a surface port."""
        return self.lanes + SURFACE_PORTS.index(name)


def build_operators(layout: SectionLayout, keeper: Keeper | None = None) -> SectionOperators:
    """Assemble the section.

    Parameters
    ----------
    layout : SectionLayout
    keeper : Keeper, optional
        May hold the triangles round the ducts of the same layout.

    Returns
    -------
    SectionOperators

    Raises
    ------
    CaseError
        If a duct has next to no ground round it.
    SolverError
        If the ground round the ducts cannot be meshed.
    """
    mesh = build_mesh(layout)
    rings = tuple(build_ring(layout, index) for index in range(len(layout.lanes)))
    transition = kept_transition(keeper, layout, mesh, rings)
    kept = (mesh.solid >= 0) & ~transition.dropped
    cell_of = np.full(mesh.solid.shape, -1, dtype=np.int64)
    cell_of[kept] = np.arange(int(kept.sum()))
    count = int(kept.sum())
    first_ring = np.zeros(len(rings), dtype=np.int64)
    rim_cells = []
    for number, ring in enumerate(rings):
        first_ring[number] = count
        polar = ring.mean_log.size * ring.sectors
        rim_cells.append(count + polar + np.arange(ring.sectors))
        count += polar + ring.sectors
    parts = Assembly(layout, mesh, cell_of, count)
    dual = transition.kept_dual.astype(np.float64)
    link_rectangles(parts, dual)
    add_triangles(parts, transition, np.concatenate([cell_of.ravel(), *rim_cells]))
    for number, ring in enumerate(rings):
        add_ring(parts, ring, number, int(first_ring[number]))
    floor = add_floor_and_ground_surfaces(parts)
    add_ends(parts)
    return SectionOperators(
        layout=layout,
        mesh=mesh,
        rings=rings,
        capacity=parts.capacity,
        links=parts.links(),
        injection=parts.injection,
        reading=parts.reading,
        conductance=parts.conductance,
        wall_resistance=parts.wall_resistance,
        lane_fraction=np.array([ring.fraction for ring in rings], dtype=np.float64),
        floor_cells=floor.cells,
        floor_centres=floor.centres,
        floor_widths=floor.widths,
        surface_share=floor.share,
        cell_across=parts.across,
        cell_depth=parts.depth,
        cell_of=cell_of,
        first_ring_cell=first_ring,
        water=parts.water,
    )
