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
from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp

from simulator.section.mesh import RectangularMesh, build_mesh, solid_at
from simulator.section.near_field import Ring, build_ring
from simulator.section.transition import Transition, build_transition

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.layout import SectionLayout

SURFACE_PORTS = ("floor", "outside", "bottom", "sides")


@dataclass(frozen=True)
class SectionOperators:
    """One section as matrices. N cells, M lanes, P = M + 4 ports, F floor cells.

    Attributes
    ----------
    capacity : (N,) float [J/(m.K)]
    stiffness : (N, N) sparse [W/(m.K)], symmetric, films of the surfaces included
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
    """

    layout: SectionLayout
    mesh: RectangularMesh
    rings: tuple[Ring, ...]
    capacity: NDArray[np.float64]
    stiffness: sp.csc_array
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

    @property
    def cells(self) -> int:
        """Number of unknown temperatures."""
        return int(self.capacity.size)

    @property
    def lanes(self) -> int:
        """Number of lanes."""
        return len(self.layout.lanes)

    def port(self, name: str) -> int:
        """Column of a surface port."""
        return self.lanes + SURFACE_PORTS.index(name)


class _Assembly:
    """Collects the entries of the sparse matrices."""

    def __init__(self) -> None:
        self.rows: list[NDArray[np.int64]] = []
        self.columns: list[NDArray[np.int64]] = []
        self.values: list[NDArray[np.float64]] = []

    def add(self, i: NDArray[np.int64], j: NDArray[np.int64], value: NDArray[np.float64]) -> None:
        self.rows.append(np.asarray(i, dtype=np.int64))
        self.columns.append(np.asarray(j, dtype=np.int64))
        self.values.append(np.asarray(value, dtype=np.float64))

    def link(self, i: NDArray[np.int64], j: NDArray[np.int64], conductance: NDArray[np.float64]) -> None:
        self.add(i, i, conductance)
        self.add(j, j, conductance)
        self.add(i, j, -conductance)
        self.add(j, i, -conductance)

    def matrix(self, size: int) -> sp.csc_array:
        rows, columns = np.concatenate(self.rows), np.concatenate(self.columns)
        return sp.coo_array((np.concatenate(self.values), (rows, columns)), shape=(size, size)).tocsc()


def build_operators(layout: SectionLayout) -> SectionOperators:
    """Assemble the section.

    Parameters
    ----------
    layout : SectionLayout

    Returns
    -------
    SectionOperators
    """
    mesh = build_mesh(layout)
    rings = tuple(build_ring(layout, index) for index in range(len(layout.lanes)))
    transition = build_transition(layout, mesh, rings)
    kept = (mesh.solid >= 0) & ~transition.dropped
    cell_of = np.full(mesh.solid.shape, -1, dtype=np.int64)
    cell_of[kept] = np.arange(int(kept.sum()))
    count = int(kept.sum())
    conductivity = np.array([solid.conductivity for solid in layout.solids])
    heat_capacity = np.array([solid.heat_capacity for solid in layout.solids])
    first_ring = np.zeros(len(rings), dtype=np.int64)
    rim_nodes = []
    for number, ring in enumerate(rings):
        first_ring[number] = count
        polar = ring.mean_log.size * ring.sectors
        rim_nodes.append(count + polar + np.arange(ring.sectors))
        count += polar + ring.sectors
    node_cell = np.concatenate([cell_of.ravel(), *rim_nodes])
    capacity = np.zeros(count)
    across, depth = np.zeros(count), np.zeros(count)
    y = 0.5 * (mesh.y_lines[1:] + mesh.y_lines[:-1])
    z = 0.5 * (mesh.z_lines[1:] + mesh.z_lines[:-1])
    cells = cell_of[kept]
    across[cells] = np.broadcast_to(y[:, None], kept.shape)[kept]
    depth[cells] = np.broadcast_to(z[None, :], kept.shape)[kept]
    dual = transition.kept_dual.astype(np.float64)
    share = 0.25 * (dual[:-1, :-1] + dual[1:, :-1] + dual[:-1, 1:] + dual[1:, 1:])
    area = np.diff(mesh.y_lines)[:, None] * np.diff(mesh.z_lines)[None, :] * share
    capacity[cells] = area[kept] * heat_capacity[mesh.solid[kept]]
    assembly = _Assembly()
    _link_rectangles(assembly, mesh, dual, cell_of, conductivity)
    _add_triangles(assembly, transition, node_cell, conductivity, heat_capacity, capacity)
    ports = len(rings) + len(SURFACE_PORTS)
    injection, reading = np.zeros((count, ports)), np.zeros((count, ports))
    wall_resistance = np.zeros(len(rings))
    fraction = np.array([ring.fraction for ring in rings], dtype=np.float64)
    for number in range(len(rings)):
        _add_ring(
            assembly, layout, rings[number], number, int(first_ring[number]), conductivity, heat_capacity, capacity,
            across, depth, injection, reading, wall_resistance,
        )  # fmt: skip
    conductance = np.zeros(ports)
    floor = _add_surfaces(assembly, layout, mesh, cell_of, conductivity, injection, reading, conductance)
    _add_ends(assembly, layout, mesh, cell_of, conductivity, injection, reading, conductance)
    return SectionOperators(
        layout, mesh, rings, capacity, assembly.matrix(count), injection, reading, conductance,
        wall_resistance, fraction, *floor, across, depth, cell_of, first_ring,
    )  # fmt: skip


