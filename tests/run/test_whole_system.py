"""The whole coupled system against general-purpose tools: eigenmodes of its matrix, and a stiff ODE
integrator.

Both get their equations from the slow twin, with the air's quasi-steady rows eliminated by numpy.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from simulator.case.timetable import Drive
from simulator.run.coupling import StepWeather
from tests.run.rigs import PINNED, Rig, small_case
from tests.run.twin import Setting, Twin, build_twin
from tests.section.orders import assert_order

NAN = math.nan
HOUR = 3600.0
FLOW = 0.05 * 1006.0
CONDUCTANCE = math.pi * 0.1 * 12.0
SMALL = {
    "numerics": {"stations": 3, "cell_scale": 4.0, "refine_after_switch": False},
    "ground": {"depth": "1 m"},
}
LEVEL = {
    "ground": {
        "bottom": {"kind": "temperature", "temperature": "11 degC"},
        "start": {"kind": "uniform", "temperature": "11 degC"},
    },
    "fan": {"power": "0 W"},
    "weather": {"kind": "constant", "temperature": "11 degC"},
}
OUTSIDE_AT_REST = 284.15


def level_rig(*changes: Mapping[str, Any]) -> tuple[Rig, Twin]:
    """Everything around at one temperature, which is the reference: what is left decays."""
    rig = Rig(small_case(PINNED, SMALL, LEVEL, *changes))
    assert rig.prepared.reference == pytest.approx(OUTSIDE_AT_REST)
    return rig, build_twin(rig.coupling, Setting(FLOW, CONDUCTANCE, False, 0.0, 0.0))


def put(rig: Rig, cells_and_room: np.ndarray) -> None:
    cells = cells_and_room[:-1].reshape(rig.state.section.shape[0], -1)
    rig.state.section = rig.coupling.solver.project(cells)
    rig.state.moving.scalars[0] = cells_and_room[-1]
    assert rig.state.room == cells_and_room[-1]


def taken(rig: Rig) -> np.ndarray:
    return np.append(rig.coupling.solver.field(rig.state.section).ravel(), rig.state.room)


SIZES = (1 / 4, 1 / 8, 1 / 16, 1 / 32)


@pytest.mark.parametrize("ways", [("room", "room"), ("outside", "room"), ("room", "outside")])
def test_a_mode_of_ground_air_and_room_together_decays_to_second_order(ways: tuple[str, str]) -> None:
    intake, outlet = ways
    rig, twin = level_rig({"fan": {"intake": intake, "exit": outlet}})
    rates, modes = np.linalg.eig(twin.reduced()[0])
    real = np.abs(rates.imag) < 1e-12
    assert rates.real.max() < 0.0
    order = np.argsort(-rates.real)
    slow = next(number for number in order[2:] if real[number])
    rate = float(rates[slow].real)
    mode = modes[:, slow].real / np.abs(modes[:, slow]).max()
    until = 1.0 / -rate
    errors = []
    for steps in (4, 8, 16, 32):
        rig, _ = level_rig({"fan": {"intake": intake, "exit": outlet}})
        put(rig, mode)
        ends = [round(1000.0 * until * (n + 1) / steps) for n in range(steps)]
        for end in ends:
            rest = StepWeather((OUTSIDE_AT_REST,) * 2, (0.0, 0.0), (NAN, NAN))
            rig.coupling.advance(rig.state, end, Drive(1.0, 0.0, NAN), rest)
        exact = mode * math.exp(rate * ends[-1] / 1000.0)
        errors.append(float(np.abs(taken(rig) - exact).max()))
    assert_order(SIZES, errors, (1.9, 2.2), 1e-4)


SWITCHES = {
    "timetable": {
        "start": {"fan": "on", "heat": "on"},
        "daily": [
            {"at": "16:50:00", "heat": "off"},
            {"at": "17:30:00", "fan": "off"},
            {"at": "18:20:00", "fan": 0.5, "heat": "on"},
        ],
    },
    "site": {"duration": "4 h"},
}
WAVE = {
    "weather": {
        "kind": "daily wave",
        "mean": "-2 degC",
        "amplitude": "9 K",
        "sun_peak": "300 W/m2",
        "sunset": "17:10:00",
        "sunrise": "06:00:00",
    },
    "room": {"sun_area": "2 m2", "gains": "80 W"},
}


def run_to_end(step: float, *changes: Mapping[str, Any]) -> np.ndarray:
    rig = Rig(small_case(PINNED, SMALL, SWITCHES, WAVE, {"numerics": {"step": f"{step} s"}}, *changes))
    for _ in rig.run():
        pass
    return taken(rig)


ODD = {
    "timetable": {
        "daily": [],
        "dated": [
            {"at": dt.datetime(2031, 1, 15, 16, 50, 0, 7000), "heat": "off"},
            {"at": dt.datetime(2031, 1, 15, 17, 33, 21, 123000), "fan": "off"},
            {"at": dt.datetime(2031, 1, 15, 18, 21, 40, 501000), "fan": 0.5, "heat": "on"},
        ],
    }
}
HALVED = (600.0, 300.0, 150.0, 75.0, 37.5)


def richardson(ends: list[np.ndarray]) -> None:
    """Differences between runs of halved steps fall fourfold (L. F. Richardson, 1911)."""
    differences = [float(np.abs(one - other).max()) for one, other in pairwise(ends)]
    assert_order(HALVED[:-1], differences, (1.9, 2.1), 1e-4)


@pytest.mark.parametrize("change", [{}, ODD], ids=["on whole steps", "at odd milliseconds"])
@pytest.mark.parametrize("refined", [False, True])
def test_second_order_across_switches_because_steps_end_on_them(
    change: Mapping[str, Any], refined: bool
) -> None:
    fine = {"numerics": {"refine_after_switch": refined}}
    richardson([run_to_end(step, fine, change) for step in HALVED])


def test_switches_inside_steps_would_cost_the_order() -> None:
    """Planted: the run hears of its switches only at the next whole step; the same check must fail."""
    ends = []
    for step in HALVED:
        late = {
            "timetable": {
                "daily": [
                    {"at": _next("16:50:00", step), "heat": "off"},
                    {"at": _next("17:33:20", step), "fan": "off"},
                    {"at": _next("18:21:40", step), "fan": 0.5, "heat": "on"},
                ]
            }
        }
        ends.append(run_to_end(step, late))
    with pytest.raises(AssertionError):
        richardson(ends)


def _next(clock: str, step: float) -> str:
    hours, minutes, seconds = (int(part) for part in clock.split(":"))
    late = math.ceil((hours * 3600 + minutes * 60 + seconds) / step) * step
    return f"{int(late // 3600):02d}:{int(late % 3600 // 60):02d}:{math.floor(late % 60):02d}"


def test_two_hours_agree_with_a_stiff_integrator() -> None:
    """scipy.integrate.solve_ivp (Radau IIA, fifth order, tolerances 1e-9) on the semi-discrete equations.

    Fan on with heat, then off: outside air and ground from the slow twin, every cell and the room to 1 mK.
    """
    change = {
        "numerics": {"step": "20 s", "refine_after_switch": True},
        "site": {"duration": "2 h"},
        "weather": {"kind": "constant", "temperature": "-6 degC"},
        "timetable": {
            "start": {"fan": "on", "heat": "on"},
            "daily": [{"at": "17:10:30", "fan": "off", "heat": "off"}],
        },
    }
    rig = Rig(small_case(PINNED, SMALL, change))
    reference = rig.prepared.reference
    outside = 267.15 - reference
    state = taken(rig)
    heated = Setting(FLOW, CONDUCTANCE, False, (1200.0 + 40.0) / FLOW, outside)
    still = Setting(0.0, 0.0, False, 0.0, outside)
    air = np.zeros(0)
    for setting, begin, end in ((heated, 0.0, 4230.0), (still, 4230.0, 7200.0)):
        matrix, constant, h_matrix, h_constant = build_twin(rig.coupling, setting).reduced()
        found = solve_ivp(
            lambda _, y, matrix=matrix, constant=constant: matrix @ y + constant,
            (begin, end),
            state,
            method="Radau",
            jac=matrix,
            rtol=1e-9,
            atol=1e-9,
        )
        assert found.success
        state = found.y[:, -1]
        if setting is heated:
            air = h_matrix @ state + h_constant
            for _ in rig.run([end for end in rig.prepared.step_ends if end <= 4_230_000]):
                pass
            assert rig.state.tick == 4_230_000
            np.testing.assert_allclose(taken(rig), state, atol=1e-3)
            assert rig.state.exit == pytest.approx(air[-1], abs=1e-3)
    for _ in rig.run([end for end in rig.prepared.step_ends if end > 4_230_000]):
        pass
    np.testing.assert_allclose(taken(rig), state, atol=1e-3)


@pytest.mark.parametrize("celsius", [None, 45.0])
def test_air_properties_and_films_that_follow_the_air_come_out_the_same_with_short_steps(
    celsius: float | None,
) -> None:
    """With the correlations, films and air properties are taken once a step: a small first-order error in
    time.
    """
    heat = (
        {} if celsius is None else {"heat": {"kind": "supply temperature", "temperature": f"{celsius} degC"}}
    )
    free = {"site": {"duration": "2 h"}, **SMALL, **heat}
    ends = []
    for step in (300.0, 75.0, 18.75):
        rig = Rig(small_case(free, {"numerics": {**SMALL["numerics"], "step": f"{step} s"}}))
        for _ in rig.run():
            pass
        ends.append(np.append(taken(rig), rig.state.exit))
    assert np.abs(ends[0] - ends[2]).max() < 0.02
    assert np.abs(ends[1] - ends[2]).max() < 0.4 * np.abs(ends[0] - ends[2]).max()
