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