def _link_rectangles(
    assembly: _Assembly,
    mesh: RectangularMesh,
    dual: NDArray[np.float64],
    cell_of: NDArray[np.int64],
    conductivity: NDArray[np.float64],
) -> None:
    width, height = np.diff(mesh.y_lines), np.diff(mesh.z_lines)
    k = np.where(mesh.solid >= 0, conductivity[mesh.solid], np.nan)
    half_y, half_z = 0.5 * width[:, None] / k, 0.5 * height[None, :] / k
    # Each half of a face belongs to one dual rectangle; the halves of removed ones are the triangles' business.
    open_y = 0.5 * (dual[1:-1, :-1] + dual[1:-1, 1:]) * height[None, :]
    open_z = 0.5 * (dual[:-1, 1:-1] + dual[1:, 1:-1]) * width[:, None]
    faces = (
        (open_y / (half_y[:-1, :] + half_y[1:, :]), cell_of[:-1, :], cell_of[1:, :]),
        (open_z / (half_z[:, :-1] + half_z[:, 1:]), cell_of[:, :-1], cell_of[:, 1:]),
    )
    for face, first, second in faces:
        both = (first >= 0) & (second >= 0) & (face > 0.0)
        assembly.link(first[both], second[both], face[both])


def _add_triangles(
    assembly: _Assembly,
    transition: Transition,
    node_cell: NDArray[np.int64],
    conductivity: NDArray[np.float64],
    heat_capacity: NDArray[np.float64],
    capacity: NDArray[np.float64],
) -> None:
    corner = node_cell[transition.corner]
    element = transition.stiffness * conductivity[transition.solid][:, None, None]
    rows = np.broadcast_to(corner[:, :, None], element.shape)
    columns = np.broadcast_to(corner[:, None, :], element.shape)
    assembly.add(rows.ravel(), columns.ravel(), element.ravel())
    share = transition.area * heat_capacity[transition.solid] / 3.0
    np.add.at(capacity, corner, share[:, None])


