"""Sun on tilted surfaces: what falls on a sheet of glazing or a wall, what is let in and what is taken up."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.climate.sky_sun import SkySun, sky_sun
from simulator.physics.glazing import angle_factor, diffuse_factor

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.case.schema_house import Surface
    from simulator.climate.weather import Weather

    Values = NDArray[np.float64]

LOWEST_SUN = math.cos(math.radians(85.0))
"""The brightening of the sky round the sun is not enlarged further where the sun stands lower than 5
degrees."""


def sun_on_surfaces(
    case: Case, weather: Weather, edges: NDArray[np.int64], surfaces: Sequence[Surface], ground: float
) -> Values:
    """Return the sun let in and taken up by the surfaces of a house over cells.

    Parameters
    ----------
    case : Case
    weather : Weather
    edges : (n + 1,) int [ticks]
        Of the cells, see `cells.cells`.
    surfaces : sequence of S Surface
    ground : float [-]
        Share of the sun that the ground outside throws back.

    Returns
    -------
    (n, 2 S) float [W/m2]
        Let in by each surface, then taken up by each, per area of the sheet.

    Raises
    ------
    CaseError
        When there is sun that comes from somewhere, but nothing says where the house stands.
    """
    sun = sky_sun(case, weather, edges)
    let_in, taken = [], []
    for surface in surfaces:
        direct, spread, cosine = on_surface(sun, surface.tilt, surface.azimuth, ground)
        taken.append(surface.absorptance * (direct + spread))
        if surface.kind == "glazing":
            passing = direct * angle_factor(cosine, surface.absorptance)
            passing += spread * diffuse_factor(surface.absorptance)
            let_in.append(surface.transmittance * passing)
        else:
            let_in.append(np.zeros_like(direct))
    return np.column_stack([*let_in, *taken])


def on_surface(sun: SkySun, tilt: float, azimuth: float, ground: float) -> tuple[Values, Values, Values]:
    """Sun on a tilted surface.

    Direct sun with the brightening of the sky round it, by J. E. Hay and J. A. Davies (1980); the even light
    of the rest of the sky, with what the ground throws back.

    Parameters
    ----------
    sun : SkySun
        At n moments.
    tilt, azimuth : float [degrees]
        0 lies flat; clockwise from north.
    ground : float [-]

    Returns
    -------
    direct, spread : (n,) float [W/m2]
    cosine : (n,) float [-]
        Of the angle at which the direct sun falls in; 0 or less: it comes from behind.
    """
    slope, bearing = math.radians(tilt), math.radians(azimuth)
    cosine = math.cos(slope) * sun.height
    cosine = cosine + math.sin(slope) * (math.sin(bearing) * sun.east + math.cos(bearing) * sun.north)
    facing = np.where(sun.height > 0.0, np.maximum(cosine, 0.0), 0.0)
    if not np.any(sun.whole > 0.0):
        return np.zeros_like(cosine), np.zeros_like(cosine), cosine
    from pvlib import irradiance

    parts = irradiance.haydavies(
        tilt, azimuth, sun.diffuse, sun.beam, sun.beyond,
        projection_ratio=facing / np.maximum(sun.height, LOWEST_SUN), return_components=True,
    )  # fmt: skip
    # With the ratio held, what is no longer taken as round the sun stays in the even sky.
    direct = sun.beam * facing + parts["poa_circumsolar"]
    spread = parts["poa_isotropic"] + ground * sun.whole * 0.5 * (1.0 - math.cos(slope))
    return direct, spread, cosine
