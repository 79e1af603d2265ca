"""No step, flow or film makes the answer blow up: temperatures stay within what causes them.

The two-stage scheme multiplies a decaying part by R(z), which dips to -(sqrt 2 - 1)/2 = -0.207 once steps
are much longer than its life (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006, from the formula of R). So
after a sudden change a temperature may pass its cause by up to that share of the range, and by nothing once
it is steady.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.case.timetable import Drive
from tests.run.rigs import Rig, small_case

OVERSHOOT = (math.sqrt(2.0) - 1.0) / 2.0
NAN = math.nan
OUTSIDE, SUPPLY = -3.0, 40.0
RANGE = SUPPLY - OUTSIDE


def build(film: float, flow: float, floor_film: float = 8.0, **ducts: object) -> Rig:
    return Rig(
        small_case(
            {
                "site": {"duration": "1 day"},
                "floor": {"film": f"{floor_film} W/(m2.K)"},
                "ducts": {"film": f"{film} W/(m2.K)", "film_off": f"{film} W/(m2.K)", **ducts},
                "fan": {"flow": f"{flow} m3/h", "off_flow": "0.5 m3/h", "power": "0 W"},
                "numerics": {"stations": 3},
            }
        )
    )


def extremes(rig: Rig) -> tuple[float, float]:
    """Coldest and warmest of ground, room and air [degC]."""
    state, zero = rig.state, rig.prepared.reference - 273.15
    parts = (rig.temperature.ravel() - rig.prepared.reference, state.air_in, state.air_out, state.room)
    every = np.concatenate([np.ravel(part) for part in parts]) + zero
    assert np.isfinite(every).all()
    return float(every.min()), float(every.max())


def within(low: float, high: float, room_to_pass: float) -> bool:
    return low >= OUTSIDE - room_to_pass and high <= SUPPLY + room_to_pass


@pytest.mark.parametrize("film", [0.0, 12.0, 1e6])
@pytest.mark.parametrize("flow", [1.0, 160.0, 480.0])
@pytest.mark.parametrize("step", [0.1, 20.0, 900.0, 21600.0])
def test_switching_back_and_forth_stays_in_range(step: float, flow: float, film: float) -> None:
    rig = build(film, flow)
    settings = [Drive(1.0, NAN, SUPPLY + 273.15), Drive(0.0, 0.0, NAN), Drive(1.5, 0.0, NAN)]
    for number in range(24):
        rig.step(rig.state.tick + round(1000.0 * step), settings[number // 3 % 3])
        assert within(*extremes(rig), OVERSHOOT * RANGE)


@pytest.mark.parametrize("floor_film", [0.0, 1e6])
@pytest.mark.parametrize("step", [0.1, 21600.0])
def test_any_floor_film_stays_in_range(step: float, floor_film: float) -> None:
    rig = build(12.0, 160.0, floor_film)
    for number in range(24):
        rig.step(rig.state.tick + round(1000.0 * step), Drive(float(number // 4 % 2), NAN, SUPPLY + 273.15))
        assert within(*extremes(rig), OVERSHOOT * RANGE)


@pytest.mark.parametrize("lanes", [2, 12])
def test_close_ducts_and_perfect_films_settle_in_long_steps(lanes: int) -> None:
    rig = build(1e6, 480.0, count=lanes, spacing="13 cm")
    for _ in range(8):
        rig.step(rig.state.tick + 21_600_000, Drive(1.0, NAN, SUPPLY + 273.15))
        assert within(*extremes(rig), OVERSHOOT * RANGE)


@pytest.mark.parametrize("film", [0.5, 12.0, 1e6])
def test_a_steady_state_passes_nothing_and_does_not_know_its_steps(film: float) -> None:
    ends = []
    for step, count in ((21600.0, 1000), (4 * 86400.0, 60)):
        rig = build(film, 160.0)
        for _ in range(count):
            rig.step(rig.state.tick + round(1000.0 * step), Drive(1.0, NAN, SUPPLY + 273.15))
        assert within(*extremes(rig), 1e-9)
        ends.append(rig.temperature)
    np.testing.assert_allclose(ends[0], ends[1], atol=1e-6)


def test_small_steps_never_pass_their_causes() -> None:
    rig = build(12.0, 160.0)
    for number in range(200):
        rig.step(rig.state.tick + 500, Drive(1.0 if number < 100 else 0.0, NAN, SUPPLY + 273.15))
        assert within(*extremes(rig), 1e-9)


def test_the_range_check_can_fail() -> None:
    rig = build(12.0, 160.0)
    for _ in range(40):
        rig.step(rig.state.tick + 600_000, Drive(1.0, NAN, SUPPLY + 273.15 + 12.0))
    assert not within(*extremes(rig), OVERSHOOT * RANGE)
