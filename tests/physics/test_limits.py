"""Formulas at the ends of their ranges and in limits that can be worked by hand."""

from __future__ import annotations

import math

import fluids
import ht
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from simulator.physics import (
    air_kernels,
    annulus_kernels,
    combustion,
    cover_kernels,
    draught,
    fan_curve,
    free_convection_kernels,
    internal_flow_kernels,
    moist_air_kernels,
)


@pytest.mark.parametrize(("inner", "shape"), [(True, 0.25**-0.5), (False, 0.25 ** (1.0 / 3.0))])
def test_entry_of_the_annulus_keeps_only_its_cube_root_at_large_prandtl(inner: bool, shape: float) -> None:
    """1.615 (1 + 0.14 s) (Re Pr D/x)^(1/3): VDI Heat Atlas G2, from memory; the rest vanishes there."""
    found = annulus_kernels.laminar_moment(1.0, 1e7, 1e12, 0.25, inner)
    assert found == pytest.approx(1.615 * (1.0 + 0.14 * shape) * 1e7 ** (1.0 / 3.0), rel=1e-4)


@pytest.mark.parametrize("prandtl", [0.7, 7.0])
def test_entry_of_the_annulus_ends_in_the_square_root_near_the_mouth(prandtl: float) -> None:
    """(2 / (1 + 22 Pr))^(1/6) (Re Pr D/x)^(1/2): VDI Heat Atlas G2, from memory; the rest is small there."""
    found = annulus_kernels.laminar_moment(1.0, 1e16, prandtl, 0.5, True)
    assert found == pytest.approx((2.0 / (1.0 + 22.0 * prandtl)) ** (1.0 / 6.0) * 1e8, rel=2e-2)


def test_narrow_annulus_enters_like_two_plates() -> None:
    """1.841 (Re Pr D/x)^(1/3) for plates: VDI Heat Atlas G2, from memory."""
    for inner in (True, False):
        found = annulus_kernels.laminar_moment(1.0, 1e7, 1e12, 1.0, inner)
        assert found == pytest.approx(1.841 * 1e7 ** (1.0 / 3.0), rel=2e-3)
    assert annulus_kernels.laminar_moment(0.0, 1e3, 0.7, 0.5, True) == 0.0


@pytest.mark.parametrize(
    ("air", "face", "cosine", "by_hand"),
    [
        # Walton's fits for rooms, from memory: 9.482 dT^(1/3)/(7.283 - |cos|) where warm air rises to the
        # surface, 1.810 dT^(1/3)/(1.382 + |cos|) where it lies still; 1.31 dT^(1/3) for a wall.
        pytest.param(293.5, 293.1, 1.0, 9.482 * 0.4 ** (1 / 3) / 6.283, id="warm under a cold roof"),
        pytest.param(293.1, 293.5, 1.0, 1.810 * 0.4 ** (1 / 3) / 2.382, id="warm under a warm roof"),
        pytest.param(303.0, 295.0, 0.5, 9.482 * 2.0 / 6.783, id="tilted, stirred"),
        pytest.param(295.0, 303.0, 0.5, 1.810 * 2.0 / 1.882, id="tilted, lying"),
        pytest.param(303.0, 295.0, 0.0, 1.31 * 2.0, id="wall"),
        pytest.param(295.0, 295.0, 0.0, 1.31 * 0.05 ** (1 / 3), id="never quite still"),
    ],
)
def test_inside_film_of_a_cover(air: float, face: float, cosine: float, by_hand: float) -> None:
    assert cover_kernels.inside_film(air, face, cosine) == pytest.approx(by_hand, rel=2e-3)


def test_outside_film_rises_with_wind() -> None:
    """4 + 4 v, ISO 6946 annex (from memory)."""
    assert [cover_kernels.outside_film(wind) for wind in (0.0, 1.0, 4.0)] == pytest.approx([4.0, 8.0, 20.0])


