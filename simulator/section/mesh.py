"""Graded rectangular cells whose faces fall on every material edge and on every duct centre.

Cell sizes follow one size function per direction: it is small at the places that need it (surfaces, film
corners, thin layers, ducts) and grows linearly with the distance from them. Scaling that function by one
half splits every cell in two, which is what convergence studies need.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from simulator.section.near_field import rim_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.layout import SectionLayout

GROWTH = 0.2
"""Growth of cell size per metre of distance from a fine spot [-]."""
SURFACE_CELL = 0.005
"""Cell size at an exposed surface [m]: about the depth a temperature change reaches within a minute."""
CORNER_CELL = 0.002
"""Cell size where two surface films meet [m]; well under conductivity / film of usual ground."""
LARGEST_CELL = 0.5
"""Largest cell anywhere [m]."""


@dataclass(frozen=True)
class FineSpot:
    """Cells of `size` [m] from `low` to `high` [m], growing outside that interval."""

    low: float
    high: float
    size: float


@dataclass(frozen=True)
class RectangularMesh:
    """Tensor grid lines and what each cell is made of.

    Attributes
    ----------
    y_lines : (ny + 1,) float [m]
    z_lines : (nz + 1,) float [m]
    solid : (ny, nz) int
        Index into the layout's solids, -1 where there is no ground.
    """

    y_lines: NDArray[np.float64]
    z_lines: NDArray[np.float64]
    solid: NDArray[np.int64]


def graded_lines(
    hard: list[float], spots: list[FineSpot], scale: float, largest: float = LARGEST_CELL
) -> NDArray[np.float64]:
    """Grid lines through every `hard` coordinate, spaced by the size function of the fine spots.

    Parameters
    ----------
    hard : list of float [m]
        Coordinates that must be grid lines; the first and last are the ends.
    spots : list of FineSpot
    scale : float
        Multiplies every cell size.
    largest : float [m]
        Cap on cell size at scale 1.

    Returns
    -------
    (n,) float [m], strictly increasing
    """
    points = _distinct(hard)
    lines = [points[0]]
    for low, high in pairwise(points):
        # The number of cells is the integral of 1/size; equal shares of it give the lines.
        # A spot finer than the samples must not slip between them; hard places are samples anyhow.
        ends = [end for spot in spots for end in (spot.low, spot.high) if low + 1e-6 < end < high - 1e-6]
        samples = np.sort(np.concatenate((np.linspace(low, high, 401), ends)))
        size = np.full_like(samples, largest)
        for spot in spots:
            distance = np.maximum(np.maximum(spot.low - samples, samples - spot.high), 0.0)
            size = np.minimum(size, spot.size + GROWTH * distance)
        density = 1.0 / (size * scale)
        steps = 0.5 * (density[1:] + density[:-1]) * np.diff(samples)
        cumulative = np.concatenate(([0.0], np.cumsum(steps)))
        cells = max(1, int(np.ceil(cumulative[-1] - 0.2)))
        inner = np.interp(np.linspace(0.0, cumulative[-1], cells + 1)[1:-1], cumulative, samples)
        lines.extend(float(value) for value in inner)
        lines.append(high)
    return np.asarray(lines)


def _distinct(values: list[float]) -> list[float]:
    result: list[float] = []
    for value in sorted(values):
        if not result or value - result[-1] > 1e-6:
            result.append(value)
    return result


@lru_cache(maxsize=8)
def grid_lines(layout: SectionLayout) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lines across and down between which the cells of a layout will lie; read only.

    Returns
    -------
    (ny + 1,) float [m], (nz + 1,) float [m]
    """
    low, high = layout.y_min, layout.y_max
    half = layout.building_half_width
    y_hard, z_hard = [low, high], [0.0, layout.depth]
    if _alike_on_both_sides(layout):
        y_hard.append(0.0)
    y_spots: list[FineSpot] = []
    z_spots = [FineSpot(0.0, 0.0, SURFACE_CELL)]
    for region in layout.regions:
        y_hard += [y for y in (region.y0, region.y1) if low < y < high]
        z_hard += [z for z in (region.z0, region.z1) if 0.0 < z < layout.depth]
        for extent, spots in (
            ((region.y0, region.y1), y_spots),
            ((region.z0, region.z1), z_spots),
        ):
            spots.append(FineSpot(extent[0], extent[1], max((extent[1] - extent[0]) / 3.0, 1e-4)))
    for surface in layout.surfaces:
        y_hard += [y for y in (surface.y0, surface.y1) if low < y < high]
    if layout.y_max > half + 1e-6:
        for edge in {abs(y) for surface in layout.surfaces for y in (surface.y0, surface.y1)}:
            y_spots += [FineSpot(side, side, CORNER_CELL) for side in (edge, -edge) if edge < layout.y_max]
    if layout.surface_level_outside > 0.0:
        z_hard.append(layout.surface_level_outside)
        z_spots.append(FineSpot(layout.surface_level_outside, layout.surface_level_outside, SURFACE_CELL))
    for index, lane in enumerate(layout.lanes):
        rim = rim_of(layout, index)
        radius, size = rim.radius, rim.cell
        y_hard += [y for y in (lane.across - radius, lane.across, lane.across + radius) if low < y < high]
        z_hard += [
            z for z in (lane.depth - radius, lane.depth, lane.depth + radius) if 0.0 < z < layout.depth
        ]
        y_spots.append(FineSpot(lane.across - radius, lane.across + radius, size))
        z_spots.append(FineSpot(lane.depth - radius, lane.depth + radius, size))
    y_lines = graded_lines(y_hard, y_spots, layout.cell_scale)
    z_lines = graded_lines(z_hard, z_spots, layout.cell_scale)
    y_lines.flags.writeable = z_lines.flags.writeable = False
    return y_lines, z_lines


def build_mesh(layout: SectionLayout) -> RectangularMesh:
    """Cut a layout into cells.

    Parameters
    ----------
    layout : SectionLayout

    Returns
    -------
    RectangularMesh
    """
    y_lines, z_lines = grid_lines(layout)
    y = 0.5 * (y_lines[1:] + y_lines[:-1])
    z = 0.5 * (z_lines[1:] + z_lines[:-1])
    return RectangularMesh(y_lines, z_lines, solid_at(layout, y[:, None], z[None, :]))


def _alike_on_both_sides(layout: SectionLayout) -> bool:
    """Whether the middle line should be a grid line, so that both halves are cut alike."""
    if layout.mirrored or abs(layout.y_min + layout.y_max) > 1e-9:
        return False
    return all(
        any(abs(a.across + b.across) < 1e-9 and abs(a.depth - b.depth) < 1e-9 for b in layout.lanes)
        for a in layout.lanes
    )


def solid_at(layout: SectionLayout, y: NDArray[np.float64], z: NDArray[np.float64]) -> NDArray[np.int64]:
    """Index of the solid at each point, -1 where there is none; `y` and `z` [m] broadcast."""
    y, z = np.broadcast_arrays(y, z)
    solid = np.full(y.shape, -1, dtype=np.int64)
    for region in layout.regions:
        inside = (y >= region.y0) & (y < region.y1) & (z >= region.z0) & (z < region.z1)
        solid[inside] = region.solid
    above = (np.abs(y) > layout.building_half_width) & (z < layout.surface_level_outside)
    solid[above] = -1
    return solid
