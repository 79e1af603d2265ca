"""What stands still in a picture: cells, materials, ducts and the edges of the floor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.look.scales import FloatArray

if TYPE_CHECKING:
    from simulator.store.reader import Results

IntArray = NDArray[np.int64]

__all__ = ["Scene", "closed_edges", "material_outlines", "read_scene"]


@dataclass(frozen=True, eq=False)
class Scene:
    """The section and the plan as drawn; lengths in metres.

    Attributes
    ----------
    across_edges : (Y + 1,) float
    depth_edges : (Z + 1,) float
    across : (Y,) float
    depth : (Z,) float
    material : (Z, Y) int
        Index into `material_names`; -1 where there is no ground.
    material_names : tuple of str
    duct_across, duct_depth : (D,) float
    duct_lane : (D,) int
        From 0.
    floor_across_edges : (F + 1,) float
    along_edges : (S + 1,) float
        From the floor's start.
    """

    across_edges: FloatArray
    depth_edges: FloatArray
    across: FloatArray
    depth: FloatArray
    material: IntArray
    material_names: tuple[str, ...]
    duct_across: FloatArray
    duct_depth: FloatArray
    duct_lane: IntArray
    floor_across_edges: FloatArray
    along_edges: FloatArray

    @property
    def floor_half_width(self) -> float:
        """Distance from the middle line to the edge of the floor [m]."""
        return float(self.floor_across_edges[-1] - self.floor_across_edges[0]) / 2.0


def _numbers(results: Results, name: str) -> FloatArray:
    return np.asarray(results.read(name), dtype=np.float64)


def closed_edges(middles: FloatArray, widths: FloatArray) -> FloatArray:
    """Edges of cells that touch each other, from their middles and widths."""
    return np.append(middles - widths / 2.0, middles[-1] + widths[-1] / 2.0)


def read_scene(results: Results) -> Scene:
    """Gather what a picture needs from the results, once."""
    return Scene(
        across_edges=_numbers(results, "section_across_edges"),
        depth_edges=_numbers(results, "section_depth_edges"),
        across=_numbers(results, "section_across"),
        depth=_numbers(results, "section_depth"),
        material=np.asarray(results.read("section_material"), dtype=np.int64),
        material_names=results.material_names,
        duct_across=_numbers(results, "duct_across"),
        duct_depth=_numbers(results, "duct_depth"),
        duct_lane=np.asarray(results.read("duct_lane"), dtype=np.int64) - 1,
        floor_across_edges=closed_edges(_numbers(results, "across"), _numbers(results, "floor_cell_width")),
        along_edges=_numbers(results, "edge"),
    )


def material_outlines(scene: Scene) -> tuple[list[FloatArray], list[FloatArray]]:
    """Lines between cells of unlike material.

    Returns
    -------
    inner, outer : list of (2, 2) float [m]
        Lines (across, depth) between two materials, and between ground and air.
    """
    inner: list[FloatArray] = []
    outer: list[FloatArray] = []
    material = scene.material
    for row, edge in enumerate(scene.depth_edges[1:-1]):
        for column in np.flatnonzero(material[row] != material[row + 1]).tolist():
            line = np.array([[scene.across_edges[column], edge], [scene.across_edges[column + 1], edge]])
            (outer if -1 in (material[row, column], material[row + 1, column]) else inner).append(line)
    for column, edge in enumerate(scene.across_edges[1:-1]):
        for row in np.flatnonzero(material[:, column] != material[:, column + 1]).tolist():
            line = np.array([[edge, scene.depth_edges[row]], [edge, scene.depth_edges[row + 1]]])
            (outer if -1 in (material[row, column], material[row, column + 1]) else inner).append(line)
    for column in np.flatnonzero(material[0] >= 0).tolist():
        top = scene.depth_edges[0]
        outer.append(np.array([[scene.across_edges[column], top], [scene.across_edges[column + 1], top]]))
    return inner, outer
