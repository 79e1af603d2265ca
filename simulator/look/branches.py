"""Branches of a results file: where they lie, and which stored values belong to each of their segments."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from simulator.air.path import Way, path_of
from simulator.case.duct_ways import DuctBranch
from simulator.case.kept_text import table_of, tables_of_text
from simulator.case.schema import Case, Ducts, Fan, Floor, Site
from simulator.case.schema_flue import Flue
from simulator.errors import DuctfloorError
from simulator.look.branch_chart import Along
from simulator.look.route_marks import Part
from simulator.look.routes import Kind, Route, flue_routes, routes_of
from simulator.look.scales import FloatArray

if TYPE_CHECKING:
    from simulator.store.reader import Results

IntArray = NDArray[np.int64]

__all__ = ["WATER", "Branch", "branch_air", "case_of", "pick_branch", "read_branches"]

SAME_PLACE = 1e-6  # [m]
PLACE = ("duct_across", "duct_depth")
WATER = "water_held"
"""Series of the water in the ducts, by lane and station; only there when moisture was computed."""
STREAMS: dict[Kind, tuple[str, str]] = {
    "air": ("mass_flow", "air_temperature"),
    "flue": ("flue_mass_flow", "flue_gas_temperature"),
    "jacket": ("jacket_mass_flow", "air_temperature"),
}
"""Flow, and temperature along the way, of what moves in a branch."""
MOST_NAMES = 12  # branches listed in a message


@dataclass(frozen=True, eq=False)
class Branch:
    """One way of the air and where its values are stored; G segments.

    Attributes
    ----------
    route : Route
    inside_radius : float [m]
    way : DuctBranch or None
        None for the flue run and its jacket.
    along : Along
    lane, station : (G,) int
        Indices from 0.
    entering, leaving : (G,) int
        Edges, from 0, at which the air enters and leaves each segment.
    """

    route: Route
    inside_radius: float
    way: DuctBranch | None
    along: Along
    lane: IntArray
    station: IntArray
    entering: IntArray
    leaving: IntArray

    def air(self, air: FloatArray) -> FloatArray:
        """Entering and leaving every segment, (2, G), from values (lane, edge)."""
        return np.stack([air[self.lane, self.entering], air[self.lane, self.leaving]])

    def parts(self, holds: NDArray[np.bool_], edges: FloatArray) -> list[Part]:
        """Where something holds, as parts of the runs, joined where segments follow each other."""
        found: list[Part] = []
        for segment in np.flatnonzero(holds).tolist():
            run, begin = int(self.along.run[segment]), float(edges[self.entering[segment]])
            end = float(edges[self.leaving[segment]])
            if found and found[-1].run == run and found[-1].end == begin:
                begin = found.pop().begin
            found.append(Part(run, begin, end))
        return found

    def at_stations(self, values: FloatArray) -> FloatArray:
        """Each segment's value, (G,), from values (lane, station)."""
        return values[self.lane, self.station]


def read_branches(results: Results) -> tuple[Branch, ...]:
    """Read the ways of the air under the floor, the flue run and its jacket last.

    Raises
    ------
    DuctfloorError
        When the ducts of the case do not lie where the results have them.
    """
    edges = np.asarray(results.read("edge"), dtype=np.float64)
    told = tables_of_text(results.case_text)
    ducts = table_of(told, "ducts", Ducts)
    ways = ducts.ways(float(edges[-1]))
    routes = routes_of(ways, 2.0 * ducts.outside_radius)
    places = np.column_stack([np.asarray(results.read(name), dtype=np.float64) for name in PLACE])
    lanes = np.asarray(results.read("duct_lane"), dtype=np.int64) - 1
    stored = Stored(places, lanes, edges)
    found = [
        _branch(route, ducts.diameter / 2.0, way, stored) for route, way in zip(routes, ways, strict=True)
    ]
    if told.get("flue") is not None:
        flue = table_of(told, "flue", Flue)
        for route in flue_routes(flue, float(edges[-1])):
            diameter = flue.diameter if route.kind == "flue" else flue.inside_diameter
            found.append(_branch(route, diameter / 2.0, None, stored))
    return tuple(found)


def branch_air(results: Results, branch: Branch, row: int) -> FloatArray:
    """Air or gas entering and leaving every segment at a row, (2, G) [degC]; NaN when it does not move."""
    flow, name = STREAMS[branch.route.kind]
    values = np.asarray(results.read(name, row), dtype=np.float64)
    found = branch.air(values) if values.ndim == 2 else values[np.stack([branch.entering, branch.leaving])]
    moves = float(results.read(flow, row)) > 0.0
    return found if moves else np.full_like(found, np.nan)


def pick_branch(branches: tuple[Branch, ...], wanted: str | int) -> tuple[int, Branch]:
    """Find a branch by its number, from 1, or by its name.

    Raises
    ------
    DuctfloorError
        When there is none.
    """
    text = str(wanted).strip()
    for number, branch in enumerate(branches, start=1):
        if text in (str(number), branch.route.name):
            return number, branch
    names = ", ".join(branch.route.name for branch in branches[:MOST_NAMES])
    more = ", ..." if len(branches) > MOST_NAMES else ""
    raise DuctfloorError(f'branch "{text}": allowed: 1 to {len(branches)}, or a name: {names}{more}')


def case_of(results: Results) -> Case:
    """Give floor, ducts, fan and place of the case that a results file carries; nothing else is filled in."""
    told = tables_of_text(results.case_text)
    tables: dict[str, Any] = {
        "site": table_of(told, "site", Site),
        "floor": table_of(told, "floor", Floor),
        "ducts": table_of(told, "ducts", Ducts),
        "fan": table_of(told, "fan", Fan),
    }
    return Case.model_construct(**tables)


@dataclass(frozen=True, eq=False)
class Stored:
    """Places (D, 2) [m] and lanes (D,) of the ducts, and edges (S + 1,) [m], as the results have them."""

    places: FloatArray
    lanes: IntArray
    edges: FloatArray


def _branch(route: Route, inside_radius: float, way: DuctBranch | None, stored: Stored) -> Branch:
    places, lanes, edges = stored.places, stored.lanes, stored.edges
    runs = []
    for across, depth, begin, end in zip(route.across, route.depth, route.begin, route.end, strict=True):
        apart = np.abs(places - [across, depth]).max(axis=1)
        if not apart.size or float(apart.min()) > SAME_PLACE:
            raise DuctfloorError(f"{route.name}: these results hold no duct at its place; run the case again")
        ends = [float(edges[np.argmin(np.abs(edges - place))]) for place in (begin, end)]
        runs.append((int(lanes[np.argmin(apart)]), ends[0], ends[1]))
    gaps = (0.0,) * len(runs) if way is None else (way.extra_length, *way.turns)
    path = path_of([Way(route.name, tuple(runs), gaps, 0.0)], edges)
    back = path.direction < 0
    return Branch(
        route=route,
        inside_radius=inside_radius,
        way=way,
        along=Along(path.begin, path.end, path.segment_run),
        lane=path.segment_lane,
        station=path.segment_station,
        entering=path.segment_station + back,
        leaving=path.segment_station + ~back,
    )
