"""Changed fan schedules and cases that go on: told inside, untouched outside."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest

from simulator.answers.fan_schedule import with_fan
from simulator.answers.what_if import from_now_on
from simulator.case.loader import load
from tests.answers.small import EVENING, shed

HOUR = 3_600_000
MINUTE = 60_000
NOTHING = ""
DATED = (
    'start = { fan = 0.4, heat = "on" }\ndated = [{ at = 2031-01-16T01:00:00, fan = "off", heat = "off" }]'
)


def same(one, other) -> bool:
    return one.same_as(other)


@pytest.mark.parametrize("timetable", [EVENING, NOTHING, DATED])
@pytest.mark.parametrize(
    "stretches", [[(4 * HOUR, 15 * HOUR)], [(2 * HOUR, 6 * HOUR), (9 * HOUR, 18 * HOUR)]]
)
@pytest.mark.parametrize("share", [0.0, 1.0, 0.6])
def test_only_the_fan_inside_the_stretches_changes(timetable, stretches, share) -> None:
    case = shed(timetable=timetable)
    before, after = case.timetable_compiled, with_fan(case, [(0, share)], stretches).timetable_compiled
    for tick in range(-48 * HOUR, 18 * HOUR, 5 * MINUTE):
        drive = after.values_from(tick)
        if any(begin <= tick < end for begin, end in stretches):
            assert drive.fan_share == share
            assert drive.heat_power == before.values_from(tick).heat_power
        else:
            assert same(drive, before.values_from(tick)), tick


def test_pieces_follow_each_other() -> None:
    case = shed()
    made = with_fan(case, [(5 * HOUR, 0.0), (7 * HOUR + 1, 1.0), (8 * HOUR, 0.0)], [(5 * HOUR, 15 * HOUR)])
    timetable = made.timetable_compiled
    shares = [timetable.values_from(tick).fan_share for tick in (7 * HOUR, 7 * HOUR + 1, 8 * HOUR, 11 * HOUR)]
    assert shares == [0.0, 1.0, 0.0, 0.0]
    assert case.timetable.dated == []


@pytest.mark.parametrize("timetable", [EVENING, NOTHING, DATED])
def test_from_now_on(timetable) -> None:
    case = shed(timetable=timetable)
    now, later = 9 * HOUR, 10 * HOUR
    longer = case.model_copy(update={"site": case.site.model_copy(update={"duration": 60 * 3600.0})})
    made = from_now_on(case, [(now, "on", "on"), (later, "case", "off")], 60 * 3600.0)
    before, after = longer.timetable_compiled, made.timetable_compiled
    assert made.site.duration == 60 * 3600.0
    for tick in range(-24 * HOUR, 60 * HOUR, 5 * MINUTE):
        drive, planned = after.values_from(tick), before.values_from(tick)
        if tick < now:
            assert same(drive, planned), tick
        elif tick < later:
            assert (drive.fan_share, drive.heat_power) == (1.0, 2000.0)
        else:
            assert (drive.fan_share, drive.heat_power) == (planned.fan_share, 0.0)
            assert math.isnan(drive.supply_temperature)


def test_the_moments_are_those_of_the_case() -> None:
    made = from_now_on(shed(), [(9 * HOUR, "off", "off")], 18 * 3600.0)
    assert made.timetable.dated[0].at == dt.datetime(2031, 1, 16, 3, 0)


def test_no_fuel_is_laid_on_without_fire() -> None:
    case = load(Path(__file__).parents[2] / "cases" / "cold-week.toml")
    now = 30 * HOUR
    laid = case.timetable_compiled.loads
    made = from_now_on(case, [(now, "case", "off")], 60 * 3600.0, loads=[(now, 3.0)], pump="off")
    assert made.timetable_compiled.loads == (*(each for each in laid if each[0] < now), (now, 3.0))
    later = made.timetable_compiled.values_from(40 * HOUR)
    assert later.pump == 0.0
    assert later.cover == case.timetable_compiled.values_from(40 * HOUR).cover
    kept = from_now_on(case, [(now, "case", "case")], 60 * 3600.0)
    assert kept.timetable_compiled.loads == tuple(each for each in laid if each[0] < 60 * HOUR)


def test_unheated_before_keeps_fan_and_heat_off_in_the_run_in() -> None:
    case = shed()
    made = from_now_on(case, [(0, "case", "case")], 18 * 3600.0, unheated_before=True)
    before, after = case.timetable_compiled, made.timetable_compiled
    for tick in range(-72 * HOUR, 0, 30 * MINUTE):
        assert (after.values_from(tick).fan_share, after.values_from(tick).heat_power) == (0.0, 0.0)
    for tick in range(0, 18 * HOUR, 5 * MINUTE):
        assert same(after.values_from(tick), before.values_from(tick))
