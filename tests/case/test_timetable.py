"""The timetable against a second reading of the rules, which lists every event of every day."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.case.schema import Case
from simulator.case.schema_air import NoHeat, PowerHeat, SeriesHeat, SupplyHeat
from simulator.case.schema_run import TimetableTable
from simulator.case.timetable import TICKS_PER_SECOND, Drive, Timetable, compile_timetable
from simulator.errors import CaseError

HOUR = 3600 * TICKS_PER_SECOND
START = dt.datetime(2031, 1, 15, 18)
POWER = PowerHeat.model_validate({"kind": "power", "power": "9 kW"})
SUPPLY = SupplyHeat.model_validate({"kind": "supply temperature", "temperature": "323.15 K"})
SERIES = SeriesHeat.model_validate(
    {
        "kind": "supply series",
        "file": "s.csv",
        "columns": {"time": {"column": "t"}, "temperature": {"column": "T", "unit": "K"}},
    }
)
NONE = NoHeat()


def built(
    heat: PowerHeat | SupplyHeat | SeriesHeat | NoHeat = POWER, hours: float = 48, **tables: object
) -> Timetable:
    return compile_timetable(TimetableTable.model_validate(tables), heat, START, hours * 3600)


def test_nothing_given_is_on_throughout() -> None:
    table = built()
    assert table.switches() == []
    assert table.values_from(0).same_as(Drive(1.0, 9000.0, math.nan))
    assert table.values_from(-5 * HOUR).same_as(Drive(1.0, 9000.0, math.nan))
    assert built(NONE).values_from(0).same_as(Drive(1.0, 0.0, math.nan))
    assert built(SUPPLY).values_from(0).same_as(Drive(1.0, math.nan, 323.15))
    assert built(SERIES).values_from(0).follows_series
    assert not built(POWER).values_from(0).follows_series


def test_daily_entries_repeat_and_the_last_holds_at_first() -> None:
    table = built(daily=[{"at": "06:00", "fan": "off"}, {"at": "22:30", "fan": 0.5}])
    assert table.switches() == [int(4.5 * HOUR), 12 * HOUR, int(28.5 * HOUR), 36 * HOUR]
    # 18:00 on the first day lies between 06:00 and 22:30, so the fan is off.
    assert [table.values_from(tick * HOUR).fan_share for tick in (0, 4, 5, 12, 13, 29)] == [
        0,
        0,
        0.5,
        0,
        0,
        0.5,
    ]
    assert table.values_from(int(4.5 * HOUR)).fan_share == 0.5
    assert table.values_from(int(4.5 * HOUR) - 1).fan_share == 0.0
    morning = built(daily=[{"at": "19:00", "fan": "off"}, {"at": "20:00", "fan": 0.5}])
    assert morning.values_from(0).fan_share == 0.5


def test_start_holds_until_the_first_entry_and_not_in_the_run_in() -> None:
    table = built(start={"fan": 0.25}, daily=[{"at": "06:00", "fan": "off"}, {"at": "22:00", "fan": "on"}])
    assert table.values_from(0).fan_share == 0.25
    assert table.values_from(-1).fan_share == 0.0
    assert table.values_from(-10 * HOUR).fan_share == 0.0  # 08:00
    assert table.values_from(-13 * HOUR).fan_share == 1.0  # 05:00
    assert table.switches_between(-24 * HOUR, 8 * HOUR) == [-20 * HOUR, -12 * HOUR, 0, 4 * HOUR]
    assert built(start={"fan": 0.25}).values_from(-HOUR).fan_share == 0.25


def test_entry_at_the_start_itself_wins_over_start() -> None:
    table = built(start={"fan": 0.25}, daily=[{"at": "18:00", "fan": "off"}])
    assert table.values_from(0).fan_share == 0.0


def test_dated_entry_holds_until_the_next_daily_one() -> None:
    table = built(
        daily=[{"at": "06:00", "heat": "off"}, {"at": "20:00", "heat": "on"}],
        dated=[{"at": dt.datetime(2031, 1, 16, 2), "heat": "3 kW"}],
    )
    powers = [table.values_from(hour * HOUR).heat_power for hour in (0, 2, 7, 8, 11, 12, 26)]
    assert powers == [0, 9000, 9000, 3000, 3000, 0, 9000]


def test_dated_entry_wins_at_the_same_instant() -> None:
    table = built(
        daily=[{"at": "06:00", "fan": "off"}, {"at": "20:00", "fan": "on"}],
        dated=[{"at": dt.datetime(2031, 1, 16, 6), "fan": 0.75}],
    )
    assert table.values_from(12 * HOUR).fan_share == 0.75
    assert table.values_from(36 * HOUR).fan_share == 0.0


def test_heat_and_supply_temperature_are_one_channel() -> None:
    table = built(
        SUPPLY,
        daily=[
            {"at": "05:00", "heat": "off"},
            {"at": "20:00", "supply_temperature": "60 degC"},
            {"at": "22:00", "heat": "on"},
            {"at": "23:00", "supply_temperature": "off"},
        ],
    )
    drives = [table.values_from(hour * HOUR) for hour in (0, 2, 4, 5)]
    assert [drive.supply_temperature for drive in drives][1:3] == [pytest.approx(333.15), 323.15]
    assert [drive.heat_power for drive in (drives[0], drives[3])] == [0.0, 0.0]
    assert math.isnan(drives[1].heat_power)


def test_settings_that_change_nothing_are_no_switches() -> None:
    assert (
        built(daily=[{"at": "06:00", "fan": "on"}, {"at": "20:00", "fan": 1, "heat": "9 kW"}]).switches()
        == []
    )


def test_true_and_false_count_as_on_and_off() -> None:
    table = built(
        daily=[{"at": "06:00", "fan": False, "heat": False}, {"at": "20:00", "fan": True, "heat": True}]
    )
    assert table.values_from(0).same_as(Drive(0.0, 0.0, math.nan))
    assert table.values_from(2 * HOUR).same_as(Drive(1.0, 9000.0, math.nan))


@pytest.mark.parametrize(
    ("heat", "entry", "problem"),
    [
        (SUPPLY, {"heat": "5 kW"}, 'a power does not fit heat.kind = "supply temperature"'),
        (SERIES, {"heat": "5 kW"}, 'a power does not fit heat.kind = "supply series"'),
        (NONE, {"heat": "5 kW"}, 'a power does not fit heat.kind = "none"'),
        (NONE, {"supply_temperature": "50 degC"}, "there is no heater"),
    ],
)
def test_settings_that_do_not_fit_the_heater(
    heat: SupplyHeat | SeriesHeat | NoHeat, entry: dict[str, str], problem: str
) -> None:
    with pytest.raises(CaseError) as caught:
        built(heat, daily=[{"at": "05:00", "fan": "on"}, {"at": "06:00", **entry}])
    assert caught.value.problem == problem
    assert caught.value.key == f"timetable.daily[2].{next(iter(entry))}"


SHARES = st.sampled_from([0.0, 0.25, 0.5, 1.0])
DAY = st.lists(st.tuples(st.integers(0, 23), SHARES), unique_by=lambda entry: entry[0], max_size=4).map(
    sorted
)
DATES = st.lists(st.tuples(st.integers(0, 72), SHARES), unique_by=lambda entry: entry[0], max_size=4).map(
    sorted
)


@given(DAY, DATES, st.none() | SHARES, st.integers(0, 23))
def test_agrees_with_a_list_of_all_events(
    day: list[tuple[int, float]], dates: list[tuple[int, float]], first: float | None, start_hour: int
) -> None:
    start = dt.datetime(2031, 1, 15, start_hour)
    tables = TimetableTable.model_validate(
        {
            "start": {} if first is None else {"fan": first},
            "daily": [{"at": f"{hour:02}:00", "fan": share} for hour, share in day],
            "dated": [{"at": start + dt.timedelta(hours=hour), "fan": share} for hour, share in dates],
        }
    )
    begins_unsaid = bool(dates) and not day and first is None and dates[0][0] > 0
    if begins_unsaid:
        with pytest.raises(CaseError, match="nothing says what the fan does"):
            compile_timetable(tables, POWER, start, 72 * 3600)
        return
    table = compile_timetable(tables, POWER, start, 72 * 3600)
    events = [(24 * number - start_hour + hour, 1, share) for number in range(-4, 6) for hour, share in day]
    events += [(hour, 2, share) for hour, share in dates]
    if first is not None:
        events.append((0 if day else -1000, 0, first))
    events.append((-2000, 0, 1.0))
    shares = {hour: max(e for e in events if e[0] <= hour)[2] for hour in range(-48, 73)}
    assert {hour: table.values_from(hour * HOUR).fan_share for hour in shares} == shares
    assert {hour: table.drive_at((hour + 1) * HOUR - 1).fan_share for hour in shares} == shares
    changed = [hour for hour in range(-47, 72) if shares[hour] != shares[hour - 1]]
    assert table.switches() == [hour * HOUR for hour in changed if hour > 0]
    assert table.switches_between(-48 * HOUR, 72 * HOUR) == [hour * HOUR for hour in changed]


def test_start_within_a_second(build: Callable[..., Case]) -> None:
    case = build(
        ("18:00:00", "18:00:00.250"),
        add='[timetable]\ndaily = [{ at = 18:00:01, fan = 0.5 }, { at = "23:00", fan = "on" }]\n',
    )
    assert case.timetable_compiled.switches()[:2] == [750, 5 * HOUR - 250]


def test_a_long_run_compiles_quickly() -> None:
    table = built(
        hours=20 * 365 * 24,
        daily=[{"at": f"{hour:02}:00", "fan": 1 if hour % 2 else 0} for hour in range(24)],
    )
    assert len(table.switches()) == 20 * 365 * 24 - 1
