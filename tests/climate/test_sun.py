"""Sun on surfaces against pvlib's own chain of calls, and energy kept on the way from hours to minutes."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from pvlib import iotools, irradiance

from simulator.case.schema_house import Surface
from simulator.climate.cells import CellMeans, cells
from simulator.climate.sky_sun import place_of, sky_sun
from simulator.climate.sun import on_surface, sun_on_surfaces
from simulator.climate.tmy3_file import Place
from simulator.climate.weather import from_case
from simulator.errors import CaseError
from simulator.physics.glazing import angle_factor, diffuse_factor

HOUR = 3_600_000
FULL_YEAR = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
START = dt.datetime(2031, 3, 20, 0)
DUTCH = "latitude = 52.0\nlongitude = 5.0\ntime_zone = 1"
BERLIN = pvlib.location.Location(52.0, 5.0, altitude=0.0)
TIME = 'time = {column = "time", format = "%Y-%m-%d %H:%M"}'
COLUMNS = f'columns = {{{TIME}, temperature = {{column = "air", unit = "degC"}}'
TMY3 = 'kind = "tmy3"\nfile = "site.csv"'


def glass(**more) -> Surface:
    given = {
        "name": "roof",
        "kind": "glazing",
        "area": 1.0,
        "tilt": 35.0,
        "azimuth": 180.0,
        "resistance": 0.0,
    }
    return Surface.model_construct(**{**given, "transmittance": 0.8, "absorptance": 0.06, **more})


@pytest.fixture
def sited(make_case):
    """Build a case with a place on earth."""

    def make(weather: str, place: str = DUTCH, **more):
        more.setdefault("start", START)
        case = make_case(weather, **more)
        keys = dict(line.split(" = ") for line in place.splitlines())
        site = case.site.model_copy(update={key: float(value) for key, value in keys.items()})
        return case.model_copy(update={"site": site})

    return make


@pytest.fixture
def clear(tmp_path, sited):
    """Build a case of some days with measured sun, every five minutes, from pvlib's clear sky."""
    times = pd.date_range("2031-03-20", periods=3 * 288 + 1, freq="5min", tz="Etc/GMT-1")
    sky = BERLIN.get_clearsky(times, model="ineichen", linke_turbidity=3.0)
    table = pd.DataFrame({"time": times.strftime("%Y-%m-%d %H:%M"), "air": 5.0, "sun": sky["ghi"].to_numpy()})
    table["beam"], table["diffuse"] = sky["dni"].to_numpy(), sky["dhi"].to_numpy()
    table.to_csv(tmp_path / "sky.csv", index=False)

    def make(columns: str):
        return sited(f'kind = "csv"\nfile = "sky.csv"\n{COLUMNS}{columns}}}', duration="3 days"), sky

    return make


ALL = ', sun = {column = "sun"}, beam = {column = "beam"}, diffuse = {column = "diffuse"}'


def middles(edges: np.ndarray) -> pd.DatetimeIndex:
    middle = (edges[:-1] + edges[1:]) // 2
    return pd.DatetimeIndex(np.datetime64(START) + middle.astype("timedelta64[ms]")).tz_localize("Etc/GMT-1")


def test_position_as_pvlib_gives_it(clear) -> None:
    case, _ = clear(ALL)
    edges = cells(case)
    sun = sky_sun(case, from_case(case), edges)
    known = BERLIN.get_solarposition(middles(edges))
    azimuth = np.radians(known["azimuth"].to_numpy())
    zenith = np.radians(known["apparent_zenith"].to_numpy())
    np.testing.assert_allclose(sun.height, np.cos(zenith), atol=2e-4)
    np.testing.assert_allclose(sun.east, np.sin(zenith) * np.sin(azimuth), atol=2e-4)
    np.testing.assert_allclose(sun.north, np.sin(zenith) * np.cos(azimuth), atol=2e-4)


