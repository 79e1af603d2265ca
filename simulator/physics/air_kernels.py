"""Properties of dry air as compiled scalar functions, for use inside other kernels.

The bodies use arithmetic only, so the uncompiled function behind each of them (`py_func`) also takes arrays;
`air` hands those out. Fits hold from 200 to 900 K (-73 to 627 degC).
"""

from __future__ import annotations

from simulator.kernel import kernel

GAS_CONSTANT = 287.055
"""Gas constant of dry air [J/(kg.K)]: 8.314462 J/(mol.K) over 28.9647 g/mol."""
LOWEST_FIT, HIGHEST_FIT = 200.0, 900.0
"""Range of the fits [K]."""


@kernel
def within_fit(temperature: float) -> float:
    """Nearest temperature [K] at which the fits hold, so that an absurd case stays finite and can be told."""
    if temperature < LOWEST_FIT:
        return LOWEST_FIT
    return min(temperature, HIGHEST_FIT)


@kernel
def density(temperature: float, pressure: float) -> float:
    """Density [kg/m3] of dry air as an ideal gas from temperature [K] and pressure [Pa]."""
    return pressure / (GAS_CONSTANT * temperature)


@kernel
def pressure_at(elevation: float) -> float:
    """Mean pressure [Pa] at an elevation [m] above sea level.

    US Standard Atmosphere 1976, troposphere: 101325 (1 - L z / 288.15)^5.25588 with L = 6.5 K/km.
    """
    pressure: float = 101325.0 * (1.0 - 2.25577e-5 * elevation) ** 5.25588
    return pressure


@kernel
def heat_capacity(temperature: float) -> float:
    """Specific heat at constant pressure [J/(kg.K)] from temperature [K].

    Polynomial of P. E. Liley and T. F. Irvine, Steam and Gas Tables with Computer Equations, 1984.
    """
    t = temperature * 1e-3
    return 1034.09 + t * (-284.887 + t * (781.6818 + t * (-497.0786 + t * 107.7024)))


@kernel
def viscosity(temperature: float) -> float:
    """Dynamic viscosity [Pa.s] from temperature [K].

    Fourth-degree least-squares fit, within 0.06 %, to the dilute-gas equation of E. W. Lemmon and
    R. T. Jacobsen, Int. J. Thermophysics 25 (2004) 21-69.
    """
    t = temperature / 300.0
    return 7.380255e-09 + t * (2.370414e-05 + t * (-6.493473e-06 + t * (1.441263e-06 - t * 1.385038e-07)))


@kernel
def conductivity(temperature: float) -> float:
    """Thermal conductivity [W/(m.K)] from temperature [K].

    Fourth-degree least-squares fit, within 0.05 %, to the dilute-gas equation of E. W. Lemmon and
    R. T. Jacobsen, Int. J. Thermophysics 25 (2004) 21-69.
    """
    t = temperature / 300.0
    return -8.321587e-04 + t * (3.342833e-02 + t * (-7.815954e-03 + t * (1.736894e-03 - t * 1.665342e-04)))


@kernel
def prandtl(temperature: float) -> float:
    """Prandtl number [-] from temperature [K]: viscosity times specific heat over conductivity."""
    return viscosity(temperature) * heat_capacity(temperature) / conductivity(temperature)
