"""A run that is killed leaves a file that is sound as far as it says."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import h5py
import numpy as np
import pytest
import xarray

from simulator.errors import StoreError
from simulator.store.catalogue import SERIES
from simulator.store.reader import Results
from simulator.store.writer import ResultsWriter

HERE = Path(__file__).parent
# Every value of row k is 273.15 + k, whatever the series: easy to check from outside.
PROGRAM = """
import sys
import numpy as np
sys.path[:0] = [{root!r}, {here!r}]
from conftest import SmallCase, build_geometry, build_moments
from simulator.run.observers import Moment
from simulator.store import writer as module
module._SECONDS_BETWEEN_COMMITS = 0.02
geometry = build_geometry(rows=400_000, maps=40_000)
sample = build_moments(build_geometry(rows=1, maps=1))[0]
due = set(geometry.field_ticks.tolist())
writer = module.ResultsWriter({target!r})
writer.start(SmallCase(), geometry)
told = False
for row, tick in enumerate(geometry.series_ticks.tolist()):
    values = {{name: value * 0.0 + row + 273.15 for name, value in sample.values.items()}}
    field = np.full_like(sample.field, row + 273.15) if tick in due else None
    writer.record(Moment(tick, values, field))
    if not told and row % 512 == 0 and writer._row_counts[0][()] > 500 and writer._row_counts[1][()] > 50:
        told = True
        print("ready", flush=True)
"""


def start_run(target):
    text = PROGRAM.format(root=str(HERE.parents[1]), here=str(HERE), target=str(target))
    run = subprocess.Popen([sys.executable, "-c", text], stdout=subprocess.PIPE)
    assert run.stdout.readline() == b"ready\n"
    return run


def kill(run):
    os.kill(run.pid, signal.SIGKILL)
    run.wait()
    run.stdout.close()


@pytest.mark.parametrize("seconds", [0.0, 0.31, 0.83])
def test_rows_that_count_are_whole(tmp_path, seconds):
    run = start_run(tmp_path / "night.h5")
    time.sleep(seconds)
    kill(run)
    part = tmp_path / "night.h5.part"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["night.h5.lock", part.name]
    with Results(part) as results:
        assert not results.complete
        assert 500 < results.rows < 400_000
        assert 50 < results.field_rows < 40_000
        rows = np.arange(results.rows)
        assert results.time.size == results.rows
        for name, entry in SERIES.items():
            expected = rows + (0.0 if entry.unit == "degC" else 273.15)
            values = results[name].values.reshape(results.rows, -1)
            np.testing.assert_allclose(values, expected[:, None] + 0 * values, rtol=0, atol=1e-9)
        maps = results["ground_temperature"].values[:, 0, 0, 0]
        expected = np.rint((results.field_time - results.time[0]) / np.timedelta64(5, "m"))
        np.testing.assert_array_equal(maps, expected)
        assert results.to_xarray().sizes["time"] == results.rows
        count = results.rows
    for engine in ("h5netcdf", "netcdf4"):
        with xarray.open_dataset(part, engine=engine) as dataset:
            assert int(dataset["rows_written"]) == count
            assert float(dataset["room_temperature"][count - 1]) == pytest.approx(count - 1)


def test_two_runs_do_not_share_a_file(case, geometry, tmp_path):
    run = start_run(tmp_path / "night.h5")
    try:
        with pytest.raises(StoreError, match=r"night\.h5: another run is writing it \(run \d+\); wait"):
            ResultsWriter(tmp_path / "night.h5").start(case, geometry)
        assert run.poll() is None
    finally:
        kill(run)
    assert (tmp_path / "night.h5.part").exists()


def test_rows_beyond_the_count_are_not_shown(case, geometry, moments, tmp_path):
    writer = ResultsWriter(tmp_path / "night.h5")
    writer.start(case, geometry)
    for moment in moments:
        writer.record(moment)
    writer.finish({})
    with h5py.File(tmp_path / "night.h5", "r+") as file:
        file["rows_written"][()] = 4
        file["field_rows_written"][()] = 1
        file.attrs["complete"] = 0
    with Results(tmp_path / "night.h5") as results:
        assert results["air_temperature"].values.shape == (4, 2, 4)
        assert results["ground_temperature"].values.shape[0] == results.field_time.size == 1
        assert results.read("exit_temperature", -1) == moments[3].values["exit_temperature"] - 273.15
        with pytest.raises(StoreError, match="has 4 rows"):
            results.read("exit_temperature", 4)
