"""Sun through one sheet at an angle: optics in the limits, and the handbook's table."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from simulator.physics.glazing import angle_factor, diffuse_factor, sheet_transmittance


def at(degrees: float) -> float:
    return math.cos(math.radians(degrees))


def test_straight_on_without_weakening() -> None:
    # One face throws back ((n - 1) / (n + 1))^2; all inter-reflections: (1 - r) / (1 + r).
    r = (0.526 / 2.526) ** 2
    assert float(sheet_transmittance(1.0, 0.0)) == pytest.approx((1 - r) / (1 + r), rel=1e-12)


def test_brewster() -> None:
    # At tan(angle) = n the light that swings along the plane of incidence passes undimmed, the other part
    # throws back cos^2(2 angle) at each face.
    angle = math.atan(1.526)
    r = math.cos(2.0 * angle) ** 2
    expected = 0.5 * (1.0 + (1 - r) / (1 + r))
    assert float(sheet_transmittance(math.cos(angle), 0.0)) == pytest.approx(expected, rel=1e-12)


def test_by_snell_and_fresnel_in_angles() -> None:
    # The textbook's own form, with sines and tangents of the two angles, at 60 deg and K L = 0.05.
    incidence = math.radians(60.0)
    inside = math.asin(math.sin(incidence) / 1.526)
    across = math.sin(inside - incidence) ** 2 / math.sin(inside + incidence) ** 2
    along = math.tan(inside - incidence) ** 2 / math.tan(inside + incidence) ** 2
    weak = math.exp(-0.05 / math.cos(inside))
    expected = 0.5 * sum(weak * (1 - r) ** 2 / (1 - (r * weak) ** 2) for r in (across, along))
    ours = float(sheet_transmittance(at(60.0), 1.0 - math.exp(-0.05)))
    assert ours == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("degrees", "published"), [(0, 0.83), (40, 0.82), (50, 0.80), (60, 0.75), (70, 0.64), (80, 0.39)]
)
def test_clear_3_mm_pane(degrees, published) -> None:
    # ASHRAE Handbook, Fundamentals, chapter Fenestration, table of optical properties, clear 3 mm glass,
    # solar transmittance (from memory; two digits). A pane of 0.83 takes up 0.09.
    assert 0.83 * float(angle_factor(at(degrees), 0.09)) == pytest.approx(published, abs=0.011)


def test_clear_3_mm_pane_in_diffuse_light() -> None:
    # The same table, hemispherical: 0.75.
    assert 0.83 * diffuse_factor(0.09) == pytest.approx(0.75, abs=0.01)


def test_half_space_by_another_quadrature() -> None:
    def part(angle: float) -> float:
        return 2.0 * float(angle_factor(math.cos(angle))) * math.cos(angle) * math.sin(angle)

    assert diffuse_factor() == pytest.approx(quad(part, 0.0, math.pi / 2)[0], rel=1e-6)


def test_falls_to_nothing_and_never_rises() -> None:
    factors = angle_factor(np.cos(np.radians(np.arange(0.0, 91.0))))
    assert np.all(np.diff(factors) <= 1e-12)
    assert factors[-1] == pytest.approx(0.0, abs=1e-12)
    np.testing.assert_array_equal(angle_factor([-0.5, 0.0]), 0.0)
