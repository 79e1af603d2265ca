<<<<<<< HEAD
"""A case that runs in a moment, with closures pinned so that temperatures are linear in what drives them."""

from __future__ import annotations

from pathlib import Path

from simulator.case.loader import load_text
from simulator.case.schema import Case

SMALL = """\
title = "A shed"
[site]
start = 2031-01-15T18:00:00
duration = "15 h"
[weather]
kind = "constant"
temperature = "-5 degC"
[ground]
depth = "1.5 m"
bottom = { kind = "temperature", temperature = "10 degC" }
layers = [{ material = "clay" }]
start = { kind = "uniform", temperature = "12 degC" }
[floor]
width = "3 m"
length = "8 m"
layers = [{ material = "concrete", thickness = "10 cm" }]
[ducts]
count = 2
spacing = "50 cm"
depth = "30 cm"
diameter = "10 cm"
film = "12 W/(m2.K)"
film_off = "0.5 W/(m2.K)"
[fan]
mass_flow = "0.06 kg/s"
power = "40 W"
air_density = "1.2 kg/m3"
air_heat_capacity = "1006 J/(kg.K)"
[heat]
kind = "power"
power = "2 kW"
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
stations = 4
cell_scale = 3.0
[output]
interval = "30 min"
fields = "0 h"
"""


def small_case(folder: Path | None = None, **replaced: str) -> Case:
    """Return the case, as a file when a folder is given; `replaced` changes lines by their key."""
    text = SMALL
    for old, new in replaced.items():
        assert f"\n{old} = " in text
        head, tail = text.split(f"\n{old} = ", 1)
        text = f"{head}\n{old} = {new}\n{tail.partition(chr(10))[2]}"
    if folder is None:
        return load_text(text, folder=".")
    path = folder / "shed.toml"
    path.write_text(text, encoding="utf-8")
    return load_text(text, path=path)
=======
"""A small case that runs in a moment, and ways to change it."""

from __future__ import annotations

from simulator.case.loader import load_text
from simulator.case.schema import Case

SHED = """\
title = "Two ducts under a shed"
[site]
start = 2031-01-15T18:00:00
duration = "18 h"
[weather]
kind = "daily wave"
mean = "-4 degC"
amplitude = "3 K"
warmest_at = "14:00"
[ground]
depth = "2.5 m"
bottom = {{ kind = "temperature", temperature = "9 degC" }}
layers = [{{ material = "clay or silt" }}]
start = {{ kind = "uniform", temperature = "9 degC" }}
run_in = "{run_in}"
run_in_drive = "timetable"
[floor]
width = "3 m"
length = "5 m"
layers = [{{ material = "concrete", thickness = "10 cm" }}]
[ducts]
count = 2
spacing = "1.2 m"
depth = "40 cm"
diameter = "10 cm"
[fan]
flow = "200 m3/h"
power = "40 W"
[heat]
kind = "{heat}"
[room]
kind = "air node"
temperature = "12 degC"
heat_loss = "25 W/K"
heat_capacity = "300 kJ/K"
[timetable]
{timetable}
[numerics]
step = "{step}"
stations = 4
cell_scale = 2.0
[output]
interval = "{step}"
fields = "3 h"
"""
EVENING = """daily = [
    { at = "05:00", fan = "on" },
    { at = "06:00", fan = "off" },
    { at = "16:00", fan = "on", heat = "on" },
    { at = "22:00", fan = "off", heat = "off" },
]"""


def shed(
    *, run_in: str = "3 days", timetable: str = EVENING, fire: bool = True, step: str = "15 min"
) -> Case:
    """The shed, with or without a fire, heated for `run_in` before the start; rows at every step."""
    heat = 'power"\npower = "2 kW' if fire else "none"
    return load_text(SHED.format(run_in=run_in, timetable=timetable, heat=heat, step=step))
>>>>>>> report
