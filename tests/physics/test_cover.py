"""Films at the faces of a house and vapour of leaves, against handbooks and an independent leaf balance."""

from __future__ import annotations

import math

import psychrolib
import pytest
from scipy.optimize import brentq

from simulator.physics import cover_kernels as cover

SIGMA = 5.670374419e-8


@pytest.mark.parametrize(
    ("cosine", "air", "constant"),
    [
        # ASHRAE Handbook, turbulent natural convection (from memory): walls 1.31 dT^(1/3), under a cold roof
        # 1.52.
        (0.0, 295.0, 1.31),
        (0.0, 285.0, 1.31),
        (1.0, 295.0, 1.52),
        # Walton (1983) in the stable case: 1.810 / 2.382.
        (1.0, 285.0, 0.76),
    ],
)
def test_inside_film(cosine, air, constant) -> None:
    ours = cover.inside_film(air, 290.0, cosine)
    assert ours == pytest.approx(constant * 5.0 ** (1.0 / 3.0), rel=0.01)


def test_inside_film_of_a_surface_that_leans_out_is_that_of_its_mirror_image() -> None:
    assert cover.inside_film(295.0, 290.0, -0.5) == cover.inside_film(285.0, 290.0, 0.5)


def test_inside_film_beside_the_standard() -> None:
    # ISO 6946 (from memory): convection 2.5 W/(m2.K) at walls, 5.0 upwards, 0.7 downwards, in ordinary rooms.
    assert cover.inside_film(293.0, 285.0, 0.0) == pytest.approx(2.5, rel=0.1)
    assert 2.5 < cover.inside_film(293.0, 285.0, 1.0) < 5.0
    assert cover.inside_film(285.0, 286.0, 1.0) == pytest.approx(0.7, rel=0.15)


def test_outside_film() -> None:
    # ISO 6946 (from memory): at 4 m/s and black surroundings of 0 degC 4 + 16 + 0.9 times 4.6, so 24 to 25:
    # 0.04 m2.K/W.
    whole = cover.outside_film(4.0) + 0.9 * cover.radiative_film(273.15, 273.15)
    assert 1.0 / whole == pytest.approx(0.04, rel=0.05)


def test_radiative_film_is_exact() -> None:
    assert cover.radiative_film(310.0, 250.0) * 60.0 == pytest.approx(
        SIGMA * (310.0**4 - 250.0**4), rel=1e-12
    )


def independent_leaf(celsius: float, share: float, resistance: float, sun: float) -> float:
    """Vapour [kg/(m2.s)] of a leaf from its full balance, with psychrolib's saturation."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    pressure, capacity, still = 101325.0, 1006.0, 150.0
    density = pressure / (287.055 * (celsius + 273.15))
    ratio = psychrolib.GetHumRatioFromRelHum(celsius, share, pressure)
    heat = 2.501e6 - 2361.0 * celsius

    def vapour(leaf: float) -> float:
        saturated = psychrolib.GetSatHumRatio(leaf, pressure)
        return density * (saturated - ratio) / (resistance + still)

    def miss(leaf: float) -> float:
        return sun + density * capacity * (celsius - leaf) / still - heat * vapour(leaf)

    return vapour(brentq(miss, celsius - 20.0, celsius + 20.0))


@pytest.mark.parametrize(
    ("celsius", "share", "resistance", "sun"),
    [(15.0, 0.7, 200.0, 0.0), (20.0, 0.5, 100.0, 0.0), (25.0, 0.6, 200.0, 100.0), (10.0, 0.9, 2000.0, 0.0)],
)
def test_leaf_beside_its_full_balance(celsius, share, resistance, sun) -> None:
    # Monteith's straight line over saturation instead of the curve: 8 % where the leaf is 5 K under the air.
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromRelHum(celsius, share, 101325.0)
    kelvin = celsius + 273.15
    ours = cover.leaf_conductance(kelvin, 101325.0, resistance) * (
        cover.leaf_ratio(kelvin, 101325.0, sun) - ratio
    )
    assert ours == pytest.approx(independent_leaf(celsius, share, resistance, sun), rel=0.08)


def test_pores_open_with_light() -> None:
    assert cover.pore_resistance(200.0, 2000.0, 0.0) == 2000.0
    assert cover.pore_resistance(200.0, 2000.0, 50.0) == 200.0
    assert cover.pore_resistance(200.0, 2000.0, 800.0) == 200.0
    # Conductances, not resistances, are in between.
    assert cover.pore_resistance(200.0, 2000.0, 25.0) == pytest.approx(2.0 / (1 / 200.0 + 1 / 2000.0))
    assert math.isfinite(cover.pore_resistance(1.0, 1e5, -5.0))
