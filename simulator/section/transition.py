"""Joins polar near fields to the rectangular mesh by triangles.

Seen from the cell centres, a rectangular finite-volume mesh is a mesh of *dual rectangles* whose corners are
cell centres. The dual rectangles that come too near to a rim are taken out, and the gap between them and the
rim nodes is filled with a Delaunay triangulation. Linear elements on Delaunay triangles are two-point fluxes
across Voronoi faces, which stand square on the lines between nodes: second order, symmetric, and without the
errors of cells cut at odd angles.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import SolverError
from simulator.section.mesh import solid_at

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from scipy.spatial import Delaunay

    from simulator.section.layout import SectionLayout
    from simulator.section.mesh import RectangularMesh
    from simulator.section.near_field import Ring

MARGINS = (0.5, 0.6, 0.42, 0.75, 0.9)
"""Distances from the rim, in cells, within which cell centres are dropped; tried in turn."""


@dataclass(frozen=True)
class Transition:
    """The triangles and what they leave of the rectangular mesh.

    Attributes
    ----------
    dropped : (ny, nz) bool
        Rectangular cells that are replaced.
    kept_dual : (ny + 1, nz + 1) bool
        Dual rectangles that stay; (i, j) lies between columns i-1, i and rows j-1, j.
    corner : (t, 3) int
        Nodes of each triangle: column * nz + row of a rectangular cell, or ny * nz + rim node number.
    stiffness : (t, 3, 3) float
        Element matrices for unit conductivity, symmetry planes allowed for.
    area : (t,) float [m2]
    solid : (t,) int
        Solid of each triangle.
    """

    dropped: NDArray[np.bool_]
    kept_dual: NDArray[np.bool_]
    corner: NDArray[np.int64]
    stiffness: NDArray[np.float64]
    area: NDArray[np.float64]
    solid: NDArray[np.int64]


def build_transition(layout: SectionLayout, mesh: RectangularMesh, rings: tuple[Ring, ...]) -> Transition:
    """Drop the rectangles near the ducts and triangulate the gaps.

    Parameters
    ----------
    layout : SectionLayout
    mesh : RectangularMesh
    rings : tuple of Ring
        One per lane.

    Returns
    -------
    Transition

    Raises
    ------
    SolverError
        If no triangulation fills the gap exactly.
    """
    ny, nz = mesh.solid.shape
    if not rings:
        nothing = np.zeros((0, 3), dtype=np.int64)
        return Transition(
            np.zeros((ny, nz), dtype=bool), np.ones((ny + 1, nz + 1), dtype=bool), nothing,
            np.zeros((0, 3, 3)), np.zeros(0), np.zeros(0, dtype=np.int64),
        )  # fmt: skip
    for margin in MARGINS:
        attempt = _attempt(layout, mesh, rings, margin)
        if attempt is not None:
            return attempt
    problem = "the ground round the ducts could not be meshed"
    raise SolverError(problem, fix="change numerics.cell_scale a little, or the spacing of the ducts")


def _attempt(
    layout: SectionLayout, mesh: RectangularMesh, rings: tuple[Ring, ...], margin: float
) -> Transition | None:
    from scipy.spatial import Delaunay, QhullError  # noqa: PLC0415 - slow to load, kept triangles need none

    ny, nz = mesh.solid.shape
    y = 0.5 * (mesh.y_lines[1:] + mesh.y_lines[:-1])
    z = 0.5 * (mesh.z_lines[1:] + mesh.z_lines[:-1])
    dropped = np.zeros((ny, nz), dtype=bool)
    for lane, ring in zip(layout.lanes, rings, strict=True):
        spacing = ring.radii[-1] * (ring.angles[1] - ring.angles[0])
        distance = np.hypot(y[:, None] - lane.across, z[None, :] - lane.depth)
        dropped |= distance < ring.rim_node_radius + margin * spacing
    padded = np.zeros((ny + 2, nz + 2), dtype=bool)
    padded[1:-1, 1:-1] = dropped
    removed = padded[:-1, :-1] | padded[1:, :-1] | padded[:-1, 1:] | padded[1:, 1:]
    corners = np.zeros((ny, nz), dtype=bool)
    for i in (0, 1):
        for j in (0, 1):
            corners |= removed[i : ny + i, j : nz + j]
    columns, rows = np.nonzero(corners & ~dropped)
    points, nodes = [np.column_stack((y[columns], z[rows]))], [columns * nz + rows]
    first = ny * nz
    owner = [np.full(columns.size, -1)]
    for number, (lane, ring) in enumerate(zip(layout.lanes, rings, strict=True)):
        radius = ring.rim_node_radius
        points.append(
            np.column_stack((
                lane.across + radius * np.cos(ring.middles), lane.depth + radius * np.sin(ring.middles)
            ))
        )  # fmt: skip
        nodes.append(first + np.arange(ring.sectors))
        owner.append(np.full(ring.sectors, number))
        first += ring.sectors
    place, node, lane_of = np.vstack(points), np.concatenate(nodes), np.concatenate(owner)
    # A duct on a symmetry plane is triangulated whole, with mirror images, and half of the result is kept.
    planes = {
        plane
        for lane in layout.lanes
        for plane in (layout.y_min, layout.y_max)
        if abs(lane.across - plane) < 1e-9
    }
    place, node, lane_of = _with_images(layout, planes, place, node, lane_of)
    try:
        simplices, share = _with_both_diagonals(place, Delaunay(place))
    except QhullError:
        return None
    corner_place = place[simplices]
    centre = corner_place.mean(axis=1)
    folded = centre.copy()
    for plane in planes:
        beyond = folded[:, 0] < plane if plane == layout.y_min else folded[:, 0] > plane
        folded[beyond, 0] = 2.0 * plane - folded[beyond, 0]
    column = np.searchsorted(y, folded[:, 0])
    row = np.searchsorted(z, folded[:, 1])
    lanes = lane_of[simplices]
    in_pipe = (lanes[:, 0] >= 0) & (lanes[:, 0] == lanes[:, 1]) & (lanes[:, 0] == lanes[:, 2])
    edge_1 = corner_place[:, 1] - corner_place[:, 0]
    edge_2 = corner_place[:, 2] - corner_place[:, 0]
    double = np.abs(edge_1[:, 0] * edge_2[:, 1] - edge_1[:, 1] * edge_2[:, 0])
    # With two planes each half of the section is imaged by its own plane only.
    reach = (layout.y_max - layout.y_min) / max(len(planes), 1)
    outside = np.maximum(layout.y_min - centre[:, 0], centre[:, 0] - layout.y_max)
    kept = removed[column, row] & ~in_pipe & (double > 1e-14) & (outside < reach)
    weight = (0.5 if planes else 1.0) * share[kept]
    corner_place, area = corner_place[kept], 0.5 * double[kept]
    target = _removed_area(mesh, removed) - sum(
        np.pi * float(ring.radii[-1]) ** 2 * ring.fraction for ring in rings
    )
    if abs(float(weight @ area) - target) > 1e-7 * max(target, 1e-6):
        return None
    # Linear element: stiffness_ij = (edge opposite i . edge opposite j) / (4 area).
    opposite = np.roll(corner_place, -1, axis=1) - np.roll(corner_place, 1, axis=1)
    stiffness = (weight / (4.0 * area))[:, None, None] * np.einsum("tia,tja->tij", opposite, opposite)
    solid = np.maximum(solid_at(layout, folded[kept, 0], folded[kept, 1]), 0)
    return Transition(dropped, ~removed, node[simplices[kept]], stiffness, weight * area, solid)


def _with_both_diagonals(
    place: NDArray[np.float64], mesh: Delaunay
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Triangles and their shares: four points on one circle count with either diagonal, half each.

    Which diagonal Delaunay takes there is chance; without it the mesh is as symmetric as its points.
    """
    simplices = np.asarray(mesh.simplices, dtype=np.int64)
    share = np.ones(len(simplices))
    first, side = np.nonzero(mesh.neighbors > np.arange(len(simplices))[:, None])
    second = mesh.neighbors[first, side]
    apex = simplices[first, side]
    p, q = simplices[first, (side + 1) % 3], simplices[first, (side + 2) % 3]
    other = simplices[second, np.argmax(mesh.neighbors[second] == first[:, None], axis=1)]
    # The four lie on one circle when the angles at the two apexes add up to half a turn.
    sine, cosine = np.zeros(first.size), np.ones(first.size)
    for corner in (apex, other):
        u, v = place[p] - place[corner], place[q] - place[corner]
        size = np.linalg.norm(u, axis=1) * np.linalg.norm(v, axis=1)
        s, c = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / size, np.sum(u * v, axis=1) / size
        sine, cosine = sine * c + cosine * s, cosine * c - sine * s
    flat = (np.abs(sine) < 1e-7) & (cosine < 0.0)
    pairs = np.bincount(np.concatenate((first[flat], second[flat])), minlength=len(simplices))
    flat &= (pairs[first] == 1) & (pairs[second] == 1)
    share[first[flat]] = share[second[flat]] = 0.5
    ends = np.column_stack((apex[flat], other[flat]))
    turned = np.vstack((np.column_stack((ends, p[flat])), np.column_stack((ends, q[flat]))))
    return np.vstack((simplices, turned)), np.concatenate((share, np.full(len(turned), 0.5)))


def _with_images(
    layout: SectionLayout,
    planes: set[float],
    place: NDArray[np.float64],
    node: NDArray[np.int64],
    lane_of: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    places, nodes, lanes = [place], [node], [lane_of]
    on_plane = np.array([lane.across for lane in layout.lanes])
    for number, plane in enumerate(sorted(planes), start=1):
        image = place.copy()
        image[:, 0] = 2.0 * plane - image[:, 0]
        # The image of a duct off the plane is another pipe; that of a duct on it is its other half.
        same_pipe = (lane_of < 0) | (np.abs(on_plane[lane_of] - plane) < 1e-9)
        places.append(image)
        nodes.append(node)
        lanes.append(np.where(same_pipe, lane_of, lane_of + number * len(layout.lanes)))
    return np.vstack(places), np.concatenate(nodes), np.concatenate(lanes)


def _removed_area(mesh: RectangularMesh, removed: NDArray[np.bool_]) -> float:
    quarter = 0.25 * np.diff(mesh.y_lines)[:, None] * np.diff(mesh.z_lines)[None, :]
    ny, nz = quarter.shape
    total = 0.0
    for i in (0, 1):
        for j in (0, 1):
            total += float((quarter * removed[i : ny + i, j : nz + j]).sum())
    return total
