from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from types import SimpleNamespace

import numpy as np
import pytest

from simulator.run.observers import Geometry, Moment
from simulator.store.catalogue import SERIES
from simulator.store.reader import Results
from simulator.store.writer import ResultsWriter


def build_results(start: dt.datetime, seconds: np.ndarray, courses: dict[str, np.ndarray]) -> Results:
    """Store courses over time (temperatures in degrees Celsius); every other series is 0 or 0 degC."""
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
    case = SimpleNamespace(
        title="A night", source_text="", source_path=None, referenced_files=[], model_dump_json=lambda: "{}",
        site=SimpleNamespace(start=start), output=SimpleNamespace(units="SI"),
    )  # fmt: skip
    shapes = {"lane": 1, "station": 1, "edge": 2}
    writer = ResultsWriter(None)
    writer.start(case, geometry)
    for row, tick in enumerate(geometry.series_ticks.tolist()):
        values = {}
        for name, entry in SERIES.items():
            value = float(courses[name][row]) if name in courses else 0.0
            value += 273.15 if entry.unit == "degC" else 0.0
            shape = tuple(shapes[dim] for dim in entry.dims[1:])
            values[name] = np.full(shape, value) if shape else value
        writer.record(Moment(tick, values))
    writer.finish({})
    return writer.results()


@pytest.fixture
def make_results() -> Iterator[Callable[..., Results]]:
    made: list[Results] = []

    def make(start: dt.datetime, seconds: np.ndarray, **courses: np.ndarray) -> Results:
        made.append(build_results(start, seconds, courses))
        return made[-1]

    yield make
    for results in made:
        results.close()
