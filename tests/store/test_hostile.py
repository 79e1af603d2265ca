"""Files made to harm: they end in one message, cost neither time nor memory, and reach nothing outside."""

from __future__ import annotations

import contextlib
import os
import re
import time
from collections.abc import Iterator
from pathlib import Path

import h5py
import numpy as np
import pytest

from simulator.answers.cautions import cautions
from simulator.answers.compare import compare
from simulator.answers.flow import air_flow
from simulator.answers.moisture import duct_moisture
from simulator.answers.overnight import overnight
from simulator.case import units
from simulator.case.kept_text import case_of_text
from simulator.case.loader import load, load_text, starter_text
from simulator.climate.weather import from_case
from simulator.errors import CaseError, StoreError
from simulator.run import sizes
from simulator.run.plan import plan
from simulator.store.catalogue import CATALOGUE, COORDINATES
from simulator.store.reader import Results
from simulator.store.record import record
from tests.fuzz.seeds import chain_seed, results_seed
from tests.store.shed import left, write_case

COORDINATES_IN_METRES = [name for name, entry in COORDINATES.items() if entry.unit == "m"]


@contextlib.contextmanager
def spoilt(path: Path, seed: bytes) -> Iterator[h5py.File]:
    """Good results, open to be spoilt."""
    path.write_bytes(seed)
    with h5py.File(path, "r+") as file:
        yield file


def tampered(path: Path, name: str, **how) -> Path:
    """Results in which one dataset is replaced."""
    with spoilt(path, results_seed()) as file:
        del file[name]
        dataset = file.create_dataset(name, **how)
        dataset.attrs.update({"units": "degC", "long_name": "x"})
    return path


def read_all(path: Path) -> None:
    with Results(path) as results:
        for name in results:
            results[name]
        _ = results.time, results.material_names, results.summary


def test_a_few_bytes_that_stand_for_terabytes(tmp_path, little_memory):
    rows = 2**34
    path = tampered(
        tmp_path / "a.h5", "room_temperature", shape=(rows,), dtype="<f8", chunks=(2**20,), compression="gzip"
    )
    with h5py.File(path, "r+") as file:
        series = [name for name in file if CATALOGUE.get(name) and CATALOGUE[name].dims[0] == "time"]
        for name in {*series, "time", "rows_written"} - {"room_temperature"}:
            del file[name]
        file.create_dataset("time", shape=(rows,), dtype="<f8", chunks=(2**20,), compression="gzip")
        file["time"].attrs.update({"units": "s", "long_name": "x"})
        file["rows_written"] = np.int64(rows)
    assert path.stat().st_size < 1_000_000
    with (
        Results(path) as results,
        pytest.raises(StoreError, match="room_temperature alone would take 137 GB"),
    ):
        results["room_temperature"]


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("room_temperature", {"data": "text"}),
        ("room_temperature", {"data": 3.0}),
        ("time", {"data": 3.0}),
        ("time", {"data": ["a", "b"]}),
        ("rows_written", {"data": "many"}),
        ("rows_written", {"data": np.zeros(3)}),
        ("rows_written", {"data": np.int64(-5)}),
        ("field_rows_written", {"data": np.float64("nan")}),
        ("rows_written", {"shape": (2**40,), "dtype": "i8", "chunks": (2**20,)}),
        ("section_material", {"data": np.zeros(0)}),
        ("segment_branch", {"data": np.array([1.0])}),
        ("air_temperature", {"data": np.zeros((10, 0, 3))}),
        ("room_temperature", {"data": np.full(13, 280.0, dtype=np.longdouble)}),
    ],
)
def test_datasets_of_another_kind(tmp_path, name, how):
    path = tampered(tmp_path / "a.h5", name, **how)
    with pytest.raises(StoreError, match="is damaged") as raised:
        read_all(path)
    assert str(raised.value).startswith(str(path))


def test_places_that_stand_for_terabytes(tmp_path, little_memory):
    """What is looked at on opening is looked at only where it can be held."""
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        of_segments = [name for name in file if CATALOGUE.get(name) and CATALOGUE[name].dims == ("segment",)]
        for name in of_segments:
            labels = {"units": file[name].attrs["units"], "long_name": "x"}
            kind = file[name].dtype
            del file[name]
            one = file.create_dataset(name, shape=(2**36,), dtype=kind, chunks=(2**20,), compression="gzip")
            one.attrs.update(labels)
    with pytest.raises(StoreError, match="too large to read: segment_branch alone would take 275 GB"):
        Results(path)