@pytest.mark.parametrize(("tilt", "azimuth"), [(0.0, 180.0), (35.0, 180.0), (90.0, 90.0), (90.0, 270.0)])
@pytest.mark.parametrize("split", [True, False])
def test_sun_on_a_surface_as_pvlib_gives_it(clear, tilt, azimuth, split) -> None:
    case, sky = clear(ALL if not split else ', sun = {column = "sun"}')
    edges = cells(case)
    sun = sky_sun(case, from_case(case), edges)
    direct, spread, _ = on_surface(sun, tilt, azimuth, 0.2)
    # pvlib at the middle of the same cells; the sun under 5 degrees is kept out of both.
    times = middles(edges)
    position = BERLIN.get_solarposition(times)
    columns = (sky[name].to_numpy() for name in ("ghi", "dni", "dhi"))
    ghi, dni, dhi = (0.5 * (column[:-1] + column[1:]) for column in columns)
    if split:
        parts = irradiance.erbs(ghi, position["apparent_zenith"].to_numpy(), times)
        dni, dhi = parts["dni"].to_numpy(), parts["dhi"].to_numpy()
    else:
        ghi = dni * np.cos(np.radians(position["apparent_zenith"].to_numpy())).clip(0.0) + dhi
    known = irradiance.get_total_irradiance(
        tilt, azimuth, position["apparent_zenith"], position["azimuth"], dni, ghi, dhi,
        dni_extra=irradiance.get_extra_radiation(times), albedo=0.2, model="haydavies",
    )["poa_global"].to_numpy()  # fmt: skip
    day = position["apparent_elevation"].to_numpy() > 5.0
    assert day.sum() > 300
    ours = (direct + spread)[day]
    # Every cell within 1 % of the largest; the sum within 0.3 %.
    np.testing.assert_allclose(ours, known[day], atol=0.01 * known[day].max())
    assert ours.sum() == pytest.approx(known[day].sum(), rel=0.003)


def test_what_is_let_in_and_taken_up(clear) -> None:
    case, _ = clear(ALL)
    edges, weather = cells(case), from_case(case)
    wall = glass(kind="wall", transmittance=0.0, absorptance=0.6)
    found = sun_on_surfaces(case, weather, edges, [glass(), wall], 0.2)
    direct, spread, cosine = on_surface(sky_sun(case, weather, edges), 35.0, 180.0, 0.2)
    passing = direct * angle_factor(cosine, 0.06) + spread * diffuse_factor(0.06)
    np.testing.assert_allclose(found[:, 0], 0.8 * passing)
    np.testing.assert_array_equal(found[:, 1], 0.0)
    np.testing.assert_allclose(found[:, 2], 0.06 * (direct + spread))
    np.testing.assert_allclose(found[:, 3], 0.6 * (direct + spread))


def test_five_minutes_are_fine_enough(clear) -> None:
    # Sums over every hour against cells of one minute.
    case, _ = clear(ALL)
    weather = from_case(case)
    coarse = cells(case)
    fine = np.arange(coarse[0], coarse[-1] + 1, 60_000)
    sums = []
    for edges in (coarse, fine):
        let_in = sun_on_surfaces(case, weather, edges, [glass()], 0.2)[:, 0]
        sums.append(let_in.reshape(72, -1).mean(axis=1))
    assert sums[0] == pytest.approx(sums[1], abs=0.01 * sums[1].max())
    assert sums[0].sum() == pytest.approx(sums[1].sum(), rel=1e-3)


@pytest.fixture
def year(tmp_path) -> None:
    shutil.copy(FULL_YEAR, tmp_path / "site.csv")


@pytest.fixture
def housed(make_case):
    """Build a case with hourly weather whose further columns are read, as for a house."""

    def make(**more):
        case = make_case(TMY3, **more)
        return case.model_copy(update={"room": case.room.model_copy(update={"kind": "house"})})

    return make


@pytest.mark.usefixtures("year")
def test_hours_keep_their_sun(housed) -> None:
    case = housed(start=dt.datetime(2031, 6, 1), duration="20 days")
    edges, weather = cells(case), from_case(case)
    sun = sky_sun(case, weather, edges)
    table = iotools.read_tmy3(FULL_YEAR, map_variables=True)[0]
    first = int(np.flatnonzero((table.index.month == 6) & (table.index.day == 1))[1])
    for ours, name in ((sun.diffuse, "dhi"), (sun.beam, "dni")):
        hourly = ours.reshape(-1, 12).mean(axis=1)
        np.testing.assert_allclose(hourly, table[name].to_numpy()[first : first + 480], atol=1.0)
    # The table's global sun was modelled and rounded apart: sums within 3 %.
    assert sun.whole.mean() == pytest.approx(table["ghi"].to_numpy()[first : first + 480].mean(), rel=0.03)
    assert np.all(sun.beam[sun.height < 0.0] == 0.0)


