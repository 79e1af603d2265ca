"""The way of the air: branches, each a path of segments through lanes and stations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from simulator.case.duct_ways import DuctBranch

ROOM_AIR, FLUE_GAS, JACKET_AIR = 0, 1, 2
"""Groups of branches: air through the fan, combustion gas, air round the gas pipe."""
SAME_PLACE = 1e-6
"""Two coordinates closer than this [m] are the same."""


@dataclass(frozen=True, eq=False)
class AirPath:
    """B branches of G segments in all, in path order.

    Attributes
    ----------
    branch_begin : (B + 1,) int
        First segment of each branch; the last entry is G.
    segment_branch, segment_lane, segment_station : (G,) int
    begin, end : (G,) float [m]
        Distance of each segment's ends from the branch's entrance along the air's way, pipe outside the floor
        and turns included.
    branch_ducts : (B,) float
        Ducts that each branch stands for.
    direction : (G,) int
        +1 where the air goes with the stations, -1 where it comes back.
    segment_run : (G,) int
        Which straight run of its branch, from 0.
    branch_length : (B,) float [m]
        Pipe in all, also outside the floor.
    branch_loss : (B,) float [1]
        Sum of the loss coefficients of entry, bends, fittings and exit.
    branch_group : (B,) int
        `ROOM_AIR`, `FLUE_GAS` or `JACKET_AIR`.
    branch_names : tuple of str
    """

    branch_begin: NDArray[np.int64]
    segment_branch: NDArray[np.int64]
    segment_lane: NDArray[np.int64]
    segment_station: NDArray[np.int64]
    begin: NDArray[np.float64]
    end: NDArray[np.float64]
    branch_ducts: NDArray[np.float64]
    direction: NDArray[np.int64]
    segment_run: NDArray[np.int64]
    branch_length: NDArray[np.float64]
    branch_loss: NDArray[np.float64]
    branch_group: NDArray[np.int64]
    branch_names: tuple[str, ...]

    @property
    def branches(self) -> int:
        """Number of branches."""
        return int(self.branch_ducts.size)


@dataclass(frozen=True)
class Way:
    """One branch as the path needs it: lanes and extents of its straight runs, and what it costs.

    Attributes
    ----------
    name : str
    runs : tuple of (lane, begin, end)
        Lane number and where the air enters and leaves along the floor [m].
    gaps : tuple of float [m]
        Pipe ahead of each run without heat exchange: lead-in, then turns; one for each run.
    loss : float [1]
    group : int
    """

    name: str
    runs: tuple[tuple[int, float, float], ...]
    gaps: tuple[float, ...]
    loss: float
    group: int = ROOM_AIR

    def same_as(self, other: Way) -> bool:
        """Whether both stand for ducts that are alike in everything."""
        mine, its = ((way.runs, way.loss, way.group) for way in (self, other))
        # Images of each other may differ in the last digit of their turns.
        return mine == its and all(
            abs(a - b) < SAME_PLACE for a, b in zip(self.gaps, other.gaps, strict=True)
        )


def way_of(
    branch: DuctBranch,
    lane_at: Callable[[float, float], int],
    *,
    bend_loss: float,
    end_losses: float,
) -> Way:
    """Branch of a case as a way through lanes.

    Parameters
    ----------
    branch : DuctBranch
    lane_at : callable
        Lane number from across and depth [m].
    bend_loss, end_losses : float [1]
        Loss coefficient of a right-angle bend, and of entry and exit together.
    """
    return Way(
        name=branch.name,
        runs=tuple((lane_at(*run.place), run.begin, run.end) for run in branch.stretches),
        gaps=(branch.extra_length, *branch.turns),
        loss=end_losses + bend_loss * branch.right_angles + branch.loss_coefficient,
    )


def path_of(ways: Sequence[Way], edges: NDArray[np.float64]) -> AirPath:
    """Cut ways into segments at the station edges; ways that are alike become one branch.

    Parameters
    ----------
    ways : sequence of Way
    edges : (S + 1,) float [m]
        Station edges along the floor; every end of a run is one of them.

    Returns
    -------
    AirPath
    """
    kept: list[Way] = []
    ducts: list[float] = []
    for way in ways:
        for number, other in enumerate(kept):
            if way.same_as(other):
                ducts[number] += 1.0
                break
        else:
            kept.append(way)
            ducts.append(1.0)
    columns: dict[str, list[float]] = {
        name: [] for name in ("branch", "lane", "station", "begin", "end", "direction", "run")
    }
    counts = [0]
    lengths = []
    for number, way in enumerate(kept):
        travelled = 0.0
        for run, ((lane, begin, end), gap) in enumerate(zip(way.runs, way.gaps, strict=True)):
            travelled += gap
            forward = end > begin
            low, high = min(begin, end), max(begin, end)
            inside = (edges[:-1] > low - SAME_PLACE) & (edges[1:] < high + SAME_PLACE)
            stations = np.flatnonzero(inside) if forward else np.flatnonzero(inside)[::-1]
            for station in stations:
                first, last = (station, station + 1) if forward else (station + 1, station)
                columns["branch"].append(number)
                columns["lane"].append(lane)
                columns["station"].append(station)
                columns["begin"].append(travelled + abs(edges[first] - begin))
                columns["end"].append(travelled + abs(edges[last] - begin))
                columns["direction"].append(1 if forward else -1)
                columns["run"].append(run)
            travelled += high - low
        lengths.append(travelled)
        counts.append(len(columns["branch"]))
    whole = {
        name: np.array(columns[name], dtype=np.int64)
        for name in ("branch", "lane", "station", "direction", "run")
    }
    return AirPath(
        branch_begin=np.array(counts, dtype=np.int64),
        segment_branch=whole["branch"],
        segment_lane=whole["lane"],
        segment_station=whole["station"],
        begin=np.array(columns["begin"], dtype=np.float64),
        end=np.array(columns["end"], dtype=np.float64),
        branch_ducts=np.array(ducts, dtype=np.float64),
        direction=whole["direction"],
        segment_run=whole["run"],
        branch_length=np.array(lengths, dtype=np.float64),
        branch_loss=np.array([way.loss for way in kept], dtype=np.float64),
        branch_group=np.array([way.group for way in kept], dtype=np.int64),
        branch_names=tuple(way.name for way in kept),
    )


def parallel_path(lane_ducts: NDArray[np.float64], edges: NDArray[np.float64]) -> AirPath:
    """Every lane one branch, all from the first edge to the last.

    Parameters
    ----------
    lane_ducts : (M,) float
        Ducts that each lane stands for.
    edges : (S + 1,) float [m]
        Station edges.

    Returns
    -------
    AirPath
    """
    ends = (float(edges[0]), float(edges[-1]))
    ways = []
    for lane, ducts in enumerate(lane_ducts):
        ways += [Way(f"branch {lane + 1}", ((lane, *ends),), (0.0,), 0.0)] * int(ducts)
    return path_of(ways, edges)
