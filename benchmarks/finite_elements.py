"""Peer: scikit-fem with bilinear quadrilaterals on a mesh of its own, the pipes cut out as round holes.

The half section is a graded grid; a square block round each pipe is replaced by an O-grid whose outer nodes
are those of the block's edge and whose inner nodes lie on the pipe. The film between duct air and wall stands
on the holes' edges, the films of floor and outside ground on the top edge. The bottom is held at the base
temperature by leaving its nodes out.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp
import skfem
from skfem.helpers import dot, grad

from benchmarks.section import Section

if TYPE_CHECKING:
    from simulator.section.layout import SectionLayout


@dataclass(frozen=True)
class Fineness:
    """Cell sizes [m] and counts."""

    surface: float = 0.02
    corner: float = 0.01
    growth: float = 0.35
    largest: float = 0.5
    block_sides: int = 6
    rings: int = 6
    ring_growth: float = 1.25

    def scaled(self, scale: float) -> Fineness:
        """Multiply the size of every cell."""
        return Fineness(
            self.surface * scale, self.corner * scale, self.growth * scale, self.largest * scale,
            round(self.block_sides / scale), round(self.rings / scale), self.ring_growth**scale,
        )  # fmt: skip


BLOCK = 2.0
"""Half side of the block round a pipe, over the pipe's radius."""


def _lines(
    stops: dict[float, float], fineness: Fineness, equal: list[tuple[float, float, int]]
) -> list[float]:
    """Grid lines through every stop; cells start at the size wanted there and grow away from it."""
    places = sorted(stops)
    lines = [places[0]]
    for low, high in itertools.pairwise(places):
        chosen = [count for a, b, count in equal if abs(a - low) < 1e-9 and abs(b - high) < 1e-9]
        if chosen:
            lines += list(np.linspace(low, high, chosen[0] + 1)[1:])
            continue
        samples = np.linspace(low, high, 2001)
        size = np.full_like(samples, fineness.largest)
        for place, wanted in stops.items():
            size = np.minimum(size, wanted + fineness.growth * np.abs(samples - place))
        number = np.concatenate(([0.0], np.cumsum(0.5 * (1 / size[1:] + 1 / size[:-1]) * np.diff(samples))))
        cells = max(1, round(float(number[-1])))
        lines += list(np.interp(np.linspace(0.0, number[-1], cells + 1)[1:], number, samples))
    return lines


def build_mesh(layout: SectionLayout, fineness: Fineness) -> skfem.MeshQuad:
    """Mesh of a mirrored section whose lanes all lie off the plane of symmetry."""
    half = layout.building_half_width
    lane_cell = 2.0 * BLOCK * layout.lanes[0].outside_radius / fineness.block_sides
    edge = fineness.largest
    across = {layout.y_min: edge, layout.y_max: edge}
    depth = {0.0: fineness.surface, layout.depth: edge}
    for region in layout.regions:
        across.update({y: edge for y in (region.y0, region.y1) if layout.y_min < y < layout.y_max})
        depth.update({z: edge for z in (region.z0, region.z1) if 0.0 < z < layout.depth})
    for surface in layout.surfaces:
        edges = (abs(surface.y0), abs(surface.y1))
        across.update({y: fineness.corner for y in edges if layout.y_min < y < layout.y_max})
    across[half] = fineness.corner
    blocks_y, blocks_z = set(), set()
    for lane in layout.lanes:
        size = BLOCK * lane.outside_radius
        y, z = (lane.across - size, lane.across + size), (lane.depth - size, lane.depth + size)
        across.update(dict.fromkeys(y, lane_cell))
        depth.update(dict.fromkeys(z, lane_cell))
        blocks_y.add((*y, fineness.block_sides))
        blocks_z.add((*z, fineness.block_sides))
    y_lines = np.array(_lines(across, fineness, sorted(blocks_y)))
    z_lines = np.array(_lines(depth, fineness, sorted(blocks_z)))
    nodes = np.arange(y_lines.size * z_lines.size).reshape(y_lines.size, z_lines.size)
    points = [np.stack(np.broadcast_arrays(y_lines[:, None], z_lines[None, :])).reshape(2, -1)]
    cells = np.ones((y_lines.size - 1, z_lines.size - 1), dtype=bool)
    quads = []
    first = nodes.size
    for lane in layout.lanes:
        size = BLOCK * lane.outside_radius
        i0, i1 = (int(np.argmin(np.abs(y_lines - lane.across - side))) for side in (-size, size))
        j0, j1 = (int(np.argmin(np.abs(z_lines - lane.depth - side))) for side in (-size, size))
        cells[i0:i1, j0:j1] = False
        rim = np.concatenate((
            nodes[i0:i1, j0], nodes[i1, j0:j1], nodes[i1:i0:-1, j1], nodes[i0, j1:j0:-1],
        ))  # fmt: skip
        outer = points[0][:, rim]
        away = outer - np.array([[lane.across], [lane.depth]])
        inner = np.array([[lane.across], [lane.depth]]) + lane.outside_radius * away / np.hypot(*away)
        widths = fineness.ring_growth ** np.arange(fineness.rings)
        shares = np.cumsum(widths)[:-1] / widths.sum()
        rings = [inner, *(inner + share * (outer - inner) for share in shares)]
        points.extend(rings)
        index = [first + number * rim.size + np.arange(rim.size) for number in range(fineness.rings)]
        first += fineness.rings * rim.size
        for low, high in zip(index, [*index[1:], rim], strict=True):
            quads.append(np.stack((low, np.roll(low, -1), np.roll(high, -1), high)))
    i, j = np.nonzero(cells)
    quads.append(np.stack((nodes[i, j], nodes[i + 1, j], nodes[i + 1, j + 1], nodes[i, j + 1])))
    place, quad = np.hstack(points), np.hstack(quads)
    used, renumbered = np.unique(quad, return_inverse=True)
    return skfem.MeshQuad(np.ascontiguousarray(place[:, used]), renumbered.reshape(quad.shape))


