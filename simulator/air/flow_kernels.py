"""Mass flow, heat capacity and fan power, as compiled scalar functions."""

from __future__ import annotations

import math

from simulator.kernel import kernel
from simulator.physics.air_kernels import density as dry_air_density
from simulator.physics.air_kernels import heat_capacity as dry_air_heat_capacity
from simulator.physics.air_kernels import within_fit


@kernel
def total_mass_flow(
    share: float,
    intake: float,
    volume_flow: float,
    off_volume_flow: float,
    mass_flow: float,
    off_mass_flow: float,
    density: float,
    pressure: float,
) -> float:
    """Mass flow of all ducts [kg/s] at a share of full flow.

    Given flows by mass are used as they are; flows by volume [m3/s] are taken at the density of the intake
    air at `intake` [K] and `pressure` [Pa]. NaN marks what is not given; `density` [kg/m3] pins it.
    """
    if not math.isnan(mass_flow):
        return mass_flow * share if share > 0.0 else off_mass_flow
    value = dry_air_density(within_fit(intake), pressure) if math.isnan(density) else density
    return value * (volume_flow * share if share > 0.0 else off_volume_flow)


@kernel
def air_heat_capacity(temperature: float, pinned: float) -> float:
    """Heat capacity of the air [J/(kg.K)] at `temperature` [K], or the pinned one."""
    return dry_air_heat_capacity(within_fit(temperature)) if math.isnan(pinned) else pinned


@kernel
def fan_power(share: float, full: float) -> float:
    """Electric power [W] at a share of full speed: the cube law of fans."""
    return full * share * share * share
