"""Heat of a flue run: whole runs against the enthalpy of combustion gas.

Wood gas by stoichiometry; enthalpies of nitrogen, oxygen, carbon dioxide, vapour and argon by CoolProp 8,
ideal mixture. What a bare run gives the ground, or a jacketed one the ground and the jacket's air,
is what its gas loses between entry and exit.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Iterator
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI

from simulator.case.loader import load_text
from simulator.physics.combustion import Fuel, burn
from simulator.store.record import record
from tests.published.cases import BASE, toml
from tests.published.registry import RECOMPUTED, Row, check, verify

ZERO = 273.15
GASES = ("Nitrogen", "Oxygen", "CarbonDioxide", "Water", "Argon")
RATE = 4.0
"""Wood burnt [kg/h]."""
BLOWER = 0.03
"""Air in the jacket [m3/s]."""


def flue_run(**flue: Any) -> dict[str, float]:
    """Last row of an hour with gas of 250 degC in 6 m of pipe under a floor."""
    tables = copy.deepcopy(BASE)
    tables["site"]["duration"] = "1 h"
    tables["floor"].update({"length": "6 m"})
    tables["ducts"].update({"diameter": "0.1 m"})
    tables["ducts"]["depth"] = "2.5 m"
    tables["numerics"] = {"stations": 24, "step": "60 s"}
    tables["output"] = {"interval": "10 min", "fields": "0 h"}
    tables["flue"] = {
        "across": "0 m", "depth": "1 m", "diameter": "0.15 m", "wall_thickness": "1 mm",
        "fuel_moisture": 0.15, "excess_air": 2.0, "rate": f"{RATE} kg/h", "temperature": "250 degC",
        "stack": {"height": "5 m", "diameter": "0.15 m", "loss_coefficient": 1.0}, **flue,
    }  # fmt: skip
    lines = []
    for name, keys in tables.items():
        lines.append(f"[{name}]")
        lines += [f"{key} = {toml(value, key)}" for key, value in keys.items()]
    names = ("flue_heat", "flue_exit_temperature", "flue_mass_flow", "jacket_mass_flow", "room_temperature",
             "jacket_exit_temperature", "duct_heat", "ledger_residual", "ledger_handled")  # fmt: skip
    with record(load_text("\n".join(lines))) as results:
        found = {name: float(results[name].values[-1]) for name in names}
        lane = results["segment_lane"].values[results["branch_group"].values[
            results["segment_branch"].values - 1] == 1][0] - 1  # fmt: skip
        along = results["duct_heat_per_length"].values[-1][lane] @ results["station_length"].values
        return {**found, "into_ground": float(along)}


def enthalpy_drop(celsius: float, moisture: float = 0.15) -> float:
    """Heat that a kilogram of gas loses from 250 degC on [J]."""
    gas = burn(Fuel(), moisture, 2.0).gas
    drop = sum(
        share * (PropsSI("HMOLAR", "T", 523.15, "P", 100.0, name)
                 - PropsSI("HMOLAR", "T", celsius + ZERO, "P", 100.0, name))
        for share, name in zip(gas.shares, GASES, strict=True)
    )  # fmt: skip
    return float(drop / gas.molar_mass)


def heat_rows(*, planted: float = 1.0) -> Iterator[Row]:
    bare = flue_run()
    lost = bare["flue_mass_flow"] * enthalpy_drop(bare["flue_exit_temperature"]) * planted
    # Capacities are taken at the middle of each of 24 pieces: 0.3 % on the whole.
    yield Row("bare flue run: heat to the ground", bare["into_ground"], lost, 0.01 * lost, "W", 1)
    jacketed = flue_run(jacket={"diameter": "0.25 m", "flow": f"{BLOWER} m3/s"})
    lost = jacketed["flue_mass_flow"] * enthalpy_drop(jacketed["flue_exit_temperature"]) * planted
    warmed = jacketed["jacket_exit_temperature"] - jacketed["room_temperature"]
    to_air = jacketed["jacket_mass_flow"] * 1006.0 * warmed
    ours = jacketed["into_ground"] + to_air
    yield Row("jacketed flue run: heat to ground and air", ours, lost, 0.01 * lost, "W", 1)


@check("enthalpy of combustion gas by CoolProp 8", RECOMPUTED)
def flue_heat() -> Iterable[Row]:
    yield from heat_rows()


def test_flue_heat() -> None:
    flue_heat.verify()


def test_heat_is_kept_and_more_air_in_the_jacket_cools_the_gas_more() -> None:
    bare = flue_run()
    jackets = [flue_run(jacket={"diameter": "0.25 m", "flow": f"{flow} m3/s"}) for flow in (0.01, 0.03, 0.1)]
    for found in (bare, *jackets):
        assert abs(found["ledger_residual"]) < 1e-9 * found["ledger_handled"]
    exits = [found["flue_exit_temperature"] for found in jackets]
    assert 250.0 > exits[0] > exits[1] > exits[2]
    # Gas by stoichiometry: 11.2 kg for each kilogram of wood at 15 % moisture and twice the air.
    assert bare["flue_mass_flow"] == pytest.approx(11.226 * RATE / 3600.0, rel=1e-3)


def test_planted_error_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(heat_rows(planted=1.02))
