"""The pieces a section is made of: rectangles, triangles, rings round ducts, surfaces, ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.section.mesh import solid_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.assembly import Assembly
    from simulator.section.near_field import Ring
    from simulator.section.transition import Transition


def link_rectangles(parts: Assembly, dual: NDArray[np.float64]) -> None:
    """Give the rectangular cells their capacity and join neighbours, half cells in series.

    Parameters
    ----------
    parts : Assembly
    dual : (ny + 1, nz + 1) float
        1 for dual rectangles that stay, 0 for those that triangles replace.
    """
    mesh, cell_of = parts.mesh, parts.cell_of
    kept = cell_of >= 0
    cells = cell_of[kept]
    width, height = np.diff(mesh.y_lines)[:, None], np.diff(mesh.z_lines)[None, :]
    y = np.broadcast_to(0.5 * (mesh.y_lines[1:] + mesh.y_lines[:-1])[:, None], cell_of.shape)
    z = np.broadcast_to(0.5 * (mesh.z_lines[1:] + mesh.z_lines[:-1])[None, :], cell_of.shape)
    parts.across[cells], parts.depth[cells] = y[kept], z[kept]
    share = 0.25 * (dual[:-1, :-1] + dual[1:, :-1] + dual[:-1, 1:] + dual[1:, 1:])
    area = (width * height * share)[kept]
    parts.capacity[cells] = area * parts.solid_heat_capacity[mesh.solid[kept]]
    parts.water[cells] = area * parts.solid_water[mesh.solid[kept]]
    k = np.where(mesh.solid >= 0, parts.solid_conductivity[mesh.solid], np.nan)
    half_y, half_z = 0.5 * width / k, 0.5 * height / k
    # Each half of a face belongs to one dual rectangle; the triangles see to the halves of removed ones.
    open_y = 0.5 * (dual[1:-1, :-1] + dual[1:-1, 1:]) * height
    open_z = 0.5 * (dual[:-1, 1:-1] + dual[1:, 1:-1]) * width
    faces = (
        (open_y / (half_y[:-1, :] + half_y[1:, :]), cell_of[:-1, :], cell_of[1:, :]),
        (open_z / (half_z[:, :-1] + half_z[:, 1:]), cell_of[:, :-1], cell_of[:, 1:]),
    )
    for face, first, second in faces:
        both = (first >= 0) & (second >= 0) & (face > 0.0)
        parts.link(first[both], second[both], face[both])


def add_triangles(parts: Assembly, transition: Transition, node_cell: NDArray[np.int64]) -> None:
    """Add the triangles between rims and rectangles; `node_cell` gives the cell of each of their nodes."""
    corner = node_cell[transition.corner]
    element = transition.stiffness * parts.solid_conductivity[transition.solid][:, None, None]
    rows = np.broadcast_to(corner[:, :, None], element.shape)
    columns = np.broadcast_to(corner[:, None, :], element.shape)
    parts.add(rows, columns, element)
    share = transition.area * parts.solid_heat_capacity[transition.solid] / 3.0
    np.add.at(parts.capacity, corner, share[:, None])
    wet = transition.area * parts.solid_water[transition.solid] / 3.0
    np.add.at(parts.water, corner, wet[:, None])


def add_ring(parts: Assembly, ring: Ring, number: int, first: int) -> None:
    """Add the polar cells of one lane, numbered from `first`, and its port."""
    lane = parts.layout.lanes[number]
    rings, sectors = ring.mean_log.size, ring.sectors
    step = np.diff(ring.angles)
    radius = np.append(np.exp(ring.mean_log), ring.radii[-1])
    index = first + np.arange((rings + 1) * sectors).reshape(rings + 1, sectors)
    parts.across[index] = lane.across + radius[:, None] * np.cos(ring.middles)[None, :]
    parts.depth[index] = lane.depth + radius[:, None] * np.sin(ring.middles)[None, :]
    solid = np.maximum(solid_at(parts.layout, parts.across[index[:-1]], parts.depth[index[:-1]]), 0)
    k = parts.solid_conductivity[solid]
    area = 0.5 * np.diff(ring.radii**2)[:, None] * step[None, :]
    parts.capacity[index[:-1]] = area * parts.solid_heat_capacity[solid]
    parts.water[index[:-1]] = area * parts.solid_water[solid]
    parts.capacity[index[0]] += lane.wall_heat_capacity * step / (2.0 * np.pi)
    logs = np.log(ring.radii)
    for j in range(rings - 1):
        series = (logs[j + 1] - ring.mean_log[j]) / k[j] + (ring.mean_log[j + 1] - logs[j + 1]) / k[j + 1]
        parts.link(index[j], index[j + 1], step / series)
    parts.link(index[-2], index[-1], step * k[-1] / (logs[-1] - ring.mean_log[-1]))
    for s in range(sectors if ring.full_turn else sectors - 1):
        t = (s + 1) % sectors
        series = 0.5 * step[s] / k[:, s] + 0.5 * step[t] / k[:, t]
        parts.link(index[:-1, s], index[:-1, t], np.diff(logs) / series)
    # Duct air levels out differences round the pipe through film, wall and gap; the mean flow is the load.
    levelling = lane.equalising_resistance / lane.inside_radius
    conductance = step / (levelling + (ring.mean_log[0] - logs[0]) / k[0])
    total = float(conductance.sum())
    i, j = np.meshgrid(index[0], index[0], indexing="ij")
    parts.add(index[0], index[0], conductance)
    parts.add(i, j, -np.outer(conductance, conductance) / total)
    parts.injection[index[0], number] = ring.fraction * conductance / total
    parts.reading[index[0], number] = conductance / total
    parts.wall_resistance[number] = ring.fraction / total - levelling / (2.0 * np.pi)


@dataclass(frozen=True)
class FloorCells:
    """Cells under the floor surface, in order across.

    Attributes
    ----------
    cells : (F,) int
    centres, widths : (F,) float [m]
    share : (F,) float
        Share of the cell temperature in the surface temperature; the rest is what lies behind the film.
    """

    cells: NDArray[np.int64]
    centres: NDArray[np.float64]
    widths: NDArray[np.float64]
    share: NDArray[np.float64]


def add_floor_and_ground_surfaces(parts: Assembly) -> FloorCells:
    """Add the films over floor and outside ground; return the floor's cells."""
    mesh, cell_of = parts.mesh, parts.cell_of
    y = 0.5 * (mesh.y_lines[1:] + mesh.y_lines[:-1])
    width, height = np.diff(mesh.y_lines), np.diff(mesh.z_lines)
    top = np.argmax(cell_of >= 0, axis=1)
    columns = np.arange(y.size)
    exposed = cell_of[columns, top]
    half = 2.0 * parts.solid_conductivity[mesh.solid[columns, top]] / height[top]
    floor = np.zeros(y.size, dtype=bool)
    share = np.ones(y.size)
    for surface in parts.layout.surfaces:
        under = (y > surface.y0) & (y < surface.y1) & (exposed >= 0)
        film = surface.film_coefficient
        # Half cell and film in series, written so that a film of zero or of any size is safe.
        value = width[under] * half[under] * film / (half[under] + film)
        parts.film(exposed[under], parts.port(surface.port), value)
        if surface.port == "floor":
            floor |= under
            share[under] = half[under] / (half[under] + film)
    return FloorCells(exposed[floor], y[floor], width[floor], share[floor])


def add_ends(parts: Assembly) -> None:
    """Add what lies behind the bottom and the sides of the model."""
    layout, mesh, cell_of = parts.layout, parts.mesh, parts.cell_of
    width, height = np.diff(mesh.y_lines), np.diff(mesh.z_lines)
    ends = [
        ("bottom", layout.bottom.kind, cell_of[:, -1], mesh.solid[:, -1], width, float(height[-1])),
        ("sides", layout.sides.kind, cell_of[-1, :], mesh.solid[-1, :], height, float(width[-1])),
    ]
    if not layout.mirrored:
        ends.append(("sides", layout.sides.kind, cell_of[0, :], mesh.solid[0, :], height, float(width[0])))
    for name, kind, cells, solid, length, size in ends:
        kept = cells >= 0
        if kind == "heat flow":
            parts.injection[cells[kept], parts.port(name)] += length[kept]
        elif kind == "temperature":
            value = 2.0 * parts.solid_conductivity[solid[kept]] * length[kept] / size
            parts.film(cells[kept], parts.port(name), value)
