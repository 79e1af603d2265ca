"""The case that is timed: a slab on the ground with four ducts, switched by a timetable, and the room above.

Every closure (films, flow, properties of the air) is pinned, so that all peers solve the same equations.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.loader import load_text

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.schema import Case

ROW = 900
"""Seconds between the rows that are compared."""

TEXT = """
title = "Four warm ducts under a slab"
[site]
start = 2031-01-15T12:00:00
duration = "{days} days"
[weather]
kind = "daily wave"
mean = "-3 degC"
amplitude = "6 K"
[ground]
depth = "4 m"
outside_width = "2.5 m"
outside_film = "20 W/(m2.K)"
bottom = {{ kind = "temperature", temperature = "11 degC" }}
layers = [
    {{ conductivity = "1.4 W/(m.K)", heat_capacity = "2.0 MJ/(m3.K)", thickness = "0.6 m" }},
    {{ conductivity = "1.1 W/(m.K)", heat_capacity = "2.4 MJ/(m3.K)" }},
]
start = {{ kind = "uniform", temperature = "11 degC" }}
[floor]
width = "3.6 m"
length = "12 m"
film = "8 W/(m2.K)"
edge_wall = "0.2 m"
layers = [{{ conductivity = "1.7 W/(m.K)", heat_capacity = "2.1 MJ/(m3.K)", thickness = "0.1 m" }}]
[floor.edge_insulation]
conductivity = "0.035 W/(m.K)"
heat_capacity = "0.05 MJ/(m3.K)"
thickness = "0.05 m"
depth = "0.6 m"
[ducts]
count = 4
spacing = "0.8 m"
depth = "0.35 m"
diameter = "0.1 m"
film = "18 W/(m2.K)"
film_off = "2 W/(m2.K)"
[fan]
mass_flow = "0.12 kg/s"
power = "80 W"
air_density = "1.2 kg/m3"
air_heat_capacity = "1006 J/(kg.K)"
[heat]
kind = "power"
power = "4 kW"
[room]
kind = "air node"
temperature = "12 degC"
heat_loss = "70 W/K"
heat_capacity = "900 kJ/K"
[timetable]
daily = [
    {{ at = "06:00", fan = "off" }},
    {{ at = "16:00", fan = "on", heat = "on" }},
    {{ at = "22:00", fan = 0.5, heat = "off" }},
]
[numerics]
stations = {stations}
cell_scale = {cells}
step = "{step} s"
steps = "{steps}"
solver = "{solver}"
threads = {threads}
[output]
interval = "{row} s"
fields = "{fields} h"
"""


def build(
    *,
    days: float,
    stations: int,
    solver: str = "auto",
    step: int = 300,
    cells: float = 1.0,
    threads: int = 1,
    row: int = ROW,
    fields: int = 0,
    steps: str = "fixed",
) -> Case:
    """Load the case.

    `cells` multiplies the size of every cell of the mesh; rows lie `row` [s] apart, fields `fields` [h].
    """
    numbers = {"days": days, "stations": stations, "step": step, "cells": cells, "threads": threads}
    return load_text(TEXT.format(**numbers, steps=steps, solver=solver, row=row, fields=fields))


@dataclass(frozen=True)
class Mode:
    """Settings between two switches: share of full flow, heater power [W]."""

    share: float
    power: float


@dataclass(frozen=True)
class Problem:
    """The case as plain numbers, for solvers that know nothing of this project. Temperatures above `base`.

    Lanes are those of one half of the section; `lane_ducts` ducts stand behind each of them.
    """

    seconds: int
    stations: int
    base: float
    length: float
    lane_ducts: NDArray[np.float64]
    diameter: float
    film: float
    mass_flow: float
    heat_capacity: float
    fan_power: float
    room_start: float
    room_loss: float
    room_storage: float
    outside_mean: float
    outside_swing: float
    outside_peak: float
    periods: tuple[tuple[int, int, Mode], ...]

    def outside(self, time: float) -> float:
        """Outside temperature at `time` [s]."""
        return self.outside_mean + self.outside_swing * math.cos(
            2.0 * math.pi * (time - self.outside_peak) / 86400.0
        )

    @property
    def rows(self) -> NDArray[np.float64]:
        """Times [s] of the rows that are compared; the start is not one of them."""
        return np.arange(ROW, self.seconds + 1, ROW, dtype=np.float64)


def problem_of(case: Case) -> Problem:
    """Take the numbers out of a case made by `build`."""
    seconds = round(case.site.duration)
    base = case.ground.start.temperature
    table = case.timetable_compiled
    ends = [0, *(tick // 1000 for tick in table.switches()), seconds]
    periods = []
    for begin, end in itertools.pairwise(ends):
        drive = table.values_from(begin * 1000)
        periods.append((begin, end, Mode(drive.fan_share, drive.heat_power)))
    start, weather = case.site.start, case.weather
    return Problem(
        seconds=seconds,
        stations=case.numerics.stations,
        base=base,
        length=case.floor.length,
        lane_ducts=np.array([2.0, 2.0]),
        diameter=case.ducts.diameter,
        film=case.ducts.film,
        mass_flow=case.fan.mass_flow,
        heat_capacity=case.fan.air_heat_capacity,
        fan_power=case.fan.power,
        room_start=case.room.temperature - base,
        room_loss=case.room.heat_loss,
        room_storage=case.room.heat_capacity,
        outside_mean=weather.mean - base,
        outside_swing=weather.amplitude,
        outside_peak=float(weather.warmest_at - (start.hour * 3600 + start.minute * 60)),
        periods=tuple(periods),
    )
