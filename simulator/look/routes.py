"""The ways of the air as they are drawn: runs under the floor, one after another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from simulator.look.scales import FloatArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.case.duct_ways import DuctBranch
    from simulator.case.schema_flue import Flue

__all__ = ["Kind", "Route", "flue_routes", "routes_of", "side_steps"]

Kind = Literal["air", "flue", "jacket"]
SAME_PLACE = 1e-6  # [m]


@dataclass(frozen=True, eq=False)
class Route:
    """One branch: its runs in the order of the air.

    Attributes
    ----------
    name : str
    across, depth : (R,) float [m]
        Place of each run in the section.
    begin, end : (R,) float [m]
        Where each run begins and ends along the floor, from its start; the air runs back where the end is
        nearer than the beginning.
    diameter : float [m]
        Outside diameter.
    kind : {"air", "flue", "jacket"}
        What moves in it: room air, combustion gas, or air between the flue and the jacket round it.
    """

    name: str
    across: FloatArray
    depth: FloatArray
    begin: FloatArray
    end: FloatArray
    diameter: float
    kind: Kind = "air"

    @property
    def directions(self) -> FloatArray:
        """+1 for runs away from the floor's start, -1 for runs back."""
        return np.where(self.end >= self.begin, 1.0, -1.0)

    @property
    def length(self) -> float:
        """Length under the floor [m]."""
        return float(np.abs(self.end - self.begin).sum())


def routes_of(branches: Sequence[DuctBranch], diameter: float) -> tuple[Route, ...]:
    """Branches of a case as they are drawn; `diameter` [m] is that over the wall."""
    return tuple(
        Route(
            branch.name,
            across=np.array([run.across for run in branch.stretches]),
            depth=np.array([run.depth for run in branch.stretches]),
            begin=np.array([run.begin for run in branch.stretches]),
            end=np.array([run.end for run in branch.stretches]),
            diameter=diameter,
        )
        for branch in branches
    )


def flue_routes(flue: Flue, floor_length: float) -> tuple[Route, ...]:
    """Give the flue run and, where there is one, its jacket."""
    across, depth, begin, end = (
        np.array([value]) for value in (flue.across, flue.depth, *flue.ends(floor_length))
    )
    gas = Route("flue", across, depth, begin, end, flue.diameter + 2.0 * flue.wall_thickness, "flue")
    if flue.jacket is None:
        return (gas,)
    return gas, Route("jacket", across, depth, begin, end, 2.0 * flue.outside_radius, "jacket")


def side_steps(routes: Sequence[Route]) -> list[FloatArray]:
    """How far each run is moved aside where several lie above each other, seen from above.

    Returns
    -------
    list of (R,) float
        In distances between lines: 0 for a run that lies alone, else evenly about 0.
    """
    runs = [(route, run) for route in routes for run in range(route.across.size)]
    beside: dict[int, list[list[int]]] = {}
    for number, (route, run) in enumerate(runs):
        groups = beside.setdefault(round(float(route.across[run]) / SAME_PLACE), [])
        for group in groups:
            if _above_each_other(runs[group[0]], (route, run)):
                group.append(number)
                break
        else:
            groups.append([number])
    steps = np.zeros(len(runs))
    for group in (group for groups in beside.values() for group in groups):
        steps[group] = np.arange(len(group)) - (len(group) - 1) / 2.0
    parts = np.cumsum([route.across.size for route in routes])[:-1]
    return list(np.split(steps, parts))


def _above_each_other(one: tuple[Route, int], other: tuple[Route, int]) -> bool:
    """Whether two runs of the same place across share some of the floor's length."""
    (first, its), (second, run) = one, other
    # A jacket lies round its flue: the two are one line.
    same_depth = abs(float(first.depth[its] - second.depth[run])) <= SAME_PLACE
    if same_depth and {first.kind, second.kind} == {"flue", "jacket"}:
        return False
    low = max(min(first.begin[its], first.end[its]), min(second.begin[run], second.end[run]))
    high = min(max(first.begin[its], first.end[its]), max(second.begin[run], second.end[run]))
    return bool(high - low > SAME_PLACE)
