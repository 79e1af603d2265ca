"""The list of heat flows: every part gives what it takes, by accounts that were made up and of a real run."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

import simulator
from simulator.answers.heat_flows import FLOOR, HeatFlow, heat_flows

START = dt.datetime(2031, 2, 20, 18, 0)
CASES = Path(__file__).parents[2] / "cases"
HOURS = np.array([0.0, 1.0, 2.0, 3.0])


def balance(flows: list[HeatFlow], part: str) -> float:
    return sum(flow.heat * ((flow.target == part) - (flow.source == part)) for flow in flows)


def total(flows: list[HeatFlow]) -> dict[tuple[str, str], float]:
    found: dict[tuple[str, str], float] = defaultdict(float)
    for flow in flows:
        found[flow.source, flow.target] += flow.heat
    return dict(found)


def line(rate: float) -> np.ndarray:
    """A running total [J] that grows by so many watts."""
    return rate * 3600.0 * HOURS


@pytest.mark.parametrize("name", ["overnight", "flue-run"])
def test_every_part_of_a_real_run_gives_what_it_takes(name) -> None:
    with simulator.run(simulator.load(CASES / f"{name}.toml")) as results:
        times = results["time"].values
        flows = heat_flows(results, float(times[len(times) // 3]), float(times[-1]))
        put_in = sum(abs(flow.heat) for flow in flows)
        for part in ("duct air", "room", FLOOR):
            assert balance(flows, part) == pytest.approx(0.0, abs=1e-9 * put_in)
        assert not [flow for flow in flows if flow.target.startswith("not placed")]
        # All that comes from outside or is taken from stores is all that leaves or is kept.
        parts = {"duct air", "room", FLOOR}
        ends = sum(flow.heat * ((flow.target not in parts) - (flow.source not in parts)) for flow in flows)
        assert ends == pytest.approx(0.0, abs=1e-9 * put_in)


def test_heat_of_the_heater_is_that_of_the_account(make_results) -> None:
    results = make_results(
        START, 3600.0 * HOURS, ledger_heater=line(5000.0), ledger_duct=line(3000.0),
        ledger_return=line(2000.0), ledger_stored_under_floor=line(3000.0), ledger_stored_ground=line(3000.0),
        ledger_envelope=line(2000.0),
    )  # fmt: skip
    flows = total(heat_flows(results, 1800.0, 9000.0))
    # two hours
    assert flows["heater", "duct air"] == pytest.approx(2 * 3600.0 * 5000.0)
    assert flows[FLOOR, "kept in the ground"] == pytest.approx(2 * 3600.0 * 3000.0)
    assert flows["room", "walls and roof"] == pytest.approx(2 * 3600.0 * 2000.0)
    assert (FLOOR, "earth around and below") not in flows


def test_sun_on_the_floor_is_what_the_ground_took_from_neither_air_nor_room(make_results) -> None:
    results = make_results(
        START, 3600.0 * HOURS, ledger_sun=line(1000.0), ledger_stored_ground=line(600.0),
        ledger_stored_under_floor=line(500.0), ledger_envelope=line(400.0),
    )  # fmt: skip
    flows = total(heat_flows(results, 0.0, 3600.0))
    assert flows["sun", FLOOR] == pytest.approx(600.0 * 3600)
    assert flows["sun", "room"] == pytest.approx(400.0 * 3600)
    assert flows[FLOOR, "earth around and below"] == pytest.approx(100.0 * 3600)


def whole_chain(make_results, **changes):
    parts = frozenset({"stove", "water", "house", "switching", "whole"})
    names = {"coil": ("near", "far"), "layer": ("all",), "surface": ("roof",), "mass": ("barrels",)}
    constant = np.ones(HOURS.size)
    courses = {
        "whole_fuel": line(13000.0), "whole_flue_loss": line(3000.0), "hood_to_air": 8000.0 * constant,
        "stove_to_room": 1000.0 * constant, "hood_to_room": 500.0 * constant,
        "whole_stored_stove": line(500.0),
        "heat_to_coil": np.tile([2500.0, 1500.0], (HOURS.size, 1)),
        "whole_pump": line(30.0), "whole_make_up": line(-130.0), "tank_loss": 400.0 * constant,
        "whole_stored_water": line(3500.0),
        "ledger_fan": line(100.0), "whole_fan": line(100.0), "ledger_duct": line(3100.0),
        "ledger_return": line(1000.0), "ledger_floor": line(600.0), "ledger_stored_under_floor": line(2500.0),
        "ledger_stored_ground": line(2500.0), "cover_loss": 2000.0 * constant, "sky_loss": 900.0 * constant,
        "air_leak_loss": 600.0 * constant, "whole_envelope": line(3500.0),
    } | changes  # fmt: skip
    return make_results(START, 3600.0 * HOURS, {"parts": parts, "names": names}, **courses)


def test_the_whole_chain_closes_by_hand(make_results) -> None:
    flows = heat_flows(whole_chain(make_results), 0.0, 10800.0)
    for part in ("stove", "warm air", "tank", "room", FLOOR):
        assert balance(flows, part) == pytest.approx(0.0, abs=1.0)
    found = total(flows)
    # coils in all 4 kW for three hours: 12 kWh
    assert found["warm air", "tank"] == pytest.approx(12 * 3.6e6)
    assert found["tank", "overflow"] == pytest.approx(0.13 * 3 * 3.6e6)
    assert not [flow for flow in flows if flow.target.startswith("not placed")]


def test_a_gap_is_told_and_not_hidden(make_results) -> None:
    flows = heat_flows(whole_chain(make_results, whole_flue_loss=line(2000.0)), 0.0, 10800.0)
    assert total(flows)["stove", "not placed (stove)"] == pytest.approx(3 * 3.6e6)
