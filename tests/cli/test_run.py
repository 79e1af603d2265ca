"""`ductfloor run`: one small case from file to pictures."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import time
from pathlib import Path

import pytest

from simulator.answers.cautions import STANDING
from simulator.errors import BusyError, NoRoomError, SolverError
from simulator.store.reader import Results
from tests.cli.listening import LISTENING

ROOT = Path(__file__).parents[2]
EVERYTHING = {"shed.toml", "shed.h5", "shed-section.png", "shed-plan.png", "shed-night.png"}


def unfolded(text: str) -> str:
    return " ".join(text.split())


def names() -> set[str]:
    return {path.name for path in Path().iterdir()}


def test_results_answers_and_pictures(ductfloor, case_file) -> None:
    outcome = ductfloor("run", case_file)
    assert outcome.code == 0, outcome.err
    assert names() == EVERYTHING
    lines = outcome.out.splitlines()
    assert lines[0] == "One duct under a shed"
    assert lines[1] == "2031-01-15 18:00 to 2031-01-16 09:00 (night 1 of 1)"
    assert lines[-1] == "wrote shed.h5, shed-section.png, shed-plan.png, shed-night.png"
    assert max(map(len, lines)) <= 80
    assert outcome.err == ""  # no bar: nobody watches
    # Bare metal at 51 degC burns within a minute (ISO 13732-1, value from memory); the air enters at 55 degC.
    assert "CAUTION" in outcome.out
    assert "bare metal at 51.0 degC" in unfolded(outcome.out)
    assert "DANGER" not in outcome.out
    assert "carbon monoxide" in outcome.out
    with Results("shed.h5") as results:
        assert results.complete
        assert results["supply_temperature"].values[1] == pytest.approx(55.0)
        assert results.case_text == case_file.read_text(encoding="utf-8")


def test_no_text_of_a_case_becomes_a_path(ductfloor, case_file) -> None:
    """Titles and names are words; only what is typed as a path is one, and it may lead through a folder."""
    text = case_file.read_text(encoding="utf-8").replace("One duct under a shed", "../../up/x")
    case_file.write_text(text, encoding="utf-8")
    Path("in").mkdir()
    outcome = ductfloor("run", case_file, "--no-pictures", "--out", "in/../a.h5")
    assert outcome.code == 0, outcome.err
    assert names() == {"shed.toml", "in", "a.h5"}
    assert not list(Path("in").iterdir())
    assert not [path for path in Path("..").resolve().iterdir() if path.name.startswith("up")]


def test_json_agrees_with_the_file(ductfloor, case_file) -> None:
    outcome = ductfloor("run", case_file, "--json", "--no-pictures", "--out", "a.h5")
    data = json.loads(outcome.out)
    assert names() == {"shed.toml", "a.h5"}
    assert data["files"] == ["a.h5"]
    assert data["cautions"][0]["limit_degC"] == 51.0
    with Results("a.h5") as results:
        floor = results["floor_mean_temperature"].values
    assert data["overnight"]["lows"]["floor_mean"]["value"] == pytest.approx(floor.min())


def test_show_says_the_same_as_run(ductfloor, case_file) -> None:
    # The first run tells what is to be minded on every job in full.
    ductfloor("run", case_file, "--no-pictures", "--quiet")
    ran = ductfloor("run", case_file, "--no-pictures", "--units", "US").out
    shown = ductfloor("show", "shed.h5", "--units", "US").out
    assert ran.startswith(shown)
    assert ran[len(shown) :].strip() == "wrote shed.h5"


def test_quiet_prints_dangers_only(ductfloor, case_file) -> None:
    assert ductfloor("run", case_file, "--quiet", "--no-pictures").out == ""
    hot = case_file.read_text(encoding="utf-8").replace("55 degC", "80 degC")
    case_file.write_text(hot, encoding="utf-8")
    told = ductfloor("run", case_file, "--quiet", "--no-pictures").out
    assert told.startswith("\nDANGER\n")
    assert "above the 60.0 degC that these ducts" in unfolded(told)
    assert "77.0 degC and more, wood" in unfolded(told)


def test_without_maps_only_the_night_is_drawn(ductfloor, case_file) -> None:
    text = case_file.read_text(encoding="utf-8").replace('fields = "5 h"', 'fields = "0 h"')
    case_file.write_text(text, encoding="utf-8")
    assert ductfloor("run", case_file).code == 0
    assert "shed-night.png" in names()


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("diameter =", "diamter =", "unknown key 'diamter'; did you mean 'diameter'?"),
        ('"10 degC"', '"10 W"', "a temperature is needed"),
        ("count = 1", "count = 0", "must not be below 1"),
        ("[fan]", "[fan", "is not TOML"),
    ],
)
def test_bad_cases_leave_nothing_behind(ductfloor, case_file, old, new, told) -> None:
    text = case_file.read_text(encoding="utf-8")
    case_file.write_text(text.replace(old, new), encoding="utf-8")
    outcome = ductfloor("run", case_file)
    assert outcome.code == 2
    assert outcome.err.count("\n") == 1
    assert outcome.err.startswith(f"error: {case_file}:")
    assert told in outcome.err
    assert outcome.out == ""
    assert names() == {"shed.toml"}


def test_a_missing_case_is_named(ductfloor) -> None:
    outcome = ductfloor("run", "missing.toml")
    assert outcome.code == 2
    assert "missing.toml" in outcome.err


def test_a_file_that_is_no_results_file_is_left_alone(ductfloor, case_file) -> None:
    outcome = ductfloor("run", case_file, "--out", "shed.toml")
    assert outcome.code == 2
    assert case_file.read_text(encoding="utf-8").startswith("title")


def test_a_folder_that_is_not_there_is_named(ductfloor, case_file) -> None:
    outcome = ductfloor("run", case_file, "--out", "nowhere/a.h5")
    assert outcome.code == 2
    assert "nowhere" in outcome.err


@pytest.mark.slow
def test_ctrl_c_in_the_middle_leaves_old_results_and_a_run_to_go_on_with(ductfloor, case_file) -> None:
    assert ductfloor("run", case_file, "--no-pictures").code == 0
    before = Path("shed.h5").read_bytes()
    endless = case_file.read_text(encoding="utf-8").replace('"15 h"', '"3000 days"')
    case_file.write_text(endless.replace('step = "15 min"', 'step = "1 min"'), encoding="utf-8")
    command = [*LISTENING, "run", str(case_file)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(command, env=environment, stderr=subprocess.PIPE, text=True) as process:
        deadline = time.monotonic() + 120.0
        while "shed.h5.checkpoint" not in names() and time.monotonic() < deadline:
            assert process.poll() is None
            time.sleep(0.05)
        process.send_signal(signal.SIGINT)
        complaint = process.stderr.read()
    assert process.returncode == 130
    assert complaint == "error: stopped; the same command goes on from there\n"
    assert names() == {"shed.toml", "shed.h5", "shed.h5.part", "shed.h5.checkpoint"}
    assert Path("shed.h5").read_bytes() == before
    with Results("shed.h5.part") as results:
        assert not results.complete
    # The case has become another one: told, and refused where going on is asked for.
    case_file.write_text(endless.replace('"3000 days"', '"16 h"'), encoding="utf-8")
    refused = ductfloor("run", case_file, "--no-pictures", "--resume")
    assert refused.code == 2
    assert "changed since the unfinished run began: the case file; put back" in refused.err
    anew = ductfloor("run", case_file, "--no-pictures")
    assert anew.code == 0
    assert anew.err.startswith("note: the unfinished run is not gone on with: changed since")
    assert names() == {"shed.toml", "shed.h5"}


def test_ctrl_c_before_anything_could_be_kept_leaves_nothing(ductfloor, case_file, monkeypatch) -> None:
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("simulator.run.loop._march", stop)
    outcome = ductfloor("run", case_file)
    assert outcome.code == 130
    assert outcome.err == "error: stopped; nothing half done was left behind\n"
    assert names() == {"shed.toml"}


@pytest.mark.parametrize(
    ("error", "code", "told"),
    [
        (BusyError("another run is writing it"), 4, "another run is writing it"),
        (NoRoomError("the disk is full"), 3, "the disk is full"),
        (OSError(28, "No space left on device"), 3, "No space left on device"),
        (MemoryError(), 3, "not enough memory"),
        (SolverError("a temperature is not finite"), 1, "a temperature is not finite"),
        (PermissionError(13, "Permission denied", "a.png"), 2, "a.png: Permission denied"),
    ],
)
def test_exit_codes_are_what_the_readme_lists(ductfloor, case_file, monkeypatch, error, code, told) -> None:
    def fail(*_, **__):
        raise error

    monkeypatch.setattr("simulator.run.loop._march", fail)
    outcome = ductfloor("run", case_file)
    assert outcome.code == code
    assert outcome.err.startswith(f"error: {told}")
    assert names() == {"shed.toml"}


@pytest.mark.parametrize("phase", ["pictures.write_pictures", "answers.print_answers"])
def test_ctrl_c_after_the_run_says_that_results_are_whole(ductfloor, case_file, monkeypatch, phase) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(f"simulator.cli.{phase}", stop)
    outcome = ductfloor("run", case_file)
    assert outcome.code == 130
    assert outcome.err == (
        "error: stopped; the results are whole and stay in shed.h5: ductfloor show shed.h5 tells them\n"
    )
    monkeypatch.undo()
    # It is true: they are there, and the command that is named tells them.
    assert ductfloor("show", case_file.parent / "shed.h5").code == 0


def test_cautions_of_every_job_are_told_in_full_once(ductfloor, case_file) -> None:
    """By `check` and by the first `run`; then a line names each and says where; what was found always."""
    in_full = [advice.message for advice in STANDING]
    first = ductfloor("run", case_file, "--no-pictures").out
    again = ductfloor("run", case_file, "--no-pictures").out
    shown = ductfloor("show", "shed.h5").out
    checked = ductfloor("check", case_file).out
    for text in (first, checked):
        assert all(message in unfolded(text) for message in in_full)
    for text in (again, shown):
        assert not any(message in unfolded(text) for message in in_full)
        assert all(advice.name in unfolded(text) for advice in STANDING)
        assert "ductfloor check CASE" in unfolded(text)
    for text in (first, again, shown):
        assert "bare metal at 51.0 degC" in unfolded(text)
