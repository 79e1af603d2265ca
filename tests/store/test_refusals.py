"""Nothing is lost, nothing is left behind, and every refusal says why."""

from __future__ import annotations

import os
import shutil
from typing import NamedTuple

import h5py
import numpy as np
import pytest

from simulator.errors import SolverError, StoreError
from simulator.run.observers import Moment
from simulator.store import record as record_module
from simulator.store.contents import expected_bytes
from simulator.store.destination import readable_size
from simulator.store.reader import Results
from simulator.store.record import record
from simulator.store.writer import ResultsWriter


class Usage(NamedTuple):
    total: int
    used: int
    free: int


@pytest.fixture
def run_of(monkeypatch):
    """Replace the calculation by a list of moments, with an exception after them when one is given."""

    def replace(geometry, moments, error=None):
        def simulate(case, observers, progress=None, keeper=None, checkpoints=None, meshes=None, check=None):
            for observer in observers:
                observer.start(case, geometry)
            for moment in moments:
                for observer in observers:
                    observer.record(moment)
            if error is not None:
                raise error
            for observer in observers:
                observer.finish({"steps": len(moments)})
            return {}

        monkeypatch.setattr(record_module, "simulate", simulate)

    return replace


def files(folder):
    return sorted(path.name for path in folder.iterdir())


def test_record_stores_and_opens(run_of, case, geometry, moments, tmp_path):
    run_of(geometry, moments)
    with record(case, tmp_path / "night.h5") as results:
        assert results.rows == 7
        assert results.summary == {"steps": 7}
    assert files(tmp_path) == ["night.h5"]
    with record(case) as results:
        assert results.path is None
        assert results.field_rows == 2


@pytest.mark.parametrize(
    "error", [SolverError("left the finite numbers"), KeyboardInterrupt(), MemoryError()]
)
def test_a_failed_run_leaves_earlier_results(run_of, case, geometry, moments, tmp_path, error):
    run_of(geometry, moments)
    record(case, tmp_path / "night.h5").close()
    before = (tmp_path / "night.h5").read_bytes()
    run_of(geometry, moments[:4], error)
    with pytest.raises(type(error)):
        record(case, tmp_path / "night.h5")
    assert files(tmp_path) == ["night.h5"]
    assert (tmp_path / "night.h5").read_bytes() == before
    with pytest.raises(type(error)):
        record(case, tmp_path / "other.h5")
    assert files(tmp_path) == ["night.h5"]


def test_a_run_that_ends_early_is_no_result(run_of, case, geometry, moments, tmp_path):
    run_of(geometry, moments[:5])
    with pytest.raises(StoreError, match="ended after 5 of 7 rows and 1 of 2 maps"):
        record(case, tmp_path / "night.h5")
    assert files(tmp_path) == []


def test_results_are_replaced_only_when_allowed(run_of, case, geometry, moments, tmp_path):
    run_of(geometry, moments)
    record(case, tmp_path / "night.h5").close()
    record(case, tmp_path / "night.h5").close()
    with pytest.raises(StoreError, match=r"night\.h5: exists already; choose another name"):
        record(case, tmp_path / "night.h5", overwrite=False)


def test_what_a_killed_run_left_is_cleared_away(run_of, case, geometry, moments, tmp_path):
    (tmp_path / "night.h5.part").write_bytes(b"\x89HDF\r\n\x1a\nbroken off")
    run_of(geometry, moments)
    record(case, tmp_path / "night.h5").close()
    assert files(tmp_path) == ["night.h5"]


def test_a_link_stays_a_link(run_of, case, geometry, moments, tmp_path):
    (tmp_path / "far").mkdir()
    (tmp_path / "link.h5").symlink_to(tmp_path / "far" / "night.h5")
    run_of(geometry, moments)
    record(case, tmp_path / "link.h5").close()
    assert (tmp_path / "link.h5").is_symlink()
    assert files(tmp_path / "far") == ["night.h5"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        (".", "is a folder, not a file"),
        ("nowhere/night.h5", "nowhere' does not exist; make it or choose another place"),
        ("case.toml", "exists and is not a results file, so it is left alone"),
        ("case.toml/night.h5", "case.toml' does not exist"),
        ("n" * 300, "no file can go there: File name too long"),
        ("n" * 253, "no file can go there: File name too long"),
        ("night\0.h5", "no file can go there"),
        ("pipe", "is a device, not a file"),
    ],
)
def test_places_that_do_not_do(case, tmp_path, name, words):
    (tmp_path / "case.toml").write_text("title = 'keep me'\n")
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(StoreError) as raised:
        record(case, tmp_path / name)
    assert words in str(raised.value)
    assert "\n" not in str(raised.value)
    assert files(tmp_path) == ["case.toml", "pipe"]
    assert (tmp_path / "case.toml").read_text() == "title = 'keep me'\n"


def test_a_folder_that_may_not_be_written(monkeypatch, case, tmp_path):
    monkeypatch.setattr("simulator.store.destination.os.access", lambda *_: False)
    with pytest.raises(StoreError, match="does not allow writing; choose another place"):
        record(case, tmp_path / "night.h5")


