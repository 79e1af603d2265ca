"""Friction and heat transfer in round ducts against published tables and general-purpose libraries."""

from __future__ import annotations

import math

import fluids
import ht
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics import internal_flow, internal_flow_kernels

REYNOLDS = [3000, 4000, 5000, 1e4, 2e4, 5e4, 1e5]
PRANDTL = 0.71

# Konakov and Colebrook friction and Gnielinski (with Konakov) Nusselt numbers, Pr 0.71: formulas of the VDI
# Heat Atlas (2010) G1 and of Colebrook (1939), from memory; the numbers were computed independently.
KONAKOV = [0.04416, 0.04026, 0.03758, 0.03078, 0.02567, 0.02065, 0.01778]
COLEBROOK = {
    0.0: [0.04352, 0.03991, 0.03739, 0.03088, 0.02588, 0.02089, 0.01799],
    0.001: [0.04441, 0.04091, 0.03850, 0.03238, 0.02795, 0.02402, 0.02217],
    0.01: [0.05187, 0.04908, 0.04726, 0.04313, 0.04071, 0.03908, 0.03850],
    0.05: [0.07867, 0.07699, 0.07595, 0.07380, 0.07269, 0.07201, 0.07178],
}
GNIELINSKI = [9.708, 13.136, 16.226, 29.295, 50.730, 103.45, 177.95]

# Mean Nusselt number over 100 diameters at constant wall temperature, velocity and temperature developing
# together: equations of Gnielinski (2013), from memory; the numbers were computed independently.
MEAN_OVER_100_DIAMETERS = {
    500: 3.852,
    1000: 4.118,
    2000: 4.658,
    2300: 4.813,
    3000: 8.491,
    4000: 13.745,
    6000: 19.982,
    10000: 30.655,
}


def test_konakov_friction_table() -> None:
    np.testing.assert_allclose(internal_flow.smooth_turbulent_friction(REYNOLDS), KONAKOV, atol=6e-6)


@pytest.mark.parametrize("roughness", COLEBROOK)
def test_colebrook_friction_table(roughness) -> None:
    found = [internal_flow_kernels.rough_turbulent_friction(r, roughness) for r in REYNOLDS]
    np.testing.assert_allclose(found, COLEBROOK[roughness], atol=6e-6)


@given(reynolds=st.floats(4000.0, 1e7), roughness=st.floats(0.0, 0.05))
def test_turbulent_friction_solves_colebrook_as_the_library_does(reynolds, roughness) -> None:
    # fluids.Colebrook: closed form by the Lambert function, an independent route to the same root.
    expected = fluids.friction.Colebrook(reynolds, roughness)
    assert float(internal_flow.friction_factor(reynolds, roughness)) == pytest.approx(expected, rel=1e-8)


def test_laminar_friction_is_64_over_reynolds() -> None:
    # Hagen-Poiseuille, exact.
    reynolds = np.array([1e-6, 1.0, 700.0, 2300.0])
    np.testing.assert_allclose(internal_flow.friction_factor(reynolds, 0.02) * reynolds, 64.0, rtol=1e-14)
    assert internal_flow.friction_factor(0.0) == math.inf


def test_gnielinski_table() -> None:
    found = [internal_flow_kernels.turbulent_nusselt(r, PRANDTL) for r in REYNOLDS]
    np.testing.assert_allclose(found, GNIELINSKI, rtol=1e-4)


@pytest.mark.parametrize("reynolds", [4000.0, 2e4, 2e5])
@pytest.mark.parametrize("prandtl", [0.68, 0.71, 0.73])
def test_gnielinski_against_library(reynolds, prandtl) -> None:
    friction = 1.0 / (1.8 * math.log10(reynolds) - 1.5) ** 2
    expected = ht.turbulent_Gnielinski(Re=reynolds, Pr=prandtl, fd=friction)
    assert internal_flow_kernels.turbulent_nusselt(reynolds, prandtl) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(("reynolds", "expected"), MEAN_OVER_100_DIAMETERS.items())
def test_mean_nusselt_table(reynolds, expected) -> None:
    found = float(internal_flow.mean_nusselt(reynolds, PRANDTL, 0.1, 10.0))
    assert found == pytest.approx(expected, rel=1.5e-4)