@pytest.mark.parametrize("value", [np.inf, -np.inf, 1e308, -1e35])
def test_numbers_that_cannot_be(tmp_path, value):
    """Nothing that a run gives in SI units comes near 1e30; sums of such numbers would overflow."""
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        file["room_temperature"][2] = value
    with Results(path) as results, pytest.raises(StoreError, match="room_temperature cannot be read"):
        results["room_temperature"]


@pytest.mark.parametrize("label", ["units", "long_name"])
@pytest.mark.parametrize("value", [None, 3.0, ["a", "b"], np.bytes_(b"\xff"), "K"])
def test_labels_are_those_of_the_form(tmp_path, label, value):
    """The version of the form says units and meanings; labels in the file are for other programs."""
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        del file["room_temperature"].attrs[label]
        if value is not None:
            file["room_temperature"].attrs[label] = value
    with Results(path) as results:
        assert results["room_temperature"].unit == results.units("room_temperature") == "degC"
        assert results["room_temperature"].long_name == "temperature of the room air"


@pytest.mark.parametrize("size", [-16, -24, -1, 2**63, 5000])
@pytest.mark.parametrize("which", [0, 1, 2])
def test_texts_whose_size_is_damaged(tmp_path, which, size):
    """HDF5 1.14 never comes back from a text of size -16, so it is not shown one."""
    path = tmp_path / "a.h5"
    data = bytearray(results_seed())
    places = [found.start() for found in re.finditer(b"GCOL", data)]
    size_at = places[which] + 16 + 8
    data[size_at : size_at + 8] = (size % 2**64).to_bytes(8, "little")
    path.write_bytes(data)
    with contextlib.suppress(StoreError):
        read_all(path)
    if size < 0:
        with pytest.raises(StoreError, match="is damaged"):
            Results(path)


def test_a_material_that_is_not_there(tmp_path):
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        file["section_material"][0, 0] = -2
    with pytest.raises(StoreError, match="is damaged"):
        Results(path)


@pytest.mark.parametrize("name", [*COORDINATES_IN_METRES])
@pytest.mark.parametrize("how", ["infinite", "not a number", "far away", "turned round", "all in one place"])
def test_places_that_cannot_be(tmp_path, name, how):
    """Places along a line rise, and none is farther away than any floor is long."""
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        values = file[name][()]
        assert values.size > 1
        file[name][()] = {
            "infinite": np.where(np.arange(values.size) == 1, np.inf, values),
            "not a number": np.where(np.arange(values.size) == 0, np.nan, values),
            "far away": values * 1e9 + 1e8,
            "turned round": values[::-1],
            "all in one place": np.full_like(values, 1.0),
        }[how]
    with pytest.raises(StoreError, match="is damaged"):
        Results(path)


@pytest.mark.parametrize("name", ["duct_depth", "floor_cell_width", "station_length", "duct_inside_radius"])
@pytest.mark.parametrize("value", [np.nan, np.inf, -1e7])
def test_lengths_that_cannot_be(tmp_path, name, value):
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        file[name][0] = value
    with pytest.raises(StoreError, match="is damaged"):
        Results(path)


@pytest.mark.parametrize("name", ["edge", "section_across_edges", "section_depth_edges"])
def test_edges_that_are_those_of_other_cells(tmp_path, name):
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        file[name][()] = file[name][()] + 1e3
    with pytest.raises(StoreError, match="is damaged"):
        Results(path)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("shown_in", None), ("shown_in", 3.0), ("title", [1.0, 2.0]), ("case_name", None), ("complete", -1),
        ("complete", "no"), ("building_half_width_m", np.nan), ("floor_thickness_m", "text"),
        ("building_half_width_m", 1e12), ("duct_radius_m", -np.inf),
        ("duct_radius_m", None), ("start", "0001-01-01T00:00:00"), ("start", "9999-12-31T23:00:00"),
        ("start", "2031-01-15T18:00:00+01:00"), ("start", "2031-02-30"), ("summary_steps", "many"),
        ("input_hash", None),
    ],
)  # fmt: skip
def test_attributes_of_another_kind(tmp_path, name, value):
    """The last years of the calendar leave no room for a run, and local time has no zone."""
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        del file.attrs[name]
        if value is not None:
            file.attrs[name] = value
    with pytest.raises(StoreError, match="is damaged") as raised:
        Results(path)
    assert str(raised.value).startswith(str(path))


