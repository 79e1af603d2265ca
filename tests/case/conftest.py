from __future__ import annotations

from collections.abc import Callable

import pytest

from simulator.case.loader import load_text
from simulator.case.schema import Case
from simulator.errors import CaseError

SMALL = """\
title = "Workshop"
[site]
start = 2031-01-15T18:00:00
duration = "2 days"
[weather]
kind = "constant"
temperature = "20 degF"
[ground]
depth = "10 ft"
bottom = { kind = "temperature", temperature = "50 degF" }
start = { kind = "uniform", temperature = "55 degF" }
layers = [
    { material = "sand", thickness = "2 ft" },
    { material = "loam" },
]
[floor]
width = "20 ft"
length = "40 ft 6 in"
layers = [{ material = "concrete", thickness = "4 in" }]
[ducts]
count = 6
spacing = "2 ft"
depth = "18 in"
diameter = "4 in"
[fan]
flow = "300 cfm"
[heat]
kind = "power"
power = "30000 BTU/h"
[room]
kind = "fixed"
temperature = "60 degF"
"""


def change(text: str, *changes: tuple[str, str]) -> str:
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} must stand in the text once"
        text = text.replace(old, new)
    return text


@pytest.fixture
def small() -> str:
    """A short sound case."""
    return SMALL


def builder(text: str, path: str) -> Callable[..., Case]:
    """Load a case with pieces of its text replaced, and lines added at its end."""

    def make(*changes: tuple[str, str], add: str = "") -> Case:
        return load_text(change(text, *changes) + add, path=path)

    return make


def refuser(build: Callable[..., Case]) -> Callable[..., str]:
    """The message for what `build` cannot load."""

    def make(*changes: tuple[str, str], add: str = "") -> str:
        with pytest.raises(CaseError) as caught:
            build(*changes, add=add)
        return str(caught.value)

    return make


@pytest.fixture
def build() -> Callable[..., Case]:
    """Load the short case with pieces of its text replaced, and lines added at its end."""
    return builder(SMALL, "workshop.toml")


@pytest.fixture
def refusal(build: Callable[..., Case]) -> Callable[..., str]:
    """The message for the short case with pieces of its text replaced, and lines added at its end."""
    return refuser(build)


CHAIN = """\
title = "Shed with a stove"
[site]
latitude = 46.5
longitude = -93.2
time_zone = -6
start = 2031-01-15T18:00:00
duration = "2 days"
[weather]
kind = "constant"
temperature = "20 degF"
sun = "100 W/m2"
[ground]
depth = "10 ft"
bottom = { kind = "temperature", temperature = "50 degF" }
start = { kind = "uniform", temperature = "55 degF" }
layers = [{ material = "loam" }]
[floor]
width = "20 ft"
length = "40 ft"
[ducts]
count = 6
spacing = "2 ft"
depth = "18 in"
diameter = "4 in"
[fan]
flow = "300 cfm"
[heat]
kind = "stove"
[stove]
fuel = "logs"
efficiency = 0.75
mass = "110 kg"
surface = "1.8 m2"
[hood]
wall_area = "3 m2"
cross_section = "0.08 m2"
hydraulic_diameter = "12 cm"
wall_mass = "20 kg"
[[coils]]
conductance = "150 W/K"
water_volume = "1.5 L"
metal_mass = "5 kg"
[water]
tank_volume = "300 gal"
temperature = "60 degF"
heat_loss = "5 W/K"
pump_flow = "1.4 gpm"
[room]
kind = "house"
temperature = "60 degF"
volume = "200 m3"
heat_capacity = "1 MJ/K"
sun_to_floor = 0.5
[[room.surfaces]]
name = "roof"
kind = "glazing"
area = "12 m2"
tilt = "35 deg"
azimuth = "south"
transmittance = 0.8
resistance = "0.001 m2.K/W"
night_cover = "0.3 m2.K/W"
[[room.surfaces]]
name = "walls"
kind = "wall"
area = "20 m2"
tilt = "90 deg"
azimuth = "0 deg"
resistance = "2.5 m2.K/W"
[[room.masses]]
name = "barrels"
heat_capacity = "800 kJ/K"
area = "4 m2"
sun_share = 0.2
[[controls.rules]]
switch = "fan"
to = "on"
on_when = "supply above floor by 5 K or room below 8 degC"
off_when = "supply below floor by 1 K and room above 10 degC"
[[upsets]]
at = 2031-01-16T21:00:00
kind = "pump stops"
[timetable]
daily = [
    { at = "07:00", cover = "off" },
    { at = "18:30", load = "6 kg", cover = "on" },
]
"""


@pytest.fixture(scope="session")
def chain() -> str:
    """A sound case with every table of the heat chain."""
    return CHAIN


@pytest.fixture
def build_chain() -> Callable[..., Case]:
    """Load a case with every table of the heat chain, pieces of its text replaced and lines added."""
    return builder(CHAIN, "shed.toml")


@pytest.fixture
def chain_refusal(build_chain: Callable[..., Case]) -> Callable[..., str]:
    """The message for that case with pieces of its text replaced, and lines added at its end."""
    return refuser(build_chain)
