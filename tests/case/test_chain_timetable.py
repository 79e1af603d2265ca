"""Weekly entries, loads of fuel and the channels feed, pump and cover."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.case.schema import Case
from simulator.case.schema_air import NoHeat
from simulator.case.schema_run import DAYS, TimetableTable
from simulator.case.timetable import TICKS_PER_DAY, compile_timetable
from tests.examples import examples

HOUR = 3600 * 1000
#: a Wednesday (the Gregorian calendar: `datetime.date.weekday`)
START = dt.datetime(2031, 1, 15, 18, 0)
Build = Callable[..., Case]


def compiled(days: float = 20.0, **table: object):  # type: ignore[no-untyped-def]
    return compile_timetable(TimetableTable.model_validate(table), NoHeat(), START, days * 86400.0)


def test_what_is_on_when_nothing_is_said(build_chain: Build) -> None:
    drive = compiled().values_from(0)
    assert (drive.feed, drive.pump, drive.cover) == (0.0, 1.0, 0.0)
    drive = build_chain().timetable_compiled.values_from(0)
    assert (drive.feed, drive.pump, drive.cover) == (0.0, 1.0, 0.0)


def test_channels_do_not_disturb_each_other() -> None:
    table = compiled(
        daily=[{"at": "06:00", "pump": "off"}, {"at": "08:00", "cover": 0.5}, {"at": "20:00", "pump": True}]
    )
    at_nine = table.values_from(15 * HOUR)
    assert (at_nine.fan_share, at_nine.pump, at_nine.cover) == (1.0, 0.0, 0.5)
    assert table.switches()[:2] == [2 * HOUR, 12 * HOUR]
    assert not table.values_from(0).same_as(table.values_from(2 * HOUR))


def test_weekly_beats_daily_at_the_same_time_and_dated_beats_both() -> None:
    table = compiled(
        daily=[{"at": "09:00", "fan": "on"}],
        weekly=[{"day": "saturday", "at": "09:00", "fan": "off"}],
        dated=[{"at": dt.datetime(2031, 1, 25, 9), "fan": 0.5}],
    )
    saturday = (dt.datetime(2031, 1, 18, 9) - START) // dt.timedelta(milliseconds=1)
    assert table.values_from(saturday - 1).fan_share == 1.0
    assert table.values_from(saturday).fan_share == 0.0
    assert table.values_from(saturday + TICKS_PER_DAY).fan_share == 1.0
    assert table.values_from(saturday + 7 * TICKS_PER_DAY).fan_share == 0.5


def test_the_last_weekly_entry_holds_before_the_run() -> None:
    table = compiled(
        weekly=[{"day": "monday", "at": "07:00", "fan": 0.3}, {"day": "friday", "at": "07:00", "fan": "off"}]
    )
    assert table.values_from(0).fan_share == 0.3
    assert table.values_from(-3 * TICKS_PER_DAY).fan_share == 0.0
    assert table.switches_between(-7 * TICKS_PER_DAY, 0) == [
        ((dt.datetime(2031, 1, day, 7) - START) // dt.timedelta(milliseconds=1)) for day in (10, 13)
    ]


def test_loads_of_a_week() -> None:
    table = compiled(
        days=8,
        daily=[{"at": "18:00", "load": "5 kg"}, {"at": "22:00", "load": "11 lb"}],
        weekly=[{"day": "sunday", "at": "10:00", "load": "7 kg"}],
        dated=[{"at": dt.datetime(2031, 1, 16, 3), "load": "2 kg"}],
    )
    loads = table.loads
    assert loads[0] == (0, 5.0)
    assert loads[1] == (4 * HOUR, pytest.approx(11 * 0.45359237))
    assert loads[2] == (9 * HOUR, 2.0)
    assert sum(mass for _, mass in loads) == pytest.approx(8 * 5 + 8 * 11 * 0.45359237 + 7 + 2)
    assert all(0 <= tick < table.end for tick, _ in loads)
    assert list(loads) == sorted(loads)
    assert table.switches() == []
    # One evening before the start: daily loads repeat backwards, for whoever asks.
    assert [tick for tick, _ in table.loads_between(-TICKS_PER_DAY, 0)] == [-TICKS_PER_DAY, -20 * HOUR]


TIMES = st.integers(0, 95).map(lambda quarter: f"{quarter // 4:02d}:{quarter % 4 * 15:02d}")
SHARES = st.sampled_from(["on", "off", 0.25, 0.5])


@st.composite
def tables(draw: st.DrawFn) -> dict[str, list[dict[str, object]]]:
    daily = sorted(draw(st.dictionaries(TIMES, SHARES, max_size=4)).items())
    week = draw(st.dictionaries(st.tuples(st.sampled_from(range(7)), TIMES), SHARES, max_size=5))
    dated = draw(st.dictionaries(st.integers(0, 900), SHARES, max_size=3))
    return {
        "daily": [{"at": at, "pump": share} for at, share in daily],
        "weekly": [{"day": DAYS[day], "at": at, "pump": share} for (day, at), share in sorted(week.items())],
        "dated": [
            {"at": START + dt.timedelta(minutes=15 * number), "pump": share}
            for number, share in sorted(dated.items())
        ],
        "start": {"pump": "on"} if draw(st.booleans()) or not (daily or week) else {},
    }  # type: ignore[return-value]


@given(tables())
@settings(max_examples=examples(50))
def test_against_a_walk_through_the_calendar(table: dict[str, list[dict[str, object]]]) -> None:
    """An independent reading: walk three weeks by the clock and the calendar, and note the last setting."""

    def share(setting: object) -> float:
        return {"on": 1.0, "off": 0.0}[setting] if isinstance(setting, str) else float(setting)  # type: ignore[arg-type]

    found = compiled(days=10, **table)
    moment = START - dt.timedelta(days=14)
    now = 1.0
    repeated = 1.0
    changes = []
    while moment < START + dt.timedelta(days=10):
        clock = f"{moment:%H:%M}"
        hits = [entry for entry in table["daily"] if entry["at"] == clock]
        hits += [
            entry
            for entry in table["weekly"]
            if (entry["day"], entry["at"]) == (f"{moment:%A}".lower(), clock)
        ]
        before = now
        if moment == START and table["start"]:
            now = 1.0
        for entry in hits:
            now = repeated = share(entry["pump"])
        now = next((share(entry["pump"]) for entry in table["dated"] if entry["at"] == moment), now)
        tick = (moment - START) // dt.timedelta(milliseconds=1)
        if moment >= START:
            assert found.values_from(tick).pump == now
            assert found.values_from(tick + 1).pump == now
            if moment > START and now != before:
                changes.append(tick)
        elif moment >= START - dt.timedelta(days=6):
            assert found.values_from(tick).pump == repeated
        moment += dt.timedelta(minutes=15)
    assert found.switches() == changes


@given(st.integers(1, 6), TIMES, st.integers(0, 2))
@settings(max_examples=examples(30))
def test_loads_repeat_every_period(days: int, at: str, extra: int) -> None:
    table = compiled(days=7.0 * days, weekly=[{"day": "tuesday", "at": at, "load": "3 kg"}])
    assert len(table.loads) == days
    assert all(b[0] - a[0] == 7 * TICKS_PER_DAY for a, b in zip(table.loads, table.loads[1:], strict=False))
    assert len(table.loads_between(-7 * TICKS_PER_DAY * extra, 0)) == extra


def test_weekly_messages(build_chain: Build, chain_refusal: Callable[..., str]) -> None:
    assert 'timetable.weekly[1].day = "sonday": is not understood' in chain_refusal(
        add='weekly = [{ day = "sonday", at = "09:00", fan = "on" }]\n'
    )
    assert 'timetable.weekly[2].at = "08:00": must be later in the week than the entry' in chain_refusal(
        add='weekly = [{ day = "friday", at = "09:00", fan = "on" },\n'
        '{ day = "monday", at = "08:00", fan = "on" }]\n'
    )
    case = build_chain(add='weekly = [{ day = "Friday", at = "09:00", fan = "off" }]\n')
    assert case.timetable.weekly[0].day == "friday"
