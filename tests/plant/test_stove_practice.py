"""Figures that people with such a stove report: common practice, no source.

One set-up of our own for all of them: a stove made of a 30-gallon drum (1.4 m2) with a small pellet feed,
under a hood, a coil of 120 W/K behind it and a household fan behind the coil (0.087 kg/s, some 160 cubic feet
of air a minute), water at 60 degF from a large tank at 1.4 US gallons a minute.
"""

from __future__ import annotations

import pytest

from simulator.plant import layout_kernels as at
from tests.plant.plants import case_of, plant, run

BAG = 18.1
STOVE = {"rate": f"{BAG / 6.5} kg/h", "efficiency": 0.75, "mass": "80 kg", "surface": "1.4 m2"}
COIL = {"conductance": "120 W/K", "rated_air_flow": "0.09 kg/s", "rated_water_flow": "0.09 kg/s"}
WATER = {
    "tank_volume": "100 m3",
    "temperature": "60 degF",
    "pump_flow": "1.4 gpm",
    "pump_power": "0 W",
    "make_up": "0 L/h",
}
FLOW = 0.087


def fahrenheit(kelvin: float) -> float:
    return (kelvin - 273.15) * 1.8 + 32.0


def settled(case, **told):
    made = plant(case)
    state = run(made, steps=96, **told).state
    return made, run(made, state, **told)


@pytest.mark.parametrize("hours", [6.0, 7.0])
def test_a_bag_of_pellets_in_6_to_7_hours_is_12_to_15_kilowatts(hours) -> None:
    made = plant(case_of(stove={**STOVE, "rate": f"{BAG / hours} kg/h", "start_up": "0 s"}))
    ran = run(made, steps=round(hours * 12))
    assert ran.flows[at.BURNT] == pytest.approx(BAG, rel=1e-9)
    assert 12e3 < ran.flows[at.FUEL] / (hours * 3600.0) < 15e3


def test_a_bare_drum_is_above_500_fahrenheit() -> None:
    _, ran = settled(case_of(stove={**STOVE, "bare_share": 1.0}), air_flow=0.0)
    assert 500.0 < fahrenheit(ran.temperatures[at.END_SHELL]) < 700.0


def test_the_coil_takes_the_stream_from_190_to_100_and_the_water_from_60_to_81() -> None:
    made, ran = settled(case_of([COIL], stove=STOVE, water=WATER), air_flow=FLOW, fan_power=0.0)
    assert fahrenheit(ran.temperatures[at.MIXED_AIR]) == pytest.approx(190.0, abs=12.0)
    assert fahrenheit(ran.temperatures[at.AFTER_COILS]) == pytest.approx(100.0, abs=6.0)
    # An ordinary household fan is made for rooms up to some 40 to 60 degC.
    assert ran.temperatures[at.FAN_AIR] < 333.15
    water = ran.temperatures[made.places.coil_water][0]
    tank = ran.temperatures[made.places.tank][0]
    heat = ran.flows[at.COILS] / 300.0
    assert heat == pytest.approx(4400.0, rel=0.08)
    assert fahrenheit(water) - fahrenheit(tank) == pytest.approx(21.4, rel=0.08)
    # The practice's own three figures, heat, rise and flow, agree with each other.
    gallons = heat / (4186.0 * 997.0 * (water - tank)) / 3.785411784e-3 * 60.0
    assert gallons == pytest.approx(1.4, abs=0.01)


def test_air_above_the_coil_with_the_fan_slowed_down_runs_near_225() -> None:
    _, ran = settled(case_of([COIL], stove=STOVE, water=WATER), air_flow=0.8 * FLOW, fan_power=0.0)
    assert fahrenheit(ran.temperatures[at.MIXED_AIR]) == pytest.approx(225.0, abs=15.0)