@pytest.mark.parametrize(
    ("reynolds", "hausen"),
    # Hausen's mean Nusselt number, constant wall temperature, fully developed velocity, L/D 100, Pr 0.71
    # (formula from memory; ht gives the same numbers).
    [(500, 3.8769), (1000, 4.0732), (2000, 4.4283)],
)
def test_laminar_mean_lies_near_hausen(reynolds, hausen) -> None:
    library = ht.laminar_entry_thermal_Hausen(Re=reynolds, Pr=PRANDTL, L=10.0, Di=0.1)
    assert library == pytest.approx(hausen, rel=1e-4)
    found = float(internal_flow.mean_nusselt(reynolds, PRANDTL, 0.1, 10.0))
    # Two correlations of the same data, one with developing velocity: they differ by up to some 6 %.
    assert found == pytest.approx(hausen, rel=0.06)


def test_long_laminar_duct_ends_at_the_graetz_limit() -> None:
    # Graetz: 3.6568 for constant wall temperature, exact.
    developed = float(internal_flow.local_nusselt_over(1000, PRANDTL, 0.1, 1e5, 2e5))
    assert developed == pytest.approx(3.6568, rel=0.002)


def test_attic_duct_worked_example() -> None:
    # Cengel, Heat Transfer, heat loss of hot-air ducts in the attic (from memory): air 80 degC, 0.15 m3/s,
    # square duct 0.2 m x 0.2 m x 8 m, walls 60 degC. Book: h 13.5 W/(m2.K), exit 71.3 degC, 1313 W, by
    # Nu = 0.023 Re^0.8 Pr^0.3. Gnielinski's equation with its entrance term is another fit of such data.
    side, length, flow = 0.2, 8.0, 0.15
    mass_flow = flow * 0.9994
    # The round duct of the same hydraulic diameter and velocity carries pi/4 of the square one's flow.
    round_flow = mass_flow * math.pi / 4.0
    # The example's own Reynolds number.
    assert float(internal_flow.reynolds_number(round_flow, 353.15, side)) == pytest.approx(35765, rel=0.01)
    film = float(internal_flow.film_coefficient(round_flow, 353.15, side, 0.0, length))
    assert film == pytest.approx(13.5, rel=0.06)
    transfer = film * 4.0 * side * length
    exit_temperature = 60.0 + 20.0 * math.exp(-transfer / (mass_flow * 1008.0))
    assert exit_temperature == pytest.approx(71.3, abs=0.4)
    assert mass_flow * 1008.0 * (80.0 - exit_temperature) == pytest.approx(1313.0, rel=0.05)


def test_laminar_reynolds_of_worked_example() -> None:
    # Kreith, Principles of Heat Transfer, 7th ed., example 6.1: Re 699 and Darcy friction 0.0915.
    assert float(internal_flow.friction_factor(699.0)) == pytest.approx(0.0915, abs=1e-4)


def worst_jump(values: np.ndarray) -> float:
    """Largest relative change between neighbours."""
    return float(np.max(np.abs(np.diff(values)) / np.abs(values[:-1])))


SWEEP = np.geomspace(1e-3, 2e5, 20000)
"""Steps of 0.1 %; nothing here grows faster than the fourth power of the Reynolds number."""


@pytest.mark.parametrize(("begin", "end"), [(0.0, 0.05), (0.0, 0.5), (0.5, 1.0), (11.5, 12.0), (0.0, 12.0)])
def test_nusselt_has_no_jump_between_0_and_200000(begin, end) -> None:
    nusselt = internal_flow.local_nusselt_over(SWEEP, PRANDTL, 0.1, begin, end)
    assert np.all(np.isfinite(nusselt))
    assert worst_jump(nusselt) < 0.005
    at_rest = float(internal_flow.local_nusselt_over(0.0, PRANDTL, 0.1, begin, end))
    assert at_rest == pytest.approx(3.66)
    assert nusselt[0] == pytest.approx(at_rest, rel=3e-3)


@pytest.mark.parametrize("roughness", [0.0, 0.001, 0.01, 0.05])
def test_friction_has_no_jump_between_0_and_200000(roughness) -> None:
    # Friction times Re, the dimensionless pressure gradient per velocity, stays finite at rest.
    pull = internal_flow.friction_factor(SWEEP, roughness) * SWEEP
    assert np.all(np.diff(pull) >= -1e-9)
    assert pull[0] == pytest.approx(64.0)
    assert worst_jump(pull) < 0.005