def _add_ring(
    assembly: _Assembly,
    layout: SectionLayout,
    ring: Ring,
    number: int,
    first: int,
    conductivity: NDArray[np.float64],
    heat_capacity: NDArray[np.float64],
    capacity: NDArray[np.float64],
    across: NDArray[np.float64],
    depth: NDArray[np.float64],
    injection: NDArray[np.float64],
    reading: NDArray[np.float64],
    wall_resistance: NDArray[np.float64],
) -> None:
    lane = layout.lanes[number]
    rings, sectors = ring.mean_log.size, ring.sectors
    step = np.diff(ring.angles)
    radius = np.append(np.exp(ring.mean_log), ring.radii[-1])
    index = first + np.arange((rings + 1) * sectors).reshape(rings + 1, sectors)
    across[index] = lane.across + radius[:, None] * np.cos(ring.middles)[None, :]
    depth[index] = lane.depth + radius[:, None] * np.sin(ring.middles)[None, :]
    solid = np.maximum(solid_at(layout, across[index[:-1]], depth[index[:-1]]), 0)
    k = conductivity[solid]
    area = 0.5 * np.diff(ring.radii**2)[:, None] * step[None, :]
    capacity[index[:-1]] = area * heat_capacity[solid]
    capacity[index[0]] += lane.wall_heat_capacity * step / (2.0 * np.pi)
    logs = np.log(ring.radii)
    for j in range(rings - 1):
        series = (logs[j + 1] - ring.mean_log[j]) / k[j] + (ring.mean_log[j + 1] - logs[j + 1]) / k[j + 1]
        assembly.link(index[j], index[j + 1], step / series)
    assembly.link(index[-2], index[-1], step * k[-1] / (logs[-1] - ring.mean_log[-1]))
    for s in range(sectors if ring.full_turn else sectors - 1):
        t = (s + 1) % sectors
        series = 0.5 * step[s] / k[:, s] + 0.5 * step[t] / k[:, t]
        assembly.link(index[:-1, s], index[:-1, t], np.diff(logs) / series)
    # The duct air levels out differences round the pipe through film, wall and gap; the mean flow is the load.
    levelling = lane.equalising_resistance / lane.inside_radius
    conductance = step / (levelling + (ring.mean_log[0] - logs[0]) / k[0])
    total = float(conductance.sum())
    i, j = np.meshgrid(index[0], index[0], indexing="ij")
    assembly.add(index[0], index[0], conductance)
    assembly.add(i.ravel(), j.ravel(), (-np.outer(conductance, conductance) / total).ravel())
    injection[index[0], number] = ring.fraction * conductance / total
    reading[index[0], number] = conductance / total
    wall_resistance[number] = ring.fraction / total - levelling / (2.0 * np.pi)


def _add_surfaces(
    assembly: _Assembly,
    layout: SectionLayout,
    mesh: RectangularMesh,
    cell_of: NDArray[np.int64],
    conductivity: NDArray[np.float64],
    injection: NDArray[np.float64],
    reading: NDArray[np.float64],
    conductance: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    y = 0.5 * (mesh.y_lines[1:] + mesh.y_lines[:-1])
    width, height = np.diff(mesh.y_lines), np.diff(mesh.z_lines)
    top_row = np.argmax(cell_of >= 0, axis=1)
    columns = np.arange(y.size)
    floor: list[tuple[int, float, float, float]] = []
    for surface in layout.surfaces:
        port = len(layout.lanes) + SURFACE_PORTS.index(surface.port)
        for column in columns[(y > surface.y0) & (y < surface.y1)]:
            row = int(top_row[column])
            cell = int(cell_of[column, row])
            if cell < 0:
                continue
            half = 2.0 * conductivity[mesh.solid[column, row]] / height[row]
            film = surface.film_coefficient
            # half / (1 + half / film) written so that a film of zero or of any size is safe.
            value = width[column] * half * film / (half + film)
            assembly.add(np.array([cell]), np.array([cell]), np.array([value]))
            injection[cell, port] += value
            reading[cell, port] += value
            conductance[port] += value
            if surface.port == "floor":
                floor.append((cell, float(y[column]), float(width[column]), half / (half + film)))
    cells = np.array([item[0] for item in floor], dtype=np.int64)
    centres, widths, share = (np.array([item[n] for item in floor], dtype=np.float64) for n in (1, 2, 3))
    return cells, centres, widths, share


def _add_ends(
    assembly: _Assembly,
    layout: SectionLayout,
    mesh: RectangularMesh,
    cell_of: NDArray[np.int64],
    conductivity: NDArray[np.float64],
    injection: NDArray[np.float64],
    reading: NDArray[np.float64],
    conductance: NDArray[np.float64],
) -> None:
    width, height = np.diff(mesh.y_lines), np.diff(mesh.z_lines)
    ends = [("bottom", layout.bottom.kind, cell_of[:, -1], mesh.solid[:, -1], width, float(height[-1]))]
    ends.append(("sides", layout.sides.kind, cell_of[-1, :], mesh.solid[-1, :], height, float(width[-1])))
    if not layout.mirrored:
        ends.append(("sides", layout.sides.kind, cell_of[0, :], mesh.solid[0, :], height, float(width[0])))
    for name, kind, cells, solid, length, size in ends:
        port = len(layout.lanes) + SURFACE_PORTS.index(name)
        kept = cells >= 0
        if kind == "heat flow":
            injection[cells[kept], port] += length[kept]
        elif kind == "temperature":
            value = 2.0 * conductivity[solid[kept]] * length[kept] / size
            assembly.add(cells[kept], cells[kept], value)
            injection[cells[kept], port] += value
            reading[cells[kept], port] += value
            conductance[port] += float(value.sum())
