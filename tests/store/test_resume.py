"""A run that is killed at any moment goes on later and ends as if nothing had happened, to the last bit."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from itertools import count
from pathlib import Path

import numpy as np
import pytest

from simulator.case.loader import load
from simulator.errors import BusyError, NoRoomError, SolverError, StoreError
from simulator.run import loop
from simulator.store import checkpoint as checkpoint_module
from simulator.store.checkpoint import RunCheckpoints, read_checkpoint, write_checkpoint
from simulator.store.destination import Destination
from simulator.store.reader import Results
from simulator.store.record import record
from tests.store.kill_and_resume import content
from tests.store.shed import left, write_case

KINDS = {
    "modes": {"days": 25},
    "moisture": {
        "days": 20,
        "more": 'surface = "ribbed"\n[moisture]\nroom_humidity = 0.8\noutside_humidity = 0.7',
    },
    "whole mesh, run-in": {
        "days": 3,
        "run_in": "20 h",
        "numerics": "solver = 'direct'\nrefine_after_switch = false",
    },
}


def kill_and_resume(case: Path, folder: Path, kills: int, seed: int) -> dict[str, float]:
    program = Path(__file__).with_name("kill_and_resume.py")
    command = [sys.executable, str(program), str(case), str(folder), str(kills), str(seed)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def check(counts: dict[str, float], kills: int) -> None:
    assert counts["identical"] == counts["kills"] == kills
    # Most moments of a run lie where there is something to go on with.
    assert counts["with_rows"] >= kills / 4
    assert counts["gone_on"] >= kills / 4


def test_what_a_run_left_that_was_killed_at_its_very_end_is_cleared_away(tmp_path):
    """Its results were in place already, what belonged to the unfinished run not yet gone."""
    case, out = load(write_case(tmp_path, days=3)), tmp_path / "night.h5"
    record(case, out).close()
    whole = out.read_bytes()
    for ending in (".checkpoint", ".checkpoint.new", ".part.copy", ".lock"):
        out.with_name(out.name + ending).write_bytes(b"")
    record(case, out, resume=True).close()
    assert left(out) == ["night.h5"]
    assert out.read_bytes() == whole


def test_it_stays_while_another_run_is_at_work(tmp_path):
    case, out = load(write_case(tmp_path, days=3)), tmp_path / "night.h5"
    record(case, out).close()
    other = Destination(out)
    other.take()
    other.checkpoint.write_bytes(b"")
    record(case, out, resume=True).close()
    assert other.checkpoint.exists()
    other.discard()
    assert left(out) == ["night.h5"]


@pytest.mark.parametrize("kind", KINDS)
def test_some_kills(tmp_path, kind):
    check(kill_and_resume(write_case(tmp_path, **KINDS[kind]), tmp_path, 4, 7), 4)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_many_kills(tmp_path, kind):
    check(kill_and_resume(write_case(tmp_path, **KINDS[kind]), tmp_path, 17, 2031), 17)


class Stopper:
    """An observer that ends the run after a number of rows, and counts the rows it is told."""

    def __init__(
        self, rows: int | None = None, error: Callable[[], BaseException] = KeyboardInterrupt
    ) -> None:
        self.rows, self.error, self.told = rows, error, 0

    def start(self, case, geometry) -> None:
        pass

    def record(self, moment) -> None:
        self.told += 1
        if self.told == self.rows:
            raise self.error()

    def finish(self, summary) -> None:
        pass

    def abort(self) -> None:
        pass


@pytest.fixture
def often(monkeypatch):
    monkeypatch.setattr(checkpoint_module, "SHORTEST_WAIT", 0.0)
    monkeypatch.setattr(checkpoint_module, "LARGEST_SHARE", 1e9)
    monkeypatch.setattr(loop, "MOST_ROWS", 1)  # a block, and so a checkpoint, for every row


@pytest.fixture
def shed(tmp_path) -> Path:
    return write_case(tmp_path, days=1)


@pytest.fixture
def stopped(often, shed, tmp_path) -> Path:
    """Results to be of a run that was stopped at its 100th row of 145."""
    out = tmp_path / "night.h5"
    with pytest.raises(KeyboardInterrupt, match="the same command goes on from there"):
        record(load(shed), out, watchers=[Stopper(100)])
    assert left(out) == ["night.h5.checkpoint", "night.h5.part"]
    return out


def room(path: Path) -> np.ndarray:
    with Results(path) as results:
        return results["room_temperature"].values


def test_a_stopped_run_goes_on(shed, stopped, tmp_path):
    said: list[str] = []
    watcher = Stopper()
    record(load(shed), stopped, watchers=[watcher], say=said.append).close()
    # A checkpoint came after each row but the one that ended the run.
    assert watcher.told == 145 - 99
    assert said == ["going on with the unfinished run, 68 % done"]
    assert left(stopped) == ["night.h5"]
    record(load(shed), tmp_path / "other.h5").close()
    np.testing.assert_array_equal(room(stopped), room(tmp_path / "other.h5"))


def test_starting_anew_is_possible(shed, stopped):
    watcher = Stopper()
    record(load(shed), stopped, watchers=[watcher], resume=False).close()
    assert watcher.told == 145
    assert left(stopped) == ["night.h5"]


def change_case(case, monkeypatch):
    case.write_text(case.read_text().replace('"1500 W"', '"1501 W"'))


def change_weather(case, monkeypatch):
    weather = case.with_name("cold.csv")
    weather.write_text(weather.read_text() + "# read again\n")


def change_version(case, monkeypatch):
    monkeypatch.setattr("simulator.store.provenance.VERSION", "9.9")


def change_program(case, monkeypatch):
    monkeypatch.setattr("simulator.store.provenance.program_fingerprint", lambda: "other")


def change_section(case, monkeypatch):
    monkeypatch.setattr(loop, "section_identity", lambda _: "other")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (change_case, "changed since the unfinished run began: the case file; put back what it began with"),
        (change_weather, "began: 'cold.csv';"),
        (change_version, "began: the version of this program;"),
        (change_program, "began: the program's files;"),
        (change_section, r"began: the section's numbers \(libraries or machine\);"),
    ],
)
def test_another_run_is_not_gone_on_with(shed, stopped, monkeypatch, change, words):
    change(shed, monkeypatch)
    with pytest.raises(StoreError, match=words):
        record(load(shed), stopped, resume=True)
    assert left(stopped) == ["night.h5.checkpoint", "night.h5.part"]
    said: list[str] = []
    watcher = Stopper()
    record(load(shed), stopped, watchers=[watcher], say=said.append).close()
    assert watcher.told == 145
    assert said[0].startswith("the unfinished run is not gone on with: ")
    assert left(stopped) == ["night.h5"]


@pytest.mark.parametrize("ending", [".checkpoint", ".part"])
@pytest.mark.parametrize("how", ["cut", "flipped", "empty", "other"])
def test_damaged_leftovers_are_told(shed, stopped, ending, how):
    path = stopped.with_name(stopped.name + ending)
    content = bytearray(path.read_bytes())
    if how == "flipped":
        # The start of the part is its superblock; of the checkpoint, anywhere counts.
        place = 8 if ending == ".part" else len(content) // 2
        content[place] ^= 0xFF
    path.write_bytes(
        {"cut": content[: len(content) // 2], "empty": b"", "other": b"x" * 5000}.get(how, content)
    )
    with pytest.raises(
        StoreError, match=rf"night\.h5{ending}: is damaged; start the run anew with --no-resume"
    ):
        record(load(shed), stopped, resume=True)
    assert left(stopped) == ["night.h5.checkpoint", "night.h5.part"]
    record(load(shed), stopped).close()
    assert left(stopped) == ["night.h5"]


def test_a_checkpoint_that_counts_more_than_the_file_holds(shed, stopped):
    path = Destination(stopped).checkpoint
    about, arrays = read_checkpoint(path)
    arrays["writer.counts"] = np.array([400, 399, 99])
    write_checkpoint(path, about, arrays)
    with pytest.raises(StoreError, match=r"night\.h5\.part: holds less than its checkpoint says"):
        record(load(shed), stopped, resume=True)


@pytest.mark.parametrize("wrong", [{"state.section": np.zeros((2, 2))}, {"place.place": None}])
def test_arrays_that_do_not_fit(shed, stopped, wrong):
    path = Destination(stopped).checkpoint
    about, arrays = read_checkpoint(path)
    arrays.update(wrong)
    write_checkpoint(path, about, {name: array for name, array in arrays.items() if array is not None})
    with pytest.raises(StoreError, match=f"the unfinished run does not fit this case: {next(iter(wrong))}"):
        record(load(shed), stopped, resume=True)


def test_finished_results_are_opened_as_they_are(often, shed, tmp_path):
    out = tmp_path / "night.h5"
    record(load(shed), out).close()
    before = out.stat().st_mtime_ns
    watcher = Stopper(1)
    record(load(shed), out, watchers=[watcher], resume=True).close()
    assert (watcher.told, out.stat().st_mtime_ns) == (0, before)
    change_case(shed, None)
    watcher = Stopper()
    record(load(shed), out, watchers=[watcher], resume=True).close()
    assert watcher.told == 145


def test_a_run_that_failed_is_not_gone_on_with(often, shed, tmp_path):
    out = tmp_path / "night.h5"
    with pytest.raises(SolverError):
        record(load(shed), out, watchers=[Stopper(100, lambda: SolverError("left the finite numbers"))])
    assert left(out) == []


def test_a_full_disk_keeps_what_was_done(often, shed, tmp_path, monkeypatch):
    out = tmp_path / "night.h5"
    with pytest.raises(NoRoomError, match="the same command then goes on from there"):
        record(load(shed), out, watchers=[Stopper(100, lambda: NoRoomError("the disk is full"))])
    record(load(shed), out, resume=True).close()
    assert left(out) == ["night.h5"]


def test_a_checkpoint_that_cannot_be_written_does_not_stop_the_run(often, shed, tmp_path, monkeypatch):
    def refuse(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(checkpoint_module.np, "savez", refuse)
    record(load(shed), tmp_path / "night.h5").close()
    assert left(tmp_path / "night.h5") == ["night.h5"]


def test_two_runs_into_one_file(often, shed, tmp_path):
    out = tmp_path / "night.h5"

    class Second(Stopper):
        def record(self, moment) -> None:
            self.told += 1
            if self.told == 50:
                for resume in (None, True, False):
                    with pytest.raises(BusyError, match=r"night\.h5: another run is writing it \(run \d+\)"):
                        record(load(shed), out, resume=resume)

    record(load(shed), out, watchers=[Second()]).close()
    assert left(out) == ["night.h5"]


def test_forgetting_a_part_would_be_seen(often, shed, stopped, tmp_path, monkeypatch):
    """The comparison can fail: without what the last row was compared with, heat flows differ."""
    monkeypatch.setattr(loop.Narrator, "restore", lambda *_: None)
    record(load(shed), stopped).close()
    record(load(shed), tmp_path / "other.h5").close()
    with Results(stopped) as ours, Results(tmp_path / "other.h5") as whole:
        assert not np.array_equal(ours["duct_heat"].values, whole["duct_heat"].values)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["flue-run", "greenhouse-loops", "pump-failure"])
def test_everything_that_a_case_can_hold_goes_on(tmp_path, monkeypatch, name):
    """Cases with a flue, with moisture in a network, with stove, tank, house and controls."""
    case = load(Path(__file__).parents[2] / "cases" / f"{name}.toml")
    monkeypatch.setattr(loop, "MOST_ROWS", 1)
    with record(case, tmp_path / "whole.h5") as results:
        rows = results.rows
    calls = count(1)
    monkeypatch.setattr(RunCheckpoints, "due", lambda _: next(calls) == rows // 3)
    with pytest.raises(KeyboardInterrupt, match="the same command goes on"):
        record(case, tmp_path / "night.h5", watchers=[Stopper(rows // 2)])
    watcher = Stopper()
    record(case, tmp_path / "night.h5", watchers=[watcher], resume=True).close()
    assert watcher.told == rows - 1 - rows // 3
    assert content(tmp_path / "night.h5") == content(tmp_path / "whole.h5")
