"""The TMY3 reader against pvlib's, and how hourly days are laid along the dates of a case."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import iotools

from simulator.climate.tmy3_file import read_tmy3
from simulator.climate.weather import from_case
from simulator.errors import CaseError

HOUR = 3_600_000
DAY = 24 * HOUR
DATA = Path(pvlib.__file__).parent / "data"
FULL_YEAR = DATA / "703165TY.csv"
SPELL = Path(__file__).parents[2] / "shared" / "weather" / "sand_point_cold_spell.csv"
TMY3 = 'kind = "tmy3"\nfile = "site.csv"'


def by_pvlib(path: Path):
    """Read with pvlib.iotools: the public reader of the same format."""
    return iotools.read_tmy3(path, map_variables=True)


@pytest.fixture(scope="module")
def year():
    return by_pvlib(FULL_YEAR)[0]


@pytest.mark.parametrize("name", ["703165TY.csv", "723170TYA.CSV"])
def test_full_year_as_pvlib_reads_it(name) -> None:
    table, site = by_pvlib(DATA / name)
    days = read_tmy3(DATA / name, name)
    assert next(iter(days.temperature)) == (1, 1)
    assert list(days.temperature)[-1] == (12, 31)
    assert days.place == site["Name"].strip('"')
    np.testing.assert_array_equal(
        np.concatenate(list(days.temperature.values())), table["temp_air"].to_numpy()
    )
    np.testing.assert_array_equal(np.concatenate(list(days.sun.values())), table["ghi"].to_numpy())


def test_full_year_statistics() -> None:
    # Sand Point TMY3, dry bulb: mean 4.421, lowest -10.6, highest 19.4 degC (read from the file with pandas).
    temperature = np.concatenate(list(read_tmy3(FULL_YEAR, "year").temperature.values()))
    assert temperature.mean() == pytest.approx(4.421, abs=5e-4)
    assert (temperature.min(), temperature.max()) == (-10.6, 19.4)


def test_shared_spell_is_cut_unchanged_from_the_full_year() -> None:
    source = FULL_YEAR.read_text().splitlines()
    spell = SPELL.read_text().splitlines()
    assert spell[:2] == source[:2]
    first = source.index(spell[2])
    assert spell[2:] == source[first : first + 19 * 24]
    days = read_tmy3(SPELL, "spell")
    assert list(days.temperature) == [(2, day) for day in range(10, 29)]
    assert min(day.min() for day in days.temperature.values()) == -10.6


@pytest.fixture
def full(tmp_path) -> None:
    shutil.copy(FULL_YEAR, tmp_path / "site.csv")


@pytest.fixture
def spell(tmp_path) -> None:
    shutil.copy(SPELL, tmp_path / "site.csv")


def pvlib_hours(year, month: int, day: int, column: str) -> np.ndarray:
    """Return the 24 values at 01:00 to 24:00 of a day; pvlib gives 24:00 as 00:00 of the next day."""
    stamp = year.index - dt.timedelta(hours=1)
    return year[column].to_numpy()[(stamp.month == month) & (stamp.day == day)]


@pytest.mark.usefixtures("full")
def test_hours_stand_at_their_clock_times(make_case, year) -> None:
    # From 18:00 on 20 February: ticks 1 h to 30 h are 19:00 to midnight and the 24 hours of the 21st.
    weather = from_case(make_case(TMY3, start=dt.datetime(2031, 2, 20, 18), duration="30 h"))
    hours = np.arange(1, 31) * HOUR
    for column, at_hour in (
        ("temp_air", weather.temperature_at(hours) - 273.15),
        # The sun of a row is the mean over the hour that ends at its time.
        ("ghi", weather.mean_sun(hours - HOUR, hours)),
    ):
        expected = np.concatenate([pvlib_hours(year, 2, 20, column)[18:], pvlib_hours(year, 2, 21, column)])
        np.testing.assert_allclose(at_hour, expected, atol=1e-9)
    assert weather.mean_sun(0, 30 * HOUR) > 10.0
    # Half way between two hours lies half way between their temperatures.
    assert float(weather.temperature_at(HOUR // 2)) == pytest.approx(
        float(weather.temperature_at([0, HOUR]).mean())
    )


@pytest.mark.usefixtures("full")
def test_year_wraps_both_ways(make_case, year) -> None:
    weather = from_case(
        make_case(TMY3, start=dt.datetime(2031, 1, 1, 12), duration="400 days", run_in="40 days")
    )
    hours = np.arange(-12, 13) * HOUR
    new_year = np.concatenate(
        [pvlib_hours(year, 12, 31, "temp_air")[-1:], pvlib_hours(year, 1, 1, "temp_air")]
    )
    for shift in (0, 365 * DAY):
        np.testing.assert_allclose(weather.temperature_at(hours + shift) - 273.15, new_year, atol=1e-9)
    run_in_noon = weather.temperature_at(-40 * DAY) - 273.15
    assert float(run_in_noon) == pytest.approx(pvlib_hours(year, 11, 22, "temp_air")[11])
    # A year's sun is the file's yearly sum.
    assert float(weather.mean_sun(-DAY // 2, 365 * DAY - DAY // 2)) == pytest.approx(year["ghi"].mean())


@pytest.mark.usefixtures("full")
def test_leap_day_repeats_the_day_before(make_case, year) -> None:
    weather = from_case(make_case(TMY3, start=dt.datetime(2032, 2, 28), duration="3 days"))
    hours = np.arange(1, 25) * HOUR
    expected = [pvlib_hours(year, *day, "temp_air") for day in ((2, 28), (2, 28), (3, 1))]
    for number, day in enumerate(expected):
        np.testing.assert_allclose(weather.temperature_at(hours + number * DAY) - 273.15, day, atol=1e-9)


@pytest.mark.usefixtures("spell")
def test_run_in_before_a_spell_repeats_its_first_day(make_case, year) -> None:
    weather = from_case(
        make_case(TMY3, start=dt.datetime(2031, 2, 12, 6), duration="2 days", run_in="10 days")
    )
    hours = np.arange(1, 25) * HOUR - 6 * HOUR
    eleventh = pvlib_hours(year, 2, 11, "temp_air")
    tenth = pvlib_hours(year, 2, 10, "temp_air")
    np.testing.assert_allclose(weather.temperature_at(hours - DAY) - 273.15, eleventh, atol=1e-9)
    for back in (2, 3, 9):
        found = weather.temperature_at(hours - back * DAY) - 273.15
        # The midnight that ends a repeated day is the one that begins it.
        np.testing.assert_allclose(found[:-1], tenth[:-1], atol=1e-9)
    np.testing.assert_allclose(
        weather.mean_sun(hours - 9 * DAY - HOUR, hours - 9 * DAY), pvlib_hours(year, 2, 10, "ghi"), atol=1e-9
    )


@pytest.mark.usefixtures("spell")
def test_spell_covers_its_first_midnight_to_its_last(make_case) -> None:
    weather = from_case(make_case(TMY3, start=dt.datetime(2031, 2, 10), duration="19 days"))
    assert float(weather.temperature_at(0)) == float(weather.temperature_at(HOUR))
    assert np.isfinite(weather.temperature_at(19 * DAY))


@pytest.mark.usefixtures("spell")
@pytest.mark.parametrize(
    ("start", "duration", "missing"),
    [
        (dt.datetime(2031, 2, 9, 23), "1 days", "02/09"),
        (dt.datetime(2031, 2, 28, 1), "1 days", "03/01"),
        (dt.datetime(2031, 7, 1), "1 days", "07/01"),
    ],
)
def test_spell_that_does_not_cover_the_case(make_case, start, duration, missing) -> None:
    with pytest.raises(CaseError, match=f"site.csv: holds no {missing}, but the case runs through it"):
        from_case(make_case(TMY3, start=start, duration=duration))


def changed(line: int, old: str, new: str) -> str:
    lines = SPELL.read_text().splitlines()
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    return "\n".join(lines)


def without(*numbers: int) -> str:
    lines = SPELL.read_text().splitlines()
    return "\n".join(text for number, text in enumerate(lines, start=1) if number not in numbers)


def with_temperature(line: int, value: str) -> str:
    lines = SPELL.read_text().splitlines()
    cells = lines[line - 1].split(",")
    cells[31] = value
    lines[line - 1] = ",".join(cells)
    return "\n".join(lines)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a,b\n1,2\n3,4\n", "cold.csv:1: is not in the TMY3 hourly format"),
        (changed(2, "Dry-bulb (C)", "Dry bulb"), "cold.csv:2: no column is headed 'Dry-bulb (C)'"),
        (without(9), 'cold.csv:9: Time (HH:MM) = "08:00": is not the next hour, 07:00'),
        (changed(9, "07:00", "7 am"), 'cold.csv:9: Time (HH:MM) = "7 am": is not the next hour'),
        (changed(9, "02/10", "02/31"), 'cold.csv:9: Date (MM/DD/YYYY) = "02/31/1995": is not a date'),
        (changed(9, "02/10", "02/11"), "cold.csv:9: Date (MM/DD/YYYY)"),
        (
            without(*range(27, 51)),
            'cold.csv:27: Date (MM/DD/YYYY) = "02/12/1995": does not follow the day before',
        ),
        (without(458), "cold.csv:457: the last day ends at hour 23"),
        (without(*range(3, 459)), "cold.csv:1: is not in the TMY3 hourly format"),
        (with_temperature(12, "-9900"), 'cold.csv:12: Dry-bulb (C) = "-9900": marks a missing value'),
        (with_temperature(12, "70"), "is out of range; allowed: -90 to 65 degC"),
        (with_temperature(12, "nan"), 'Dry-bulb (C) = "nan": is out of range'),
        (with_temperature(12, ""), 'cold.csv:12: Dry-bulb (C) = "": is not a number'),
        (changed(12, ",", ";") + "\n02/29/1995,01:00", "cold.csv:12: "),
        ("\n".join(SPELL.read_text().splitlines()[:26]) + "\n02/11/1995,01:00", "the row ends after 2 cells"),
    ],
)
def test_refusals_name_the_place(tmp_path, text, message) -> None:
    path = tmp_path / "cold.csv"
    path.write_text(text)
    with pytest.raises(CaseError) as refusal:
        read_tmy3(path, "cold.csv")
    assert message in str(refusal.value)
    assert "\n" not in str(refusal.value)


@pytest.fixture(scope="module")
def scratch(tmp_path_factory):
    return tmp_path_factory.mktemp("text") / "cold.csv"


@given(
    place=st.integers(0, 6000),
    length=st.integers(0, 60),
    scrap=st.text(alphabet='0123456789/:,."\n\r\0-x\u2028', max_size=12),
)
def test_a_damaged_file_is_read_or_explained(scratch, place, length, scrap) -> None:
    text = SPELL.read_text()
    scratch.write_text(text[:place] + scrap + text[place + length :], encoding="utf-8", newline="")
    message = None
    try:
        days = read_tmy3(scratch, "cold.csv")
    except CaseError as refusal:
        message = str(refusal)
    if message is not None:
        assert message.startswith("cold.csv:")
    else:
        assert all(day.shape == (24,) and np.all(np.isfinite(day)) for day in days.temperature.values())