def test_a_planted_jump_is_found() -> None:
    nusselt = internal_flow.local_nusselt_over(SWEEP, PRANDTL, 0.1, 0.5, 1.0)
    assert worst_jump(np.where(SWEEP > 3000.0, nusselt * 1.01, nusselt)) > 0.005


@given(
    reynolds=st.floats(0.0, 2e5),
    step=st.floats(1e-9, 1e-6),
    begin=st.floats(0.0, 20.0),
    length=st.floats(0.01, 20.0),
    diameter=st.floats(0.02, 0.6),
)
def test_nusselt_is_continuous_everywhere(reynolds, step, begin, length, diameter) -> None:
    here, there = internal_flow.local_nusselt_over(
        [reynolds, reynolds * (1.0 + step)], PRANDTL, diameter, begin, begin + length
    )
    assert there == pytest.approx(here, rel=20.0 * step + 1e-9)
    assert here >= 3.66


@given(
    reynolds=st.floats(1.0, 2e5),
    cuts=st.lists(st.floats(0.05, 11.9), min_size=1, max_size=6, unique=True),
)
def test_pieces_add_up_to_the_whole(reynolds, cuts) -> None:
    edges = np.array([0.0, *sorted(cuts), 12.0])
    pieces = internal_flow.local_nusselt_over(reynolds, PRANDTL, 0.1, edges[:-1], edges[1:])
    whole = float(internal_flow.mean_nusselt(reynolds, PRANDTL, 0.1, 12.0))
    mean = float(np.sum(pieces * np.diff(edges))) / 12.0
    if reynolds >= 4000.0:
        assert mean == pytest.approx(whole, rel=1e-9)
    else:
        # Pieces are held up to the developed value where the laminar correlation dips under it.
        assert whole * (1.0 - 1e-9) <= mean <= whole * 1.02


@pytest.mark.parametrize("reynolds", [500.0, 3000.0, 2e4])
def test_nusselt_falls_along_the_duct_to_the_developed_value(reynolds) -> None:
    edges = np.linspace(0.0, 12.0, 25)
    pieces = internal_flow.local_nusselt_over(reynolds, PRANDTL, 0.1, edges[:-1], edges[1:])
    developed = float(internal_flow.local_nusselt_over(reynolds, PRANDTL, 0.1, 1e5, 2e5))
    assert np.all(np.diff(pieces) <= 0.0)
    assert pieces[0] > 1.1 * developed
    # Even 100 km of duct leave the laminar value 0.06 % above 3.66.
    assert np.all(pieces >= developed * (1.0 - 1e-3))


def test_film_is_nusselt_of_air_whichever_way_it_flows() -> None:
    reynolds = float(internal_flow.reynolds_number(0.01, 300.0, 0.1))
    # CoolProp 8: conductivity of air at 300 K 0.02638 W/(m.K), viscosity 18.54e-6 Pa.s, Prandtl 0.7076.
    assert reynolds == pytest.approx(4 * 0.01 / (math.pi * 0.1 * 18.54e-6), rel=0.01)
    expected = float(internal_flow.local_nusselt_over(reynolds, 0.7076, 0.1, 1.0, 2.0)) * 0.02638 / 0.1
    both_ways = internal_flow.film_coefficient([0.01, -0.01], 300.0, 0.1, 1.0, 2.0)
    np.testing.assert_allclose(both_ways, expected, rtol=0.01)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ((-1.0, 0.7, 0.1, 0.0, 1.0), "reynolds must be 0 or more everywhere, got -1"),
        ((1e3, 0.7, 0.0, 0.0, 1.0), "diameter must be above 0 everywhere, got 0"),
        ((1e3, 0.7, 0.1, 1.0, 1.0), "end - begin must be above 0 everywhere, got 0"),
        ((math.nan, 0.7, 0.1, 0.0, 1.0), "reynolds must be 0 or more everywhere, got nan"),
    ],
)
def test_arguments_out_of_range_are_refused(arguments, message) -> None:
    with pytest.raises(ValueError, match=message):
        internal_flow.local_nusselt_over(*arguments)
