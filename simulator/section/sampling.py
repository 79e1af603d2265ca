"""From cells to the rectangular grid of a section map."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp
from scipy.spatial import Delaunay, cKDTree

if TYPE_CHECKING:
    from simulator.section.operators import SectionOperators


def map_matrix(operators: SectionOperators) -> sp.csr_array:
    """Weights that turn (N,) cell temperatures into (ny * nz,) temperatures of the rectangles.

    Rectangles that the near field of a duct replaces are interpolated between its nodes; inside the pipe they
    show the mean of the soil round it. Rows of rectangles without ground are empty.

    Parameters
    ----------
    operators : SectionOperators

    Returns
    -------
    (ny * nz, N) sparse
    """
    mesh, cell_of = operators.mesh, operators.cell_of
    ny, nz = mesh.solid.shape
    y = 0.5 * (mesh.y_lines[1:] + mesh.y_lines[:-1])
    z = 0.5 * (mesh.z_lines[1:] + mesh.z_lines[:-1])
    plain = cell_of.ravel()
    rows, columns = np.nonzero(plain >= 0)[0], plain[plain >= 0]
    weights = np.ones(rows.size)
    parts = [(rows, columns, weights)]
    missing = np.nonzero((plain < 0) & (mesh.solid.ravel() >= 0))[0]
    if missing.size:
        targets = np.column_stack((y[missing // nz], z[missing % nz]))
        nodes = np.column_stack((operators.cell_across, operators.cell_depth))
        near = np.zeros(nodes.shape[0], dtype=bool)
        for lane, ring in zip(operators.layout.lanes, operators.rings, strict=True):
            distance = np.hypot(nodes[:, 0] - lane.across, nodes[:, 1] - lane.depth)
            near |= distance < 2.0 * ring.radii[-1]
        chosen = np.nonzero(near)[0]
        places = nodes[chosen]
        if operators.layout.mirrored:
            # The mirror images close the gap between the first nodes and the plane.
            chosen = np.concatenate((chosen, chosen))
            places = np.vstack((places, places * (-1.0, 1.0)))
        triangles = Delaunay(places)
        simplex = triangles.find_simplex(targets)
        nearest = np.asarray(cKDTree(places).query(targets)[1])
        in_pipe = np.zeros(missing.size, dtype=bool)
        for number, lane in enumerate(operators.layout.lanes):
            inside = np.hypot(targets[:, 0] - lane.across, targets[:, 1] - lane.depth) < lane.outside_radius
            in_pipe |= inside
            # Where there is no soil, the mean of the soil round the pipe.
            first = int(operators.first_ring_cell[number])
            wall = np.arange(first, first + operators.rings[number].sectors)
            filled = missing[inside]
            parts.append(
                (
                    np.repeat(filled, wall.size),
                    np.tile(wall, filled.size),
                    np.full(filled.size * wall.size, 1.0 / wall.size),
                )
            )
        outer = ~in_pipe & (simplex < 0)
        parts.append((missing[outer], chosen[nearest[outer]], np.ones(int(outer.sum()))))
        inside = ~in_pipe & (simplex >= 0)
        transform = triangles.transform[simplex[inside]]
        local = np.einsum("tij,tj->ti", transform[:, :2], targets[inside] - transform[:, 2])
        barycentric = np.column_stack((local, 1.0 - local.sum(axis=1)))
        corners = chosen[triangles.simplices[simplex[inside]]]
        parts.append((np.repeat(missing[inside], 3), corners.ravel(), barycentric.ravel()))
    row, column, weight = (np.concatenate([part[n] for part in parts]) for n in range(3))
    return sp.coo_array((weight, (row, column)), shape=(ny * nz, operators.cells)).tocsr()
