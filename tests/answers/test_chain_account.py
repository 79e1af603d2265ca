"""Where the heat of the fuel went, on made-up flows whose sums are known beforehand."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np
import pytest

from simulator.answers.case_values import CaseValues
from simulator.answers.chain_account import chain_account
from simulator.answers.heat_account import heat_account
from simulator.answers.heat_flows import SURFACES, heat_flows
from simulator.answers.plant_rules import plant_findings
from simulator.store.reader import Results

START = dt.datetime(2031, 1, 20, 16, 0)
HOURS = np.arange(0.0, 11.0)
SECONDS = 3600.0 * HOURS
RATES = {  # [W], each over ten hours
    "flue_loss": 3000.0, "stove_to_room": 1500.0, "hood_to_room": 500.0, "hood_to_air": 5000.0,
    "heat_to_coil": 2000.0, "tank_loss": 400.0, "sun_let_in": 800.0, "cover_loss": 1500.0, "sky_loss": 1500.0,
    "air_leak_loss": 250.0, "sun_on_surfaces": 1200.0,
}  # fmt: skip
TOTALS = {  # [W] as well; sun that the walls take up themselves is set against their loss
    "whole_fuel": 10000.0, "whole_flue_loss": 3000.0, "whole_sun": 800.0, "whole_envelope": 2100.0,
    "whole_stored_water": 1600.0, "whole_residual": 1.0, "ledger_duct": 2400.0, "ledger_return": 600.0,
    "ledger_stored_ground": 900.0, "ledger_floor": 3000.0, "ledger_stored_under_floor": 500.0,
}  # fmt: skip
KWH = 3.6e6


@pytest.fixture
def results(make_results: Callable[..., Results]) -> Results:
    courses = {name: np.full(HOURS.size, value) for name, value in RATES.items()}
    courses |= {name: value * SECONDS for name, value in TOTALS.items()}
    courses |= {"fuel_burnt": 0.5 * HOURS, "tank_temperature": 20.0 + HOURS}
    parts = frozenset({"stove", "water", "house", "switching", "whole"})
    names = {"coil": ("coil",), "layer": ("tank",), "surface": ("roof",), "mass": ()}
    return make_results(START, SECONDS, {"parts": parts, "names": names}, **courses)


def test_the_heat_of_the_fuel_is_told_whole(results: Results) -> None:
    account = chain_account(results, 0.0, SECONDS[-1])
    assert account is not None
    assert account.fuel == pytest.approx(100.0 * KWH)
    assert account.burnt == pytest.approx(5.0)
    parts = (account.flue, account.stove_to_room, account.coils, account.duct_air, account.stove_change)
    assert [part / KWH for part in parts] == pytest.approx([30.0, 20.0, 20.0, 30.0, 0.0])
    assert sum(parts) == pytest.approx(account.fuel)
    told = dict(account.as_rows("SI"))
    assert told["Of it up the flue"] == "30.00 kWh (30.0 %)"
    assert told["Tank, mean"] == "20.0 degC to 30.0 degC, lowest 20.0 degC, highest 30.0 degC"
    assert account.title == "Fire, tank and house"
    # 100 kWh of fuel and 8 of sun: 0.01 kWh is left over.
    assert account.put_in == pytest.approx(108.0 * KWH)
    assert "0.0093 %" in told["Left over in the account of the whole"]


def test_part_of_the_time_counts_in_part(results: Results) -> None:
    """From 2.5 h to 5 h: a quarter of the ten hours."""
    account = chain_account(results, 9000.0, 18000.0)
    assert account is not None
    assert account.fuel == pytest.approx(25.0 * KWH)
    assert account.sun_let_in == pytest.approx(2.0 * KWH)
    assert account.tank is not None
    assert (account.tank.begin, account.tank.end) == pytest.approx((295.65, 298.15))


def test_sun_on_walls_is_set_against_their_loss(results: Results) -> None:
    """30 kWh lost to air and sky, of 12 kWh of sun that the walls took up themselves; 8 kWh let in."""
    account = chain_account(results, 0.0, SECONDS[-1])
    assert account is not None
    assert account.surfaces == pytest.approx(18.0 * KWH)
    # The whole envelope, 21 kWh, less that of the surfaces, 18 kWh.
    assert account.leaks == pytest.approx(3.0 * KWH)
    flows = heat_flows(results, 0.0, SECONDS[-1])
    assert sum(flow.heat for flow in flows if flow.target == SURFACES) == pytest.approx(18.0 * KWH)
    assert sum(flow.heat for flow in flows if flow.source == "sun let in") == pytest.approx(8.0 * KWH)


def test_what_a_house_gets_from_its_floor_follows_from_the_ground(results: Results) -> None:
    """24 kWh came by the ducts and 9 are kept: 15 went up, whatever the film to the air alone says."""
    account = heat_account(results, 0.0, SECONDS[-1])
    assert account.floor_to_room == pytest.approx(15.0 * KWH)
    assert account.by_stove
    assert account.in_house
    assert "by_stove" not in account.as_dict()


def test_a_run_without_a_chain_has_none(make_results: Callable[..., Results]) -> None:
    assert chain_account(make_results(START, SECONDS), 0.0, 3600.0) is None


def test_water_on_the_cover_of_a_house_is_told(make_results: Callable[..., Results]) -> None:
    """0.0005 kg/s at its worst are 1.8 kg in an hour; without [moisture] nothing else tells of wet ducts."""
    parts = frozenset({"stove", "house", "switching", "whole"})
    names = {"surface": ("roof", "wall"), "mass": ()}
    settling = np.where(HOURS == 4.0, 5e-4, 1e-4)
    made = make_results(START, SECONDS, {"parts": parts, "names": names}, cover_condensation=settling)
    found = {one.limit.name: one for one in plant_findings(made, CaseValues(made.case_text))}
    assert found["wet ducts"].numbers["water"] == (pytest.approx(1.8), "mass")
    assert found["wet ducts"].moment == START + dt.timedelta(hours=4)
