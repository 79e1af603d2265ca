"""Sky, humidity and wind as the weather gives them, and what is assumed where it does not."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import psychrolib
import pvlib
import pytest
from pvlib import iotools

from simulator.case.schema_moisture import Moisture
from simulator.climate.cells import cells
from simulator.climate.sky import surroundings
from simulator.climate.weather import from_case
from simulator.errors import CaseError

HOUR = 3_600_000
FULL_YEAR = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
TMY3 = 'kind = "tmy3"\nfile = "site.csv"'
TIME = 'time = {column = "time", format = "%Y-%m-%d %H:%M"}'
COLUMNS = f'columns = {{{TIME}, temperature = {{column = "air", unit = "degC"}}'


@pytest.fixture
def year(tmp_path) -> Path:
    return Path(shutil.copy(FULL_YEAR, tmp_path / "site.csv"))


@pytest.fixture
def housed(make_case):
    """Build a case whose weather is read as for a house."""

    def make(weather: str = TMY3, **more):
        case = make_case(weather, **more)
        return case.model_copy(update={"room": case.room.model_copy(update={"kind": "house"})})

    return make


@pytest.mark.usefixtures("year")
def test_columns_of_the_hourly_format_as_pvlib_reads_them(housed) -> None:
    weather = from_case(housed(start=dt.datetime(2031, 6, 1), duration="20 days"))
    table = iotools.read_tmy3(FULL_YEAR, map_variables=True)[0]
    first = int(np.flatnonzero((table.index.month == 6) & (table.index.day == 1))[1])
    hours = np.arange(1, 481) * HOUR
    at_hour = {"relative_humidity": (weather.humidity, 100.0), "wind_speed": (weather.wind, 1.0)}
    at_hour["TotCld (tenths)"] = (weather.cloud, 10.0)
    for name, (series, factor) in at_hour.items():
        np.testing.assert_allclose(
            factor * series.at(hours[:-1]), table[name].to_numpy()[first : first + 479]
        )
    for name, series in (("dni", weather.beam), ("dhi", weather.diffuse)):
        known = table[name].to_numpy()[first : first + 480]
        np.testing.assert_allclose(series.mean(hours - HOUR, hours), known, atol=1e-9)
    assert weather.sun_interval == HOUR


@pytest.mark.usefixtures("year")
def test_dew_point_beside_the_file_s_own(housed) -> None:
    # The file holds dew points measured and rounded apart from the humidity: psychrolib from ours, within 1
    # K.
    case = housed(start=dt.datetime(2031, 6, 1), duration="20 days")
    found = surroundings(case, from_case(case), np.arange(0, 481) * HOUR)
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew = [
        psychrolib.GetTDewPointFromHumRatio(t - 273.15, w, 101325.0)
        for t, w in zip(found.temperature, found.ratio, strict=True)
    ]
    table = iotools.read_tmy3(FULL_YEAR, map_variables=True)[0]
    first = int(np.flatnonzero((table.index.month == 6) & (table.index.day == 1))[1])
    known = table["temp_dew"].to_numpy()
    middle = 0.5 * (known[first - 1 : first + 479] + known[first : first + 480])
    assert np.abs(np.array(dew) - middle).mean() < 0.5
    np.testing.assert_array_less(found.sky, found.temperature)


def test_other_rooms_do_not_mind_gaps_in_further_columns(make_case, housed, year) -> None:
    lines = year.read_text().splitlines()
    headings = lines[1].split(",")
    cells_of_row = lines[100].split(",")
    cells_of_row[headings.index("Wspd (m/s)")] = "-9900"
    lines[100] = ",".join(cells_of_row)
    year.write_text("\n".join(lines))
    assert from_case(make_case(TMY3)).wind is None
    with pytest.raises(CaseError, match="missing value") as caught:
        from_case(housed())
    assert caught.value.key == "Wspd (m/s)"
    assert caught.value.line == 101


def test_columns_that_the_file_lacks_are_assumed(housed, year) -> None:
    lines = year.read_text().splitlines()
    lines[1] = lines[1].replace("TotCld (tenths)", "other").replace("RHum (%)", "another")
    lines[1] = lines[1].replace("DHI (W/m^2)", "third")
    year.write_text("\n".join(lines))
    weather = from_case(housed())
    assert weather.cloud is weather.humidity is weather.beam is weather.diffuse is None
    assert weather.wind is not None


def test_line_1_without_numbers_gives_no_place(housed, year) -> None:
    lines = year.read_text().splitlines()
    lines[0] = '703165,"SAND POINT",AK,?,?,?,7'
    year.write_text("\n".join(lines))
    assert from_case(housed()).place is None


def test_columns_of_a_table(tmp_path, make_case) -> None:
    rows = ["2031-01-15 18:00,2,60,4,36,100,-3,20", "2031-01-16 18:00,2,101,8,72,0,500,40"]
    (tmp_path / "sky.csv").write_text("\n".join(["time,air,damp,cover,gust,sun,beam,spread", *rows]))
    more = ', sun = {column = "sun"}, beam = {column = "beam"}, diffuse = {column = "spread"}'
    more += ', humidity = {column = "damp"}, cloud = {column = "cover", unit = "eighths"}'
    more += ', wind = {column = "gust", unit = "km/h"}}'
    weather = from_case(make_case(f'kind = "csv"\nfile = "sky.csv"\n{COLUMNS}{more}'))
    middle = [12 * HOUR]
    # 60 % and, held, 100 %; 4/8 and 8/8; 36 and 72 km/h are 10 and 20 m/s; 0 and 500 W/m2.
    assert float(weather.humidity.at(middle)[0]) == pytest.approx(0.8)
    assert float(weather.cloud.at(middle)[0]) == pytest.approx(0.75)
    assert float(weather.wind.at(middle)[0]) == pytest.approx(15.0)
    assert float(weather.beam.at(middle)[0]) == pytest.approx(250.0)
    assert float(weather.diffuse.at(middle)[0]) == pytest.approx(30.0)
    assert weather.sun_interval == 0


@pytest.mark.parametrize(
    ("heading", "value", "words"),
    [("damp", "150", "out of range"), ("cover", "9", "out of range"), ("gust", "-1", "out of range")],
)
def test_a_value_out_of_range_is_refused(tmp_path, make_case, heading, value, words) -> None:
    cells_of_row = {"damp": "60", "cover": "4", "gust": "3", heading: value}
    rows = [f"2031-01-{day} 18:00,2,{','.join(cells_of_row.values())}" for day in (15, 16)]
    (tmp_path / "sky.csv").write_text("\n".join(["time,air,damp,cover,gust", *rows]))
    more = ', humidity = {column = "damp"}, cloud = {column = "cover", unit = "eighths"}'
    more += ', wind = {column = "gust"}}'
    with pytest.raises(CaseError, match=words) as caught:
        from_case(make_case(f'kind = "csv"\nfile = "sky.csv"\n{COLUMNS}{more}'))
    assert (caught.value.key, caught.value.line) == (heading, 2)


def test_what_is_assumed(make_case) -> None:
    case = make_case('kind = "constant"\ntemperature = "10 degC"')
    psychrolib.SetUnitSystem(psychrolib.SI)

    def around(case):
        return surroundings(case, from_case(case), cells(case))

    # Clear, 3 m/s, 80 %; with [moisture] its outside humidity.
    assert around(case).wind[0] == 3.0
    assert around(case).ratio[0] == pytest.approx(
        psychrolib.GetHumRatioFromRelHum(10.0, 0.8, 101325.0), rel=1e-3
    )
    damp = case.model_copy(update={"moisture": Moisture(room_humidity=0.5, outside_humidity=0.4)})
    assert around(damp).ratio[0] == pytest.approx(
        psychrolib.GetHumRatioFromRelHum(10.0, 0.4, 101325.0), rel=1e-3
    )
    grey = make_case('kind = "constant"\ntemperature = "10 degC"\ncloud = 1.0\nwind = "2 m/s"')
    assert around(grey).wind[0] == 2.0
    # Clear skies of damp 10 degC are 15 to 20 K under the air, overcast ones a few (common practice, no
    # source).
    assert 12.0 < 283.15 - around(case).sky.mean() < 22.0
    assert 2.0 < 283.15 - around(grey).sky.mean() < 6.0