@pytest.mark.parametrize(
    "text",
    ["", "1", "[]", "[" * 100_000, "a." * 50_000 + "b = 1", "x = " + "9" * 5000, '{"site": 3}',
     '{"flue": [1]}', '{"ducts": {"service_temperature": [1]}, "flue": {"service_temperature": {}}}',
     "ducts = 3\nflue = 4"],
)  # fmt: skip
def test_results_that_carry_no_case(tmp_path, text, little_memory):
    """Cautions fall back on the usual limits; what needs the case says that it is not there."""
    path = tmp_path / "a.h5"
    with spoilt(path, chain_seed()) as file:
        file.attrs["case_text"] = text
    with Results(path) as results:
        assert cautions(results) is not None
        assert compare([results, results], ["a", "b"]).inputs is None
        with pytest.raises(CaseError, match="the kept case"):
            case_of_text(results.case_text)


def test_results_without_a_row_have_no_cautions(tmp_path):
    """What a run leaves that was killed before its first row was on the disk."""
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        file["rows_written"][()] = 0
        file["field_rows_written"][()] = 0
    with Results(path) as results:
        assert not cautions(results)
        with pytest.raises(StoreError, match="holds no rows yet"):
            overnight(results)


def test_results_in_which_only_gas_goes(tmp_path):
    """Every way is said to be the flue's: no duct air is left to tell of."""
    path = tmp_path / "a.h5"
    with spoilt(path, chain_seed()) as file:
        file["branch_group"][...] = 1
    with Results(path) as results:
        assert isinstance(cautions(results), list)
        whole = overnight(results).window
        begin, end = ((at - results.start).total_seconds() for at in (whole.begin, whole.end))
        assert duct_moisture(results, begin, end).wet_share == 0.0
        assert air_flow(results, begin, end).smallest_share is None


def test_links_that_lead_out_of_a_file(tmp_path):
    """A dataset that is a link to another file is not followed to it."""
    secret = tmp_path / "secret.h5"
    with h5py.File(secret, "w") as file:
        file["x"] = np.arange(4.0)
    path = tmp_path / "a.h5"
    with spoilt(path, results_seed()) as file:
        del file["room_temperature"]
        file["room_temperature"] = h5py.ExternalLink(str(secret), "x")
    with pytest.raises(StoreError, match="is damaged"):
        Results(path)
    with h5py.File(path, "r+") as file:
        del file["room_temperature"]
        file.create_dataset("room_temperature", shape=(4,), dtype="f8", external=[(str(secret), 0, 32)])
    with pytest.raises(StoreError, match="is damaged"):
        Results(path)


@pytest.mark.parametrize("name", ["/dev/zero", "/dev/full", "/proc/self/mem", "pipe", ".", "link", "loop"])
def test_weather_that_is_no_file(tmp_path, name):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("/dev/zero")
    (tmp_path / "loop").symlink_to("loop")
    case = write_case(tmp_path, days=1)
    case.write_text(case.read_text().replace('"cold.csv"', f'"{name}"'))
    with pytest.raises(CaseError):
        from_case(load(case))


@pytest.mark.parametrize("name", ["/dev/zero", "pipe", "link"])
def test_a_case_that_is_no_file(tmp_path, name):
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "link").symlink_to("/dev/zero")
    with pytest.raises(CaseError, match="is a device, not a case file"):
        load(tmp_path / name)


def test_results_through_a_link_stay_where_it_leads(tmp_path):
    """A link in place of the results is followed, to an ordinary file only."""
    case = write_case(tmp_path, days=1)
    there = tmp_path / "there"
    there.mkdir()
    (tmp_path / "night.h5").symlink_to(there / "real.h5")
    record(load(case), tmp_path / "night.h5").close()
    assert (tmp_path / "night.h5").is_symlink()
    assert [path.name for path in there.iterdir()] == ["real.h5"]
    (tmp_path / "bad.h5").symlink_to("/dev/null")
    with pytest.raises(StoreError, match="is a device, not a file"):
        record(load(case), tmp_path / "bad.h5")


