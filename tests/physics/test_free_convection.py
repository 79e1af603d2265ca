"""Free convection over upright surfaces against the library `ht` and its own two limits."""

from __future__ import annotations

import ht
import pytest
from CoolProp.CoolProp import PropsSI

from simulator.physics.free_convection import upright_film
from simulator.physics.free_convection_kernels import blended, upright_nusselt


@pytest.mark.parametrize("prandtl", [0.68, 0.71, 0.75])
@pytest.mark.parametrize("rayleigh", [1e2, 1e5, 1e8, 1e11])
def test_nusselt_against_ht(prandtl, rayleigh) -> None:
    theirs = ht.Nu_vertical_plate_Churchill(prandtl, rayleigh / prandtl)
    assert upright_nusselt(rayleigh, prandtl) == pytest.approx(theirs, rel=1e-12)


@pytest.mark.parametrize(("surface", "air"), [(330.0, 290.0), (500.0, 295.0), (650.0, 400.0), (280.0, 300.0)])
def test_film_with_properties_of_coolprop(surface, air) -> None:
    height, mean = 0.7, 0.5 * (surface + air)
    known = {name: PropsSI(name, "T", mean, "P", 101325.0, "Air") for name in ("D", "V", "L", "C")}
    kinematic = known["V"] / known["D"]
    prandtl = known["V"] * known["C"] / known["L"]
    grashof = 9.80665 / mean * abs(surface - air) * height**3 / kinematic**2
    theirs = ht.Nu_vertical_plate_Churchill(prandtl, grashof) * known["L"] / height
    assert float(upright_film(surface, air, height)) == pytest.approx(theirs, rel=0.01)


def test_a_slight_difference_leaves_a_slight_film() -> None:
    assert 0.2 < float(upright_film(300.0, 300.0, 0.7)) < 2.0
    assert float(upright_film(310.0, 300.0, 0.7)) == pytest.approx(float(upright_film(300.0, 310.0, 0.7)))


def test_blend_is_at_least_the_larger_and_at_most_the_sum() -> None:
    assert blended(10.0, 0.0) == pytest.approx(10.0)
    assert blended(5.0, 5.0) == pytest.approx(5.0 * 2.0 ** (1.0 / 3.0))


def test_bad_input_is_told() -> None:
    with pytest.raises(ValueError, match="above 0"):
        upright_film(300.0, 290.0, 0.0)
