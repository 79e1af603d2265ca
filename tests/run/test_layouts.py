"""Ways of the air in whole runs: what is the same told otherwise, flows that follow from pressure."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from simulator.run.plan import operating_point, plan
from tests.run.rigs import PINNED, merge, small_case, told

SHORT = {"site": {"duration": "2 h"}}
NO_EVEN = {"count": None, "spacing": None, "depth": None}
CURVE = {"fan": {"flow": None, "power": None, "free_delivery": "300 m3/h", "shut_off": "250 Pa"}}


def branches(*told_runs: list[dict[str, Any]]) -> dict[str, Any]:
    return {"ducts": {**NO_EVEN, "branches": [{"runs": runs} for runs in told_runs]}}


def run(across: str, begin: str, end: str, depth: str = "30 cm") -> dict[str, str]:
    return {"across": across, "depth": depth, "along_from": begin, "along_to": end}


def test_parallel_ducts_told_run_by_run_are_the_same() -> None:
    even = told(SHORT)
    by_runs = told(SHORT, branches([run("-40 cm", "0 m", "6 m")], [run("40 cm", "0 m", "6 m")]))
    for name in (
        "exit_temperature",
        "air_temperature",
        "wall_temperature",
        "room_temperature",
        "ledger_duct",
    ):
        np.testing.assert_array_equal(even[name], by_runs[name])


def test_a_duct_told_in_two_pieces_is_one_duct() -> None:
    """With a pinned film nothing at the joint can matter."""
    whole = told(SHORT, PINNED, branches([run("-40 cm", "0 m", "6 m")]))
    pieces = told(SHORT, PINNED, branches([run("-40 cm", "0 m", "3 m"), run("-40 cm", "3 m", "6 m")]))
    np.testing.assert_allclose(whole["exit_temperature"], pieces["exit_temperature"], atol=1e-10)
    np.testing.assert_allclose(whole["air_temperature"], pieces["air_temperature"], atol=1e-10)


def test_air_from_the_far_end_is_the_mirror_image() -> None:
    near, far = told(SHORT), told(SHORT, {"ducts": {"inlet_end": "far"}})
    np.testing.assert_allclose(near["exit_temperature"], far["exit_temperature"], atol=1e-9)
    np.testing.assert_allclose(
        near["floor_station_temperature"], far["floor_station_temperature"][:, ::-1], atol=1e-9
    )
    np.testing.assert_allclose(near["air_temperature"], far["air_temperature"][:, :, ::-1], atol=1e-9)


def test_air_leaves_one_run_as_it_enters_the_next() -> None:
    found = told(SHORT, {"ducts": {"layout": "there and back"}})
    air = found["air_temperature"][1:]
    # Out in lane 1, back in lane 2: they meet at the far end, and supply and exit lie at the near one.
    np.testing.assert_array_equal(air[:, 0, -1], air[:, 1, -1])
    np.testing.assert_allclose(air[:, 0, 0], found["supply_temperature"][1:], atol=1e-10)
    np.testing.assert_allclose(air[:, 1, 0], found["exit_temperature"][1:], atol=1e-10)
    assert found.summary is not None
    assert found.summary["largest_ledger_residual"] < 1e-9


LAYOUTS = {
    "there and back": {"layout": "there and back"},
    "serpentine": {"layout": "serpentine", "count": 3, "spacing": "60 cm"},
    "two tiers": {"layout": "two tiers", "lower_depth": "70 cm"},
    "out below, back above": {"layout": "two tiers", "lower_depth": "70 cm", "passes": 2},
    "part of the floor": {"along_from": "1 m", "length": "2.5 m", "inlet_end": "far"},
    "unlike branches": branches(
        [run("-70 cm", "0 m", "5 m"), run("-30 cm", "5 m", "1 m")], [run("50 cm", "6 m", "2 m", "60 cm")]
    )["ducts"],
}


@pytest.mark.parametrize("fan", [{}, CURVE], ids=["given flow", "fan curve"])
@pytest.mark.parametrize("ducts", LAYOUTS.values(), ids=LAYOUTS)
def test_every_layout_keeps_its_heat_account(ducts: dict[str, Any], fan: dict[str, Any]) -> None:
    found = told(SHORT, {"ducts": ducts}, fan)
    assert found.summary is not None
    assert found.summary["largest_ledger_residual"] < 1e-9
    geometry = found.geometry
    air = found["branch_mass_flow"] @ geometry.branch_ducts
    np.testing.assert_allclose(air, found["mass_flow"], rtol=1e-9)
    # What the air loses on the way is what the ledger says it gave.
    rows = slice(4, None)
    given = found["mass_flow"] * 1006.0 * (found["supply_temperature"] - found["exit_temperature"])
    np.testing.assert_allclose(found["duct_heat"][rows], given[rows], rtol=0.03)


def test_symmetric_halves_are_the_whole() -> None:
    ducts = {"ducts": {"layout": "there and back", "count": 4, "spacing": "40 cm"}}
    half = told(SHORT, ducts)
    whole = told(SHORT, ducts, {"numerics": {"symmetry": False}})
    assert half.geometry.lane_across.size == 2
    assert whole.geometry.lane_across.size == 4
    np.testing.assert_allclose(half["exit_temperature"], whole["exit_temperature"], atol=0.02)


def test_a_duct_that_breaks_symmetry_takes_the_whole_width() -> None:
    assert not plan(small_case({"ducts": {"layout": "there and back"}})).operators.layout.mirrored
    assert plan(small_case()).operators.layout.mirrored


def test_run_follows_the_operating_point() -> None:
    """At the instant the fan starts all air is that of the room; later the warm ducts take a little less."""
    case = merge(CURVE, {"ducts": {"surface": "ribbed"}})
    point = operating_point(small_case(case))
    found = told(SHORT, case)
    assert found["mass_flow"][1] == pytest.approx(point.mass_flow, rel=0.05)
    assert found["fan_pressure"][1] == pytest.approx(point.fan_pressure, rel=0.05)
    # Default efficiency of a small fan, 0.35.
    expected = found["volume_flow"] * found["fan_pressure"] / 0.35
    np.testing.assert_allclose(found["fan_power"][2:], expected[2:], rtol=1e-3)


def test_longer_and_ribbed_ducts_take_flow_from_the_fan() -> None:
    smooth = operating_point(small_case(CURVE)).mass_flow
    ribbed = operating_point(small_case(CURVE, {"ducts": {"surface": "ribbed"}})).mass_flow
    longer = operating_point(small_case(CURVE, {"ducts": {"layout": "there and back"}})).mass_flow
    assert longer < smooth
    assert ribbed < smooth


def test_what_is_said_about_a_poor_match() -> None:
    tight = {
        "fan": {"flow": None, "curve": {"flows": ["0.05 m3/s", "0.1 m3/s"], "pressures": ["60 Pa", "10 Pa"]}}
    }
    (note,) = operating_point(small_case(tight, {"ducts": {"entry_loss": 200.0}})).notes
    assert "more than the fan gives" in note
    loose = {
        "fan": {"flow": None, "curve": {"flows": ["0 m3/s", "0.01 m3/s"], "pressures": ["600 Pa", "500 Pa"]}}
    }
    (note,) = operating_point(small_case(loose)).notes
    assert "past the end" in note
