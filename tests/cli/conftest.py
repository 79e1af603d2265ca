"""A command line to call, a small case that runs in a moment, and results that were made up."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from simulator.cli.app import app
from tests.look.made_up import Shape, make_results

SMALL_CASE = """\
title = "One duct under a shed"
[site]
start = 2031-01-15T18:00:00
duration = "15 h"
[weather]
kind = "constant"
temperature = "-5 degC"
[ground]
depth = "2 m"
bottom = { kind = "temperature", temperature = "10 degC" }
layers = [{ material = "clay" }]
start = { kind = "uniform", temperature = "12 degC" }
[floor]
width = "2 m"
length = "6 m"
layers = [{ material = "concrete", thickness = "10 cm" }]
[ducts]
count = 1
depth = "40 cm"
diameter = "10 cm"
[fan]
flow = "100 m3/h"
[heat]
kind = "supply temperature"
temperature = "55 degC"
[room]
kind = "air node"
temperature = "15 degC"
heat_loss = "20 W/K"
heat_capacity = "200 kJ/K"
[timetable]
start = { fan = "on", heat = "on" }
daily = [{ at = "00:00", fan = "off", heat = "off" }]
[numerics]
step = "15 min"
stations = 3
cell_scale = 2.0
[output]
interval = "30 min"
fields = "5 h"
"""


class Outcome:
    """What a command left: exit code and both streams."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


@pytest.fixture
def ductfloor(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Outcome]:
    """Call the command line in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FORCE_COLOR", raising=False)
    monkeypatch.setenv("COLUMNS", "80")

    def call(*words: object) -> Outcome:
        outcome = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
        return Outcome(outcome.exit_code, outcome.stdout, outcome.stderr)

    return call


@pytest.fixture
def case_file(tmp_path: Path) -> Path:
    path = tmp_path / "shed.toml"
    path.write_text(SMALL_CASE, encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def barn_bytes(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    with make_results(Shape(hours=40.0, rows_per_hour=4.0, maps=11)) as results:
        return bytes(results._file.id.get_file_image())


@pytest.fixture
def barn(tmp_path: Path, barn_bytes: bytes) -> Path:
    """Made-up results from 2024-01-15 18:00 on for 40 hours, with 12 stations along 12 m."""
    path = tmp_path / "barn.h5"
    path.write_bytes(barn_bytes)
    return path
