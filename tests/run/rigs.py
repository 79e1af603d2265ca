"""Small cases for the tests of runs, and a way to take them step by step."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simulator.case.schema import Case
from simulator.case.timetable import Drive
from simulator.run.coupling import Coupling, StepWeather
from simulator.run.loop import first_state, simulate, stage_values
from simulator.run.observers import Geometry, Moment
from simulator.run.plan import RunPlan, plan
from simulator.run.state import RunState

BASE: dict[str, Any] = {
    "site": {"start": dt.datetime(2031, 1, 15, 16), "duration": "6 h"},
    "weather": {"kind": "constant", "temperature": "-3 degC"},
    "ground": {
        "depth": "1.5 m",
        "bottom": {"kind": "temperature", "temperature": "9 degC"},
        "layers": [{"material": "moist sand"}],
        "start": {"kind": "uniform", "temperature": "11 degC"},
    },
    "floor": {"width": "2 m", "length": "6 m", "layers": [{"material": "concrete", "thickness": "8 cm"}]},
    "ducts": {"count": 2, "spacing": "80 cm", "depth": "30 cm", "diameter": "10 cm"},
    "fan": {"flow": "160 m3/h", "power": "40 W"},
    "heat": {"kind": "power", "power": "1.2 kW"},
    "room": {
        "kind": "air node",
        "temperature": "14 degC",
        "heat_loss": "18 W/K",
        "heat_capacity": "180 kJ/K",
    },
    "numerics": {"stations": 4, "cell_scale": 2.0, "solver": "direct", "step": "300 s"},
    "output": {"interval": "10 min", "fields": "1 h"},
}
PINNED: dict[str, Any] = {
    "ducts": {"film": "12 W/(m2.K)", "film_off": "0.5 W/(m2.K)"},
    "fan": {
        "flow": None,
        "mass_flow": "0.05 kg/s",
        "air_density": "1.2 kg/m3",
        "air_heat_capacity": "1006 J/(kg.K)",
    },
}
"""Closures that make the whole problem linear with constant coefficients between switches."""
SWITCHED: dict[str, Any] = {
    "timetable": {
        "start": {"fan": "on", "heat": "on"},
        "dated": [
            {"at": dt.datetime(2031, 1, 15, 17, 10, 0, 7000), "heat": "off"},
            {"at": dt.datetime(2031, 1, 15, 17, 50), "fan": "off"},
            {"at": dt.datetime(2031, 1, 15, 19, 3, 20, 250000), "fan": 0.5, "heat": "600 W"},
            {"at": dt.datetime(2031, 1, 15, 20, 30), "fan": 1.0, "supply_temperature": "35 degC"},
            {"at": dt.datetime(2031, 1, 15, 21), "fan": "off", "heat": "on"},
        ],
    }
}
OFF = Drive(0.0, 0.0, float("nan"))


def merge(base: Mapping[str, Any], *changes: Mapping[str, Any]) -> dict[str, Any]:
    """Tables changed key by key; None takes a key out, and a table with another `kind` replaces the old
    one.
    """
    result = deepcopy(dict(base))
    for change in changes:
        for key, value in change.items():
            old = result.get(key)
            if value is None:
                result.pop(key, None)
            elif isinstance(value, Mapping) and isinstance(old, dict) and "kind" not in value:
                result[key] = merge(old, value)
            else:
                result[key] = deepcopy(value)
    return result


def small_case(*changes: Mapping[str, Any]) -> Case:
    """The base case with tables changed."""
    return Case.model_validate(merge(BASE, *changes))


@dataclass
class Rig:
    """A case on the bench, taken step by step."""

    case: Case
    prepared: RunPlan = field(init=False)
    coupling: Coupling = field(init=False)
    state: RunState = field(init=False)

    def __post_init__(self) -> None:
        self.prepared = plan(self.case)
        self.coupling = self.prepared.coupling(self.prepared.solver())
        self.state = first_state(self.prepared, self.coupling.solver)

    @property
    def temperature(self) -> NDArray[np.float64]:
        """(S, N) cell temperatures [K]."""
        return self.coupling.solver.field(self.state.section) + self.prepared.reference

    def weather(self, begin: int, end: int) -> StepWeather:
        """Weather of one step, as the run itself takes it."""
        ends = (np.array([begin]), np.array([end]))
        air = stage_values(self.prepared.weather.temperature, *ends)[0]
        sun = stage_values(self.prepared.weather.sun, *ends)[0]
        series = self.prepared.supply_series
        supply = (np.nan, np.nan) if series is None else stage_values(series, *ends)[0]
        return StepWeather((air[0], air[1]), (sun[0], sun[1]), (float(supply[0]), float(supply[1])))

    def step(self, end: int, drive: Drive, **options: Any) -> None:
        """One step to a tick."""
        self.coupling.advance(self.state, end, drive, self.weather(self.state.tick, end), **options)

    def run(self, ends: list[int] | NDArray[np.int64] | None = None) -> Iterator[Drive]:
        """Take all steps; what the fan and heat did in each comes out after it."""
        still = self.case.ground.run_in_drive == "off"
        for end in self.prepared.step_ends if ends is None else ends:
            before = self.state.tick < 0 and still
            drive = OFF if before else self.prepared.timetable.values_from(self.state.tick)
            self.step(int(end), drive, hold_room=before)
            yield drive


class Collector:
    """Keeps what a run tells."""

    def __init__(self) -> None:
        self.moments: list[Moment] = []
        self.geometry: Geometry
        self.summary: Mapping[str, Any] | None = None
        self.aborted = 0

    def start(self, case: Case, geometry: Geometry) -> None:
        self.geometry = geometry

    def record(self, moment: Moment) -> None:
        self.moments.append(moment)

    def finish(self, summary: Mapping[str, Any]) -> None:
        self.summary = summary

    def abort(self) -> None:
        self.aborted += 1

    @property
    def ticks(self) -> list[int]:
        return [moment.tick for moment in self.moments]

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        return np.array([moment.values[name] for moment in self.moments])


def told(*changes: Mapping[str, Any]) -> Collector:
    """Run the base case with changes, and what it told."""
    collector = Collector()
    simulate(small_case(*changes), [collector])
    return collector
