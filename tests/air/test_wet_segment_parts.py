"""What else a wet segment tells: capacity flow, slope of the latent heat, share of humidity passed on."""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from simulator.air.moisture_kernels import heat_of_settling, heat_share, wet_segment
from simulator.physics import moist_air_kernels as moist

PRESSURE, DIAMETER, FILM, FLOW, CAPACITY = 101325.0, 0.1, 12.0, 0.02, 1006.0
CONDUCTANCE = math.pi * DIAMETER * FILM
AIR, WALL, LENGTH = 300.0, 284.0, 2.0


def segment(
    ratio: float, *, wall: float = WALL, ground: float = 0.4, pipe: float = 0.0, water: float = math.inf
):
    conductance = CONDUCTANCE / (1.0 + CONDUCTANCE * pipe)
    return wet_segment(
        AIR, ratio, wall, ground, pipe, conductance, FILM, DIAMETER, LENGTH, FLOW, CAPACITY, water, PRESSURE
    )


def passing(ratio: float) -> float:
    """exp(-NTU) of the vapour: coefficient times wall over flow, as for any stream along a wall."""
    through = moist.mass_transfer_coefficient(FILM, ratio, AIR) * math.pi * DIAMETER
    return math.exp(-through * LENGTH / FLOW)


def test_dry_segment_carries_its_vapour_along() -> None:
    # m (c_p + w c_v) with 1860 J/(kg.K) of vapour (ASHRAE Fundamentals, from memory).
    settling, latent, slope, capacity, surface, share = segment(0.008, wall=290.0, water=0.0)
    assert (settling, latent, slope, share) == (0.0, 0.0, 0.0, 1.0)
    assert capacity == pytest.approx(FLOW * (CAPACITY + 0.008 * 1860.0), rel=1e-12)
    # The surface stands above the resting ground by what passes: series of film and ground, by exp(-NTU).
    exchange = (1.0 - math.exp(-CONDUCTANCE * LENGTH / capacity)) * capacity / LENGTH
    heat = (AIR - 290.0) / (1.0 / exchange + 0.4)
    assert surface == pytest.approx(290.0 + 0.4 * heat, rel=1e-12)


def test_humidity_relaxes_to_saturation_at_the_surface() -> None:
    ratio = 0.018
    settling, _, _, capacity, surface, share = segment(ratio, pipe=0.05)
    assert share == pytest.approx(passing(ratio), rel=1e-9)
    left = moist.saturation_ratio(surface, PRESSURE) + passing(ratio) * (
        ratio - moist.saturation_ratio(surface, PRESSURE)
    )
    assert settling == pytest.approx(FLOW * (ratio - left) / LENGTH, rel=1e-9)
    # Vapour that leaves carries its heat capacity, what settles does not.
    assert capacity == pytest.approx(FLOW * CAPACITY + (FLOW * ratio - settling * LENGTH) * 1860.0, rel=1e-12)


@pytest.mark.parametrize(("ratio", "water"), [(0.018, math.inf), (0.004, math.inf), (0.004, 1e-6)])
def test_slope_of_latent_heat_by_differences(ratio: float, water: float) -> None:
    settling, latent, slope, _, surface, share = segment(ratio, pipe=0.05, water=water)
    kept = passing(ratio)

    def by_hand(kelvin: float) -> float:
        free = FLOW * (1.0 - kept) / LENGTH * (ratio - moist.saturation_ratio(kelvin, PRESSURE))
        return max(free, -water) * heat_of_settling(AIR, kelvin)

    assert latent == pytest.approx(by_hand(surface), rel=1e-9)
    assert slope == pytest.approx((by_hand(surface + 0.01) - by_hand(surface - 0.01)) / 0.02, rel=1e-4)
    limited = settling == pytest.approx(-water, rel=1e-9)
    assert share == (1.0 if limited else pytest.approx(kept))
    assert limited == (water == 1e-6)


@pytest.mark.parametrize("ratio", [0.004, 0.012, 0.03])
@pytest.mark.parametrize("ground", [0.0, 0.3, 2.0])
def test_surface_is_the_root_that_brent_finds(ratio: float, ground: float) -> None:
    settling, latent, _, _, surface, _ = segment(ratio, ground=ground, pipe=0.1)
    conductance = CONDUCTANCE / (1.0 + CONDUCTANCE * 0.1)
    total, kept = ground + 0.1, passing(ratio)

    def miss(kelvin: float) -> float:
        water = FLOW * (1.0 - kept) / LENGTH * (ratio - moist.saturation_ratio(kelvin, PRESSURE))
        capacity = FLOW * CAPACITY + (FLOW * ratio - water * LENGTH) * 1860.0
        exchange = (1.0 - math.exp(-conductance * LENGTH / capacity)) * capacity / LENGTH
        released = water * heat_of_settling(AIR, kelvin)
        # Air gives to a ground at rest + total * released, which itself yields by total per watt.
        sensible = exchange * (AIR - WALL - total * released) / (1.0 + exchange * ground)
        return WALL + total * (sensible + released) - kelvin

    assert surface == pytest.approx(brentq(miss, 270.0, 320.0, xtol=1e-11), abs=2e-8)
    assert math.copysign(1.0, settling) == math.copysign(1.0, latent)


def test_heat_share_has_its_limits() -> None:
    # A long segment takes all the air has: m c / L; a short one film and ground in series.
    assert heat_share(20.0, 5.0, 1e4, 0.0) == pytest.approx(20.0 / 1e4)
    assert heat_share(20.0, 5.0, 1e-6, 0.3) == pytest.approx(1.0 / (1.0 / 5.0 + 0.3), rel=1e-6)


def test_heat_of_settling_by_hand() -> None:
    # 2501 kJ/kg at 0 degC, vapour 1.86 and water 4.186 kJ/(kg.K) (ASHRAE Fundamentals, from memory).
    assert heat_of_settling(298.15, 283.15) == pytest.approx(2501e3 + 1860.0 * 25.0 - 4186.0 * 10.0, rel=1e-9)
