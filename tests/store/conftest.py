from __future__ import annotations

import datetime as dt
import resource
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pydantic import BaseModel

from simulator.run.observers import Geometry, Moment
from simulator.store.contents import series_of

START = dt.datetime(2024, 2, 28, 18, 0)
EVERY_PART = frozenset({"moisture", "flue", "stove", "water", "house", "switching", "whole"})
NAMES = {
    "coil": ("upper", "lower"),
    "layer": ("bottom", "layer 2", "top"),
    "surface": ("pane", "wall"),
    "mass": ("jars",),
}


class Site(BaseModel):
    start: dt.datetime = START


class Weather(BaseModel):
    kind: str = "constant"
    file: str | None = None


class Output(BaseModel):
    units: str = "SI"


class SmallCase(BaseModel):
    """As much of a case as the store looks at."""

    title: str = "Greenhouse bench"
    site: Site = Site()
    weather: Weather = Weather()
    output: Output = Output()
    source_text: str = 'title = "Greenhouse bench"\n'
    source_path: str | None = "cases/bench.toml"

    @property
    def referenced_files(self) -> list[Path]:
        return [Path(self.source_path).parent / self.weather.file] if self.weather.file else []


def build_geometry(
    rows: int = 7,
    maps: int = 2,
    stations: int = 3,
    lanes: int = 2,
    floor: int = 4,
    wide: int = 5,
    deep: int = 6,
    parts: frozenset[str] = EVERY_PART,
) -> Geometry:
    series_ticks = np.arange(rows, dtype=np.int64) * 300_000
    across_edges = np.linspace(-2.0, 2.0, wide + 1)
    depth_edges = np.linspace(0.0, 3.0, deep + 1) ** 1.5
    edges = np.linspace(0.0, 9.0, stations + 1)
    return Geometry(
        series_ticks=series_ticks,
        field_ticks=series_ticks[np.linspace(0, rows - 1, maps).astype(int)] if maps else series_ticks[:0],
        station_x=(edges[1:] + edges[:-1]) / 2,
        station_dx=np.diff(edges),
        edges_x=edges,
        lane_across=np.linspace(-1.0, 0.0, lanes),
        lane_depth=np.full(lanes, 0.6),
        lane_ducts=np.full(lanes, 2.0),
        duct_across=np.linspace(-1.0, 1.0, 2 * lanes),
        duct_depth=np.full(2 * lanes, 0.6),
        duct_lane=np.r_[np.arange(lanes), np.arange(lanes)[::-1]],
        floor_across=np.linspace(-1.5, 1.5, floor),
        floor_width_cells=np.full(floor, 3.0 / floor),
        map_across=(across_edges[1:] + across_edges[:-1]) / 2,
        map_depth=(depth_edges[1:] + depth_edges[:-1]) / 2,
        map_across_edges=across_edges,
        map_depth_edges=depth_edges,
        map_material=np.arange(deep * wide).reshape(deep, wide) % 3 - 1,
        material_names=("concrete", "sand"),
        duct_radius=0.05,
        building_half_width=1.5,
        floor_thickness=0.1,
        duct_inside_radius=np.full(2 * lanes, 0.05),
        branch_names=tuple(f"branch {number}" for number in range(1, lanes + 1)),
        branch_ducts=np.full(lanes, 2.0),
        branch_length=np.full(lanes, 9.0),
        branch_loss=np.full(lanes, 1.5),
        branch_group=np.zeros(lanes, dtype=np.int64),
        segment_branch=np.repeat(np.arange(lanes), stations),
        segment_lane=np.repeat(np.arange(lanes), stations),
        segment_station=np.tile(np.arange(stations), lanes),
        segment_run=np.zeros(lanes * stations, dtype=np.int64),
        segment_direction=np.ones(lanes * stations, dtype=np.int64),
        segment_begin=np.tile(edges[:-1], lanes),
        segment_end=np.tile(edges[1:], lanes),
        parts=parts,
        names=NAMES,
    )


def build_moments(geometry: Geometry, seed: int = 1) -> list[Moment]:
    """Rows of noise in kelvin (temperatures) and SI, with a map wherever one is due."""
    random = np.random.default_rng(seed)
    sizes = {
        "lane": geometry.lane_across.size,
        "station": geometry.station_x.size,
        "edge": geometry.edges_x.size,
        "branch": geometry.branch_ducts.size,
        **{dim: len(names) for dim, names in geometry.names.items()},
    }
    moments = []
    due = set(geometry.field_ticks.tolist())
    for tick in geometry.series_ticks.tolist():
        values: dict[str, Any] = {}
        for name, entry in series_of(geometry).items():
            shape = tuple(sizes[dim] for dim in entry.dims[1:])
            noise = random.normal(290.0 if entry.unit == "degC" else 0.0, 5.0, shape)
            values[name] = noise if shape else float(noise)
        field = None
        if tick in due:
            stations = geometry.station_x.size
            field = random.normal(285.0, 8.0, (stations, *geometry.map_material.shape))
            field[:, geometry.map_material < 0] = np.nan
            values["floor_surface_temperature"] = random.normal(
                292.0, 3.0, (stations, geometry.floor_across.size)
            )
        moments.append(Moment(tick, values, field))
    return moments


@pytest.fixture
def case() -> SmallCase:
    return SmallCase()


@pytest.fixture
def make_case() -> type[SmallCase]:
    return SmallCase


@pytest.fixture
def make_geometry() -> Callable[..., Geometry]:
    return build_geometry


@pytest.fixture
def make_moments() -> Callable[..., list[Moment]]:
    return build_moments


@pytest.fixture
def geometry() -> Geometry:
    return build_geometry()


@pytest.fixture
def moments(geometry: Geometry) -> list[Moment]:
    return build_moments(geometry)


@pytest.fixture
def little_memory() -> Iterator[None]:
    """Two gigabytes of addresses more than now, so that a greedy reader fails rather than the machine."""
    before = resource.getrlimit(resource.RLIMIT_AS)
    held = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (held + 2 * 2**30, before[1]))
    began = time.monotonic()
    yield
    assert time.monotonic() - began < 60.0
    resource.setrlimit(resource.RLIMIT_AS, before)