def test_leaf_without_air_resistance_gives_by_its_pores() -> None:
    # FAO 56 and Monteith: the flow is (w_s - w) rho / (r_s + r_a (1 + s L / c_p)); slope by differences.
    t, p = 298.15, 101325.0
    slope = (
        moist_air_kernels.saturation_ratio(t + 1e-3, p) - moist_air_kernels.saturation_ratio(t - 1e-3, p)
    ) / 2e-3
    growth = 2.442e6 * slope / 1006.5
    by_hand = p / (287.055 * t) / (300.0 + 150.0 * (1.0 + growth))
    assert cover_kernels.leaf_conductance(t, p, 300.0) == pytest.approx(by_hand, rel=2e-3)
    warmer = 100.0 * 150.0 / (p / (287.055 * t) * 1006.5)
    assert cover_kernels.leaf_ratio(t, p, 100.0) - cover_kernels.leaf_ratio(t, p, 0.0) == pytest.approx(
        slope * warmer, rel=1e-3
    )


@pytest.mark.parametrize(("light", "expected"), [(-5.0, 800.0), (0.0, 800.0), (25.0, 160.0), (50.0, 88.8889),
                                                 (400.0, 88.8889)])  # fmt: skip
def test_pores_open_with_light(light: float, expected: float) -> None:
    # Conductance runs straight from 1/800 to 9/800 s/m over 50 W/m2 (common practice, no source).
    expected = {25.0: 800.0 / 5.0}.get(light, expected)
    assert cover_kernels.pore_resistance(800.0 / 9.0, 800.0, light) == pytest.approx(expected, rel=1e-5)


@settings(deadline=None, max_examples=60)
@given(st.floats(-15.0, 2.0), st.floats(-15.0, 2.0))
def test_radiative_film_is_the_exchange_of_black_planes(one: float, other: float) -> None:
    a, b = 290.0 + one, 290.0 + other + 20.0
    exact = 5.670374419e-8 * (a**4 - b**4)
    assert cover_kernels.radiative_film(a, b) * (a - b) == pytest.approx(exact, rel=1e-9)


def test_free_film_at_rest_is_that_of_half_a_kelvin() -> None:
    """Churchill and Chu by ht, for the stir of the room's air that stands for half a kelvin."""
    t, height = 293.15, 1.5
    mu, k = air_kernels.viscosity(t), air_kernels.conductivity(t)
    prandtl = mu * air_kernels.heat_capacity(t) / k
    kinematic = mu / air_kernels.density(t, 101325.0)
    for difference, drive in ((0.0, 0.5), (1.2, 1.3), (-1.2, 1.3)):
        grashof = 9.80665 / t * drive * height**3 / kinematic**2
        # The library has one form for each side of Gr Pr 1e9; the turbulent one holds for all.
        nusselt = ht.conv_free_immersed.Nu_vertical_plate_Churchill(prandtl, grashof)
        found = free_convection_kernels.upright_film(
            t + difference / 2.0, t - difference / 2.0, height, 101325.0
        )
        assert found == pytest.approx(nusselt * k / height, rel=1e-3)


def test_forced_and_free_blend_in_cubes() -> None:
    # 3^3 + 4^3 + 5^3 = 6^3.
    assert free_convection_kernels.blended(1.0, 0.0) == pytest.approx(1.0)
    assert free_convection_kernels.blended((27.0 + 64.0) ** (1.0 / 3.0), 5.0) == pytest.approx(6.0)


@settings(deadline=None, max_examples=200)
@given(st.floats(3.61, 8.0), st.sampled_from([0.0, 1e-6, 1e-3, 0.02, 0.0745]))
def test_turbulent_friction_leaves_nothing_over_in_colebrook(decades: float, roughness: float) -> None:
    reynolds = 10.0**decades
    root = internal_flow_kernels.rough_turbulent_friction(reynolds, roughness) ** -0.5
    left = root + 2.0 * math.log10(roughness / 3.7 + 2.51 * root / reynolds)
    assert abs(left) < 1e-13 * root * 10.0


def test_flow_that_stands_has_no_end_of_friction() -> None:
    assert internal_flow_kernels.friction_factor(0.0, 0.0) == math.inf
    assert internal_flow_kernels.friction_factor(0.5, 0.0) == pytest.approx(128.0)
    # Half way from 64/2300 to Colebrook at 4000.
    ends = (64.0 / 2300.0, internal_flow_kernels.rough_turbulent_friction(4000.0, 0.01))
    assert internal_flow_kernels.friction_factor(3150.0, 0.01) == pytest.approx(sum(ends) / 2.0)


@settings(deadline=None, max_examples=200)
@given(st.floats(174.0, 372.0))
def test_saturation_undone_to_the_last_digits(kelvin: float) -> None:
    partial = moist_air_kernels.saturation_pressure(kelvin)
    assert moist_air_kernels.saturation_temperature(partial) == pytest.approx(kelvin, rel=1e-12)


