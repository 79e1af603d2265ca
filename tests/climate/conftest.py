from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from simulator.case.loader import load_text

BASE = """
[site]
start = {start}
duration = "{duration}"
[weather]
{weather}
[ground]
depth = "3 m"
run_in = "{run_in}"
bottom = {{kind = "adiabatic"}}
start = {{kind = "uniform", temperature = "8 degC"}}
layers = [{{conductivity = "1.5 W/(m.K)", density = "2000 kg/m3", specific_heat = "1000 J/(kg.K)"}}]
[floor]
width = "5 m"
length = "10 m"
[ducts]
count = 2
spacing = "1 m"
depth = "0.5 m"
diameter = "10 cm"
[fan]
flow = "200 m3/h"
[heat]
{heat}
[room]
kind = "fixed"
temperature = "18 degC"
"""


@pytest.fixture
def make_case(tmp_path: Path):
    """Build a case whose weather, heat and period a test chooses; files are looked for in `tmp_path`."""

    def make(
        weather: str = 'kind = "constant"\ntemperature = "0 degC"',
        *,
        heat: str = 'kind = "none"',
        start: dt.datetime = dt.datetime(2031, 1, 15, 18),
        duration: str = "1 days",
        run_in: str = "0 s",
    ):
        text = BASE.format(
            weather=weather, heat=heat, start=start.isoformat(), duration=duration, run_in=run_in
        )
        return load_text(text, folder=tmp_path)

    return make
