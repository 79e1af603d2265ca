"""Tables of values: what is read, and the message for everything that is refused."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.climate.csv_series_file import TimeReading, ValueColumn, read_series
from simulator.climate.supply import supply_from_case
from simulator.climate.weather import from_case
from simulator.errors import CaseError

HOUR = 3_600_000
START = dt.datetime(2031, 1, 15, 18)

WITH_DATES = """
kind = "csv"
file = "log.csv"
columns.time = {column = "when"}
columns.temperature = {column = "out", unit = "degF"}
columns.sun = {column = "sun", unit = "W/m2"}
"""
WITH_HOURS = """
kind = "csv"
file = "log.csv"
columns = {time = {column = "t", unit = "h"}, temperature = {column = "out", unit = "degC"}}
"""


def hourly_log(hours: int = 31, *, first: int = -3) -> list[str]:
    """Rows of a logger: 32 degF at the start of the case and 1.8 degF more every hour."""
    rows = [
        f"{START + dt.timedelta(hours=hour)},{max(hour, -5)},{32 + 1.8 * hour:.1f}"
        for hour in range(first, first + hours)
    ]
    return ["# logger at the gate", "when, sun,out", "", *rows]


def write(tmp_path, lines: list[str], encoding: str = "utf-8") -> None:
    (tmp_path / "log.csv").write_text("\n".join(lines) + "\n", encoding=encoding)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_dates_and_units(make_case, tmp_path, encoding) -> None:
    write(tmp_path, hourly_log(), encoding)
    weather = from_case(make_case(WITH_DATES))
    # 32 degF is 273.15 K and 1.8 degF is 1 K.
    ticks = np.array([0, HOUR, 90 * HOUR // 60, -2 * HOUR])
    np.testing.assert_allclose(weather.temperature_at(ticks), 273.15 + np.array([0, 1, 1.5, -2]), atol=1e-9)
    np.testing.assert_allclose(weather.sun_at(ticks), [0.0, 1.0, 1.5, 0.0], atol=1e-9)
    assert float(weather.mean_temperature(0, 24 * HOUR)) == pytest.approx(285.15)
    # The night offset of the sun sensor, -3 to 0, counts as nothing.
    assert float(weather.mean_sun(-3 * HOUR, 0)) == 0.0
    # Before the log its first 24 hours are repeated: three hours before the start a day earlier is -3 K.
    assert float(weather.temperature_at(-27 * HOUR)) == pytest.approx(270.15)
    assert float(weather.temperature_at(-4 * HOUR)) == pytest.approx(273.15 + 20)


def test_numbers_from_the_start_and_a_date_pattern(make_case, tmp_path) -> None:
    write(tmp_path, ["t,out", "0,-5", "6.5,3.0", "24,1"])
    assert float(from_case(make_case(WITH_HOURS)).temperature_at(3_250 * HOUR // 1000)) == pytest.approx(
        272.15
    )
    write(tmp_path, ["t,out", "15.01.2031 17h,-5", "16.01.2031 19h,21"])
    dates = WITH_HOURS.replace('unit = "h"', 'format = "%d.%m.%Y %Hh"')
    assert float(from_case(make_case(dates)).temperature_at(0)) == pytest.approx(269.15)


def test_no_sun_column_is_no_sun(make_case, tmp_path) -> None:
    write(tmp_path, ["t,out", "0,-5", "24,1"])
    assert float(from_case(make_case(WITH_HOURS)).mean_sun(0, 24 * HOUR)) == 0.0


def test_supply_series(make_case, tmp_path) -> None:
    write(tmp_path, ["minute,air", "0,20", "30,60", "1440,20"])
    heat = """
    kind = "supply series"
    file = "log.csv"
    columns = {time = {column = "minute", unit = "min"}, temperature = {column = "air", unit = "degC"}}
    """
    supply = supply_from_case(make_case(heat=heat))
    assert supply is not None
    np.testing.assert_allclose(supply.at([0, HOUR // 4, HOUR // 2]), 273.15 + np.array([20, 40, 60]))
    assert supply_from_case(make_case()) is None


def changed(line: int, text: str) -> list[str]:
    lines = hourly_log()
    lines[line - 1] = text
    return lines


def without(line: int) -> list[str]:
    lines = hourly_log()
    del lines[line - 1]
    return lines


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        (changed(6, "2031-01-15 17:00:00,0,"), 'log.csv:6: out = "": is missing; allowed: -90 to 65 degC'),
        (changed(6, "2031-01-15 17:00:00,0,nan"), 'log.csv:6: out = "nan": is not a finite number'),
        (changed(6, "2031-01-15 17:00:00,0,warm"), 'log.csv:6: out = "warm": is not a number'),
        (changed(6, "2031-01-15 17:00:00,0,281.5"), 'log.csv:6: out = "281.5": is out of range'),
        (changed(6, "2031-01-15 17:00:00,-40,32"), 'log.csv:6: sun = "-40": is out of range'),
        (changed(6, "2031-01-15 17:00:00,0"), "log.csv:6: the row has 2 cells, but 3 are needed"),
        (changed(6, "15 January,0,32"), 'log.csv:6: when = "15 January": is not an ISO date'),
        (changed(6, "2031-01-15 17:00:00+01:00,0,32"), "log.csv:6: when"),
        (changed(6, "2031-01-15 16:00:00,0,32"), "is not later than the row before"),
        (changed(6, "2031-01-15 15:00:00,0,32"), "is not later than the row before"),
        (changed(6, "1031-01-15 15:00:00,0,32"), "is not within a hundred years"),
        (
            without(20),
            "log.csv:20: when: 120 min have passed since the row before, in a table with a row every 60",
        ),
        (
            changed(2, "when,sun,outside"),
            "log.csv:2: no column is headed 'out'; allowed: 'when', 'sun', 'outside'",
        ),
        (changed(2, "when,out,out"), "log.csv:2: two columns are headed 'out'"),
        (changed(2, "when;sun;out"), "separate the columns by commas"),
        (hourly_log()[:4], "log.csv: holds fewer than two rows of values"),
        (["# nothing"], "log.csv: holds fewer than two rows of values"),
        (
            hourly_log(20),
            (
                "log.csv: holds values from 2031-01-15 15:00:00 to 2031-01-16 10:00:00, but the case "
                "runs from 2031-01-15 18:00:00 to 2031-01-16 18:00:00"
            ),
        ),
        (hourly_log(31, first=1), "holds values from 2031-01-15 19:00:00"),
    ],
)
def test_refusals_name_the_place(make_case, tmp_path, lines, message) -> None:
    write(tmp_path, lines)
    with pytest.raises(CaseError) as refusal:
        from_case(make_case(WITH_DATES))
    assert message in str(refusal.value)
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("cell", "message"),
    [
        ("noon", 'log.csv:2: t = "noon": is not a number of h from the start'),
        ("inf", "is not within a hundred years of the start"),
        ("nan", "is not within a hundred years of the start"),
    ],
)
def test_refused_times_from_the_start(make_case, tmp_path, cell, message) -> None:
    write(tmp_path, ["t,out", f"{cell},-5", "24,1"])
    with pytest.raises(CaseError) as refusal:
        from_case(make_case(WITH_HOURS))
    assert message in str(refusal.value)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "log.csv: the file is empty"),
        (b"when,sun,out\n\xff\xfe", "log.csv: is not a text file in UTF-8"),
        (b'when,sun,out\n"' + b"x" * 200_000, "log.csv:2: is not a table of comma-separated values"),
    ],
)
def test_files_that_are_no_tables(make_case, tmp_path, content, message) -> None:
    (tmp_path / "log.csv").write_bytes(content)
    with pytest.raises(CaseError) as refusal:
        from_case(make_case(WITH_DATES))
    assert message in str(refusal.value)


def test_file_that_vanished(make_case, tmp_path) -> None:
    write(tmp_path, hourly_log())
    case = make_case(WITH_DATES)
    (tmp_path / "log.csv").unlink()
    with pytest.raises(CaseError, match=r"log\.csv: no such file"):
        from_case(case)


def test_rows_at_chosen_times_are_no_gap(make_case, tmp_path) -> None:
    rows = [0, 1, 2, 3, 4, 5, 9, 12, 13, 14, 17, 20, 21, 23, 24]
    write(tmp_path, ["t,out", *(f"{hour},{hour}" for hour in rows)])
    assert float(from_case(make_case(WITH_HOURS)).temperature_at(7 * HOUR)) == pytest.approx(280.15)


@pytest.fixture(scope="module")
def scratch(tmp_path_factory):
    return tmp_path_factory.mktemp("text") / "log.csv"


CELL = st.one_of(
    st.integers(-200, 200).map(str),
    st.sampled_from(
        ["", "nan", "inf", "1e999", "2031-01-15", "2031-01-16 01:00Z", '"', "#", "a\0b", "\u2028", ";"]
    ),
    st.text(max_size=6),
)


@given(rows=st.lists(st.lists(CELL, max_size=4), max_size=6), unit=st.sampled_from([None, "h"]))
def test_any_text_is_read_or_explained(scratch, rows, unit) -> None:
    body = "\n".join(",".join(row) for row in [["t", "out"], *rows])
    scratch.write_bytes(body.encode("utf-8", "surrogatepass"))
    column = ValueColumn("out", 1.0, 273.15, 183.15, 338.15, "-90 to 65 degC")
    message = None
    try:
        ticks, values = read_series(scratch, "log.csv", TimeReading("t", unit=unit), [column], START)
    except CaseError as refusal:
        message = str(refusal)
    if message is not None:
        assert message.startswith("log.csv:")
    else:
        assert ticks.size == values[0].size >= 2
        assert np.all(np.diff(ticks) > 0)
        assert np.all(np.isfinite(values[0]))