@pytest.mark.parametrize("kelvin", [180.0, 240.0, 272.0, 273.5, 274.5, 300.0, 360.0])
def test_slope_of_saturation_by_differences(kelvin: float) -> None:
    step = 1e-3
    logs = [moist_air_kernels.log_saturation_pressure(kelvin + sign * step) for sign in (-1.0, 1.0)]
    slope = (logs[1] - logs[0]) / (2.0 * step)
    assert moist_air_kernels.log_saturation_slope(kelvin) == pytest.approx(slope, rel=1e-6)


@pytest.mark.parametrize("kelvin", [300.0, 400.0, 460.0, 500.0])
def test_diffusivity_of_vapour_in_air(kelvin: float) -> None:
    """Marrero and Mason, J. Phys. Chem. Ref. Data 1 (1972) 3: 0.282 cm2/s at 25 degC in tables by Massman
    (1998) as 0.2178 (T/273.15)^1.81 at one atmosphere, within 6 % to 500 K; both from memory.
    """
    found = moist_air_kernels.vapour_diffusivity(kelvin, 101325.0)
    assert found == pytest.approx(0.2178e-4 * (kelvin / 273.15) ** 1.81, rel=0.2)
    assert moist_air_kernels.vapour_diffusivity(kelvin, 50e3) == pytest.approx(found * 101325.0 / 50e3)


def test_two_humps_are_told_one_by_one() -> None:
    curve = fan_curve.curve_through_points([0.0, 0.1, 0.2, 0.3, 0.4], [100.0, 120.0, 60.0, 90.0, 0.0])
    (first, second) = curve.rising_stretches
    assert first == pytest.approx((0.0, 0.1), abs=2e-3)
    assert second == pytest.approx((0.2, 0.3), abs=2e-3)


def test_weak_and_strong_fans_alike_end_where_their_pressure_does() -> None:
    for shut_off in (0.5, 5000.0):
        curve = fan_curve.curve_from_pair(0.1, shut_off, "line")
        assert curve.free_delivery == pytest.approx(0.1, rel=1e-9)
    # Past its end a curve falls on straight, with the steeper of its last slope and a line from shut-off to
    # no pressure at that end: -1600 and -2000 Pa.s/m3, or -1800 and -1000 for the other.
    mild = fan_curve.curve_from_polynomial([100.0, -2000.0, 4000.0], 0.05)
    assert mild.end_slope == pytest.approx(-2000.0)
    assert mild.free_delivery == pytest.approx(0.05 + 10.0 / 2000.0, rel=1e-9)
    steep = fan_curve.curve_from_polynomial([100.0, 0.0, -9000.0], 0.1)
    assert steep.end_slope == pytest.approx(-1800.0)
    assert steep.free_delivery == pytest.approx(0.1 + 10.0 / 1800.0, rel=1e-9)
    # Level to its end: it falls from there as a line from shut-off to the end would, at least.
    level = fan_curve.curve_from_polynomial([100.0, 0.0], 0.1)
    assert level.end_slope == pytest.approx(-1000.0)
    assert level.free_delivery == pytest.approx(0.2)


def test_laminar_annulus_friction_by_its_exact_profile() -> None:
    """f Re / 64 from the mean of u = 1 - r^2 + (1 - k^2) ln r / ln(1/k) (any text on fluid mechanics)."""
    for ratio in (0.05, 0.3, 0.8, 0.995):

        def profile(r: float, k: float = ratio) -> float:
            return (1.0 - r * r + (1.0 - k * k) * math.log(r) / math.log(1.0 / k)) * 2.0 * r / (1.0 - k * k)

        # Pipe: u mean 1/2 at (R = 1), f Re = 64 on D = 2; here D_h = 2 (1 - k), f Re = 64 (1 - k)^2 / (2 u).
        mean = quad(profile, ratio, 1.0, epsabs=1e-14)[0]
        assert annulus_kernels.laminar_shape(ratio) == pytest.approx(
            (1.0 - ratio) ** 2 / (2.0 * mean), rel=1e-7
        )
    assert annulus_kernels.laminar_shape(0.9999) == pytest.approx(1.5, rel=1e-6)
    assert annulus_kernels.laminar_shape(0.9995) == pytest.approx(1.5, rel=1e-6)


