"""Burning wood: air needed, gas made, its water and its heat.

Complete burnout, no soot and no carbon monoxide; dry fuel is told by its elements, the water in it by its
moisture on the wet basis (water over wood with water).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from simulator.physics import moist_air_kernels
from simulator.physics.flue_gas import MOLAR_MASSES, SPECIES, FlueGas, mixture

CARBON, HYDROGEN, OXYGEN, NITROGEN = 12.0107e-3, 1.00794e-3, 15.9994e-3, 14.0067e-3
"""Molar masses of the elements [kg/mol]."""
WATER: Final = 18.01528e-3
"""Molar mass of water [kg/mol]."""
WATER_HEAT: Final = 2.443e6
"""Heat of vaporisation at 25 degC, the reference of heating values [J/kg]."""
AIR_SHARES: Final = np.array([0.78084, 0.20946, 0.00036, 0.0, 0.00934])
"""Dry air by mole, in the order of `flue_gas.SPECIES` (US Standard Atmosphere 1976)."""
NORMAL_MOLAR_VOLUME: Final = 22.413970e-3
"""Of an ideal gas at 0 degC and 101325 Pa [m3/mol], CODATA."""
REFERENCE: Final = 298.15
"""Temperature of heating values [K]."""


@dataclass(frozen=True)
class Fuel:
    """A solid fuel.

    Attributes
    ----------
    carbon, hydrogen, oxygen, nitrogen, ash : float [-]
        By mass in the dry fuel, adding up to 1. The usual wood without bark: 50.5 % C, 6.1 % H, 43.0 % O and
        0.4 % N of what burns, with 0.5 % ash.
    dry_heating_value : float [J/kg]
        Lower heating value of the dry fuel; 18.8 MJ/kg is the usual value for wood (18.5 broad-leaved, 19
        conifers).
    """

    carbon: float = 0.995 * 0.505
    hydrogen: float = 0.995 * 0.061
    oxygen: float = 0.995 * 0.430
    nitrogen: float = 0.995 * 0.004
    ash: float = 0.005
    dry_heating_value: float = 18.8e6

    def __post_init__(self) -> None:
        parts = (self.carbon, self.hydrogen, self.oxygen, self.nitrogen, self.ash)
        if not all(0.0 <= part <= 1.0 for part in parts) or abs(sum(parts) - 1.0) > 1e-6:
            message = f"the parts of a dry fuel must be 0 to 1 and add up to 1, got {sum(parts):g}"
            raise ValueError(message)
        if not 0.0 < self.dry_heating_value < float("inf"):
            message = f"the heating value of a fuel must be above 0, got {self.dry_heating_value:g} J/kg"
            raise ValueError(message)
        if self.oxygen_need <= 0.0:
            message = "a fuel must need oxygen to burn; more carbon or hydrogen, or less oxygen, is missing"
            raise ValueError(message)

    @property
    def oxygen_need(self) -> float:
        """Oxygen that burns one kilogram of dry fuel [mol/kg]."""
        return self.carbon / CARBON + 0.25 * self.hydrogen / HYDROGEN - 0.5 * self.oxygen / OXYGEN

    def heating_value(self, moisture: float) -> float:
        """Lower heating value of the fuel with its water [J/kg], see `lower_heating_value`."""
        return lower_heating_value(self.dry_heating_value, moisture)


@dataclass(frozen=True, eq=False)
class Burn:
    """What one kilogram of fuel with its water turns into.

    Attributes
    ----------
    gas : FlueGas
    dry_air : float [kg/kg]
        Dry combustion air for each kilogram of fuel.
    wet_gas : float [kg/kg]
        Combustion gas with its vapour.
    vapour : float [kg/kg]
        Water vapour in it.
    wet_volume : float [m3/kg]
        Of the gas at 0 degC and 101325 Pa, as if no water settled.
    heating_value : float [J/kg]
        Lower.
    """

    gas: FlueGas
    dry_air: float
    wet_gas: float
    vapour: float
    wet_volume: float
    heating_value: float


def lower_heating_value(dry: float, moisture: float) -> float:
    """Lower heating value of a fuel with water in it: dry (1 - w) - 2.443 MJ/kg w (ISO 18125).

    Parameters
    ----------
    dry : float [J/kg]
        Of the dry fuel.
    moisture : float [-]
        Wet basis, 0 up to where nothing is left.

    Returns
    -------
    float [J/kg]

    Raises
    ------
    ValueError
        For a moisture outside 0 to 1, or one so high that the fuel cannot dry itself.
    """
    if not 0.0 <= moisture < 1.0:
        message = f"moisture of a fuel must be 0 or more and under 1, got {moisture:g}"
        raise ValueError(message)
    value = dry * (1.0 - moisture) - WATER_HEAT * moisture
    if value <= 0.0:
        message = f"fuel with {100.0 * moisture:g} % moisture gives no heat"
        raise ValueError(message)
    return value


def heating_value_of_elements(fuel: Fuel) -> float:
    """Lower heating value of dry fuel from its elements.

    Higher heating value 34.91 C + 117.83 H - 10.34 O - 1.51 N - 2.11 ash MJ/kg by S. A. Channiwala and
    P. P. Parikh, Fuel 81 (2002) 1051-1063 (from memory; mean error 1.5 %), less the heat of the water made.

    Parameters
    ----------
    fuel : Fuel

    Returns
    -------
    float [J/kg]
    """
    higher = 1e6 * (
        34.91 * fuel.carbon
        + 117.83 * fuel.hydrogen
        - 10.34 * fuel.oxygen
        - 1.51 * fuel.nitrogen
        - 2.11 * fuel.ash
    )
    return higher - WATER_HEAT * fuel.hydrogen * WATER / (2.0 * HYDROGEN)


def burn(fuel: Fuel, moisture: float, excess_air: float, air_humidity: float = 0.0) -> Burn:
    """Burn a kilogram of fuel with its water.

    Parameters
    ----------
    fuel : Fuel
    moisture : float [-]
        Wet basis.
    excess_air : float [-]
        Air over the air that would just do; 1 or more.
    air_humidity : float [kg/kg]
        Humidity ratio of the combustion air.

    Returns
    -------
    Burn

    Raises
    ------
    ValueError
        For too little air, negative humidity, or a moisture out of range.
    """
    if not 1.0 <= excess_air < float("inf"):
        message = f"excess air must be 1 or more (as much air as the fuel needs), got {excess_air:g}"
        raise ValueError(message)
    if not 0.0 <= air_humidity < 1.0:
        message = f"humidity ratio of the combustion air must be 0 or more, got {air_humidity:g}"
        raise ValueError(message)
    heating_value = fuel.heating_value(moisture)
    dry = 1.0 - moisture
    need = dry * fuel.oxygen_need
    air = excess_air * need / AIR_SHARES[SPECIES.index("oxygen")]
    air_mass = float(air * (AIR_SHARES @ MOLAR_MASSES))
    moles = air * AIR_SHARES
    moles[SPECIES.index("oxygen")] -= need
    moles[SPECIES.index("carbon dioxide")] += dry * fuel.carbon / CARBON
    moles[SPECIES.index("nitrogen")] += 0.5 * dry * fuel.nitrogen / NITROGEN
    moles[SPECIES.index("water")] += (
        0.5 * dry * fuel.hydrogen / HYDROGEN + moisture / WATER + air_humidity * air_mass / WATER
    )
    # The last oxygen of a burn without excess is a difference of equal numbers.
    moles[SPECIES.index("oxygen")] = max(moles[SPECIES.index("oxygen")], 0.0)
    return Burn(
        gas=mixture(moles),
        dry_air=air_mass,
        wet_gas=float(moles @ MOLAR_MASSES),
        vapour=float(moles[SPECIES.index("water")] * WATER),
        wet_volume=float(np.sum(moles) * NORMAL_MOLAR_VOLUME),
        heating_value=heating_value,
    )


def excess_air_of_carbon_dioxide(fuel: Fuel, share: float) -> float:
    """Excess air from the carbon dioxide that an analyser shows in the dry gas.

    Parameters
    ----------
    fuel : Fuel
    share : float [-]
        By volume in the dry gas.

    Returns
    -------
    float [-]
        Air over the air that would just do.

    Raises
    ------
    ValueError
        For a share that this fuel cannot give.
    """
    carbon = fuel.carbon / CARBON
    need = fuel.oxygen_need
    air = need / AIR_SHARES[SPECIES.index("oxygen")]
    # Dry gas per kg: carbon dioxide and nitrogen of the fuel, and the air less the oxygen used.
    fixed = carbon + 0.5 * fuel.nitrogen / NITROGEN - need
    own = AIR_SHARES[SPECIES.index("carbon dioxide")]
    highest = (carbon + own * air) / (fixed + air)
    if not own < share <= highest * (1.0 + 1e-9):
        message = (
            f"this fuel gives more than {100.0 * own:.2g} and up to {100.0 * highest:.3g} % carbon dioxide "
            f"in dry gas, got {100.0 * share:g} %"
        )
        raise ValueError(message)
    excess = (carbon - share * fixed) / (air * (share - own))
    return max(float(excess), 1.0)


def flue_loss(made: Burn, gas_temperature: float, air_temperature: float) -> float:
    """Share of the lower heating value that leaves as warm gas, no water condensed.

    Parameters
    ----------
    made : Burn
    gas_temperature, air_temperature : float [K]
        Of the gas where it is measured, and of the combustion air.

    Returns
    -------
    float [-]
    """
    warmth = made.wet_gas * float(made.gas.heat_from(air_temperature, gas_temperature))
    return warmth / made.heating_value


def hottest_possible(made: Burn, air_temperature: float = REFERENCE) -> float:
    """Temperature of the gas if all heat stayed in it: no flame gets above this bound.

    Without dissociation, which takes a little off above 2000 K.

    Parameters
    ----------
    made : Burn
    air_temperature : float [K]
        Of the combustion air; the fuel enters at 25 degC.

    Returns
    -------
    float [K]
    """
    air_heat = made.dry_air * moist_air_kernels.AIR_HEAT_CAPACITY * (air_temperature - REFERENCE)
    wanted = (made.heating_value + air_heat) / made.wet_gas
    low, high = 200.0, 3500.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if float(made.gas.heat_from(REFERENCE, middle)) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
