"""What the fan did, out of courses written by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.answers.flow import air_flow

START = dt.datetime(2031, 1, 15, 18)
HOURS = np.arange(7.0)
SECONDS = 3600.0 * HOURS
# The fan runs in the second, third and fourth hour.
RUNS = np.array([0, 0, 1, 1, 1, 0, 0])


@pytest.fixture
def results(make_results):
    layout = {
        "branch_ducts": np.array([1.0, 2.0]),
        "branch_length": np.ones(2), "branch_loss": np.ones(2), "branch_group": np.array([0, 0]),
        "segment_branch": np.array([0, 1]), "segment_lane": np.array([0, 0]),
        "segment_station": np.array([0, 0]), "segment_run": np.array([0, 0]),
        "segment_direction": np.array([1, 1]), "segment_begin": np.zeros(2), "segment_end": np.ones(2),
    }  # fmt: skip
    return make_results(
        START,
        SECONDS,
        layout=layout,
        fan_share=RUNS,
        mass_flow=0.12 * RUNS,
        volume_flow=np.array([0.0, 0.0, 0.09, 0.10, 0.11, 0.0, 0.0]),
        fan_pressure=100.0 * RUNS,
        duct_pressure=80.0 * RUNS,
        fan_power=50.0 * RUNS,
        branch_mass_flow=RUNS[:, np.newaxis] * np.array([0.05, 0.035]),
        ledger_fan=np.cumsum(50.0 * 3600.0 * RUNS),
        # 2 MJ in, then 1 MJ back out of the ground.
        ledger_duct=np.array([0.0, 0.0, 1e6, 2e6, 1e6, 1e6, 1e6]),
    )


def test_means_are_over_the_time_the_fan_ran(results) -> None:
    found = air_flow(results, 0.0, SECONDS[-1])
    assert found.running == pytest.approx(3.0)
    assert found.volume_flow == pytest.approx(0.10)
    assert found.lowest_volume_flow == pytest.approx(0.09)
    assert found.highest_volume_flow == pytest.approx(0.11)
    assert found.fan_pressure == pytest.approx(100.0)
    assert found.duct_pressure == pytest.approx(80.0)
    assert found.electric_power == pytest.approx(50.0)
    # Mean of the three ducts 0.04 kg/s.
    assert found.largest_share == pytest.approx(1.25)
    assert found.smallest_share == pytest.approx(0.875)


def test_heat_both_ways_for_the_fans_energy(results) -> None:
    found = air_flow(results, 0.0, SECONDS[-1])
    assert found.fan_energy == pytest.approx(3 * 50.0 * 3600.0)
    assert found.heat_moved == pytest.approx(3e6)
    assert found.heat_per_fan_energy == pytest.approx(3e6 / 540e3)


def test_a_stretch_of_it(results) -> None:
    found = air_flow(results, SECONDS[2], SECONDS[4])
    assert found.fan_energy == pytest.approx(2 * 50.0 * 3600.0)
    assert found.heat_moved == pytest.approx(2e6)


def test_a_fan_that_stands(results) -> None:
    found = air_flow(results, SECONDS[5], SECONDS[6])
    assert found.volume_flow is None
    assert found.heat_per_fan_energy is None
    assert found.as_rows("SI") == [("Fan", "did not run")]


def test_numbers_with_units_and_lines_in_both_systems(results) -> None:
    found = air_flow(results, 0.0, SECONDS[-1])
    told = found.as_dict()
    assert told["volume_flow"] == {"value": pytest.approx(0.10), "unit": "m3/s"}
    assert told["heat_per_fan_energy"]["unit"] == "1"
    lines = dict(found.as_rows("SI"))
    assert lines["Air moved, mean while it ran"] == "0.100 m3/s (0.090 m3/s to 0.110 m3/s)"
    assert lines["Electric power"] == "50 W"
    assert lines["Electric energy of fan and blower"] == "0.15 kWh"
    assert "5.6 times" in lines["Heat the air moved into and out of the ground"]
    assert lines["Air in the ducts, least to most"] == "88 to 125 % of the mean"
    # 0.10 m3/s are 211.9 cubic feet a minute, 100 Pa 0.401 inches of water.
    american = dict(found.as_rows("US"))
    assert american["Air moved, mean while it ran"].startswith("212 cfm")
    assert american["Fan's pressure"].startswith("0.401 in wg")


def test_the_flue_runs_own_heat_does_not_count(make_results) -> None:
    layout = {
        "lane_across": np.zeros(2), "lane_depth": np.ones(2), "lane_ducts": np.ones(2),
        "branch_ducts": np.ones(2), "branch_length": np.ones(2), "branch_loss": np.ones(2),
        "branch_group": np.array([0, 1]), "segment_branch": np.array([0, 1]),
        "segment_lane": np.array([0, 1]), "segment_station": np.array([0, 0]),
        "segment_run": np.zeros(2, int), "segment_direction": np.array([1, 1]),
        "segment_begin": np.zeros(2), "segment_end": np.ones(2),
        "parts": frozenset({"flue"}),
    }  # fmt: skip
    # 300 W into the ground, 200 W of them by the flue (one station of 0.5 m, 400 W/m), the fan on throughout.
    results = make_results(
        START,
        SECONDS,
        layout=layout,
        fan_share=np.ones(7),
        mass_flow=np.ones(7),
        ledger_fan=10.0 * SECONDS,
        ledger_duct=300.0 * SECONDS,
        duct_heat_per_length=np.tile(np.array([[200.0], [400.0]]), (7, 1, 1)),
    )
    assert air_flow(results, 0.0, SECONDS[-1]).heat_moved == pytest.approx(100.0 * SECONDS[-1])
