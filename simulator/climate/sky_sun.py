"""Where the sun stands over a case and what comes from it: direct, diffuse and global.

Position, extraterrestrial and clear-sky sun and the splitting of global sun come from pvlib, for cells
of some minutes with the sun where it stands in their middle.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.schema_site import ConstantWeather, CsvWeather
from simulator.case.timetable import TICKS_PER_SECOND
from simulator.climate.cells import end_of
from simulator.climate.tmy3_file import Place
from simulator.climate.weather import since_midnight
from simulator.errors import CaseError
from simulator.physics import air

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.climate.weather import Weather

    Values = NDArray[np.float64]

MEAN_TEMPERATURE, EARTH_LAG, REFRACTION = 12.0, 67.0, 0.5667
"""For the bending of the light [degC]; terrestrial less universal time [s]; refraction at sunrise
[degrees]."""
MOST_BEAM = 1200.0
"""Largest direct sun taken from an hour in which the sun rises or sets [W/m2]."""
AEROSOL, WATER = 0.1, 1.0
"""Of a clear sky: optical depth of dust at 700 nm [-] and water above [cm], pvlib's defaults."""


@dataclass(frozen=True, eq=False)
class SkySun:
    """Sun at n moments: (n,) arrays.

    Attributes
    ----------
    height, east, north : float [-]
        Unit vector to the sun.
    beam, diffuse, whole : float [W/m2]
        Direct on a surface facing the sun; diffuse and global on the horizontal.
    beyond : float [W/m2]
        Direct sun outside the atmosphere.
    """

    height: Values
    east: Values
    north: Values
    beam: Values
    diffuse: Values
    whole: Values
    beyond: Values


def place_of(case: Case, weather: Weather) -> Place | None:
    """Return where the house stands: as the site says, else as the weather file says; None if neither does.

    A missing time zone is that of the longitude; a missing longitude lies in the middle of the time zone, or
    where the clock shows the sun's time.
    """
    site, measured = case.site, weather.place
    if site.latitude is None:
        return measured
    longitude, zone = site.longitude, site.time_zone
    if measured is not None and longitude is None and zone is None:
        longitude, zone = measured.longitude, measured.time_zone
    if longitude is None:
        longitude = 15.0 * zone if zone is not None else 0.0
    if zone is None:
        zone = round(longitude / 15.0)
    return Place(site.latitude, longitude, float(zone))


def sky_sun(case: Case, weather: Weather, edges: NDArray[np.int64]) -> SkySun:
    """Return the sun in the middle of the cells between (n + 1,) `edges` [ticks].

    Measured global sun is split by D. G. Erbs and others (1982) unless direct and diffuse are measured too;
    means over hours are laid out within each as the height of the sun. A table without any sun has that of a
    clear sky, dimmed by known clouds as 1 - 0.75 cloud^3.4 (F. Kasten and G. Czeplak, Solar Energy 24 (1980)
    177-189).
    """
    place = place_of(case, weather)
    known = not (isinstance(case.weather, CsvWeather) and _sunless(case.weather))
    whole = weather.mean_sun(edges[:-1], np.minimum(edges[1:], end_of(case)))
    if place is None or isinstance(case.weather, ConstantWeather):
        sunny = weather.beam is not None or bool(np.any(whole > 0.0))
        if sunny and not isinstance(case.weather, ConstantWeather):
            raise CaseError(
                "is missing: the sun on the house's surfaces depends on it",
                key="site.latitude",
                fix='for example latitude = "52 deg", longitude = "5 deg"',
            )
        return _spread_evenly(whole)
    above = _position(case, place, edges)
    height = np.cos(above.zenith)
    beside = np.sin(above.zenith)
    if known:
        beam, diffuse, whole = _measured(case, weather, edges, above)
    else:
        beam, diffuse, whole = _cloudless(case, weather, edges, above)
    east, north = beside * np.sin(above.azimuth), beside * np.cos(above.azimuth)
    return SkySun(height, east, north, beam, diffuse, whole, above.beyond)


@dataclass(frozen=True, eq=False)
class _Position:
    """Apparent zenith and azimuth [rad], sun outside the atmosphere [W/m2], day of the year: (n,)."""

    zenith: Values
    azimuth: Values
    beyond: Values
    day: NDArray[np.int64]


