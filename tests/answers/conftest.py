from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from simulator.run.observers import Geometry, Moment
from simulator.store.contents import series_of
from simulator.store.reader import Results
from simulator.store.writer import ResultsWriter

JSON_CASE = '{"ducts": {"service_temperature": 333.15}}'
"""What a case built in Python leaves in its results, as far as answers read it."""


def build_results(
    start: dt.datetime,
    seconds: np.ndarray,
    courses: dict[str, np.ndarray],
    layout: dict[str, Any] | None = None,
    case_text: str = JSON_CASE,
) -> Results:
    """Store courses over time (temperatures in degrees Celsius); every other series is 0 or 0 degC.

    A course has one number for each row, or an array of the series' own shape. `layout` changes the geometry.
    """
    one = np.array([0.5])
    geometry = Geometry(
        series_ticks=np.rint(seconds * 1000).astype(np.int64),
        field_ticks=np.array([], dtype=np.int64),
        station_x=one, station_dx=one, edges_x=np.array([0.0, 1.0]),
        lane_across=one, lane_depth=one, lane_ducts=one,
        duct_across=one, duct_depth=one, duct_lane=np.array([0]),
        floor_across=one, floor_width_cells=one, map_across=one, map_depth=one,
        map_across_edges=np.array([0.0, 1.0]), map_depth_edges=np.array([0.0, 1.0]),
        map_material=np.array([[0]]), material_names=("sand",), duct_radius=0.05, building_half_width=1.0,
    )  # fmt: skip
    geometry = dataclasses.replace(geometry, **(layout or {}))
    case = SimpleNamespace(
        title="A night", source_text="", source_path=None, referenced_files=[],
        model_dump_json=lambda: case_text, site=SimpleNamespace(start=start),
        output=SimpleNamespace(units="SI"),
    )  # fmt: skip
    shapes = {
        "lane": geometry.lane_across.size, "station": geometry.station_x.size, "edge": geometry.edges_x.size,
        "branch": geometry.branch_ducts.size,
    }  # fmt: skip
    shapes |= {dim: len(names) for dim, names in geometry.names.items()}
    writer = ResultsWriter(None)
    writer.start(case, geometry)
    for row, tick in enumerate(geometry.series_ticks.tolist()):
        values = {}
        for name, entry in series_of(geometry).items():
            value = np.asarray(courses[name][row] if name in courses else 0.0, dtype=float)
            value = value + (273.15 if entry.unit == "degC" else 0.0)
            shape = tuple(shapes[dim] for dim in entry.dims[1:])
            values[name] = np.broadcast_to(value, shape).copy() if shape else float(value)
        writer.record(Moment(tick, values))
    writer.finish({})
    return writer.results()


@pytest.fixture
def make_results() -> Iterator[Callable[..., Results]]:
    made: list[Results] = []

    def make(
        start: dt.datetime,
        seconds: np.ndarray,
        layout: dict[str, Any] | None = None,
        case_text: str = JSON_CASE,
        **courses: np.ndarray,
    ) -> Results:
        made.append(build_results(start, seconds, courses, layout, case_text))
        return made[-1]

    yield make
    for results in made:
        results.close()
