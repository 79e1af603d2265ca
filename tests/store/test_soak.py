"""Ten years in one run: memory stays flat, the file grows in a straight line, the ledger does not drift.

The run is a process of its own, because the most memory that a process ever held is what counts.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
YEAR = 365
CASE = """\
title = "Ten years under a shed"
[site]
start = 2031-01-15T18:00:00
duration = "{days} days"
[weather]
kind = "daily wave"
mean = "6 degC"
amplitude = "7 K"
sun_peak = "300 W/m2"
[ground]
depth = "3 m"
bottom = {{ kind = "temperature", temperature = "9 degC" }}
layers = [{{ material = "clay" }}]
start = {{ kind = "uniform", temperature = "9 degC" }}
[floor]
width = "2 m"
length = "6 m"
layers = [{{ material = "concrete", thickness = "10 cm" }}]
[ducts]
count = 2
spacing = "80 cm"
depth = "40 cm"
diameter = "10 cm"
[fan]
flow = "100 m3/h"
[heat]
kind = "power"
power = "900 W"
[room]
kind = "air node"
temperature = "15 degC"
heat_loss = "30 W/K"
heat_capacity = "400 kJ/K"
sun_area = "2 m2"
[timetable]
daily = [{{ at = "07:00", fan = "on", heat = "on" }}, {{ at = "22:00", fan = "off", heat = "off" }}]
[numerics]
step = "15 min"
stations = 3
cell_scale = 2.0
[output]
interval = "1 h"
fields = "30 days"
"""
PROGRAM = """
import json, resource, sys
from pathlib import Path
import numpy as np
from simulator.case.loader import load
from simulator.run.checkpoint import StatePart
from simulator.store.record import record
from simulator.store import writer as module
case, out = Path(sys.argv[1]), Path(sys.argv[2])

class Watcher:
    def __init__(self): self.rows, self.resident, self.sizes = 0, [], []
    def start(self, case, geometry): self.every = max(1, len(geometry.series_ticks) // 20)
    def record(self, moment):
        self.rows += 1
        if self.rows % self.every == 0:
            pages = int(Path("/proc/self/statm").read_text().split()[1])
            self.resident.append(pages * resource.getpagesize())
    def finish(self, summary): pass
    def abort(self): pass

watcher = Watcher()
with record(load(case), out, watchers=[watcher]) as results:
    handled = results["ledger_handled"].values
    residual = results["ledger_residual"].values
    print(json.dumps({
        "resident": watcher.resident,
        "bytes": out.stat().st_size,
        "rows": results.rows,
        "complete": results.complete,
        "drift": float(np.abs(residual / np.maximum(handled, 1.0)).max()),
        "halves": [float(np.abs(residual[: results.rows // 2]).max()), float(np.abs(residual).max())],
        "handled": float(handled[-1]),
        "largest_step": results.summary["largest_ledger_residual"],
    }))
"""


def soak(folder: Path, days: int) -> dict:
    case = folder / f"shed-{days}.toml"
    case.write_text(CASE.format(days=days))
    command = [sys.executable, "-c", PROGRAM, str(case), str(folder / f"shed-{days}.h5")]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1"}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.slow
def test_ten_years(tmp_path):
    short, half, whole = (soak(tmp_path, days) for days in (YEAR, 5 * YEAR, 10 * YEAR))
    assert whole["complete"]
    assert whole["rows"] == 24 * 10 * YEAR + 1
    # Flat: what is resident in the second half is what was in the first, within two megabytes.
    first, second = whole["resident"][4:10], whole["resident"][-6:]
    assert max(second) - max(first) < 2 * 2**20
    # A straight line through one and five years leads to ten,
    slope = (half["bytes"] - short["bytes"]) / (half["rows"] - short["rows"])
    expected = half["bytes"] + slope * (whole["rows"] - half["rows"])
    # or below it: days that repeat pack better.
    assert 0.8 * expected < whole["bytes"] < 1.03 * expected
    # Rounding alone: 4e5 steps of 2e-16 each, as a random walk or as its sum at worst.
    assert whole["drift"] < 1e-11
    assert whole["largest_step"] < 1e-10
