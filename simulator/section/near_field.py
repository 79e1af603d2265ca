"""The near field: a polar ring of soil round each duct.

A round duct in a rectangular mesh must not feel how the grid lines cut it. So the soil between the pipe and a
rim circle is cut into polar cells (rings x sectors, fine at the wall), whose radial conductances are those of
the exact field T = ln r. Outside the rim, `transition.py` joins the polar cells to the rectangular ones.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import CaseError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.layout import SectionLayout

RIM_RATIO = 2.0
"""Rim radius over outside pipe radius where there is room for it."""
SMALLEST_RIM_RATIO = 1.2
RIM_CELLS = 6
"""Rectangular cells per rim radius, at scale 1."""
FIRST_RING = 0.025
"""Thickness of the ring at the wall over the outside pipe radius, at scale 1."""
RING_GROWTH = 0.3
FEWEST_SECTORS = 12
SMALLEST_GAP = 0.02
"""Least soil between a pipe and a surface, or half of it between two pipes, over the pipe radius."""


@dataclass(frozen=True)
class Rim:
    """Radius of the rim and size of the rectangular cells just outside it [m], at scale 1."""

    radius: float
    cell: float


def rim_of(layout: SectionLayout, index: int) -> Rim:
    """Where a lane's near field ends.

    The rim leaves half of the soil between the pipe and the nearest surface, model end or duct to
    rectangular cells. It keeps clear of material edges where that leaves a ring worth having, and otherwise
    runs across them.

    Raises
    ------
    CaseError
        If there is next to no soil between the pipe and a surface or another duct.
    """
    lane = layout.lanes[index]
    pipe = lane.outside_radius
    gaps = [lane.depth - pipe, layout.depth - lane.depth - pipe]
    gaps += [abs(lane.across - y) - pipe for y in (layout.y_min, layout.y_max) if abs(lane.across - y) > 1e-9]
    for number, other in enumerate(layout.lanes):
        if number != index:
            apart = math.hypot(lane.across - other.across, lane.depth - other.depth)
            gaps.append(0.5 * (apart - pipe - other.outside_radius))
    gap = min(gaps)
    if gap < SMALLEST_GAP * pipe:
        problem = (
            f"the duct at {lane.across:.3f} m across, {lane.depth:.3f} m deep leaves almost no ground "
            "between itself and the surface, the end of the model or the next duct"
        )
        raise CaseError(problem, key="ducts", fix="bury it deeper or give the ducts more spacing")
    wanted = RIM_RATIO * pipe
    edges = []
    for region in layout.regions:
        if region.z0 - wanted < lane.depth < region.z1 + wanted:
            edges += [abs(lane.across - y) for y in (region.y0, region.y1)]
        if region.y0 - wanted < lane.across < region.y1 + wanted:
            edges += [abs(lane.depth - z) for z in (region.z0, region.z1)]
    if all(edge >= SMALLEST_RIM_RATIO * pipe for edge in edges):
        wanted = min([wanted, *edges])
    radius = min(wanted, pipe + 0.5 * gap)
    return Rim(radius, min(radius / RIM_CELLS, gap / 4.0))


@dataclass(frozen=True)
class Ring:
    """Polar cells round one lane.

    Attributes
    ----------
    radii : (n + 1,) float [m], from the pipe's outside to the rim
    angles : (m + 1,) float [rad], from the y axis towards z: a full turn, or half of one at a symmetry plane
    mean_log : (n,) float, mean of ln r over each ring
    full_turn : bool
    """

    radii: NDArray[np.float64]
    angles: NDArray[np.float64]
    mean_log: NDArray[np.float64]
    full_turn: bool

    @property
    def fraction(self) -> float:
        """Share of the whole duct that lies in the section."""
        return 1.0 if self.full_turn else 0.5

    @property
    def sectors(self) -> int:
        """Number of sectors in the section."""
        return int(self.angles.size - 1)

    @property
    def middles(self) -> NDArray[np.float64]:
        """(m,) middle angle of each sector [rad]."""
        return 0.5 * (self.angles[1:] + self.angles[:-1])

    @property
    def rim_node_radius(self) -> float:
        """Radius of the rim nodes [m]: the polygon through them has the area of the rim circle."""
        step = float(self.angles[1] - self.angles[0])
        return float(self.radii[-1]) * math.sqrt(step / math.sin(step))


def build_ring(layout: SectionLayout, index: int) -> Ring:
    """Cut the near field of one lane into polar cells."""
    lane = layout.lanes[index]
    rim = rim_of(layout, index)
    pipe = lane.outside_radius
    # Thickness grows linearly with distance from the wall; equal shares of the integral of 1/thickness.
    reach = math.log1p(RING_GROWTH * (rim.radius - pipe) / (FIRST_RING * pipe))
    count = max(1, round(reach / RING_GROWTH / layout.cell_scale))
    share = np.linspace(0.0, 1.0, count + 1)
    radii = pipe + FIRST_RING * pipe / RING_GROWTH * np.expm1(share * reach)
    radii[-1] = rim.radius
    half = max(FEWEST_SECTORS // 2, round(math.pi * rim.radius / rim.cell / layout.cell_scale))
    if abs(lane.across - layout.y_min) < 1e-9:
        angles = np.linspace(-math.pi / 2, math.pi / 2, half + 1)
    elif abs(lane.across - layout.y_max) < 1e-9:
        angles = np.linspace(math.pi / 2, 3 * math.pi / 2, half + 1)
    else:
        angles = np.linspace(-math.pi / 2, 3 * math.pi / 2, 2 * half + 1)
    square = radii**2
    moment = square * (np.log(radii) - 0.5)
    mean_log = (moment[1:] - moment[:-1]) / (square[1:] - square[:-1])
    full_turn = bool(angles[-1] - angles[0] > 1.5 * math.pi)
    return Ring(radii, angles, mean_log, full_turn)
