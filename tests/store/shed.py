"""A case with switches, weather from a file and a fan curve that runs in half a second."""

from __future__ import annotations

from pathlib import Path

SHED = """\
title = "One duct under a shed"
[site]
start = 2031-01-15T18:00:00
duration = "{days} days"
[weather]
kind = "csv"
file = "cold.csv"
columns.time = {{ column = "h", unit = "h" }}
columns.temperature = {{ column = "out", unit = "degC" }}
columns.sun = {{ column = "sun" }}
[ground]
depth = "2 m"
bottom = {{ kind = "temperature", temperature = "10 degC" }}
layers = [{{ material = "clay" }}]
start = {{ kind = "uniform", temperature = "12 degC" }}
run_in = "{run_in}"
[floor]
width = "2 m"
length = "6 m"
layers = [{{ material = "concrete", thickness = "10 cm" }}]
[ducts]
count = 2
spacing = "80 cm"
depth = "40 cm"
diameter = "10 cm"
{more}
[fan]
curve = {{ flows = ["0 m3/s", "0.04 m3/s", "0.08 m3/s"], pressures = ["170 Pa", "120 Pa", "0 Pa"] }}
efficiency = 0.3
[heat]
kind = "power"
power = "1500 W"
[room]
kind = "air node"
temperature = "15 degC"
heat_loss = "20 W/K"
heat_capacity = "200 kJ/K"
[timetable]
start = {{ fan = "on", heat = "on" }}
daily = [
    {{ at = "00:07", fan = "off", heat = "off" }},
    {{ at = "05:13", fan = 0.6 }},
    {{ at = "17:41", fan = "on", heat = "on" }},
]
[numerics]
step = "5 min"
stations = 3
cell_scale = 2.0
{numerics}
[output]
interval = "10 min"
fields = "11 h"
"""


def write_case(
    folder: Path, *, days: int = 20, run_in: str = "0 h", more: str = "", numerics: str = ""
) -> Path:
    rows = [
        f"{hour},{-8 + hour % 24 % 7 + hour // 24 % 3},{20 * (hour % 24)}"
        for hour in range(-24, 24 * days + 25)
    ]
    (folder / "cold.csv").write_text("\n".join(["h,out,sun", *rows]) + "\n")
    case = folder / "shed.toml"
    case.write_text(SHED.format(days=days, run_in=run_in, more=more, numerics=numerics))
    return case


def left(out: Path) -> list[str]:
    """Names of a results file and everything beside it that belongs to it."""
    return sorted(path.name for path in out.parent.iterdir() if path.name.startswith(out.name))
