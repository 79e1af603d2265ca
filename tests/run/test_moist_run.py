"""Moisture in whole runs: water and enthalpy are kept, dry air is as before, stations suffice."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.physics import moist_air
from tests.examples import examples
from tests.run.rigs import told

HUMID = {"moisture": {"room_humidity": 0.9}}
DRIPPING: dict[str, Any] = {
    **HUMID,
    "site": {"duration": "6 h"},
    "heat": {"kind": "none"},
    "fan": {"power": "0 W", "air_heat_capacity": "1006 J/(kg.K)"},
    "room": {"kind": "fixed", "temperature": "26 degC"},
}
"""Warm greenhouse air through cold ground."""
GREENHOUSE: dict[str, Any] = {
    "moisture": {"room_humidity": 0.8, "gain": "600 g/h", "outside_humidity": 0.7},
    "room": {"volume": "60 m3", "air_changes": "0.3 1/h", "temperature": "24 degC"},
    "heat": {"kind": "none"},
}


def closed(found: Any) -> None:
    assert found.summary["largest_ledger_residual"] < 1e-9
    water = found["water_condensed"] - found["water_dried"] - found["water_drained"] - found["water_standing"]
    np.testing.assert_allclose(water, 0.0, atol=1e-9 * max(float(found["water_condensed"].max()), 1e-6))
    # What settled in the ducts less what dried is what the room did not get back.
    missing = found["vapour_from_ducts"] + found["water_condensed"] - found["water_dried"]
    np.testing.assert_allclose(missing, 0.0, atol=1e-9 * max(float(found["water_condensed"].max()), 1e-6))


@pytest.mark.parametrize("solver", ["full", "reduced"])
@pytest.mark.parametrize("more", [{}, {"ducts": {"layout": "there and back", "wall_thickness": "3 mm"}}])
def test_dry_air_is_dry_air(more: dict[str, Any], solver: str) -> None:
    numerics = {"numerics": {"solver": solver}}
    none = {"moisture": {"room_humidity": 0.0, "outside_humidity": 0.0}}
    without, within = told(more, numerics), told(more, numerics, none)
    for name in ("exit_temperature", "room_temperature", "wall_temperature", "ledger_duct"):
        np.testing.assert_allclose(without[name], within[name], rtol=1e-11, atol=1e-9)


def test_water_and_heat_are_kept_where_ducts_drip() -> None:
    found = told(DRIPPING)
    assert found["water_condensed"][-1] > 1.0
    assert found["ledger_latent"][-1] == pytest.approx(2.48e6 * found["water_condensed"][-1], rel=0.02)
    closed(found)


def test_stream_loses_the_enthalpy_that_ground_and_water_get() -> None:
    """Enthalpy of moist air as in the ASHRAE Handbook, Fundamentals; water by 4186 J/(kg.K) from 0 degC."""
    found = told(DRIPPING, {"ducts": {"count": 1, "spacing": None, "contact_resistance": "0.02 m2.K/W"}})
    length = found.geometry.station_dx
    flow = found["branch_mass_flow"][-1, 0]
    air, ratio = found["air_temperature"][-1, 0], found["humidity_ratio"][-1, 0]
    given = flow * (moist_air.enthalpy(air[0], ratio[0]) - moist_air.enthalpy(air[-1], ratio[-1]))
    settled = found["condensation"][-1, 0]
    surface = found["duct_surface_temperature"][-1, 0]
    taken = found["duct_heat_per_length"][-1, 0] + settled * 4186.0 * (surface - 273.15)
    assert float(taken @ length) == pytest.approx(float(given), rel=1e-9)
    assert float(settled @ length) == pytest.approx(float(flow * (ratio[0] - ratio[-1])), rel=1e-9)


def test_room_humidity_follows_its_balance() -> None:
    found = told(GREENHOUSE)
    closed(found)
    air = 60.0 * 101325.0 / (287.055 * 297.15)
    stored = air * (found["room_humidity_ratio"] - found["room_humidity_ratio"][0])
    balance = (
        found["vapour_given"] - found["vapour_leaked"] + found["vapour_from_ducts"] - found["vapour_on_glass"]
    )
    np.testing.assert_allclose(stored, balance, atol=1e-9)
    assert found["vapour_given"][-1] == pytest.approx(3.6)
    assert float(found["room_relative_humidity"].max()) <= 1.0 + 1e-9


def test_default_stations_are_enough() -> None:
    coarse = told(DRIPPING, {"numerics": {"stations": 24}})
    fine = told(DRIPPING, {"numerics": {"stations": 96}})
    assert np.abs(coarse["exit_temperature"] - fine["exit_temperature"])[2:].max() < 0.05
    assert coarse["water_condensed"][-1] == pytest.approx(fine["water_condensed"][-1], rel=0.01)


def test_standing_water_dries_and_drained_water_does_not_come_back() -> None:
    daily = [{"at": "02:00", "heat": "off"}, {"at": "18:00", "supply_temperature": "60 degC"}]
    warm = {
        "heat": {"kind": "supply temperature", "temperature": "60 degC"},
        "timetable": {"daily": daily},
        "site": {"duration": "9 h"},
    }
    ponds = told(DRIPPING, warm, {"ducts": {"drains": False}})
    drains = told(DRIPPING, warm)
    for found in (ponds, drains):
        closed(found)
        assert float(found["water_held"].min()) >= 0.0
    wettest = int(np.argmax(ponds["water_standing"]))
    assert ponds["water_standing"][-1] < 0.85 * ponds["water_standing"][wettest]
    assert ponds["water_dried"][-1] > drains["water_dried"][-1]
    assert drains["water_drained"][-1] > 0.5 * drains["water_condensed"][-1]
    # Drying takes heat: the ponding duct's air ends colder while it dries.
    assert ponds["ledger_latent"][-1] < ponds["ledger_latent"][wettest]


def test_still_air_moves_no_water() -> None:
    found = told(DRIPPING, {"timetable": {"start": {"fan": "off"}, "daily": []}})
    np.testing.assert_array_equal(found["water_condensed"], 0.0)
    assert np.isfinite(found["exit_humidity_ratio"]).all()


@settings(max_examples=examples(25))
@given(
    st.floats(1e-6, 3.0),
    st.sampled_from([0.0, 0.4, 1.0]),
    st.floats(-30.0, 70.0),
    st.floats(-20.0, 60.0),
    st.sampled_from([None, 1e-3, 5.0]),
    st.booleans(),
    st.sampled_from(["room", "outside"]),
    st.sampled_from(["room", "outside"]),
)
def test_absurd_flows_and_climates_stay_finite(
    flow: float,
    humidity: float,
    room: float,
    ground: float,
    gain: float | None,
    drains: bool,
    intake: str,
    leaves: str,
) -> None:
    moisture: dict[str, Any] = {"room_humidity": humidity, "outside_humidity": 1.0}
    if gain is not None:
        moisture["gain"] = f"{gain} kg/h"
    found = told(
        {
            "site": {"duration": "1 h"},
            "moisture": moisture,
            "fan": {"flow": f"{flow} m3/s", "intake": intake, "exit": leaves},
            "room": {"temperature": f"{room} degC", "volume": "30 m3"},
            "ground": {"start": {"kind": "uniform", "temperature": f"{ground} degC"}},
            "ducts": {"drains": drains},
            "heat": {"kind": "none"},
            "numerics": {"stations": 3, "cell_scale": 4.0},
        }
    )
    assert found.summary is not None
    assert found.summary["largest_ledger_residual"] < 1e-9
    for name in (
        "exit_temperature",
        "exit_humidity_ratio",
        "water_standing",
        "room_temperature",
        "ledger_latent",
    ):
        assert math.isfinite(float(np.sum(found[name])))
    assert float(found["water_held"].min()) >= 0.0
