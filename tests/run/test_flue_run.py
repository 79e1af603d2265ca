"""A flue run in whole runs: heat account, jacket, dew point, draught, the burn over time."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from simulator.air.flue import gas_at
from simulator.air.flue_kernels import radiation_film, two_streams
from simulator.physics.combustion import Fuel, burn
from simulator.physics.flue_gas_radiation_kernels import gas_radiation_film
from tests.run.rigs import small_case, told

RUN = {
    "across": "0 cm", "depth": "90 cm", "diameter": "13 cm", "wall_thickness": "1 mm", "rate": "2 kg/h",
    "temperature": "220 degC", "stack": {"height": "6 m", "diameter": "13 cm", "loss_coefficient": 1.0},
}  # fmt: skip
BARE: dict[str, Any] = {"flue": RUN}
JACKETED: dict[str, Any] = {
    "flue": {**RUN, "jacket": {"diameter": "22 cm", "flow": "120 m3/h", "power": "25 W"}}
}
BURN = {
    "rate": None,
    "temperature": None,
    "lit_at": ["23:00"],
    "burn": [
        {"after": "0 min", "rate": "0.5 kg/h", "temperature": "60 degC"},
        {"after": "30 min", "rate": "3 kg/h", "temperature": "260 degC"},
        {"after": "3 h", "rate": "0 kg/h", "temperature": "80 degC"},
    ],
}


@pytest.mark.parametrize("solver", ["full", "reduced"])
@pytest.mark.parametrize("flue", [BARE, JACKETED], ids=["bare", "jacket"])
def test_heat_account_closes(flue: dict[str, Any], solver: str) -> None:
    found = told(flue, {"numerics": {"solver": solver}})
    assert found.summary is not None
    assert found.summary["largest_ledger_residual"] < 1e-9
    made = burn(Fuel(), 0.15, 2.0)
    lost = found["flue_mass_flow"] * made.gas.heat_from(
        float(found["flue_exit_temperature"][-1]), found["flue_entry_temperature"]
    )
    # The march takes the heat capacity at the mean of each station: near the exact integral.
    assert found["flue_heat"][-1] == pytest.approx(lost[-1], rel=0.01)
    assert found["flue_mass_flow"][-1] == pytest.approx(2.0 / 3600.0 * made.wet_gas)


def test_gas_cools_towards_the_ground_by_its_own_law() -> None:
    """dT/dx = -U (T - T_ground) / C between the station edges, with U from the heat that went."""
    found = told(BARE)
    gas = found["flue_gas_temperature"][-1]
    wall = found["wall_temperature"][-1][-1]
    heat = found["duct_heat_per_length"][-1][-1]
    made = burn(Fuel(), 0.15, 2.0)
    for station in range(wall.size):
        excess_in, excess_out = gas[station] - wall[station], gas[station + 1] - wall[station]
        mean = (excess_in - excess_out) / np.log(excess_in / excess_out)
        capacity = found["flue_mass_flow"][-1] * float(
            made.gas.heat_capacity(0.5 * (gas[station] + gas[station + 1]))
        )
        drop = heat[station] * found.geometry.station_dx[station] / capacity
        assert gas[station] - gas[station + 1] == pytest.approx(drop, rel=1e-3)
        assert heat[station] / mean > 0.0


def test_slow_gas_in_a_held_pipe_follows_the_blended_film() -> None:
    """2 kg/h of wood, wall held at 40 degC: cooling by an equation of its own, solved by scipy.

    Fourth powers of laminar Nu 3.66 and of 0.549 Ra^(1/4) (Jackson and others 1961), added; radiation
    beside it. The entrance, which the program has besides, is left out: it counts for little here, so 3 K.
    """
    held: dict[str, Any] = {
        "site": {"duration": "1 h"},
        "ground": {
            "layers": [{"conductivity": "1000 W/(m.K)", "heat_capacity": "100 MJ/(m3.K)"}],
            "start": {"kind": "uniform", "temperature": "40 degC"},
            "bottom": {"kind": "temperature", "temperature": "40 degC"},
        },
        "fan": {"flow": "1 m3/h"},
        "heat": {"kind": "none"},
        "numerics": {"stations": 24, "cell_scale": 4.0},
    }
    found = told({"flue": {**RUN, "wall_thickness": "0 mm"}}, held)
    made = burn(Fuel(), 0.15, 2.0)
    gas, flow, wall, diameter = made.gas, 2.0 / 3600.0 * made.wet_gas, 313.15, 0.13

    def slope(_: float, kelvin: np.ndarray) -> list[float]:
        t = float(kelvin[0])
        mean = 0.5 * (t + wall)
        viscosity, conductivity = float(gas.viscosity(mean)), float(gas.conductivity(mean))
        kinematic = viscosity * 8.314462618 * mean / (101325.0 * gas.molar_mass)
        prandtl = viscosity * float(gas.heat_capacity(mean)) / conductivity
        rayleigh = 9.80665 * (t - wall) / mean * diameter**3 / kinematic**2 * prandtl
        forced = 3.66 * float(gas.conductivity(t))
        free = 0.549 * rayleigh**0.25 * conductivity
        film = (forced**4 + free**4) ** 0.25 / diameter
        film += gas_radiation_film(t, wall, diameter, gas.vapour_share, gas.made[2], 101325.0, 0.8)
        return [-np.pi * diameter * film * (t - wall) / (flow * float(gas.heat_capacity(t)))]

    places = np.linspace(0.0, 6.0, 25)
    expected = solve_ivp(slope, (0.0, 6.0), [493.15], t_eval=places, rtol=1e-8).y[0]
    assert expected[-1] < 345.0
    np.testing.assert_allclose(found["flue_gas_temperature"][-1], expected, atol=3.0)


def test_told_exit_nears_that_of_short_steps() -> None:
    """While fire and gas change: films follow from step to step, so that the error falls with the step."""
    exits = []
    for step in (300, 150, 25):
        flue = {**RUN, **BURN, "lit_at": ["16:30"]}
        changes = {
            "site": {"duration": "3 h"},
            "numerics": {"step": f"{step} s"},
            "output": {"interval": "5 min"},
        }
        exits.append(told({"flue": flue}, changes)["flue_exit_temperature"][7:])
    coarse, half = (np.abs(each - exits[-1]).max() for each in exits[:2])
    assert coarse < 2.0
    assert half < 0.6 * coarse


def test_jacket_air_takes_heat_to_the_room_and_cools_the_outer_pipe() -> None:
    bare, jacketed = told(BARE), told(JACKETED)
    assert jacketed["jacket_exit_temperature"][-1] > jacketed["room_temperature"][-1] + 1.0
    assert jacketed["wall_temperature"][-1][-1][0] < bare["wall_temperature"][-1][-1][0]
    assert jacketed["flue_wall_temperature"][-1][0] > bare["flue_wall_temperature"][-1][0]
    assert jacketed["room_temperature"][-1] > bare["room_temperature"][-1]


def test_two_streams_follow_the_matrix_exponential() -> None:
    """scipy's matrix exponential, Pade with scaling, is independent of the closed form."""
    for numbers in (
        (6.0, 20.0, 3.0, 5.0, 2.0, 8.0, 0.7),
        (1e-9, 20.0, 3.0, 5.0, 0.0, 8.0, 0.1),
        (6.0, 1e-9, 1.0, 0.0, 2.0, 0.0, 0.5),
    ):
        gas, air, in_pipe, to_air, to_wall, out, length = numbers
        total = in_pipe + to_air + to_wall
        matrix = np.array(
            [
                [in_pipe * (1.0 - in_pipe / total) / gas, -in_pipe * to_air / total / gas],
                [-in_pipe * to_air / total / air, (to_air * (1.0 - to_air / total) + out) / air],
            ]
        )
        expected = expm(-matrix * length)
        np.testing.assert_allclose(np.reshape(two_streams(*numbers), (2, 2)), expected, rtol=1e-7, atol=1e-12)


