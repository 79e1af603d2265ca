"""`ductfloor vary` from the command line."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import time
from pathlib import Path

import h5py
import pint
import pytest

from tests.cli.listening import LISTENING

ROOT = Path(__file__).parents[2]
UNITS = pint.UnitRegistry()


def names() -> set[str]:
    return {path.name for path in Path().iterdir()}


def test_table_files_and_chart(ductfloor, case_file) -> None:
    outcome = ductfloor("vary", case_file, "supply = 40, 50 degC")
    assert outcome.code == 2  # there is no key of that name
    outcome = ductfloor("vary", case_file, "heat.temperature = 40..60 degC in 3 steps", "-j", 1)
    assert outcome.code == 0, outcome.err
    assert names() == {
        "shed.toml", "shed-vary.csv", "shed-vary.json", "shed-vary.h5", "shed-vary.png", "shed-vary-kept",
    }  # fmt: skip
    lines = outcome.out.splitlines()
    assert lines[0] == "One duct under a shed"
    assert lines[1] == "3 runs: every value with every other"
    assert lines[-1] == "wrote shed-vary.csv, shed-vary.json, shed-vary.h5, shed-vary.png"
    assert "\x1b" not in outcome.out
    assert outcome.err == ""
    again = ductfloor("vary", case_file, "heat.temperature = 40..60 degC in 3 steps", "-j", 1)
    assert "3 runs, 3 of them known from before" in again.out


def test_csv_json_and_hdf5_agree(ductfloor, case_file) -> None:
    outcome = ductfloor(
        "vary", case_file, "heat.temperature = 40, 50 degC", "-o", "lowest floor",
        "-o", "heat into the floor", "-o", "worst caution", "--units", "US", "--json", "-j", 1,
    )  # fmt: skip
    assert outcome.code == 0, outcome.err
    printed = json.loads(outcome.out)
    stored = json.loads(Path("shed-vary.json").read_text(encoding="utf-8"))
    assert {name: value for name, value in printed.items() if name != "files"} == stored
    with Path("shed-vary.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    with h5py.File("shed-vary.h5") as file:
        for number, row in enumerate(stored["rows"]):
            celsius, joules = row["lowest floor"], row["heat into the floor"]
            assert file["lowest floor"][number] == celsius
            assert file["heat into the floor"][number] == joules
            assert (
                file["worst caution"][number].decode()
                == row["worst caution"]
                == table[number]["worst caution"]
            )
            # Reference: the pint library's own conversions.
            fahrenheit = UNITS.Quantity(celsius, UNITS.degC).to(UNITS.degF).magnitude
            assert float(table[number]["lowest floor [degF]"]) == pytest.approx(fahrenheit, rel=1e-9)
            heat = (
                UNITS.Quantity(joules, stored["columns"]["heat into the floor"]["unit"])
                .to("Btu_it")
                .magnitude
            )
            assert float(table[number]["heat into the floor [BTU]"]) == pytest.approx(heat, rel=1e-9)


def test_failed_runs_are_told_and_do_not_fail_the_rest(ductfloor, case_file) -> None:
    outcome = ductfloor("vary", case_file, "ducts.length = 3, 9, 10 m", "--no-chart", "-j", 1)
    assert outcome.code == 0
    assert "Runs that failed" in outcome.out
    told = " ".join(outcome.out.split())
    assert "2: " in told
    assert 'ducts.length = "9 m": is more than the floor\'s length' in told


def test_all_failed_is_bad_input(ductfloor, case_file) -> None:
    outcome = ductfloor("vary", case_file, "ducts.length = 9, 10 m", "-j", 1)
    assert outcome.code == 2
    assert "every run failed: " in outcome.err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["ducts.lenght = 1, 2 m"], "did you mean 'length'?"),
        ([], "nothing is varied"),
        (["ducts.length = 3, 4 m", "--sample", "4", "--one-at-a-time"], "give one or the other"),
        (["ducts.length = 3, 4 m", "-o", "lowest flor"], "did you mean 'lowest floor'?"),
        (["ducts.length = 3, 4 m", "--jobs", "0"], "must be 1 or more"),
        (["ducts.length = 3, 4 m", "--set", "fan.flow"], "is no key with values"),
    ],
)
def test_slips_leave_nothing_behind(ductfloor, case_file, words, told) -> None:
    outcome = ductfloor("vary", case_file, *words)
    assert outcome.code == 2
    assert outcome.err.startswith("error: ")
    assert told in outcome.err
    assert names() == {"shed.toml"}


def test_without_a_case(ductfloor) -> None:
    assert ductfloor("vary").code == 2


def test_the_list_of_answers(ductfloor) -> None:
    outcome = ductfloor("vary", "--outputs")
    assert outcome.code == 0
    assert "lowest floor" in outcome.out
    listed = json.loads(ductfloor("vary", "--outputs", "--json").out)
    assert listed["lowest floor"]["unit"] == "degC"
    assert "hours SPOT under T" in listed


def test_a_key_set_for_all_runs(ductfloor, case_file) -> None:
    words = ["heat.temperature = 40, 50 degC", "-o", "fan electricity", "--json", "--no-chart", "-j", 1]
    outcome = ductfloor("vary", case_file, *words, "--set", "fan.power = 100 W")
    # The fan runs for six hours.
    for row in json.loads(outcome.out)["rows"]:
        assert row["fan electricity"] == pytest.approx(0.6)


def test_help_has_examples(ductfloor) -> None:
    for command in ("vary", "size", "compare"):
        outcome = ductfloor(command, "--help")
        assert outcome.code == 0
        assert "Examples:" in outcome.out
        assert f"ductfloor {command} " in outcome.out


@pytest.mark.slow
def test_ctrl_c_says_how_to_go_on_and_the_same_command_does(case_file, tmp_path) -> None:
    steps = "heat.temperature = 40..60 degC in 400 steps"
    command = [*LISTENING, "vary", str(case_file), steps, "--no-chart", "-j", "2"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    kept = tmp_path / "shed-vary-kept"
    with subprocess.Popen(
        command, env=environment, cwd=tmp_path, stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as process:
        deadline = time.monotonic() + 180.0
        while (not kept.is_dir() or len(list(kept.glob("*.json"))) < 5) and time.monotonic() < deadline:
            assert process.poll() is None
            time.sleep(0.05)
        os.killpg(process.pid, signal.SIGINT)
        complaint = process.stderr.read()
    assert process.returncode == 130
    assert complaint.startswith("error: stopped after ")
    assert "the same command goes on from there" in complaint
    assert complaint.count("\n") == 1
    done = len(list(kept.glob("*.json")))
    assert 5 <= done < 400
    assert not list(kept.glob("*.part"))
    again = subprocess.run(
        [*command[:5], steps, "--json", "--no-chart"],
        env=environment, cwd=tmp_path, capture_output=True, text=True, check=True,
    )  # fmt: skip
    data = json.loads(again.stdout)
    assert data["found"] == done
    assert data["computed"] == 400 - done