def test_annulus_holds_its_table_past_the_ends() -> None:
    for inner, thin, plates in ((True, 32.297, 4.8608), (False, 3.9934, 4.8608)):
        # Kays and Crawford: both walls meet at 4.861 for plates, one side insulated.
        found = [annulus_kernels.developed_laminar_nusselt(ratio, inner) for ratio in (0.001, 0.02, 1.0, 1.5)]
        assert found == pytest.approx([thin, thin, plates, plates])


def test_reynolds_number_of_a_gap() -> None:
    # rho u D_h / mu with u = m / (rho pi/4 (D^2 - d^2)): 0.02 kg/s between 0.1 and 0.2 m.
    area = math.pi / 4.0 * (0.2**2 - 0.1**2)
    by_hand = 0.02 / area * 0.1 / 18e-6
    for flow in (0.02, -0.02):
        assert annulus_kernels.annulus_reynolds(flow, 18e-6, 0.1, 0.2) == pytest.approx(by_hand)


def test_films_of_a_gap_run_straight_between_laminar_and_turbulent() -> None:
    where = (0.7, 0.5, 0.1, 1.0, 2.0, True)
    low, high = (annulus_kernels.nusselt_over(reynolds, *where) for reynolds in (2300.0, 4000.0))
    middle = annulus_kernels.nusselt_over(3150.0, *where)
    assert middle == pytest.approx(0.5 * (low + high))
    assert annulus_kernels.nusselt_over(2725.0, *where) == pytest.approx(0.75 * low + 0.25 * high)
    # Far from the entrance the laminar one is the developed one (Kays and Crawford: 5.738 at 0.5).
    assert annulus_kernels.nusselt_over(100.0, 0.7, 0.5, 0.1, 1e4, 2e4, True) == pytest.approx(
        5.738, rel=1e-3
    )
    assert np.all(np.isfinite([low, high]))


def test_ash_takes_heat_from_a_fuel() -> None:
    """Channiwala and Parikh (2002): 2.11 MJ less for a kilogram of ash, from memory."""
    clean = combustion.Fuel(carbon=0.50, hydrogen=0.06, oxygen=0.44, nitrogen=0.0, ash=0.0)
    ashy = combustion.Fuel(carbon=0.45, hydrogen=0.054, oxygen=0.396, nitrogen=0.0, ash=0.1)
    left = combustion.heating_value_of_elements(ashy) - 0.9 * combustion.heating_value_of_elements(clean)
    assert left == pytest.approx(-2.11e6 * 0.1, rel=1e-9)
    nitrogen = combustion.Fuel(carbon=0.45, hydrogen=0.054, oxygen=0.396, nitrogen=0.1, ash=0.0)
    gained = combustion.heating_value_of_elements(nitrogen) - combustion.heating_value_of_elements(ashy)
    assert gained == pytest.approx((2.11e6 - 1.51e6) * 0.1, rel=1e-9)


@pytest.mark.parametrize("roughness", [0.0005, 0.005])
def test_stack_resists_by_its_relative_roughness(roughness: float) -> None:
    """Colebrook by fluids; a stack that loses no heat has gas of one temperature all the way."""
    made = combustion.burn(combustion.Fuel(), 0.15, 2.0).gas
    stack = draught.Stack(6.0, 0.15, length=7.0, roughness=roughness, loss=1.5, heat_loss=0.0)
    found = draught.stack_state(stack, made, 0.02, 473.15, 273.15)
    rho = 101325.0 * made.molar_mass / (8.314462618 * 473.15)
    velocity = 0.02 / rho / (math.pi / 4.0 * 0.15**2)
    reynolds = rho * velocity * 0.15 / float(made.viscosity(473.15))
    friction = fluids.friction.Colebrook(reynolds, roughness / 0.15)
    lost = (friction * 7.0 / 0.15 + 1.5) * rho * velocity**2 / 2.0
    assert found.mean_temperature == pytest.approx(473.15)
    assert found.resistance == pytest.approx(lost, rel=1e-3)
    # Weight of six metres of outside air less that of the gas.
    outside = 101325.0 / (287.055 * 273.15)
    assert found.pull == pytest.approx(6.0 * 9.80665 * (outside - rho), rel=2e-3)
    run = draught.run_resistance(made, 0.02, 473.15, 7.0, 0.15, roughness, 1.5)
    assert run == pytest.approx(lost, rel=1e-3)
