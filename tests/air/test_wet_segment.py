"""Water settling in a duct against state points of CoolProp, an integrated march and the isothermal wall."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from simulator.air.moisture_kernels import heat_of_settling, heat_share, wet_segment
from simulator.physics import moist_air_kernels as moist
from tests.examples import examples

PRESSURE = 101325.0
ZERO = 273.15
DIAMETER, FILM, FLOW, CAPACITY = 0.1, 12.0, 0.02, 1006.0
CONDUCTANCE = math.pi * DIAMETER * FILM


def segment(air, ratio, wall, length, *, ground=0.0, pipe=0.0, water=math.inf):
    """Water [kg/(m.s)], latent and sensible heat [W/m] and surface temperature [K] of one segment."""
    conductance = CONDUCTANCE / (1.0 + CONDUCTANCE * pipe)
    settling, latent, _, capacity, surface, _ = wet_segment(
        air, ratio, wall, ground, pipe, conductance, FILM, DIAMETER, length, FLOW, CAPACITY, water, PRESSURE
    )
    share = heat_share(capacity, conductance, length, ground)
    sensible = share * (air - wall - (ground + pipe) * latent)
    return settling, latent, sensible, surface, capacity


def march(air, ratio, wall, length, pieces):
    """Air and humidity leaving many segments in turn along a wall of one temperature, and the heat given."""
    heat = 0.0
    step = length / pieces
    for _ in range(pieces):
        settling, latent, sensible, _, capacity = segment(air, ratio, wall, step)
        heat += (latent + sensible) * step
        air -= sensible * step / capacity
        ratio -= settling * step / FLOW
    return air, ratio, heat


@pytest.mark.parametrize(
    ("celsius", "humidity", "wall"), [(25.0, 0.7, 12.0), (30.0, 0.9, 10.0), (18.0, 0.95, 8.0)]
)
def test_a_long_wet_wall_gives_the_difference_of_two_state_points(celsius, humidity, wall) -> None:
    # Air leaves saturated at the wall's temperature: heat is the difference of the enthalpies of CoolProp's
    # humid air less that of the water left behind.
    ratio = float(moist.ratio_at_relative_humidity(humidity, celsius + ZERO, PRESSURE))
    air, left, heat = march(celsius + ZERO, ratio, wall + ZERO, 400.0, 400)
    assert air == pytest.approx(wall + ZERO, abs=1e-3)
    real = HAPropsSI("W", "T", wall + ZERO, "P", PRESSURE, "R", 1.0)
    assert left == pytest.approx(real, rel=0.01)
    real_in = HAPropsSI("W", "T", celsius + ZERO, "P", PRESSURE, "R", humidity)
    enthalpy = HAPropsSI("H", "T", celsius + ZERO, "P", PRESSURE, "R", humidity)
    enthalpy -= HAPropsSI("H", "T", wall + ZERO, "P", PRESSURE, "R", 1.0)
    water = PropsSI("H", "T", wall + ZERO, "P", PRESSURE, "Water")
    assert heat / FLOW == pytest.approx(enthalpy - (real_in - real) * water, rel=0.01)


def test_march_converges_to_the_integrated_equations() -> None:
    # m c dT/dx = -h P (T - Tw), m dw/dx = -h_m P (w - w_wall), by scipy; coefficients of the same equations.
    start, wall, length = 299.0, 284.0, 12.0
    ratio = float(moist.ratio_at_relative_humidity(0.8, start, PRESSURE))
    full = moist.saturation_ratio(wall, PRESSURE)

    def slope(_, state):
        air, humidity = state
        through = moist.mass_transfer_coefficient(FILM, humidity, air) * math.pi * DIAMETER
        capacity = FLOW * (CAPACITY + humidity * moist.VAPOUR_HEAT_CAPACITY)
        return [-CONDUCTANCE * (air - wall) / capacity, -through * (humidity - full) / FLOW]

    exact = solve_ivp(slope, (0.0, length), [start, ratio], rtol=1e-10, atol=1e-12).y[:, -1]
    errors = []
    for pieces in (6, 12, 24):
        air, left, _ = march(start, ratio, wall, length, pieces)
        errors.append((abs(air - exact[0]), abs(left - exact[1]) / ratio))
    # The default number of stations, 24: well under the goal of 0.05 K.
    assert errors[-1][0] < 0.005
    assert errors[-1][1] < 1e-3
    assert errors[2][1] < 0.6 * errors[1][1] < 0.36 * errors[0][1]


@settings(deadline=None)
@given(
    air=st.floats(265.0, 320.0),
    humidity=st.floats(0.0, 1.0),
    wall=st.floats(265.0, 320.0),
    length=st.floats(0.01, 30.0),
    ground=st.floats(0.0, 2.0),
    pipe=st.floats(0.0, 0.2),
    water=st.floats(0.0, 1e-3),
)
def test_surface_heat_and_water_agree(air, humidity, wall, length, ground, pipe, water) -> None:
    ratio = float(moist.ratio_at_relative_humidity(humidity, air, PRESSURE))
    settling, latent, sensible, surface, _ = segment(
        air, ratio, wall, length, ground=ground, pipe=pipe, water=water
    )
    # Everything passes pipe and ground: the surface stands above the resting ground by its heat.
    if settling != 0.0:
        assert surface == pytest.approx(wall + (ground + pipe) * (latent + sensible), abs=1e-6)
        assert latent == pytest.approx(settling * heat_of_settling(air, surface), rel=1e-9, abs=1e-9)
    # No more dries than is there, no more settles than brings the air to saturation at the surface.
    assert settling >= -water * (1.0 + 1e-12)
    left = ratio - settling * length / FLOW
    full = moist.saturation_ratio(surface, PRESSURE)
    assert min(ratio, full) - 1e-9 <= left <= max(ratio, full) + 1e-9


def test_heat_of_settling_is_the_difference_of_enthalpies() -> None:
    # By the enthalpies of moist air, exactly; by the steam tables within 1 %.
    air, surface = 298.15, 285.15
    vapour = PropsSI("H", "T", air, "Q", 1, "Water")
    water = PropsSI("H", "T", surface, "Q", 0, "Water")
    assert heat_of_settling(air, surface) == pytest.approx(vapour - water, rel=0.006)


def test_dry_wall_and_dry_air_do_nothing() -> None:
    settling, latent, _, surface, _ = segment(300.0, 0.002, 295.0, 1.0, ground=0.5, water=0.0)
    assert (settling, latent) == (0.0, 0.0)
    assert 295.0 < surface < 300.0


def test_drying_cools_the_wall_below_the_dry_one() -> None:
    _, _, _, dry, _ = segment(300.0, 0.004, 293.0, 1.0, ground=0.5, water=0.0)
    settling, _, _, wet, _ = segment(300.0, 0.004, 293.0, 1.0, ground=0.5, water=1.0)
    assert settling < 0.0
    assert wet < dry - 0.1


@pytest.mark.parametrize("air", [200.0, 273.15, 330.0, 360.0, 420.0])
@pytest.mark.parametrize("wall", [230.0, 290.0, 372.0, 420.0])
def test_absurd_walls_stay_finite(air, wall) -> None:
    found = np.array(segment(air, 0.02, wall, 1.0, ground=1.0, pipe=0.1, water=1e-3))
    assert np.all(np.isfinite(found))


@settings(max_examples=examples(300))
@given(
    air=st.floats(270.0, 400.0),
    ratio=st.floats(1e-3, 2.0),
    wall=st.floats(260.0, 385.0),
    ground=st.floats(1e-3, 2.0),
    water=st.sampled_from([0.0, 1e-5, 1e-3, 0.1]),
)
def test_the_surface_found_is_a_solution_also_at_the_edge_of_drying_out(
    air, ratio, wall, ground, water
) -> None:
    _, latent, sensible, surface, _ = segment(air, ratio, wall, 1.0, ground=ground, pipe=0.05, water=water)
    assert surface == pytest.approx(wall + (ground + 0.05) * (latent + sensible), abs=1e-6)
