"""Mixtures of combustion gas: what they are made of, and their properties.

Ideal gas without dissociation, 250 to 1500 K for viscosity and conductivity, 250 to 3000 K for heat.
Specific heats: R. J. Kee, F. M. Rupley and J. A. Miller, The Chemkin Thermodynamic Data Base, SAND87-8215B
(1990), coefficients from memory, within 0.6 % of the real-gas equations of state. Viscosity and
conductivity of the gases: least-squares fits, within 0.9 %, to the dilute gas of the reference equations
(nitrogen, oxygen, argon: E. W. Lemmon and R. T. Jacobsen 2004; carbon dioxide: Fenghour 1998 and Huber 2016;
water: IAPWS 2008 and 2011).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.physics import flue_gas_kernels as kernels
from simulator.physics import moist_air_kernels

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

SPECIES: Final = ("nitrogen", "oxygen", "carbon dioxide", "water", "argon")
"""Order of the gases in every composition."""
MOLAR_MASSES: Final = np.array([28.0134, 31.9988, 44.0095, 18.01528, 39.948]) * 1e-3
"""Of each gas [kg/mol]."""
# Specific heat over the gas constant in rising powers of the temperature in K, up to and above 1000 K.
_LOW: Final = np.array(
    [
        [3.298677, 1.4082404e-3, -3.963222e-6, 5.641515e-9, -2.444854e-12],
        [3.212936, 1.1274864e-3, -5.75615e-7, 1.3138773e-9, -8.768554e-13],
        [2.275724, 9.922072e-3, -1.0409113e-5, 6.866686e-9, -2.11728e-12],
        [3.386842, 3.474982e-3, -6.354696e-6, 6.968581e-9, -2.506588e-12],
        [2.5, 0.0, 0.0, 0.0, 0.0],
    ]
)
_HIGH: Final = np.array(
    [
        [2.92664, 1.4879768e-3, -5.68476e-7, 1.0097038e-10, -6.753351e-15],
        [3.697578, 6.135197e-4, -1.258842e-7, 1.775281e-11, -1.136435e-15],
        [4.453623, 3.140168e-3, -1.278410e-6, 2.393996e-10, -1.669033e-14],
        [2.672145, 3.056293e-3, -8.73026e-7, 1.200996e-10, -6.391618e-15],
        [2.5, 0.0, 0.0, 0.0, 0.0],
    ]
)
# In rising powers of T / 500 K.
_VISCOSITY: Final = np.array(
    [
        [1.278351e-06, 3.344506e-05, -1.129165e-05, 2.943742e-06, -3.143144e-07],
        [8.603943e-07, 3.957322e-05, -1.287266e-05, 3.256519e-06, -3.425142e-07],
        [-1.507728e-06, 3.125362e-05, -6.861158e-06, 1.077241e-06, -6.16358e-08],
        [2.355704e-06, 6.047483e-06, 1.323845e-05, -4.958705e-06, 6.201449e-07],
        [2.646232e-07, 4.45408e-05, -1.373529e-05, 3.347929e-06, -3.452561e-07],
    ]
)
_CONDUCTIVITY: Final = np.array(
    [
        [0.0006381772, 0.04975519, -0.01485846, 0.003915591, -0.0004193242],
        [-0.0003518035, 0.05113517, -0.01257859, 0.003149793, -0.0003304876],
        [-0.00427386, 0.02890883, 0.01373592, -0.006439912, 0.0008660724],
        [0.006523694, 0.002033654, 0.0347932, -0.00843229, 0.0008459502],
        [0.0001061495, 0.03517374, -0.01096908, 0.002673233, -0.0002754282],
    ]
)


@dataclass(frozen=True, eq=False)
class FlueGas:
    """A mixture with its property polynomials, see `flue_gas_kernels`.

    Attributes
    ----------
    shares : (5,) float [-]
        By mole, in the order of `SPECIES`; they add up to 1.
    molar_mass : float [kg/mol]
    low, high, viscosity_fit, conductivity_fit : (5,) float
    """

    shares: NDArray[np.float64]
    molar_mass: float
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    viscosity_fit: NDArray[np.float64]
    conductivity_fit: NDArray[np.float64]

    @property
    def made(self) -> NDArray[np.float64]:
        """Molar mass [kg/mol], shares by mole of vapour and of carbon dioxide [-]: (3,), for the kernels."""
        dioxide = float(self.shares[SPECIES.index("carbon dioxide")])
        return np.array([self.molar_mass, self.vapour_share, dioxide])

    @property
    def vapour_share(self) -> float:
        """Share of water vapour by mole [-]."""
        return float(self.shares[SPECIES.index("water")])

    def share_in_dry_gas(self, species: str) -> float:
        """Share of a gas by mole in the gas without its vapour [-], what a gas analyser shows."""
        return float(self.shares[SPECIES.index(species)]) / (1.0 - self.vapour_share)

    def vapour_pressure(self, pressure: float = 101325.0) -> float:
        """Partial pressure of the vapour [Pa] at a total pressure [Pa]."""
        return self.vapour_share * pressure

    def dew_point(self, pressure: float = 101325.0) -> float:
        """Temperature [K] under which water settles on a wall, at a total pressure [Pa]."""
        return float(moist_air_kernels.saturation_temperature(self.vapour_pressure(pressure)))

    def density(self, temperature: ArrayLike, pressure: float = 101325.0) -> NDArray[np.float64]:
        """Density [kg/m3] at temperatures [K] and a pressure [Pa]."""
        return self._over(temperature, lambda t: kernels.gas_density(t, pressure, self.molar_mass))

    def heat_capacity(self, temperature: ArrayLike) -> NDArray[np.float64]:
        """Specific heat at constant pressure [J/(kg.K)] at temperatures [K]."""
        return self._over(temperature, lambda t: kernels.heat_capacity(t, self.low, self.high))

    def heat_from(self, reference: float, temperature: ArrayLike) -> NDArray[np.float64]:
        """Sensible heat [J/kg] of warming from one temperature [K] to others [K]."""
        return self._over(temperature, lambda t: kernels.heat_from(reference, t, self.low, self.high))

    def viscosity(self, temperature: ArrayLike) -> NDArray[np.float64]:
        """Dynamic viscosity [Pa.s] at temperatures [K]."""
        return self._over(temperature, lambda t: kernels.transport_property(t, self.viscosity_fit))

    def conductivity(self, temperature: ArrayLike) -> NDArray[np.float64]:
        """Thermal conductivity [W/(m.K)] at temperatures [K]."""
        return self._over(temperature, lambda t: kernels.transport_property(t, self.conductivity_fit))

    @staticmethod
    def _over(temperature: ArrayLike, kernel: Callable[[float], float]) -> NDArray[np.float64]:
        kelvin = np.asarray(temperature, dtype=np.float64)
        values = [kernel(float(each)) for each in kelvin.ravel()]
        return np.array(values, dtype=np.float64).reshape(kelvin.shape)


def mixture(moles: ArrayLike) -> FlueGas:
    """Make a mixture with its properties.

    Heat capacity adds up by mole. Viscosity by C. R. Wilke, J. Chemical Physics 18 (1950) 517-519, and
    conductivity by A. Wassiljewa with the same weights (E. A. Mason and S. C. Saxena, Physics of Fluids 1
    (1958) 361-369); both are then fitted over temperature.

    Parameters
    ----------
    moles : (5,) array_like
        Of each gas, in the order of `SPECIES` and any common measure.

    Returns
    -------
    FlueGas

    Raises
    ------
    ValueError
        For a negative or missing amount, or vapour alone.
    """
    amounts = np.asarray(moles, dtype=np.float64)
    if amounts.shape != (len(SPECIES),) or not np.all(amounts >= 0.0) or not np.all(np.isfinite(amounts)):
        message = f"a mixture needs {len(SPECIES)} amounts, 0 or more: {', '.join(SPECIES)}"
        raise ValueError(message)
    dry = float(np.sum(amounts) - amounts[SPECIES.index("water")])
    if dry <= 0.0:
        message = "a mixture needs some gas besides its vapour"
        raise ValueError(message)
    shares = amounts / np.sum(amounts)
    molar_mass = float(shares @ MOLAR_MASSES)
    specific = kernels.MOLAR_GAS_CONSTANT / molar_mass
    scaled = np.linspace(kernels.LOWEST_FIT, kernels.HIGHEST_FIT, 126) / 500.0
    powers = np.vander(scaled, 5, increasing=True)
    viscosities = powers @ _VISCOSITY.T
    conductivities = powers @ _CONDUCTIVITY.T
    weights = _wilke_weights(viscosities, shares)
    return FlueGas(
        shares=shares,
        molar_mass=molar_mass,
        low=specific * (shares @ _LOW),
        high=specific * (shares @ _HIGH),
        viscosity_fit=_relative_fit(powers, np.sum(shares * viscosities / weights, axis=1)),
        conductivity_fit=_relative_fit(powers, np.sum(shares * conductivities / weights, axis=1)),
    )


def _wilke_weights(viscosities: NDArray[np.float64], shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sum over j of x_j phi_ij for every temperature and gas i, (T, 5)."""
    mass_ratio = MOLAR_MASSES[:, np.newaxis] / MOLAR_MASSES[np.newaxis, :]
    ratio = np.sqrt(viscosities[:, :, np.newaxis] / viscosities[:, np.newaxis, :])
    phi = (1.0 + ratio * mass_ratio**-0.25) ** 2 / np.sqrt(8.0 * (1.0 + mass_ratio))
    return np.asarray(phi @ shares)


def _relative_fit(powers: NDArray[np.float64], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Polynomial with the smallest squared relative error."""
    return np.asarray(np.linalg.lstsq(powers / values[:, np.newaxis], np.ones(values.size), rcond=None)[0])
