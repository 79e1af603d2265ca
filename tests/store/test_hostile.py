"""Files made to harm: they end in one message, cost neither time nor memory, and reach nothing outside."""

from __future__ import annotations

import contextlib
import os
import resource
import time
from pathlib import Path

import h5py
import numpy as np
import pytest

from simulator.case import units
from simulator.case.loader import load, load_text, starter_text
from simulator.climate.weather import from_case
from simulator.errors import CaseError, StoreError
from simulator.run import sizes
from simulator.run.plan import plan
from simulator.store.catalogue import CATALOGUE
from simulator.store.reader import Results
from simulator.store.record import record
from tests.fuzz.targets import results_seed
from tests.store.shed import left, write_case


@pytest.fixture
def little_memory():
    """No more than four gigabytes of addresses, so that a greedy reader fails rather than the machine."""
    before = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (4 * 2**30, before[1]))
    began = time.monotonic()
    yield
    assert time.monotonic() - began < 60.0
    resource.setrlimit(resource.RLIMIT_AS, before)


def tampered(path: Path, name: str, **how) -> Path:
    """Results in which one dataset is replaced."""
    path.write_bytes(results_seed())
    with h5py.File(path, "r+") as file:
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
        ("section_material", {"data": np.zeros(0)}),
    ],
)
def test_datasets_of_another_kind(tmp_path, name, how):
    path = tampered(tmp_path / "a.h5", name, **how)
    with pytest.raises(StoreError, match="is damaged") as raised:
        read_all(path)
    assert str(raised.value).startswith(str(path))


def test_links_that_lead_out_of_a_file(tmp_path):
    """A dataset that is a link to another file is not followed to it."""
    secret = tmp_path / "secret.h5"
    with h5py.File(secret, "w") as file:
        file["x"] = np.arange(4.0)
    path = tmp_path / "a.h5"
    path.write_bytes(results_seed())
    with h5py.File(path, "r+") as file:
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
