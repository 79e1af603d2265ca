"""Where everything of a run lies, over the whole width of the floor."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.run.chain_parts import chain_parts, names_in_chain
from simulator.run.observers import Geometry

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.air.path import AirPath
    from simulator.case.schema import Case
    from simulator.section.layout import DuctPlaces
    from simulator.section.operators import SectionOperators


SHORTEST_REST = 1e-3
"""Floor between the ends of ducts that is not worth a station [m]."""


def station_edges(case: Case) -> NDArray[np.float64]:
    """Cut the floor's length into stations.

    Every place where a duct begins or ends is an edge; between such places stations are equal slices.

    Returns
    -------
    (S + 1,) float [m]
        From the floor's start.
    """
    floor, stations = case.floor.length, case.numerics.stations
    ends = [end for branch in case.duct_branches for run in branch.stretches for end in (run.begin, run.end)]
    if case.flue is not None:
        ends += case.flue.ends(floor)
    marks = [0.0]
    for end in sorted(ends):
        if end - marks[-1] > SHORTEST_REST and floor - end > SHORTEST_REST:
            marks.append(end)
    if len(marks) == 1:
        return np.linspace(0.0, floor, stations + 1)
    marks.append(floor)
    if len(marks) == 3:
        first = min(max(1, round(stations * marks[1] / floor)), max(1, stations - 1))
        counts = [first, max(1, stations - first)]
    else:
        counts = [max(1, round(stations * piece / floor)) for piece in np.diff(marks)]
    pieces = [
        np.linspace(begin, end, count + 1)[1:]
        for begin, end, count in zip(marks[:-1], marks[1:], counts, strict=True)
    ]
    return np.concatenate(([0.0], *pieces))


def mirrored(
    values: NDArray[np.float64], operators: SectionOperators, *, axis: int = -1
) -> NDArray[np.float64]:
    """Cell values across the computed section, continued over the whole width where it is one half."""
    if not operators.layout.mirrored:
        return values
    return np.concatenate((np.flip(values, axis=axis), values), axis=axis)


def geometry_of(
    case: Case,
    operators: SectionOperators,
    places: DuctPlaces,
    path: AirPath,
    series_ticks: NDArray[np.int64],
    field_ticks: NDArray[np.int64],
) -> Geometry:
    """Collect the places for the observers of a run."""
    layout, mesh = operators.layout, operators.mesh
    edges = station_edges(case)
    centres, widths = operators.floor_centres, operators.floor_widths
    y_lines = mesh.y_lines
    if layout.mirrored:
        centres = np.concatenate((-centres[::-1], centres))
        widths = np.concatenate((widths[::-1], widths))
        y_lines = np.concatenate((-y_lines[:0:-1], y_lines))
    return Geometry(
        series_ticks=series_ticks,
        field_ticks=field_ticks,
        station_x=0.5 * (edges[1:] + edges[:-1]),
        station_dx=np.diff(edges),
        edges_x=edges,
        lane_across=np.array([lane.across for lane in layout.lanes]),
        lane_depth=np.array([lane.depth for lane in layout.lanes]),
        lane_ducts=np.bincount(places.lane, minlength=len(layout.lanes)).astype(np.float64),
        duct_across=np.array(places.across),
        duct_depth=np.array(places.depth),
        duct_lane=np.array(places.lane, dtype=np.int64),
        floor_across=centres,
        floor_width_cells=widths,
        map_across=0.5 * (y_lines[1:] + y_lines[:-1]),
        map_depth=0.5 * (mesh.z_lines[1:] + mesh.z_lines[:-1]),
        map_across_edges=y_lines,
        map_depth_edges=mesh.z_lines,
        map_material=mirrored(mesh.solid.T.astype(np.float64), operators).astype(np.int64),
        material_names=tuple(solid.name for solid in layout.solids),
        duct_radius=case.ducts.diameter / 2.0,
        building_half_width=layout.building_half_width,
        floor_thickness=case.floor.thickness,
        duct_inside_radius=np.array(places.inside_radius),
        branch_names=path.branch_names,
        branch_ducts=path.branch_ducts,
        branch_length=path.branch_length,
        branch_loss=path.branch_loss,
        branch_group=path.branch_group,
        segment_branch=path.segment_branch,
        segment_lane=path.segment_lane,
        segment_station=path.segment_station,
        segment_run=path.segment_run,
        segment_direction=path.direction,
        segment_begin=path.begin,
        segment_end=path.end,
        parts=frozenset(
            [
                *(["moisture"] if case.moisture is not None else []),
                *(["flue"] if case.flue is not None else []),
                *chain_parts(case),
            ]
        ),
        names=names_in_chain(case),
    )
