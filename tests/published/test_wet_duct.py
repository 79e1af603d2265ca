"""A duct that condenses: whole runs against state points of moist air.

Air gives a long cold wall the difference between the enthalpies of its two states, less that of the water it
leaves behind. States by CoolProp 8 (virial equation of state of moist air, enhancement factor) and
psychrolib 2.5 (ideal mixture), water by IAPWS-95. Walls are held at one temperature by ground that conducts
without bound.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Iterator
from typing import Any

import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI

from simulator.case.loader import load_text
from simulator.store.record import record
from tests.published.cases import BASE, toml
from tests.published.registry import RECOMPUTED, Row, check, verify

ZERO, PRESSURE = 273.15, 101325.0
FLOW, HOURS = 0.024144, 2.0
AIR, HUMIDITY, WALL = 25.0, 0.7, 12.0


def wet_run(**changes: dict[str, Any]) -> dict[str, float]:
    """Last row of a run of outside air of 25 degC and 70 % along a wall of 12 degC."""
    tables = copy.deepcopy(BASE)
    solid = {"conductivity": "1000 W/(m.K)", "heat_capacity": "100 MJ/(m3.K)"}
    for name, keys in {
        "site": {"duration": f"{HOURS} h"},
        "weather": {"temperature": f"{AIR} degC"},
        "ground": {"layers": [solid], "start": {"kind": "uniform", "temperature": f"{WALL} degC"}},
        "floor": {"length": "60 m"},
        "ducts": {"film": "30 W/(m2.K)"},
        "fan": {"mass_flow": f"{FLOW} kg/s", "air_heat_capacity": "1006 J/(kg.K)"},
        "moisture": {"room_humidity": 0.5, "outside_humidity": HUMIDITY},
        "numerics": {"stations": 60, "step": "20 s"},
        "output": {"interval": "10 min", "fields": "0 h"},
    }.items():
        tables.setdefault(name, {}).update(keys)
    tables["heat"] = {"kind": "none"}
    for name, keys in changes.items():
        tables[name].update(keys)
    lines = []
    for name, keys in tables.items():
        lines.append(f"[{name}]")
        lines += [f"{key} = {toml(value, key)}" for key, value in keys.items()]
    names = ("exit_humidity_ratio", "duct_heat", "water_condensed", "water_dried", "water_drained",
             "water_standing", "ledger_residual", "ledger_handled")  # fmt: skip
    with record(load_text("\n".join(lines))) as results:
        return {name: float(results[name].values[-1]) for name in names}


def state_rows(**changes: dict[str, Any]) -> Iterator[Row]:
    found = wet_run(**changes)
    into, out = (AIR + ZERO, HUMIDITY), (WALL + ZERO, 1.0)
    ratio_in, ratio_out = (HAPropsSI("W", "T", t, "P", PRESSURE, "R", r) for t, r in (into, out))
    heat = HAPropsSI("H", "T", into[0], "P", PRESSURE, "R", HUMIDITY)
    heat -= HAPropsSI("H", "T", out[0], "P", PRESSURE, "R", 1.0)
    heat -= (ratio_in - ratio_out) * PropsSI("H", "T", out[0], "P", PRESSURE, "Water")
    at = "air of 25 degC, 70 % along a wall of 12 degC"
    yield Row(f"{at}: heat given", found["duct_heat"], FLOW * heat, 0.01 * FLOW * heat, "W", 1)
    yield Row(
        f"{at}: humidity ratio left", 1e3 * found["exit_humidity_ratio"], 1e3 * ratio_out, 0.09, "g/kg", 3
    )
    water = FLOW * (ratio_in - ratio_out) * 3600.0 * HOURS
    yield Row(f"{at}: water settled in 2 h", found["water_condensed"], water, 0.01 * water, "kg", 4)
    psychrolib.SetUnitSystem(psychrolib.SI)
    ideal = psychrolib.GetHumRatioFromRelHum(WALL, 1.0, PRESSURE)
    yield Row(
        f"{at}: humidity ratio left, ideal", 1e3 * found["exit_humidity_ratio"], 1e3 * ideal, 0.003, "g/kg", 3
    )


@check("moist air of CoolProp 8 and psychrolib 2.5, saturated isothermal wall", RECOMPUTED)
def saturated_wall() -> Iterable[Row]:
    yield from state_rows()


def test_saturated_wall() -> None:
    saturated_wall.verify()


def test_water_and_heat_are_kept() -> None:
    found = wet_run()
    there = found["water_dried"] + found["water_drained"] + found["water_standing"]
    assert found["water_condensed"] == pytest.approx(there, rel=1e-9)
    assert abs(found["ledger_residual"]) < 1e-9 * found["ledger_handled"]


def test_planted_error_is_found() -> None:
    # A tenth of the duct: the air leaves before it has come to the wall's temperature.
    with pytest.raises(AssertionError):
        verify(state_rows(floor={"length": "6 m"}))
