"""The command line as a whole: names, exit codes, quickness."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from simulator.version import VERSION

HEAVY = ("numpy", "scipy", "numba", "h5py", "matplotlib", "pydantic", "rich.progress", "xarray")
ROOT = Path(__file__).parents[2]


def python(code: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    environment.pop("FORCE_COLOR", None)
    return subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, env=environment, check=False
    )


def with_broken_loader(raising: str) -> str:
    return (
        "import simulator.case.loader as loader\n"
        f"def load(path): raise {raising}\n"
        "loader.load = load\n"
        "from simulator.cli.app import main\n"
        "main()\n"
    )


def test_version(ductfloor) -> None:
    outcome = ductfloor("--version")
    assert (outcome.code, outcome.out) == (0, f"ductfloor {VERSION}\n")


@pytest.mark.parametrize("flag", ["--help", "-h"])
def test_help_lists_the_commands(ductfloor, flag) -> None:
    outcome = ductfloor(flag)
    assert outcome.code == 0
    for command in ("new", "check", "run", "show", "map", "sum"):
        assert f"\n  {command} " in outcome.out


@pytest.mark.parametrize("command", ["new", "check", "run", "show", "map"])
def test_help_of_commands_fits_80_columns(ductfloor, command) -> None:
    outcome = ductfloor(command, "--help")
    assert outcome.code == 0
    assert max(map(len, outcome.out.splitlines())) <= 80


@pytest.mark.parametrize(
    "words", [("runn",), ("run",), ("run", "--nonsense", "x.toml"), ("show", "a.h5", "--units", "metric")]
)
def test_usage_errors_end_with_2(ductfloor, words) -> None:
    outcome = ductfloor(*words)
    assert outcome.code == 2
    assert "Traceback" not in outcome.err


def test_help_loads_nothing_heavy() -> None:
    outcome = python(
        f"import sys, simulator.cli.app\nprint([name for name in {HEAVY} if name in sys.modules])\n"
    )
    assert outcome.stdout == "[]\n", outcome.stderr


def test_help_answers_within_400_milliseconds() -> None:
    spent = []
    for _ in range(5):  # the quickest counts: the machine may be busy
        begin = time.perf_counter()
        outcome = python("from simulator.cli.app import main; main()", "--help")
        spent.append(time.perf_counter() - begin)
        assert outcome.returncode == 0
    assert min(spent) < 0.4


def test_the_module_is_the_command() -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "simulator", "--help"]
    outcome = subprocess.run(command, capture_output=True, text=True, env=environment, check=True)
    assert outcome.stdout == python("from simulator.cli.app import main; main()", "--help").stdout


def test_a_defect_keeps_its_traceback_and_ends_with_1() -> None:
    outcome = python(with_broken_loader("ZeroDivisionError('oops')"), "check", "x.toml")
    assert outcome.returncode == 1
    assert "Traceback" in outcome.stderr
    assert "ZeroDivisionError: oops" in outcome.stderr


def test_ctrl_c_ends_with_130() -> None:
    outcome = python(with_broken_loader("KeyboardInterrupt"), "check", "x.toml")
    assert outcome.returncode == 130
    assert outcome.stderr == "error: stopped; nothing half done was left behind\n"


def test_a_failed_calculation_ends_with_1_and_a_message() -> None:
    outcome = python(
        "from simulator.errors import SolverError\n"
        + with_broken_loader("SolverError('left the finite numbers', time='2 h')"),
        "check",
        "x.toml",
    )
    assert outcome.returncode == 1
    assert outcome.stderr == "error: at 2 h: left the finite numbers\n"


def test_whoever_stops_reading_is_not_shouted_at(barn) -> None:
    command = [sys.executable, "-m", "simulator", "show", str(barn)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment, text=True
    ) as process:
        process.stdout.close()
        complaint = process.stderr.read()
    assert process.returncode == 0
    assert complaint == ""
