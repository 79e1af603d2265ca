"""The way of the air: branches, each a path of segments through lanes and stations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class AirPath:
    """B branches of G segments in all, in path order.

    Attributes
    ----------
    branch_begin : (B + 1,) int
        First segment of each branch; the last entry is G.
    segment_branch, segment_lane, segment_station : (G,) int
    begin, end : (G,) float [m]
        Distance of each segment's ends from the duct's entrance.
    branch_ducts : (B,) float
        Ducts that each branch stands for.
    """

    branch_begin: NDArray[np.int64]
    segment_branch: NDArray[np.int64]
    segment_lane: NDArray[np.int64]
    segment_station: NDArray[np.int64]
    begin: NDArray[np.float64]
    end: NDArray[np.float64]
    branch_ducts: NDArray[np.float64]


def parallel_path(lane_ducts: NDArray[np.float64], edges: NDArray[np.float64]) -> AirPath:
    """Every lane one branch, all from the inlet end to the exit end.

    Parameters
    ----------
    lane_ducts : (M,) float
        Ducts that each lane stands for.
    edges : (S + 1,) float [m]
        Station edges from the inlet.

    Returns
    -------
    AirPath
    """
    lanes, stations = lane_ducts.size, edges.size - 1
    lane = np.repeat(np.arange(lanes), stations)
    return AirPath(
        branch_begin=np.arange(lanes + 1) * stations,
        segment_branch=lane.copy(),
        segment_lane=lane,
        segment_station=np.tile(np.arange(stations), lanes),
        begin=np.tile(edges[:-1], lanes),
        end=np.tile(edges[1:], lanes),
        branch_ducts=np.asarray(lane_ducts, dtype=np.float64),
    )
