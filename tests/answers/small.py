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
