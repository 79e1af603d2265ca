"""Stove, water and house round the ground: every joule of fuel is found again, upsets do what they say."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.errors import SolverError
from simulator.run.whole_account import SINKS, SOURCES, STORES
from tests.examples import examples
from tests.run.chain_rigs import DAMP, HOUSE, PELLETS, STOVE, WATER, rule, upset
from tests.run.rigs import Collector, told

CASES: dict[str, tuple[dict[str, Any], ...]] = {
    "logs": (STOVE,),
    "pellets": (PELLETS,),
    "logs and water": (STOVE, WATER),
    "house": (HOUSE,),
    "logs, water and house": (STOVE, WATER, HOUSE),
    "all and damp": (STOVE, WATER, HOUSE, DAMP),
    "fixed room": (STOVE, WATER, {"room": {"kind": "fixed", "temperature": "17 degC"}}),
    "air from outside": (STOVE, WATER, HOUSE, {"fan": {"intake": "outside"}}),
    "air to outside": (PELLETS, HOUSE, {"fan": {"exit": "outside"}}),
    "modes": (STOVE, WATER, HOUSE, {"numerics": {"solver": "reduced"}}),
}
CLOSED = 1e-6


def closes(run: Collector) -> None:
    """The account of the whole closes to a millionth of what came in, at every row."""
    came = sum(np.abs(run[f"whole_{name}"]) for name in SOURCES)
    assert (np.abs(run["whole_residual"]) <= CLOSED * np.maximum(came, 1.0)).all()
    again = sum(run[f"whole_{name}"] for name in SOURCES)
    again = again - sum(run[f"whole_{name}"] for name in (*SINKS, *STORES))
    np.testing.assert_allclose(again, run["whole_residual"], atol=1e-3)


@pytest.mark.parametrize("changes", CASES.values(), ids=CASES.keys())
def test_the_account_of_the_whole_closes(changes: tuple[dict[str, Any], ...]) -> None:
    closes(told(*changes))


@settings(max_examples=examples(12), deadline=None, suppress_health_check=list(HealthCheck))
@given(
    fuel=st.sampled_from([STOVE, PELLETS]),
    damp=st.sampled_from([{}, DAMP]),
    bare=st.floats(0.0, 0.9),
    bypass=st.floats(0.0, 0.6),
    layers=st.integers(1, 8),
    flow=st.floats(20.0, 600.0),
    light=st.floats(20.0, 3000.0),
    kind=st.sampled_from(["pump stops", "fan stops", "power cut", "cover left off", "filter clogged"]),
)
def test_the_account_closes_in_random_cases(
    fuel: dict[str, Any],
    damp: dict[str, Any],
    bare: float,
    bypass: float,
    layers: int,
    flow: float,
    light: float,
    kind: str,
) -> None:
    run = told(
        fuel,
        WATER,
        HOUSE,
        damp,
        {
            "site": {"duration": "3 h"},
            "stove": {"bare_share": bare},
            "hood": {"bypass": bypass},
            "water": {"layers": layers},
            "fan": {"flow": f"{flow} m3/h"},
            "room": {**(damp or HOUSE)["room"], "heat_capacity": f"{light} kJ/K"},
            **(upset(kind, size=0.5) if kind == "filter clogged" else upset(kind)),
        },
    )
    closes(run)
    assert np.isfinite(run["room_temperature"]).all()


def test_a_house_without_fire_loses_what_its_surfaces_and_leaks_lose() -> None:
    run = told(HOUSE)
    rates = run["cover_loss"] + run["sky_loss"] + run["air_leak_loss"] - run["sun_on_surfaces"]
    assert (run["sun_on_surfaces"] > 0.0).any()
    seconds = np.diff(run.ticks) / TICKS_PER_SECOND
    lost = np.concatenate(([0.0], np.cumsum(rates[1:] * seconds)))
    np.testing.assert_allclose(run["whole_envelope"], lost, atol=1e-6 * np.abs(lost).max())


def test_fuel_burnt_is_what_was_laid_on() -> None:
    run = told(STOVE, {"site": {"duration": "10 h"}})
    assert run["fuel_burnt"][-1] == pytest.approx(3.5, rel=1e-3)
    heat = run["whole_fuel"][-1]
    assert run["whole_flue_loss"][-1] == pytest.approx(0.25 * heat, rel=1e-9)


def test_overfeeding_burns_more() -> None:
    plain, fed = told(STOVE), told(STOVE, upset("fire over-fed", 0.0, size=1.5))
    assert fed["fuel_burnt"][-1] == pytest.approx(1.5 * plain["fuel_burnt"][-1], rel=1e-9)
    assert fed["shell_temperature"].max() > plain["shell_temperature"].max() + 20.0


def test_a_stopped_pump_leaves_a_coil_in_hot_air() -> None:
    plain, stopped = told(STOVE, WATER), told(STOVE, WATER, upset("pump stops", 30.0))
    after = np.array(plain.ticks) > 35 * 60_000
    assert (stopped["pump_flow"][after] == 0.0).all()
    hottest = [run["coil_water_temperature"].max() for run in (plain, stopped)]
    assert hottest[1] > hottest[0] + 30.0
    # The air that gives the coils nothing enters the ducts warmer.
    assert stopped["supply_temperature"].max() > plain["supply_temperature"].max() + 2.0


def test_a_stopped_fan_heats_shell_and_room() -> None:
    plain, stopped = told(STOVE), told(STOVE, upset("fan stops", 30.0))
    after = np.array(plain.ticks) > 35 * 60_000
    assert (stopped["mass_flow"][after] == 0.0).all()
    assert stopped["shell_temperature"].max() > plain["shell_temperature"].max() + 30.0
    np.testing.assert_allclose(stopped["hood_to_air"][after], 0.0, atol=1e-9)


def test_a_power_cut_stops_fan_pump_and_a_steady_feed() -> None:
    run = told(PELLETS, WATER, upset("power cut", 60.0))
    after = np.array(run.ticks) > 62 * 60_000
    for name in ("fan_setting", "pump_setting", "feed_setting"):
        assert (run[name][after] == 0.0).all()
        assert run[name].max() > 0.0
    assert run["fuel_rate"][-1] == 0.0


def test_a_clogged_filter_takes_its_share_of_the_flow() -> None:
    plain, clogged = told(STOVE), told(STOVE, upset("filter clogged", 0.0, size=0.7))
    ratio = clogged["volume_flow"][1:] / plain["volume_flow"][1:]
    # The rest is the density of a room that has become another one.
    np.testing.assert_allclose(ratio, 0.3, rtol=5e-3)


def test_a_night_cover_keeps_the_room_warmer() -> None:
    night = {"site": {"duration": "12 h"}, "timetable": {"start": {"cover": "on"}}}
    covered, bare = told(HOUSE, night), told(HOUSE, night, upset("cover left off", 0.0))
    assert covered["room_temperature"][-1] > bare["room_temperature"][-1] + 0.5
    assert (bare["cover_setting"][1:] == 0.0).all()


def test_the_settings_told_are_those_of_rule_and_timetable() -> None:
    run = told(STOVE, {"timetable": {"start": {"fan": "off"}}}, rule("hood above 40 degC", dead_band="5 K"))
    assert run["fan_setting"].min() == 0.0
    assert run["fan_setting"].max() == 1.0
    np.testing.assert_array_equal(run["mass_flow"] > 0.0, run["fan_setting"] > 0.0)


def test_heat_without_a_way_out_stops_the_run_with_words() -> None:
    shut_in = {
        "stove": {"bare_share": 0.0, "mass": "5 kg"},
        "hood": {"heat_loss": "0 W/(m2.K)", "wall_mass": "1 kg"},
        "timetable": {"start": {"fan": "off"}},
    }
    with pytest.raises(SolverError, match="hotter than any fire"):
        told(STOVE, shut_in)


def test_same_case_same_bits() -> None:
    first, again = told(STOVE, WATER, HOUSE), told(STOVE, WATER, HOUSE)
    for name in ("room_temperature", "tank_temperature", "whole_stored_ground"):
        np.testing.assert_array_equal(first[name], again[name])
