"""Charge of the floor: conservation, an independent integral, and cases whose answer is known."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.answers.charge import charge
from simulator.answers.next_hour import judge_hour, judge_tank, next_hour
from simulator.answers.uptake import Uptake, stays_below, uptake_of
from simulator.errors import CaseError
from simulator.store.record import record
from tests.answers.small import shed

# ISO 13370 clay or silt 3.0 MJ/(m3.K); ISO 10456 concrete 2200 kg/m3 and 1000 J/(kg.K); both from memory
CAPACITY = {"clay or silt": 3.0e6, "concrete": 2.2e6}
DAYS = 86400.0


@pytest.fixture(scope="module")
def case():
    return shed()


@pytest.fixture(scope="module")
def results(case):
    with record(case) as made:
        yield made


@pytest.fixture(scope="module")
def found(results, case):
    return charge(results, case, ahead=2.0 * DAYS)


def integral(results, row: int) -> float:
    """Heat above 0 degC under the floor out of a map, with capacities by name, told by the results alone."""
    names = results.material_names
    material = results.read("section_material")
    capacity = np.array([CAPACITY[name] for name in names])[material]
    area = np.outer(
        np.diff(results.read("section_depth_edges")), np.diff(results.read("section_across_edges"))
    )
    lengths = results.read("station_length")
    ground = results.read("ground_temperature", row).astype(float)
    half = results.attrs["building_half_width_m"]
    under = np.abs(results.read("section_across")) < half
    return float(np.sum((ground * capacity * area)[:, :, under] * lengths[:, None, None]))


def test_charge_at_a_later_map_is_the_integral_of_that_map(results, case, found) -> None:
    # Only the first map goes into the answer, all after it comes from the ledgers: here the last maps are
    # integrated. Cells round a duct are mapped on rectangles, which costs a little.
    with record(shed(fire=False, timetable='start = { fan = "off" }')) as idle:
        expected = integral(results, -1) - integral(idle, -1)
    assert found.held == pytest.approx(expected, rel=0.02)


def test_the_charge_changes_as_the_ledgers_say(results, found) -> None:
    # heat through ducts and floor under the whole floor: what all ground gained came through its surfaces
    gained = results["ledger_stored_ground"].values
    through = (
        results["ledger_duct"].values
        - results["ledger_floor"].values
        - results["ledger_outside_ground"].values
        + results["ledger_bottom"].values
        + results["ledger_sides"].values
    )
    assert gained == pytest.approx(through, abs=1e-6 * np.abs(through).max())
    assert found.held_everywhere >= found.held > 0.0


def test_a_floor_never_heated_and_without_fan_holds_nothing() -> None:
    cold = shed(fire=False, timetable='start = { fan = "off" }')
    with record(cold) as results:
        answer = charge(results, cold, ahead=DAYS)
    # maps are rounded to 1/1024 K
    assert answer.under_floor == pytest.approx(0.0, abs=0.001 * 3e6 * 3.0 * 5.0 * 2.5)
    assert answer.depths.reached is None
    assert answer.hour is None
    assert 'heat.kind = "none"' in answer.why_not


def test_longer_heated_holds_more_and_reaches_deeper(found) -> None:
    longer = shed(run_in="12 days")
    with record(longer) as results:
        answer = charge(results, longer, ahead=DAYS)
    assert answer.held > found.held
    assert answer.depths.ninety > found.depths.ninety
    assert answer.uptake.last < found.uptake.last


def test_uptake_is_heat_taken_over_heat_given(make_results) -> None:
    # 3 kW from 1 h to 4.5 h, of which the ground takes 70 % in the first two hours and 50 % after
    seconds = np.arange(0.0, 6.01, 0.25) * 3600.0
    hours = seconds / 3600.0
    power = np.where((hours > 1.0) & (hours <= 4.5), 3000.0, 0.0)
    share = np.where(hours <= 3.0, 0.7, 0.5)
    made = make_results(
        dt.datetime(2031, 1, 1), seconds, heater_power=power, ledger_heater=np.cumsum(power * 900.0),
        ledger_duct=np.cumsum(power * share * 900.0),
    )  # fmt: skip
    found = uptake_of(made)
    assert found.moments / 3600.0 == pytest.approx([2.0, 3.0, 4.0, 4.5])
    assert found.share == pytest.approx([0.7, 0.7, 0.5, 0.5])
    # half an hour is less than the least that counts as a stretch of its own when it begins later
    assert uptake_of(made, 3.25 * 3600.0).share == pytest.approx([0.5])


def test_saturated_is_what_stays_below() -> None:
    uptake = Uptake(np.arange(1.0, 6.0) * 3600.0, np.array([0.4, 0.6, 0.55, 0.45, 0.44]))
    assert stays_below(uptake, 0.5, 0.0) == pytest.approx(3.0 * 3600.0)
    assert stays_below(uptake, 0.7, 0.0) == 0.0
    assert stays_below(uptake, 0.3, 0.0) is None


@pytest.mark.parametrize(
    ("uptake", "cold", "dangers", "best"),
    [
        (0.58, 0.6, (), "floor"),
        (0.47, 0.6, (), "do not burn"),
        (0.58, 0.6, ("duct service temperature",), "do not burn"),
        (0.58, None, (), "floor"),
        (0.3, None, (), "do not burn"),
    ],
)
def test_where_the_next_hour_goes(uptake, cold, dangers, best) -> None:
    chosen, reason = judge_hour(uptake, cold, 0.8, dangers)
    assert chosen == best
    assert f"{100 * uptake:.0f} %" in reason or dangers


def test_a_slow_first_hour_is_not_saturation() -> None:
    assert judge_hour(0.4, 0.6, 0.8, (), later=0.55)[0] == "floor"
    assert judge_hour(0.4, 0.6, 0.8, (), later=0.45)[0] == "do not burn"


def test_what_is_said_of_saturation_agrees(found) -> None:
    # one and the same mark: a floor saturated at once takes no fire, any other does, dangers apart
    assert not found.hour.dangers
    assert (found.saturated_after == 0.0) == (found.hour.best == "do not burn")


def test_the_next_hour_puts_in_an_hour_of_power(found) -> None:
    # 2 kW for an hour, and 40 W of fan
    assert found.hour.heat == pytest.approx(2040.0 * 3600.0, rel=1e-6)
    assert 0.0 < found.hour.kept < 1.0
    assert found.hour.floor_warmer > 0.0


def test_heat_that_lasts_is_gone_when_it_is_said_to_be(results, case, found) -> None:
    carried = charge(results, case, ahead=2.0 * DAYS, carried_to=9.0)
    assert carried.carried is not None
    lower = charge(results, case, ahead=2.0 * DAYS, carried_to=8.5)
    assert lower.carried is None or lower.carried > carried.carried


def test_a_moment_outside_the_run_is_refused(results, case) -> None:
    with pytest.raises(CaseError, match="lies outside the run"):
        charge(results, case, at=dt.datetime(2031, 2, 1))


def test_without_maps_there_is_no_charge(case) -> None:
    bare = case.model_copy(update={"output": case.output.model_copy(update={"fields": 0.0})})
    with record(bare) as results, pytest.raises(CaseError, match="holds no map of the ground"):
        charge(results, bare)


FLOOR = ("floor", "it still takes heat")
FULL = ("do not burn", "it is saturated")
HOT = ("do not burn", "it would pass a limit")


@pytest.mark.parametrize(
    ("floor", "tank", "kept", "best"),
    [
        (FLOOR, None, (0.5, 0.5), "floor"),
        (FLOOR, 300.0, (0.5, 0.6), "tank"),
        (FLOOR, 300.0, (0.6, 0.5), "floor"),
        (FULL, 300.0, (0.6, 0.5), "tank"),
        (FULL, 320.0, (0.5, 0.6), "do not burn"),
        (FLOOR, 320.0, (0.5, 0.6), "floor"),
        (HOT, 300.0, (0.5, 0.6), "tank"),
        (HOT, None, (0.5, 0.6), "do not burn"),
    ],
)
def test_floor_or_tank(floor, tank, kept, best) -> None:
    # the tank may be 310 K warm
    assert judge_tank(floor, tank, 310.0, kept)[0] == best
    # a limit that is passed with the pump running leaves what was said of the floor
    assert judge_tank(floor, tank, 310.0, kept, ("duct",)) == floor


def test_what_earlier_fires_did_does_not_excuse_the_next(case) -> None:
    # ducts that bear little: every fire passes their limit, those of the past as well
    weak = case.model_copy(update={"ducts": case.ducts.model_copy(update={"service_temperature": 290.0})})
    hour = next_hour(weak, 4.0 * 3600.0, 6.0 * 3600.0, None, 0.8)
    assert hour.dangers == ("duct service temperature",)
    assert hour.best == "do not burn"
    assert hour.hottest_supply > 290.0 - 273.15
