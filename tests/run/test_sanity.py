"""Whatever the case: nothing but finite numbers, and no temperature beyond its causes."""

from __future__ import annotations

import datetime as dt
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.errors import SolverError
from simulator.run.loop import simulate
from tests.examples import examples
from tests.run.rigs import Collector, Rig, small_case

MOIST = {"moisture": {"room_humidity": 0.7, "outside_humidity": 0.7}}
SOLVERS = [{"numerics": {"solver": name}} for name in ("reduced", "direct")]


def spoil_ground(rig: Rig) -> None:
    rig.state.section[2, 0] = np.nan


def spoil_room(rig: Rig) -> None:
    rig.state.moving.scalars[0] = np.inf


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("wet", [{}, MOIST])
@pytest.mark.parametrize("spoil", [spoil_ground, spoil_room])
def test_a_number_that_is_none_stops_the_run_at_once(solver, wet, spoil):
    rig = Rig(small_case(solver, wet))
    steps = rig.run()
    next(steps)
    spoil(rig)
    with np.errstate(invalid="ignore", over="ignore"), pytest.raises(SolverError) as raised:
        next(steps)
    # The second of the five parts of the first step of 300 s ends after 2/16 of it.
    assert str(raised.value).startswith("a temperature is not finite ")
    assert f", {300.0 * 2 / 16 / 3600.0:.3f} h after the start; " in str(raised.value)
    # Where it has not spread through the room yet, the station is named.
    assert re.search(r"finite in (the ground at station 3,|ground|duct air)", str(raised.value))


SWITCHES = {
    "start": {"fan": "on", "heat": "on"},
    "dated": [
        {"at": dt.datetime(2031, 1, 15, 17, 10), "heat": "off"},
        {"at": dt.datetime(2031, 1, 15, 17, 50), "fan": "off"},
        {"at": dt.datetime(2031, 1, 15, 19, 3, 20, 250000), "fan": 0.5, "heat": "on"},
        {"at": dt.datetime(2031, 1, 15, 20, 30), "fan": 1.0, "supply_temperature": "35 degC"},
        {"at": dt.datetime(2031, 1, 15, 21), "fan": "off", "heat": "off"},
    ],
}
degrees = st.floats(-25.0, 45.0)
causes = st.fixed_dictionaries(
    {
        "start": degrees,
        "bottom": degrees,
        "room": degrees,
        "outside": degrees,
        "swing": st.floats(0.0, 12.0),
        "supply": st.floats(-20.0, 90.0),
        "flow": st.floats(5.0, 600.0),
        "off_share": st.sampled_from([0.0, 0.02, 0.3]),
        "intake": st.sampled_from(["room", "outside"]),
        "loss": st.floats(1.0, 200.0),
        "capacity": st.floats(20.0, 5000.0),
        "count": st.integers(1, 4),
        "spacing": st.floats(0.3, 0.45),
        "depth": st.floats(0.25, 1.0),
        "material": st.sampled_from(["moist sand", "clay", "gravel", "dry sand", "concrete"]),
        "step": st.sampled_from([60.0, 300.0, 1800.0]),
        "solver": st.sampled_from(["reduced", "direct", "full"]),
    }
)


def run_with(cause: dict) -> tuple[Collector, float, float]:
    """A run of six hours with switches, and the lowest and highest of all that drives it [K]."""
    case = small_case(
        {"heat": None, "timetable": SWITCHES},
        {
            "weather": {
                "kind": "daily wave",
                "mean": f"{cause['outside']!r} degC",
                "amplitude": f"{cause['swing']!r} K",
            },
            "ground": {
                "bottom": {"kind": "temperature", "temperature": f"{cause['bottom']!r} degC"},
                "start": {"kind": "uniform", "temperature": f"{cause['start']!r} degC"},
                "layers": [{"material": cause["material"]}],
            },
            "ducts": {
                "count": cause["count"],
                "spacing": f"{cause['spacing']!r} m" if cause["count"] > 1 else None,
                "depth": f"{cause['depth']!r} m",
            },
            "fan": {
                "flow": f"{cause['flow']!r} m3/h",
                "power": "0 W",
                "off_flow": f"{cause['flow'] * cause['off_share']!r} m3/h",
                "intake": cause["intake"],
            },
            "heat": {"kind": "supply temperature", "temperature": f"{cause['supply']!r} degC"},
            "room": {
                "temperature": f"{cause['room']!r} degC",
                "heat_loss": f"{cause['loss']!r} W/K",
                "heat_capacity": f"{cause['capacity']!r} kJ/K",
            },
            "numerics": {"solver": cause["solver"], "step": f"{cause['step']!r} s", "stations": 3},
        },
    )
    collector = Collector()
    simulate(case, [collector])
    all_causes = [cause[name] for name in ("start", "bottom", "room", "supply")]
    all_causes += [cause["outside"] - cause["swing"], cause["outside"] + cause["swing"], 35.0]
    return collector, min(all_causes) + 273.15, max(all_causes) + 273.15


TEMPERATURES = (
    "room_temperature", "supply_temperature", "exit_temperature", "floor_lowest_temperature",
    "floor_highest_temperature", "ground_mean_temperature", "air_temperature", "wall_temperature",
    "lane_exit_temperature", "floor_station_temperature",
)  # fmt: skip


def beyond(collector: Collector, low: float, high: float) -> dict[str, float]:
    """How far each kind of temperature lies outside its causes [K]."""
    found = {}
    for name in TEMPERATURES:
        values = collector[name]
        assert np.isfinite(values).all(), name
        found[name] = float(max(low - values.min(), values.max() - high, 0.0))
    fields = np.array([moment.field for moment in collector.moments if moment.field is not None])
    there = fields[np.isfinite(fields)]
    found["ground_temperature"] = float(max(low - there.min(), there.max() - high, 0.0))
    return found


@given(causes)
@settings(max_examples=examples(12))
def test_no_temperature_beyond_its_causes(cause):
    """Maximum principle (Protter & Weinberger, 1967): extremes lie at the start or at the rim.

    The allowance covers the reduced section's tolerance of 0.005 K and the slight overshoot of a second-order
    step after a jump; 0.003 K is the most that was seen.
    """
    for name, excess in beyond(*run_with(cause)).items():
        assert excess < 0.02, (name, excess)


def test_the_bounds_can_be_broken():
    """The check can fail: with bounds drawn 0.1 K closer it does."""
    cause = {
        "start": 5.0, "bottom": 5.0, "room": 5.0, "outside": 5.0, "swing": 0.0, "supply": 60.0, "flow": 300.0,
        "off_share": 0.0, "intake": "room", "loss": 20.0, "capacity": 200.0, "count": 2, "spacing": 0.4,
        "depth": 0.3, "material": "clay", "step": 300.0, "solver": "direct",
    }  # fmt: skip
    collector, low, high = run_with(cause)
    assert beyond(collector, low, high - 0.1)["supply_temperature"] > 0.05
    assert beyond(collector, low + 0.1, high)["ground_temperature"] > 0.05
