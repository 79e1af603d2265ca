"""Surface films, radiation between walls, and resistances in series."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.physics import air

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

STEFAN_BOLTZMANN = 5.670374419e-8
"""Stefan-Boltzmann constant [W/(m2.K4)], CODATA 2018."""
GRAVITY = 9.80665
"""Standard gravity [m/s2]."""
STILL_NUSSELT = 5.783185962946784
"""Square of the first zero of the Bessel function J0 [-]; see `still_air_film`."""


def still_air_film(
    temperature: ArrayLike,
    diameter: ArrayLike,
    temperature_difference: ArrayLike = 1.0,
    pressure: ArrayLike = 101325.0,
) -> NDArray[np.float64]:
    """Film coefficient between the wall of a round duct and the still air in it, fan off.

    The larger of two limits, both for the difference between the wall and the mean air temperature:

    - conduction alone: the slowest mode of a cylinder of resting gas dies away as if Nu = j0^2 = 5.783, with
      j0 the first zero of J0 (Carslaw and Jaeger, Conduction of Heat in Solids, 1959, section 7.6);
    - free convection inside a horizontal cylinder: Nu = 0.55 Ra^(1/4), Ra on the diameter (L. B. Evans and
      N. E. Stefany, Chemical Engineering Progress Symposium Series 62, no. 64 (1966) 209-215; relation from
      memory, the paper was not seen).

    Radiation is no part of it: dry air takes up none. Use `still_duct_conductivity` for what crosses the duct
    from wall to wall.

    Parameters
    ----------
    temperature : (...) array_like [K]
        Mean of wall and air.
    diameter : (...) array_like [m]
    temperature_difference : (...) array_like [K]
        Between wall and air; the sign does not matter.
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [W/(m2.K)]
    """
    kelvin = np.asarray(temperature, dtype=np.float64)
    bore = np.asarray(diameter, dtype=np.float64)
    kinematic = air.viscosity(kelvin) / air.density(kelvin, pressure)
    drive = GRAVITY / kelvin * np.abs(np.asarray(temperature_difference, dtype=np.float64))
    rayleigh = drive * bore**3 * air.prandtl(kelvin) / kinematic**2
    nusselt = np.maximum(STILL_NUSSELT, 0.55 * rayleigh**0.25)
    return np.asarray(nusselt * air.conductivity(kelvin) / bore)


def radiation_coefficient(temperature: ArrayLike, emissivity: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Linearised radiation coefficient, 4 emissivity sigma T^3.

    Parameters
    ----------
    temperature : (...) array_like [K]
        Mean of the two radiating temperatures.
    emissivity : (...) array_like [-]
        Of the surface against black surroundings, or the effective one of a pair (`pair_emissivity`).

    Returns
    -------
    (...) float [W/(m2.K)]
    """
    kelvin = np.asarray(temperature, dtype=np.float64)
    return np.asarray(4.0 * STEFAN_BOLTZMANN * np.asarray(emissivity, dtype=np.float64) * kelvin**3)


def pair_emissivity(first: ArrayLike, second: ArrayLike, area_ratio: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Effective emissivity of two grey surfaces of which the first sees only the second.

    1 / (1/e1 + (A1/A2) (1/e2 - 1)), on the area of the first (Incropera and others, Fundamentals of Heat and
    Mass Transfer, two-surface enclosures).

    Parameters
    ----------
    first, second : (...) array_like [-]
        Emissivities, above 0 and up to 1.
    area_ratio : (...) array_like [-]
        Area of the first over area of the second: 1 for parallel planes, 0 for large surroundings.

    Returns
    -------
    (...) float [-]
    """
    e1 = np.asarray(first, dtype=np.float64)
    e2 = np.asarray(second, dtype=np.float64)
    return np.asarray(1.0 / (1.0 / e1 + np.asarray(area_ratio, dtype=np.float64) * (1.0 / e2 - 1.0)))


def still_duct_conductivity(
    temperature: ArrayLike, diameter: ArrayLike, emissivity: ArrayLike = 0.9
) -> NDArray[np.float64]:
    """Conductivity of the solid rod that would carry as much heat across a round duct with still air.

    Radiation between the walls of a grey cylinder whose wall temperature varies as cos(angle) (exact: of what
    such a wall sends out, minus one third comes back, so the net flux is 4 e / (4 - e) of that between black
    planes), plus conduction of the air. For a rod in the same temperature field the flux is k / radius times
    the wall's amplitude. Free convection across the duct is left out.

    Parameters
    ----------
    temperature : (...) array_like [K]
    diameter : (...) array_like [m]
    emissivity : (...) array_like [-]
        Of the wall, above 0 and up to 1.

    Returns
    -------
    (...) float [W/(m.K)]
    """
    grey = np.asarray(emissivity, dtype=np.float64)
    radius = 0.5 * np.asarray(diameter, dtype=np.float64)
    exchange = radiation_coefficient(temperature) * 4.0 * grey / (4.0 - grey)
    return np.asarray(exchange * radius + air.conductivity(temperature))


def pipe_wall_resistance(
    diameter: ArrayLike, wall_thickness: ArrayLike, wall_conductivity: ArrayLike
) -> NDArray[np.float64]:
    """Resistance of a pipe wall, referred to its inside surface: D/(2k) ln((D + 2s)/D).

    Parameters
    ----------
    diameter : (...) array_like [m]
        Inside.
    wall_thickness : (...) array_like [m]
    wall_conductivity : (...) array_like [W/(m.K)]

    Returns
    -------
    (...) float [m2.K/W]
    """
    bore = np.asarray(diameter, dtype=np.float64)
    growth = np.log1p(2.0 * np.asarray(wall_thickness, dtype=np.float64) / bore)
    return np.asarray(0.5 * bore / np.asarray(wall_conductivity, dtype=np.float64) * growth)


def in_series(film: ArrayLike, *resistances: ArrayLike) -> NDArray[np.float64]:
    """Conductance of a film with resistances behind it, all on the same area: 1 / (1/h + sum of R).

    Parameters
    ----------
    film : (...) array_like [W/(m2.K)]
        0 gives 0: no film carries no heat.
    *resistances : (...) array_like [m2.K/W]

    Returns
    -------
    (...) float [W/(m2.K)]

    Raises
    ------
    ValueError
        For a negative film or resistance.
    """
    h = np.asarray(film, dtype=np.float64)
    behind = sum((np.asarray(each, dtype=np.float64) for each in resistances), np.zeros(()))
    if np.any(h < 0.0) or any(np.any(np.asarray(each) < 0.0) for each in resistances):
        message = "films and resistances must be 0 or more"
        raise ValueError(message)
    # Written without 1/h, so that a missing film needs no special case.
    return np.asarray(h / (1.0 + h * behind))


def floor_output(temperature_difference: ArrayLike) -> NDArray[np.float64]:
    """Heat given by a warm floor to the room, 8.92 (floor - room)^1.1, radiation included (EN 1264-2).

    The exponent is kept for a floor colder than the room, with the sign turned round.

    Parameters
    ----------
    temperature_difference : (...) array_like [K]
        Mean floor surface less room.

    Returns
    -------
    (...) float [W/m2]
    """
    difference = np.asarray(temperature_difference, dtype=np.float64)
    return np.asarray(np.sign(difference) * 8.92 * np.abs(difference) ** 1.1)