@pytest.mark.usefixtures("year")
def test_place_of_the_weather_file(housed) -> None:
    case = housed()
    weather = from_case(case)
    assert place_of(case, weather) == Place(55.317, -160.517, -9.0)
    site = case.site.model_copy(update={"latitude": 40.0})
    elsewhere = case.model_copy(update={"site": site})
    assert place_of(elsewhere, weather) == Place(40.0, -160.517, -9.0)


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (DUTCH, Place(52.0, 5.0, 1.0)),
        ("latitude = -34.0\nlongitude = 151.0", Place(-34.0, 151.0, 10.0)),
        ("latitude = 40.0\ntime_zone = -7", Place(40.0, -105.0, -7.0)),
        ("latitude = 40.0", Place(40.0, 0.0, 0.0)),
    ],
)
def test_place_of_the_site(sited, place, expected) -> None:
    case = sited('kind = "constant"\ntemperature = "0 degC"', place)
    assert place_of(case, from_case(case)) == expected


def test_sun_from_nowhere_is_refused(make_case) -> None:
    wave = 'kind = "daily wave"\nmean = "0 degC"\namplitude = "3 K"\nsun_peak = "300 W/m2"'
    case = make_case(wave)
    with pytest.raises(CaseError, match=r"latitude"):
        sky_sun(case, from_case(case), cells(case))
    # Without sun no place is needed.
    dark = make_case(wave.replace("300", "0"))
    assert not sky_sun(dark, from_case(dark), cells(dark)).whole.any()


def test_sun_that_never_changes_comes_from_everywhere(make_case) -> None:
    case = make_case('kind = "constant"\ntemperature = "0 degC"\nsun = "200 W/m2"')
    edges, weather = cells(case), from_case(case)
    roof, wall = glass(tilt=0.0), glass(tilt=90.0)
    found = sun_on_surfaces(case, weather, edges, [roof, wall], 0.2)
    # A wall sees half the sky and half the ground: 200 (0.5 + 0.2 0.5).
    np.testing.assert_allclose(found[:, 2], 0.06 * 200.0)
    np.testing.assert_allclose(found[:, 3], 0.06 * 120.0)
    np.testing.assert_allclose(found[:, 0], 0.8 * 200.0 * diffuse_factor(0.06))


def test_table_without_sun_has_a_clear_sky(clear) -> None:
    case, sky = clear("")
    edges = cells(case)
    sun = sky_sun(case, from_case(case), edges)
    # Another clear-sky model (Ineichen, turbidity 3) for the same days: within 10 %.
    assert sun.whole.mean() == pytest.approx(sky["ghi"].mean(), rel=0.1)
    np.testing.assert_allclose(
        sun.whole, sun.beam * np.maximum(sun.height, 0.0) + sun.diffuse, atol=0.02 * sun.whole.max()
    )


def test_clouds_dim_a_clear_sky(tmp_path, sited) -> None:
    rows = [f"2031-03-{day} 00:00,5,8" for day in range(20, 24)]
    (tmp_path / "grey.csv").write_text("\n".join(["time,air,cover", *rows]))
    weather = f'kind = "csv"\nfile = "grey.csv"\n{COLUMNS}'
    grey = sited(weather + ', cloud = {column = "cover", unit = "eighths"}}')
    bare = sited(weather + "}")
    parts = [sky_sun(case, from_case(case), cells(case)) for case in (grey, bare)]
    # Kasten and Czeplak (1980): an overcast sky lets a quarter through; all of it diffuse but for a few per
    # cent.
    np.testing.assert_allclose(parts[0].whole, 0.25 * parts[1].whole, atol=1e-9)
    assert (parts[0].beam * parts[0].height).sum() < 0.05 * parts[0].whole.sum()


def test_means_over_steps_of_any_length() -> None:
    edges = np.arange(-3, 5, dtype=np.int64) * 300_000
    values = np.random.default_rng(1).random((7, 2))
    means = CellMeans.over(edges, values)
    np.testing.assert_allclose(means.between(edges[:-1], edges[1:]), values, atol=1e-12)
    # A step of 2 min in one cell, and one of half a cell, a whole one and a third.
    begin = np.array([-800_000, -150_000])
    end = np.array([-680_000, 400_000])
    expected = [values[0], (0.5 * values[2] + values[3] + values[4] / 3) / (11 / 6)]
    np.testing.assert_allclose(means.between(begin, end), expected, atol=1e-12)


@pytest.mark.parametrize(("duration", "minutes"), [("30 days", 5), ("1000 days", 15), ("7000 days", 60)])
def test_cells_grow_with_the_run(make_case, duration, minutes) -> None:
    edges = cells(make_case(duration=duration, start=dt.datetime(2031, 1, 15, 18, 3), run_in="1 days"))
    np.testing.assert_array_equal(np.diff(edges), minutes * 60_000)
    assert edges[0] <= -86_400_000 < edges[1]
    assert (edges[0] + (18 * 60 + 3) * 60_000) % (minutes * 60_000) == 0
