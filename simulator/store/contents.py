"""What a results file holds of a run with a given geometry: coordinates, what stands still, series."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.store.catalogue import FIELDS, SERIES, STATIC

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.run.observers import Geometry
    from simulator.store.catalogue import Entry

__all__ = ["NAMED", "coordinates_of", "expected_bytes", "series_of", "static_of"]

NAMED = ("coil", "layer", "surface", "mass")
"""Coordinates whose places have names."""
# Smooth ground fields in steps of 1/1024 K pack to less than this share of their size.
_PACKED_FIELD_SHARE = 0.6


def expected_bytes(geometry: Geometry) -> int:
    """Size to expect of the results file, on the safe side.

    Parameters
    ----------
    geometry : Geometry

    Returns
    -------
    int
        Bytes: series as they are, maps of the ground after packing.
    """
    sizes = {name: values.size for name, values in coordinates_of(geometry).items()}

    def numbers(entries: Mapping[str, Entry]) -> dict[str, int]:
        return {name: int(np.prod([sizes[dim] for dim in entry.dims])) for name, entry in entries.items()}

    series = 8 * sum(numbers(series_of(geometry)).values())
    maps = numbers(FIELDS)
    fields = 8 * maps["floor_surface_temperature"] + 4 * _PACKED_FIELD_SHARE * maps["ground_temperature"]
    fixed = 8 * sum(numbers(STATIC).values()) + 2**18
    return int(series + fields + fixed)


def coordinates_of(geometry: Geometry) -> dict[str, np.ndarray[Any, Any]]:
    """Values of every coordinate, by name."""
    found: dict[str, np.ndarray[Any, Any]] = {
        "time": geometry.series_ticks / TICKS_PER_SECOND,
        "field_time": geometry.field_ticks / TICKS_PER_SECOND,
        "station": geometry.station_x,
        "edge": geometry.edges_x,
        "lane": np.arange(1, geometry.lane_across.size + 1),
        "duct": np.arange(1, geometry.duct_across.size + 1),
        "across": geometry.floor_across,
        "section_across": geometry.map_across,
        "section_depth": geometry.map_depth,
        "section_across_edges": geometry.map_across_edges,
        "section_depth_edges": geometry.map_depth_edges,
        "branch": np.arange(1, geometry.branch_ducts.size + 1),
        "segment": np.arange(1, geometry.segment_branch.size + 1),
        **{dim: np.arange(1, len(geometry.names.get(dim, ())) + 1) for dim in NAMED},
    }
    return found


def static_of(geometry: Geometry) -> dict[str, np.ndarray[Any, Any]]:
    """Values of everything that does not change, by name; indices count from 1."""
    return {
        "station_length": geometry.station_dx,
        "lane_across": geometry.lane_across,
        "lane_depth": geometry.lane_depth,
        "lane_ducts": geometry.lane_ducts,
        "duct_across": geometry.duct_across,
        "duct_depth": geometry.duct_depth,
        "duct_lane": geometry.duct_lane + 1,
        "floor_cell_width": geometry.floor_width_cells,
        "section_material": geometry.map_material,
        "duct_inside_radius": geometry.duct_inside_radius,
        "branch_ducts": geometry.branch_ducts,
        "branch_length": geometry.branch_length,
        "branch_loss": geometry.branch_loss,
        "branch_group": geometry.branch_group,
        "segment_branch": geometry.segment_branch + 1,
        "segment_lane": geometry.segment_lane + 1,
        "segment_station": geometry.segment_station + 1,
        "segment_run": geometry.segment_run + 1,
        "segment_direction": geometry.segment_direction,
        "segment_begin": geometry.segment_begin,
        "segment_end": geometry.segment_end,
    }


def series_of(geometry: Geometry) -> dict[str, Entry]:
    """Series that a run with this geometry fills, by name."""
    sizes = {"branch": geometry.branch_ducts.size, "segment": geometry.segment_branch.size}
    sizes |= {dim: len(geometry.names.get(dim, ())) for dim in NAMED}
    return {
        name: entry
        for name, entry in SERIES.items()
        if (not entry.part or entry.part in geometry.parts) and all(sizes.get(dim, 1) for dim in entry.dims)
    }
