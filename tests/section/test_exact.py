"""The closed solutions obey the equations they are said to solve, checked by finite differences."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.section.exact import LayeredMode, RoundDuct

MODE = LayeredMode((2.0, 0.5), (2.2e6, 1.2e6), edge=0.3, depth=1.0, film=8.0, wave=math.pi, number=0)
STEP = 1e-4


def _laplacian(field, y: float, z: float) -> float:
    points = ((1, 0), (-1, 0), (0, 1), (0, -1))
    around = sum(float(field(np.array(y + a * STEP), np.array(z + b * STEP))) for a, b in points)
    return (around - 4.0 * float(field(np.array(y), np.array(z)))) / STEP**2


@pytest.mark.parametrize("z", [0.1, 0.25, 0.4, 0.8])
def test_mode_decays_at_its_rate(z: float) -> None:
    layer = 0 if z < MODE.edge else 1
    k, c = MODE.conductivity[layer], MODE.heat_capacity[layer]
    decay = -MODE.rate * c * float(MODE.at(np.array(0.2), np.array(z)))
    assert k * _laplacian(MODE.at, 0.2, z) == pytest.approx(decay, rel=1e-5)


def test_mode_meets_its_surface_edge_and_bottom() -> None:
    def at(z: float) -> float:
        return float(MODE.at(np.array(0.2), np.array(z)))

    surface_slope = (-3.0 * at(0.0) + 4.0 * at(STEP) - at(2 * STEP)) / (2 * STEP)
    assert 2.0 * surface_slope == pytest.approx(8.0 * at(0.0), rel=1e-6)
    above = (3.0 * at(0.3 - 1e-9) - 4.0 * at(0.3 - STEP) + at(0.3 - 2 * STEP)) / (2 * STEP)
    below = (-3.0 * at(0.3) + 4.0 * at(0.3 + STEP) - at(0.3 + 2 * STEP)) / (2 * STEP)
    assert 2.0 * above == pytest.approx(0.5 * below, rel=1e-4)
    assert at(0.3 - 1e-9) == pytest.approx(at(0.3), rel=1e-6)
    assert at(1.0) == pytest.approx(0.0, abs=1e-12)


DUCT = RoundDuct(0.05, 0.35, 1.5, flow=30.0, level=10.0, tilt=3.0, direction=0.7, levelling=0.05)


@pytest.mark.parametrize(("y", "z"), [(0.08, 0.02), (-0.1, 0.15), (0.0, -0.3)])
def test_duct_field_needs_its_source(y: float, z: float) -> None:
    expected = float(DUCT.source(np.array(y), np.array(z)))
    assert -1.5 * _laplacian(DUCT.at, y, z) == pytest.approx(expected, rel=1e-4, abs=1e-2)


def test_duct_field_carries_its_flow_and_levels_the_rest() -> None:
    angle = np.linspace(0.0, 2.0 * math.pi, 64, endpoint=False)
    y, z = np.cos(angle), np.sin(angle)

    def at(radius: float) -> np.ndarray:
        return DUCT.at(radius * y, radius * z)

    # One-sided, because the fade is flat at the pipe only from outside.
    h = 1e-5
    slope = (-3.0 * at(0.05) + 4.0 * at(0.05 + h) - at(0.05 + 2 * h)) / (2 * h)
    assert float(slope.mean()) * -1.5 * 2.0 * math.pi * 0.05 == pytest.approx(30.0, rel=1e-5)
    assert float(at(0.05).mean()) == pytest.approx(10.0, rel=1e-12)
    uneven = at(0.05) - at(0.05).mean()
    np.testing.assert_allclose(
        1.5 * (slope - slope.mean()), uneven / 0.05, atol=1e-3 * np.abs(uneven).max() / 0.05
    )
    np.testing.assert_allclose(at(0.35), 0.0, atol=1e-12)
