"""From a case to its flue run: pipe walls, jacket and stack by hand, and the burn on the clock."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad

from simulator.air.flue import (
    IDLE_TEMPERATURE,
    NO_FLUE,
    FlueRun,
    changes_of_burn,
    flue_run_of,
    gas_at,
)
from simulator.air.flue_kernels import gas_capacity_flow
from simulator.errors import CaseError
from simulator.physics.combustion import Fuel, burn
from simulator.physics.flue_film_kernels import radiated_film
from tests.run.rigs import small_case

RUN: dict[str, Any] = {
    "across": "0 cm", "depth": "90 cm", "diameter": "13 cm", "wall_thickness": "3 mm",
    "wall_conductivity": "15 W/(m.K)", "roughness": "0.7 mm", "contact_resistance": "0.02 m2.K/W",
    "loss_coefficient": 3.0, "rate": "2 kg/h", "temperature": "220 degC", "stove_draught": "11 Pa",
    "service_temperature": "400 degC", "fuel_moisture": 0.2, "excess_air": 2.5,
}  # fmt: skip
JACKET = {
    "diameter": "22 cm", "flow": "120 m3/h", "power": "25 W", "wall_thickness": "2 mm",
    "wall_conductivity": "50 W/(m.K)",
}  # fmt: skip
STACK = {
    "height": "6 m", "diameter": "15 cm", "loss_coefficient": 1.5, "heat_loss": "3 W/(m2.K)",
    "roughness": "2 mm",
}  # fmt: skip
BURN: dict[str, Any] = {
    "rate": None, "temperature": None, "lit_at": ["06:30", "22:00"],
    "burn": [
        {"after": "0 min", "rate": "1 kg/h", "temperature": "60 degC"},
        {"after": "30 min", "rate": "3 kg/h", "temperature": "260 degC"},
        {"after": "3 h", "rate": "0 kg/h", "temperature": "80 degC"},
    ],
}  # fmt: skip
MINUTE = 60_000
START = dt.datetime(2031, 1, 15, 16, 20, 30, 250_000)
"""The clock of the case begins at this time of day; its ticks are milliseconds."""


def case_of(**changes: Any) -> Any:
    return small_case({"flue": {**RUN, **changes}, "site": {"start": START}})


def tick_of(day: int, hour: int, minute: int = 0) -> int:
    """Ticks from the start to a time of day so many days later, by the calendar of the standard library."""
    moment = dt.datetime(2031, 1, 15) + dt.timedelta(days=day, hours=hour, minutes=minute)
    return round((moment - START).total_seconds() * 1000.0)


def test_a_case_without_a_run_has_none() -> None:
    assert flue_run_of(small_case(), 2) is NO_FLUE
    assert flue_run_of(case_of(), None) is NO_FLUE
    assert not NO_FLUE.there
    assert not NO_FLUE.jacketed
    entries = NO_FLUE.fixed()
    assert not entries["has_flue"]
    # Arrays of the kind that kernels get from a burning case, so that these are compiled once.
    for name in ("gas_low", "gas_high", "gas_viscosity", "gas_conductivity"):
        assert entries[name].dtype == np.float64
        assert entries[name].ndim == 1
    assert gas_at(small_case(), None, np.array([0, 5])).tolist() == [[0.0, IDLE_TEMPERATURE]] * 2
    assert changes_of_burn(small_case(), 0, 10**9) == []


def test_nothing_of_a_missing_run_can_act() -> None:
    # No gas, no jacket, no losses and no limit: what the kernels and cautions read of `NO_FLUE`.
    none = FlueRun()
    assert (none.pipe_resistance, none.ground_resistance, none.roughness, none.loss) == (0.0,) * 4
    assert (none.jacket_inner, none.jacket_outer, none.jacket_flow, none.jacket_power) == (0.0,) * 4
    assert none.stove_need == 0.0
    assert none.lane == 0
    assert none.service_temperature == math.inf
    # The gas of no fire holds no vapour and no carbon dioxide, the two that radiate.
    made = none.fixed()["gas_made"]
    assert radiated_film(900.0, 300.0, 0.15, 101325.0, made, 0.8) == 0.0


def test_bare_pipe_wall_and_contact_stand_in_series() -> None:
    # ln(r_o/r_i)/(2 pi k), integrated by scipy, and R/(2 pi r_o): any text on pipe insulation.
    run = flue_run_of(case_of(), 3)
    inside, outside = 0.065, 0.068
    wall = quad(lambda radius: 1.0 / (2.0 * math.pi * radius * 15.0), inside, outside)[0]
    assert run.pipe_resistance == pytest.approx(wall + 0.02 / (2.0 * math.pi * outside), rel=1e-9)
    assert run.ground_resistance == 0.0
    assert not run.jacketed
    assert (run.jacket_inner, run.jacket_outer, run.jacket_flow, run.jacket_power) == (0.0,) * 4
    assert (run.there, run.lane, run.diameter) == (True, 3, pytest.approx(0.13))
    assert (run.roughness, run.loss, run.stove_need) == pytest.approx((0.7e-3, 3.0, 11.0))
    assert run.service_temperature == pytest.approx(673.15)
    bare = flue_run_of(case_of(wall_thickness="0 mm", contact_resistance="0 m2.K/W"), 3)
    assert bare.pipe_resistance == 0.0


def test_jacket_takes_the_contact_to_the_ground() -> None:
    run = flue_run_of(case_of(jacket=JACKET), 1)
    gas_wall = math.log(68.0 / 65.0) / (2.0 * math.pi * 15.0)
    jacket_wall = math.log(112.0 / 110.0) / (2.0 * math.pi * 50.0)
    assert run.pipe_resistance == pytest.approx(gas_wall, rel=1e-9)
    assert run.ground_resistance == pytest.approx(jacket_wall + 0.02 / (2.0 * math.pi * 0.112), rel=1e-9)
    assert run.jacketed
    assert (run.jacket_inner, run.jacket_outer) == pytest.approx((0.136, 0.22))
    assert (run.jacket_flow, run.jacket_power) == pytest.approx((120.0 / 3600.0, 25.0))


def test_entries_of_the_kernels_are_those_of_the_run() -> None:
    run = flue_run_of(case_of(jacket=JACKET), 1)
    entries = run.fixed()
    assert (entries["has_flue"], entries["jacketed"], entries["flue_lane"]) == (True, True, 1)
    assert entries["flue_diameter"] == run.diameter
    assert entries["flue_pipe_resistance"] == run.pipe_resistance
    assert entries["flue_ground_resistance"] == run.ground_resistance
    assert (entries["jacket_inner"], entries["jacket_outer"]) == (run.jacket_inner, run.jacket_outer)
    assert (entries["jacket_volume_flow"], entries["jacket_power"]) == (run.jacket_flow, run.jacket_power)
    # Heat capacity by the kernel from these entries is that of the mixture itself.
    assert run.made is not None
    for kelvin in (300.0, 900.0, 1300.0):
        ours = gas_capacity_flow(0.01, kelvin, entries["gas_low"], entries["gas_high"])
        assert ours == pytest.approx(0.01 * float(run.made.gas.heat_capacity(kelvin)), rel=1e-12)
    # Beyond the range of the polynomials the value at their end stands.
    ends = [float(run.made.gas.heat_capacity(kelvin)) for kelvin in (200.0, 1500.0)]
    found = [gas_capacity_flow(1.0, t, entries["gas_low"], entries["gas_high"]) for t in (50.0, 3000.0)]
    assert found == pytest.approx(ends, rel=1e-12)
    for name, fit in (("gas_viscosity", "viscosity_fit"), ("gas_conductivity", "conductivity_fit")):
        np.testing.assert_array_equal(entries[name], getattr(run.made.gas, fit))


def test_fuel_of_the_case_is_burnt() -> None:
    run = flue_run_of(case_of(), 0)
    made = burn(Fuel(), 0.2, 2.5)
    assert run.made is not None
    assert (run.made.wet_gas, run.made.vapour) == (made.wet_gas, made.vapour)


def test_fuel_that_cannot_burn_is_the_case_s_mistake(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        message = "too wet"
        raise ValueError(message)

    monkeypatch.setattr("simulator.air.flue.burn", refuse)
    with pytest.raises(CaseError, match="too wet") as caught:
        flue_run_of(case_of(), 0)
    assert caught.value.key == "flue.fuel_moisture"


def test_stack_is_taken_over() -> None:
    stack = flue_run_of(case_of(stack=STACK), 0).stack
    assert stack is not None
    assert (stack.height, stack.diameter, stack.roughness) == pytest.approx((6.0, 0.15, 0.002))
    assert (stack.loss, stack.heat_loss) == pytest.approx((1.5, 3.0))
    assert flue_run_of(case_of(), 0).stack is None
    assert flue_run_of(case_of(stack={**STACK, "height": "0 m"}), 0).stack is None
    low = flue_run_of(case_of(stack={**STACK, "height": "80 cm"}), 0).stack
    assert low is not None
    assert low.height == pytest.approx(0.8)


def test_steady_stove_burns_all_the_time() -> None:
    case = case_of()
    made = burn(Fuel(), 0.2, 2.5)
    found = gas_at(case, made, np.array([-MINUTE, 0, 10**9]))
    np.testing.assert_allclose(found[:, 0], 2.0 / 3600.0 * made.wet_gas, rtol=1e-12)
    np.testing.assert_allclose(found[:, 1], 493.15)
    assert changes_of_burn(case, 0, 10**9) == []


@pytest.mark.parametrize(
    ("moment", "rate", "celsius"),
    [
        pytest.param((0, 22), 1.0, 60.0, id="lit"),
        pytest.param((0, 22, 15), 2.0, 160.0, id="half way to the first corner"),
        pytest.param((0, 22, 30), 3.0, 260.0, id="at it"),
        pytest.param((0, 23, 45), 1.5, 170.0, id="half way down"),
        pytest.param((1, 0, 30), 0.6, 116.0, id="past midnight"),
        pytest.param((1, 1), 0.0, 80.0, id="burnt out"),
        pytest.param((1, 6, 29), None, None, id="out"),
        pytest.param((1, 6, 45), 2.0, 160.0, id="second fire of the day"),
        pytest.param((5, 23, 45), 1.5, 170.0, id="any day"),
        pytest.param((0, 16, 21), None, None, id="before the first fire, since one of the day before is out"),
        pytest.param((-1, 6, 45), 2.0, 160.0, id="before the start"),
    ],
)
def test_burn_follows_the_clock(moment: tuple[int, ...], rate: float | None, celsius: float | None) -> None:
    made = burn(Fuel(), 0.2, 2.5)
    flow, kelvin = gas_at(case_of(**BURN), made, np.array([tick_of(*moment)]))[0]
    if rate is None:
        assert flow == 0.0
    else:
        assert flow == pytest.approx(rate / 3600.0 * made.wet_gas, rel=1e-9, abs=1e-15)
        assert kelvin == pytest.approx((celsius or 0.0) + 273.15, rel=1e-9)


def test_what_burns_in_a_day_is_the_area_under_the_told_lines() -> None:
    # (1 + 3)/2 kg/h over half an hour and 3/2 over two and a half: 4.75 kg a fire, two fires a day.
    made = burn(Fuel(), 0.2, 2.5)
    ticks = np.arange(0, 86_400_000, MINUTE // 4)
    burnt = gas_at(case_of(**BURN), made, ticks)[:, 0].sum() * 15.0 / made.wet_gas
    assert burnt == pytest.approx(2.0 * 4.75, rel=2e-3)


def test_corners_of_the_burn_between_two_ticks() -> None:
    case = case_of(**BURN)
    corners = [tick_of(0, 22), tick_of(0, 22, 30), tick_of(1, 1), tick_of(1, 6, 30), tick_of(1, 7)]
    assert changes_of_burn(case, 0, tick_of(1, 9)) == corners
    assert changes_of_burn(case, corners[0], corners[3]) == corners[1:3]
    # A burn that was lit the day before.
    assert changes_of_burn(case, tick_of(1, 0), tick_of(1, 2)) == [tick_of(1, 1)]
    assert changes_of_burn(case, tick_of(-1, 6), tick_of(-1, 8)) == [tick_of(-1, 6, 30), tick_of(-1, 7)]


def test_long_burns_of_the_day_before_have_their_corners() -> None:
    long = [
        {"after": "0 min", "rate": "1 kg/h", "temperature": "60 degC"},
        {"after": "23 h", "rate": "0 kg/h", "temperature": "60 degC"},
    ]
    case = case_of(**{**BURN, "lit_at": ["22:00"], "burn": long})
    assert changes_of_burn(case, tick_of(1, 20), tick_of(1, 23)) == [tick_of(1, 21), tick_of(1, 22)]