def test_radiation_between_black_like_pipes() -> None:
    """Narrow gap, emissivities 0.8: sigma (T1^4 - T2^4) / (2/0.8 - 1), from any textbook on heat transfer."""
    film = radiation_film(500.0, 320.0, 0.1999999, 0.2)
    expected = 5.670374419e-8 * (500.0**4 - 320.0**4) / (2.0 / 0.8 - 1.0)
    assert film * (500.0 - 320.0) == pytest.approx(expected, rel=1e-5)


def test_gas_below_its_dew_point_at_entry_is_wet_from_the_start() -> None:
    cold = told({"flue": {**RUN, "temperature": "35 degC"}})
    assert cold["flue_condensation"][-1] > 0.0
    assert np.all(cold["flue_wall_temperature"][-1] < cold["flue_dew_temperature"][-1])
    made = burn(Fuel(), 0.15, 2.0)
    assert cold["flue_condensation"][-1] <= 2.0 / 3600.0 * made.vapour
    warm = told({"flue": {**RUN, "temperature": "450 degC", "rate": "8 kg/h"}, "site": {"duration": "24 h"}})
    assert warm["flue_wall_temperature"][-1][0] > warm["flue_dew_temperature"][-1]


def test_draught_margin_has_the_right_sign() -> None:
    """Gas colder than outside air falls back; 400 degC in 8 m pulls some 40 Pa less losses."""
    weather = {"weather": {"temperature": "20 degC"}}
    fallen = told({"flue": {**RUN, "temperature": "-5 degC"}}, weather)
    assert fallen["flue_draught"][-1] < 0.0
    assert fallen["flue_margin"][-1] < 0.0
    hot = {
        **RUN,
        "temperature": "400 degC",
        "rate": "5 kg/h",
        "stack": {"height": "8 m", "diameter": "15 cm", "heat_loss": "1 W/(m2.K)"},
    }
    assert told({"flue": hot}, weather)["flue_margin"][-1] > 0.0


