"""What a run hands over comes back unchanged, by our reader and by two general-purpose libraries."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import xarray
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some

from simulator.store.catalogue import CATALOGUE, COORDINATES, FIELDS, SERIES
from simulator.store.contents import expected_bytes
from simulator.store.reader import Results
from simulator.store.writer import ResultsWriter
from tests.examples import examples


def write(path, case, geometry, moments, summary=None):
    writer = ResultsWriter(path)
    writer.start(case, geometry)
    for moment in moments:
        writer.record(moment)
    writer.finish(summary or {})
    return writer.results()


def in_file_units(name, value):
    return np.asarray(value) - (273.15 if SERIES[name].unit == "degC" else 0.0)


def assert_same(results, geometry, moments):
    for name in SERIES:
        expected = np.stack([in_file_units(name, moment.values[name]) for moment in moments])
        np.testing.assert_array_equal(results[name].values, expected, err_msg=name)
    maps = [moment for moment in moments if moment.field is not None]
    assert results.field_rows == len(maps)
    for row, moment in enumerate(maps):
        ground = results.read("ground_temperature", row)
        # half a step of the rounding
        np.testing.assert_allclose(ground, moment.field - 273.15, rtol=0, atol=0.5 / 1024 + 1e-9)
        np.testing.assert_array_equal(ground * 1024, np.rint(ground * 1024))
        floor = results.read("floor_surface_temperature", row)
        np.testing.assert_array_equal(floor, moment.values["floor_surface_temperature"] - 273.15)
    np.testing.assert_array_equal(results["station"].values, geometry.station_x)
    np.testing.assert_array_equal(results["section_material"].values, geometry.map_material)
    np.testing.assert_array_equal(
        results["lane"].values[results["duct_lane"].values - 1], geometry.duct_lane + 1
    )


@settings(max_examples=examples(25), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=some.integers(1, 150),
    maps=some.integers(0, 3),
    sizes=some.fixed_dictionaries(
        {name: some.integers(1, 6) for name in ("stations", "lanes", "floor", "wide", "deep")}
    ),
    in_memory=some.booleans(),
    seed=some.integers(0, 2**32 - 1),
)
def test_everything_comes_back(
    case, make_geometry, make_moments, tmp_path, rows, maps, sizes, in_memory, seed
):
    geometry = make_geometry(rows=rows, maps=min(maps, rows), **sizes)
    moments = make_moments(geometry, seed)
    with write(None if in_memory else tmp_path / "night.h5", case, geometry, moments) as results:
        assert results.rows == rows
        assert results.complete
        assert_same(results, geometry, moments)


@pytest.mark.parametrize("engine", ["h5netcdf", "netcdf4"])
def test_general_purpose_libraries_open_it(case, geometry, moments, tmp_path, engine):
    write(tmp_path / "night.h5", case, geometry, moments).close()
    with xarray.open_dataset(tmp_path / "night.h5", engine=engine) as dataset:
        expected = np.datetime64("2024-02-28T18:00", "ms") + geometry.series_ticks.astype("timedelta64[ms]")
        np.testing.assert_array_equal(dataset["time"].values, expected)
        expected = np.datetime64("2024-02-28T18:00", "ms") + geometry.field_ticks.astype("timedelta64[ms]")
        np.testing.assert_array_equal(dataset["field_time"].values, expected)
        for name, entry in CATALOGUE.items():
            assert dataset[name].dims == entry.dims, name
            assert dataset[name].attrs["long_name"] == entry.long_name
            if "time" not in name:
                assert dataset[name].attrs["units"] == entry.unit
        assert set(dataset.coords) == set(COORDINATES)
        # by value: the fourth row, second lane, and the wall nearest to 4 m from the inlet
        picked = (
            dataset["wall_temperature"]
            .sel(lane=2, time="2024-02-28T18:15")
            .sel(station=4.0, method="nearest")
        )
        assert float(picked) == moments[3].values["wall_temperature"][1, 1] - 273.15
        assert dataset.attrs["case_text"] == case.source_text
        assert list(np.atleast_1d(dataset["section_material"].attrs["material_names"])) == [
            "concrete",
            "sand",
        ]


@pytest.mark.parametrize("engine", ["h5netcdf", "netcdf4"])
def test_a_file_without_maps_opens_too(case, make_geometry, make_moments, tmp_path, engine):
    geometry = make_geometry(maps=0)
    write(tmp_path / "night.h5", case, geometry, make_moments(geometry)).close()
    with xarray.open_dataset(tmp_path / "night.h5", engine=engine) as dataset:
        assert not set(FIELDS) & set(dataset.variables)
        assert dataset["room_temperature"].sizes == {"time": 7}


@pytest.mark.parametrize("in_memory", [False, True])
def test_to_xarray(case, geometry, moments, tmp_path, in_memory):
    with write(None if in_memory else tmp_path / "night.h5", case, geometry, moments) as results:
        dataset = results.to_xarray()
        np.testing.assert_array_equal(dataset["time"].values, results.time)
        np.testing.assert_array_equal(dataset["air_temperature"].values, results["air_temperature"].values)
        dataset.close()


def test_what_the_file_says_about_itself(case, geometry, moments):
    summary = {"steps": 12, "run_seconds": 0.5, "solver": "full", "settled": True, "sizes": [1, 2]}
    with write(None, case, geometry, moments, summary) as results:
        assert results.case_text == case.source_text
        assert results.attrs["title"] == "Greenhouse bench"
        assert results.attrs["case_name"] == "bench"
        assert results.start == case.site.start
        assert results.time[1] - results.time[0] == np.timedelta64(5, "m")
        assert results.material_names == ("concrete", "sand")
        assert results.path is None
        found = results.summary
        assert (found["steps"], found["run_seconds"], found["solver"], found["settled"]) == (
            12,
            0.5,
            "full",
            1,
        )
        np.testing.assert_array_equal(found["sizes"], [1, 2])
        series = results["duct_heat_per_length"]
        assert (series.unit, series.dims) == ("W/m", ("time", "lane", "station"))
        assert "room_temperature" in results
        assert set(results) == set(CATALOGUE)


def test_rows_can_be_read_one_by_one(case, geometry, moments):
    with write(None, case, geometry, moments) as results:
        whole = results["exit_temperature"].values
        assert results.read("exit_temperature", -1) == whole[-1]
        np.testing.assert_array_equal(results.read("exit_temperature", slice(1, 6, 2)), whole[1:6:2])
        np.testing.assert_array_equal(results.read("exit_temperature", slice(None, None, -1)), whole[::-1])
        assert results.read("exit_temperature", slice(5, 2)).size == 0


def test_smooth_maps_pack_below_the_estimate(case, make_geometry, make_moments, tmp_path):
    geometry = make_geometry(rows=40, maps=40, stations=6, wide=60, deep=40, floor=50)
    moments = make_moments(geometry)
    depth = geometry.map_depth[:, None]
    for row, moment in enumerate(moments):
        # damped annual wave of a half-space, the usual shape of ground temperatures (Carslaw and Jaeger)
        wave = 283.0 + 9.0 * np.exp(-depth / 2.2) * np.cos(row / 30 - depth / 2.2)
        warm = 12.0 * np.exp(-np.hypot(depth - 0.6, geometry.map_across) / 0.5)
        moment.field[:] = wave + warm * np.linspace(1, 0.5, 6)[:, None, None]
    write(tmp_path / "night.h5", case, geometry, moments).close()
    raw = sum(moment.field.size * 4 for moment in moments)
    size = (tmp_path / "night.h5").stat().st_size
    assert size < 0.75 * raw
    assert size < expected_bytes(geometry) < 1.5 * raw


def test_the_fingerprint_follows_every_input(make_case, geometry, moments, tmp_path):
    def fingerprint(text, weather):
        (tmp_path / "night.csv").write_text(weather)
        case = make_case(
            source_text=text, source_path=str(tmp_path / "night.toml"), weather={"file": "night.csv"}
        )
        with write(None, case, geometry, moments) as results:
            return results.attrs["input_hash"]

    first = fingerprint("a", "b")
    assert first == fingerprint("a", "b")
    assert (
        len(
            {
                first,
                fingerprint("a", "c"),
                fingerprint("c", "b"),
                fingerprint("ab", ""),
                fingerprint("", "ab"),
            }
        )
        == 5
    )


def test_a_lost_input_is_told(make_case, geometry):
    case = make_case(weather={"file": "gone.csv"})
    with pytest.raises(Exception, match=r"gone\.csv: cannot be read any more: No such file"):
        ResultsWriter(None).start(case, geometry)


def test_path_and_text_are_the_same(case, geometry, moments, tmp_path):
    write(str(tmp_path / "night.h5"), case, geometry, moments).close()
    with Results(str(tmp_path / "night.h5")) as results:
        assert results.path == tmp_path / "night.h5"
    assert sorted(path.name for path in Path(tmp_path).iterdir()) == ["night.h5"]