def test_a_disk_too_small_is_told_before_the_run(monkeypatch, run_of, case, make_geometry, tmp_path):
    geometry = make_geometry(rows=20_000)
    run_of(geometry, [], SolverError("the run must not have begun"))
    needed = expected_bytes(geometry)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10**12, 10**12, 1_500_000))
    with pytest.raises(StoreError) as raised:
        record(case, tmp_path / "night.h5")
    assert f"needs about {readable_size(needed)}, but only 1.5 MB are free" in str(raised.value)
    assert files(tmp_path) == []


def test_a_disk_that_fills_up_is_told_in_time(monkeypatch, case, make_geometry, make_moments, tmp_path):
    geometry = make_geometry(rows=200, maps=0)
    writer = ResultsWriter(tmp_path / "night.h5")
    writer.start(case, geometry)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Usage(10**9, 10**9, 20_000))
    moments = iter(make_moments(geometry))
    for _ in range(63):  # still gathered in memory
        writer.record(next(moments))
    with pytest.raises(StoreError, match=r"the disk is full: only 20\.0 kB are free"):
        writer.record(next(moments))
    writer.abort()
    writer.abort()
    assert files(tmp_path) == []


def changed(moment, **values):
    return Moment(moment.tick, {**moment.values, **values}, moment.field)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda m: Moment(m.tick + 1, m.values, m.field), "row 0 came for tick 1"),
        (lambda m: Moment(0, {k: v for k, v in m.values.items() if k != "sun_gain"}), "without sun_gain"),
        (lambda m: changed(m, draught=1.0), "no series called draught"),
        (lambda m: changed(m, sun_gain=np.zeros(2)), "sun_gain is not one number"),
        (lambda m: changed(m, air_temperature=280.0), r"air_temperature has shape \(\), not \(2, 4\)"),
        (
            lambda m: Moment(0, m.values, m.field[:-1]),
            r"ground_temperature has shape \(2, 6, 5\), not \(3, 6, 5\)",
        ),
        (lambda m: changed(m, floor_surface_temperature=np.zeros(3)), "floor_surface_temperature has shape"),
        (
            lambda m: Moment(0, {k: v for k, v in m.values.items() if k[:8] != "floor_su"}, m.field),
            "a map came without floor_surface_temperature",
        ),
    ],
)
def test_rows_that_do_not_fit(case, geometry, moments, spoil, words):
    writer = ResultsWriter(None)
    writer.start(case, geometry)
    with pytest.raises(StoreError, match=words):
        writer.record(spoil(moments[0]))
    with pytest.raises(StoreError, match="did not finish"):
        writer.results()
    writer.abort()


def test_a_map_nobody_announced(case, geometry, moments):
    writer = ResultsWriter(None)
    writer.start(case, geometry)
    writer.record(moments[0])
    with pytest.raises(StoreError, match="map 1 came for tick 300000"):
        writer.record(Moment(moments[1].tick, {**moments[0].values}, moments[0].field))
    writer.abort()


def test_files_that_are_not_ours(run_of, case, geometry, moments, tmp_path):
    with pytest.raises(StoreError, match=r"gone\.h5: there is no such file"):
        Results(tmp_path / "gone.h5")
    (tmp_path / "text.h5").write_text("time,temperature\n")
    with pytest.raises(StoreError, match=r"text\.h5: is not a results file"):
        Results(tmp_path / "text.h5")
    with h5py.File(tmp_path / "foreign.h5", "w") as file:
        file["time"] = [1.0]
    with pytest.raises(StoreError, match=r"foreign\.h5: was not written by this program"):
        Results(tmp_path / "foreign.h5")
    run_of(geometry, moments)
    record(case, tmp_path / "later.h5").close()
    with h5py.File(tmp_path / "later.h5", "r+") as file:
        file.attrs["schema_version"] = 2
    with pytest.raises(
        StoreError, match="stores results in form 2, this program reads form 1; run the case again"
    ):
        Results(tmp_path / "later.h5")


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.99])
def test_a_file_cut_short_is_no_result(run_of, case, geometry, moments, tmp_path, share):
    run_of(geometry, moments)
    record(case, tmp_path / "night.h5").close()
    whole = (tmp_path / "night.h5").read_bytes()
    (tmp_path / "night.h5").write_bytes(whole[: int(share * len(whole))])
    with pytest.raises(StoreError, match=r"night\.h5: (is damaged|cannot be opened|is not a results file)"):
        Results(tmp_path / "night.h5")


def test_a_name_that_is_not_there(run_of, case, geometry, moments):
    run_of(geometry, moments)
    with record(case) as results:
        with pytest.raises(
            StoreError, match="has no dataset 'rom_temperature'; did you mean 'room_temperature'"
        ):
            results["rom_temperature"]
        with pytest.raises(StoreError, match="exit_temperature has 7 rows, so there is no row 7"):
            results.read("exit_temperature", 7)


def test_an_input_that_is_lost_leaves_nothing(make_case, geometry, tmp_path, run_of):
    run_of(geometry, [])
    with pytest.raises(StoreError, match=r"gone\.csv: cannot be read any more: No such file"):
        record(make_case(weather={"file": "gone.csv"}), tmp_path / "night.h5")
    assert files(tmp_path) == []