def test_burn_by_hand() -> None:
    case = small_case({"flue": {**RUN, **BURN}})
    made = burn(Fuel(), 0.15, 2.0)
    # The case starts at 16:00; lit at 23:00, seven hours later, and once more at the day before.
    hours = np.array([0.0, 6.999, 7.0, 7.25, 7.5, 8.75, 10.0, 10.01])
    found = gas_at(case, made, np.round(hours * 3.6e6).astype(np.int64))
    rates = np.array([0.0, 0.0, 0.5, 1.75, 3.0, 1.5, 0.0, 0.0]) / 3600.0
    np.testing.assert_allclose(found[:, 0], rates * made.wet_gas, atol=1e-12)
    np.testing.assert_allclose(found[2:7, 1] - 273.15, [60.0, 160.0, 260.0, 170.0, 80.0], atol=1e-9)


@pytest.mark.parametrize("jacket", [False, True])
def test_a_whole_burn_stays_finite(jacket: bool) -> None:
    flue = {**(JACKETED if jacket else BARE)["flue"], **BURN, "lit_at": ["17:00"]}
    found = told({"flue": flue}, {"moisture": {"room_humidity": 0.7}})
    assert found.summary is not None
    assert found.summary["largest_ledger_residual"] < 1e-9
    for name in ("flue_exit_temperature", "flue_condensation", "flue_draught", "room_temperature"):
        assert np.isfinite(found[name]).all(), name
    burning = found["flue_mass_flow"] > 0.0
    assert burning.any()
    assert not burning.all()
    np.testing.assert_allclose(found["flue_heat"][~burning][1:].min(), 0.0, atol=1e3)


@pytest.mark.parametrize("flow", ["0 m3/s", "1e-6 m3/s", "2 m3/s"])
@pytest.mark.parametrize("rate", ["1e-4 kg/h", "30 kg/h"])
def test_any_jacket_and_any_fire(rate: str, flow: str) -> None:
    flue = {**RUN, "rate": rate, "temperature": "900 degC", "jacket": {"diameter": "22 cm", "flow": flow}}
    found = told({"flue": flue, "site": {"duration": "1 h"}, "numerics": {"stations": 3, "cell_scale": 4.0}})
    assert found.summary is not None
    assert found.summary["largest_ledger_residual"] < 1e-9
    assert np.isfinite(found["flue_exit_temperature"]).all()