def _sunless(weather: CsvWeather) -> bool:
    return weather.columns.sun is None and weather.columns.beam is None


def _spread_evenly(whole: Values) -> SkySun:
    """Return sun that comes evenly from the whole sky: where it never changes, no position would fit it."""
    nothing = np.zeros_like(whole)
    return SkySun(nothing + 1.0, nothing, nothing, nothing, whole, whole, nothing + 1361.0)


def _position(case: Case, place: Place, edges: NDArray[np.int64]) -> _Position:
    """Return where the sun stands in the middle of the cells."""
    from pvlib import irradiance, spa

    middle = (edges[:-1] + edges[1:]) // 2
    epoch = (case.site.start - dt.datetime(1970, 1, 1)).total_seconds()
    seconds = epoch + middle / TICKS_PER_SECOND
    pressure = float(air.pressure_at(case.site.elevation)) / 100.0
    found = spa.solar_position(
        seconds - 3600.0 * place.time_zone, place.latitude, place.longitude, case.site.elevation, pressure,
        MEAN_TEMPERATURE, EARTH_LAG, REFRACTION,
    )  # fmt: skip
    days = np.floor(seconds / 86400.0).astype("int64").astype("datetime64[D]")
    day = (days - days.astype("datetime64[Y]")).astype("int64") + 1
    beyond = np.asarray(irradiance.get_extra_radiation(day))
    return _Position(np.radians(found[0]), np.radians(found[4]), beyond, day)


def _measured(
    case: Case, weather: Weather, edges: NDArray[np.int64], above: _Position
) -> tuple[Values, Values, Values]:
    """Return direct, diffuse and global sun as measured."""
    begin, end = edges[:-1], np.minimum(edges[1:], end_of(case))
    up = np.maximum(np.cos(above.zenith), 0.0)
    risen = up > 0.0
    groups = None
    if weather.sun_interval:
        # Cells begin a whole number of them after midnight, and divide the hour.
        hours = (begin + since_midnight(case.site.start)) // weather.sun_interval
        groups = hours - hours[0]
    if weather.beam is not None and weather.diffuse is not None:
        beam = np.minimum(
            _laid_out(weather.beam.mean(begin, end), risen.astype(np.float64), groups), MOST_BEAM
        )
        diffuse = _laid_out(weather.diffuse.mean(begin, end), up, groups)
        return np.where(risen, beam, 0.0), diffuse, beam * up + diffuse
    whole = _laid_out(weather.mean_sun(begin, end), up, groups)
    return *_split(whole, above), whole


def _laid_out(means: Values, shape: Values, groups: NDArray[np.int64] | None) -> Values:
    """Give the cells of each group the shape, keeping the group's mean; a group without shape stays even."""
    if groups is None:
        return means
    middle = (np.bincount(groups, shape) / np.bincount(groups))[groups]
    enough = middle > 1e-3
    return np.where(enough, means * shape / np.where(enough, middle, 1.0), means)


def _split(whole: Values, above: _Position) -> tuple[Values, Values]:
    """Split global sun into direct and diffuse by Erbs and others; near the horizon it is all diffuse."""
    from pvlib import irradiance

    parts = irradiance.erbs(whole, np.degrees(above.zenith), above.day)
    return np.asarray(parts["dni"]), np.asarray(parts["dhi"])


def _cloudless(
    case: Case, weather: Weather, edges: NDArray[np.int64], above: _Position
) -> tuple[Values, Values, Values]:
    """Return direct, diffuse and global sun of a clear sky, dimmed by clouds where they are known."""
    from pvlib import clearsky

    pressure = float(air.pressure_at(case.site.elevation))
    clear = clearsky.simplified_solis(90.0 - np.degrees(above.zenith), AEROSOL, WATER, pressure, above.beyond)
    if weather.cloud is None:
        return clear["dni"], clear["dhi"], clear["ghi"]
    clouds = weather.cloud.mean(edges[:-1], np.minimum(edges[1:], end_of(case)))
    whole = clear["ghi"] * (1.0 - 0.75 * clouds**3.4)
    return *_split(whole, above), whole