@skfem.BilinearForm
def _conduction(u, v, w):  # type: ignore[no-untyped-def]
    return w["k"] * dot(grad(u), grad(v))


@skfem.BilinearForm
def _product(u, v, w):  # type: ignore[no-untyped-def]
    return w["c"] * u * v


@skfem.BilinearForm
def _edge_product(u, v, _):  # type: ignore[no-untyped-def]
    return u * v


@skfem.LinearForm
def _edge_mean(v, _):  # type: ignore[no-untyped-def]
    return 1.0 * v


def build_section(layout: SectionLayout, fineness: Fineness) -> Section:
    """Assemble mass, stiffness and films.

    Parameters
    ----------
    layout : SectionLayout
        Read for its measures and materials only.
    fineness : Fineness
    """
    mesh = build_mesh(layout, fineness)
    element = skfem.ElementQuad1()
    basis = skfem.Basis(mesh, element, intorder=3)
    middle_y, middle_z = mesh.p[:, mesh.t].mean(axis=1)
    solid = np.zeros(middle_y.size, dtype=int)
    for region in layout.regions:
        inside_y = (middle_y > region.y0) & (middle_y < region.y1)
        solid[inside_y & (middle_z > region.z0) & (middle_z < region.z1)] = region.solid
    conductivity = np.array([s.conductivity for s in layout.solids])[solid]
    heat_capacity = np.array([s.heat_capacity for s in layout.solids])[solid]
    flat = skfem.Basis(mesh, skfem.ElementQuad0(), intorder=3)
    mass = _product.assemble(basis, c=flat.interpolate(heat_capacity))
    stiffness = _conduction.assemble(basis, k=flat.interpolate(conductivity))
    film = {"floor": np.zeros(mesh.p.shape[1]), "outside": np.zeros(mesh.p.shape[1])}
    floor_width, floor_film, mean = 0.0, 0.0, np.zeros(mesh.p.shape[1])
    middle = mesh.p[:, mesh.facets].mean(axis=1)
    boundary = mesh.boundary_facets()
    for surface in layout.surfaces:
        chosen = boundary[
            (np.abs(middle[1, boundary]) < 1e-9)
            & (middle[0, boundary] > surface.y0)
            & (middle[0, boundary] < surface.y1)
        ]
        if not chosen.size:
            continue
        edge = skfem.FacetBasis(mesh, element, facets=chosen, intorder=3)
        along = _edge_mean.assemble(edge)
        stiffness = stiffness + surface.film_coefficient * _edge_product.assemble(edge)
        film[surface.port] += surface.film_coefficient * along
        if surface.port == "floor":
            floor_width, floor_film, mean = along.sum(), surface.film_coefficient, along
    walls = []
    for lane in layout.lanes:
        distance = np.hypot(middle[0, boundary] - lane.across, middle[1, boundary] - lane.depth)
        edge = skfem.FacetBasis(
            mesh, element, facets=boundary[distance < lane.outside_radius * 1.01], intorder=3
        )
        around = _edge_mean.assemble(edge)
        length = around.sum()
        wall = sp.csr_array((around / length)[:, None])
        # Air of one temperature behind a film: local differences of the wall are levelled, its mean is not.
        levelling = _edge_product.assemble(edge) - length * (wall @ wall.T)
        stiffness = stiffness + levelling / lane.equalising_resistance
        walls.append(around / length)
    free = np.nonzero(mesh.p[1] < layout.depth - 1e-9)[0]
    wall_table = np.column_stack(walls)[free]
    return Section(
        mass=sp.csc_array(mass)[free][:, free],
        stiffness=sp.csc_array(stiffness)[free][:, free],
        ducts=wall_table,
        walls=wall_table,
        resistance=np.zeros(len(walls)),
        floor=film["floor"][free],
        floor_conductance=float(floor_film * floor_width),
        outside=film["outside"][free],
        mean=mean[free] / floor_width,
        mean_room=0.0,
        copies=float(layout.copies),
    )