@pytest.mark.parametrize("ending", [".part", ".checkpoint", ".lock", ".checkpoint.new", ".part.copy"])
def test_planted_links_beside_the_results_are_not_followed(tmp_path, ending):
    """Who may write into the folder could plant a link where the unfinished file goes."""
    case = write_case(tmp_path, days=1)
    precious = tmp_path / "precious"
    precious.write_text("keep me\n")
    (tmp_path / f"night.h5{ending}").symlink_to(precious)
    with contextlib.suppress(StoreError):
        record(load(case), tmp_path / "night.h5").close()
        assert left(tmp_path / "night.h5") == ["night.h5"]
    assert precious.read_text() == "keep me\n"


@pytest.mark.parametrize(
    "text",
    [
        "2**9**9**9 m", "__import__('os').system('touch gone') m", "1;import os m", "{0.__class__} m",
        "1 m*1 m", "(1 m)", "1e999999999 m", "0x10 m", "1_0_0 m", "١٢ m", "½ m", "1/0 m",
        "1" * 100_000 + " m",
        "1 " + "m" * 100_000, "1 m" + "^9" * 10_000, "(" * 50_000 + "1 m", "lambda: 0 m", "$HOME m", "`id` m",
    ],
)  # fmt: skip
def test_quantities_are_never_evaluated(text, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    began = time.monotonic()
    with contextlib.suppress(CaseError):
        assert np.isfinite(units.parse(text, "length"))
    assert time.monotonic() - began < 2.0
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 100_000, "a = " + "{a=" * 20_000, "[" + ".".join("a" * 50_000) + "]",
     "a." * 50_000 + "b = 1", "[[a]]\n" * 20_000, "a = '" + "x" * 200_000 + "'", "a = " + "9" * 900_000,
     "a = 1" + " " * 4_000_000],
)  # fmt: skip
def test_deep_and_long_case_files(text, little_memory):
    with pytest.raises(CaseError) as raised:
        load_text(text, path="deep.toml")
    # One line for each table that is missing, none of them long.
    lines = str(raised.value).split("\n")
    assert len(lines) <= 21
    assert max(map(len, lines)) < 500


def numbered(**numerics: object) -> str:
    text = starter_text()
    begin = text.index("[numerics]")
    end = text.find("\n[", begin + 1)
    lines = "\n".join(f"{name} = {value}" for name, value in numerics.items())
    return text[:begin] + "[numerics]\n" + lines + "\n" + text[end:]


def test_too_many_steps_are_refused_before_anything_is_made(little_memory):
    text = numbered(step='"0.1 s"').replace('duration = "', 'duration = "3000 days" # "')
    began = time.monotonic()
    with pytest.raises(
        CaseError, match=r"numerics\.step: makes 2\.59e\+09 steps, which need about \d+\.\d GB"
    ) as raised:
        plan(load_text(text))
    assert "make the step longer, or the run shorter" in str(raised.value)
    assert time.monotonic() - began < 5.0


def test_too_many_cells_are_refused_before_anything_is_made(monkeypatch):
    case = load_text(numbered(cell_scale=0.2))
    monkeypatch.setattr(sizes, "MOST_CELLS", 10_000)
    with pytest.raises(CaseError, match=r"numerics\.cell_scale: makes [\d,]+ cells in every section"):
        plan(case)
    monkeypatch.undo()
    monkeypatch.setattr(sizes, "memory_of_this_machine", lambda: 1e8)
    with pytest.raises(CaseError, match="make cell_scale larger"):
        plan(case)


WIDE = """
[site]
start = 2031-01-15T18:00:00
duration = "1 h"
[weather]
kind = "constant"
temperature = "0 degC"
[ground]
depth = "50 m"
outside_width = "50 m"
bottom = { kind = "adiabatic" }
layers = [{ material = "clay" }]
start = { kind = "uniform", temperature = "10 degC" }
[floor]
width = "100 m"
length = "100 m"
layers = [{ material = "concrete", thickness = "10 cm" }]
[ducts]
count = 300
spacing = "30 cm"
depth = "40 cm"
diameter = "10 cm"
[fan]
flow = "1 m3/s"
[heat]
kind = "none"
[room]
kind = "fixed"
temperature = "18 degC"
[numerics]
cell_scale = 0.2
"""


def test_a_section_of_nine_million_cells_is_refused(little_memory):
    """As much as a case file can ask for: the widest floor, its ducts close together, the finest cells."""
    began = time.process_time()
    with pytest.raises(CaseError, match=r"makes 9,\d{3},\d{3} cells in every section"):
        plan(load_text(WIDE))
    assert time.process_time() - began < 10.0
