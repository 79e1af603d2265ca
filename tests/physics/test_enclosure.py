"""The radiant node against exact formulas and against a full exchange of grey walls with view factors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics.enclosure import radiant_areas
from simulator.physics.films import pair_emissivity

SIGMA = 5.670374419e-8


def node_heat(area, emissivity, temperature) -> np.ndarray:
    """Heat [W] that each wall gives, through the node."""
    through = radiant_areas(area, emissivity)
    emitted = SIGMA * np.asarray(temperature) ** 4
    node = np.sum(through * emitted) / np.sum(through)
    return through * (emitted - node)


def test_parallel_planes() -> None:
    # Incropera and others: A sigma (T1^4 - T2^4) / (1/e1 + 1/e2 - 1).
    given = node_heat([5.0, 5.0], [0.9, 0.6], [300.0, 280.0])
    exact = 5.0 * SIGMA * (300.0**4 - 280.0**4) * float(pair_emissivity(0.9, 0.6, 1.0))
    np.testing.assert_allclose(given, [exact, -exact], rtol=1e-9)


def test_floor_under_a_hoop() -> None:
    # A flat floor under one surface larger than it, which sees itself: convex body in an enclosure.
    given = node_heat([24.0, 60.0], [0.9, 0.8], [290.0, 275.0])
    exact = 24.0 * SIGMA * (290.0**4 - 275.0**4) * float(pair_emissivity(0.9, 0.8, 24.0 / 60.0))
    np.testing.assert_allclose(given, [exact, -exact], rtol=1e-9)


def test_black_cube() -> None:
    # Every face sees each other with 1/5 (exact values 0.1998 and 0.2000): heat A sigma (T^4 - mean of the
    # others).
    temperature = np.array([310.0, 290.0, 285.0, 280.0, 300.0, 275.0])
    emitted = SIGMA * temperature**4
    exact = 4.0 * (emitted - (emitted.sum() - emitted) / 5.0)
    np.testing.assert_allclose(node_heat([4.0] * 6, [1.0] * 6, temperature), exact, rtol=1e-9)


def facing(a: float, b: float, c: float) -> float:
    """View factor of two equal rectangles a x b at a distance c (Howell, C-11)."""
    x, y = a / c, b / c
    first = math.log(math.sqrt((1 + x * x) * (1 + y * y) / (1 + x * x + y * y)))
    second = x * math.sqrt(1 + y * y) * math.atan(x / math.sqrt(1 + y * y))
    third = y * math.sqrt(1 + x * x) * math.atan(y / math.sqrt(1 + x * x))
    return 2.0 / (math.pi * x * y) * (first + second + third - x * math.atan(x) - y * math.atan(y))


def corner(width: float, height: float, edge: float) -> float:
    """View factor of a rectangle `width` x `edge` to one `height` x `edge` at right angles (Howell, C-14)."""
    h, w = height / edge, width / edge
    hw = h * h + w * w
    log = (1 + w * w) * (1 + h * h) / (1 + hw)
    log *= (w * w * (1 + hw) / ((1 + w * w) * hw)) ** (w * w)
    log *= (h * h * (1 + hw) / ((1 + h * h) * hw)) ** (h * h)
    value = w * math.atan(1 / w) + h * math.atan(1 / h) - math.sqrt(hw) * math.atan(1 / math.sqrt(hw))
    return (value + 0.25 * math.log(log)) / (math.pi * w)


def box_views(x: float, y: float, z: float) -> tuple[np.ndarray, np.ndarray]:
    """Areas and view factors of a box: floor, ceiling, two walls x z, two walls y z."""
    area = np.array([x * y, x * y, x * z, x * z, y * z, y * z])
    views = np.zeros((6, 6))
    for first, second, value in ((0, 1, facing(x, y, z)), (2, 3, facing(x, z, y)), (4, 5, facing(y, z, x))):
        views[first, second] = views[second, first] = value
    for i in range(2):
        for k in range(2, 4):
            views[i, k] = corner(y, z, x)
            views[k, i] = corner(z, y, x)
        for k in range(4, 6):
            views[i, k] = corner(x, z, y)
            views[k, i] = corner(z, x, y)
    for i in range(2, 4):
        for k in range(4, 6):
            views[i, k] = corner(x, y, z)
            views[k, i] = corner(y, x, z)
    return area, views


@pytest.mark.parametrize("size", [(4.0, 6.0, 2.5), (4.0, 12.0, 3.0), (5.0, 5.0, 5.0)])
def test_box_of_grey_walls(size) -> None:
    # Radiosity with view factors of Howell's catalogue (from memory; rows add up to 1, which proves them).
    area, views = box_views(*size)
    np.testing.assert_allclose(views.sum(axis=1), 1.0, atol=1e-9)
    emissivity = np.full(6, 0.9)
    temperature = np.array([292.0, 275.0, 277.0, 288.0, 276.0, 287.0])
    emitted = SIGMA * temperature**4
    sent = np.linalg.solve(np.eye(6) - (1 - emissivity)[:, None] * views, emissivity * emitted)
    exact = area * (sent - views @ sent)
    # One node instead of all pairs: within 4 % of the largest exchange.
    np.testing.assert_allclose(
        node_heat(area, emissivity, temperature), exact, atol=0.04 * np.abs(exact).max()
    )


@given(st.lists(st.tuples(st.floats(0.1, 500.0), st.floats(0.01, 1.0)), min_size=2, max_size=8))
def test_any_walls(walls) -> None:
    area, emissivity = (np.array(column) for column in zip(*walls, strict=True))
    through = radiant_areas(area, emissivity)
    assert np.all(np.isfinite(through))
    # Never less than a wall that sees itself too, never more than its own surface resistance allows.
    assert np.all(through >= area * emissivity * (1.0 - 1e-9))
    assert np.all(through * (1.0 - emissivity) <= area * emissivity * (1.0 + 1e-9))


@pytest.mark.parametrize(
    ("area", "emissivity", "message"),
    [
        ([1.0], [0.9], "two walls"),
        ([1.0, 0.0], [0.9, 0.9], "above 0"),
        ([1.0, 2.0], [0.9, 0.0], "emissivities"),
        ([1.0, 2.0], [0.9, 1.1], "emissivities"),
    ],
)
def test_refusals(area, emissivity, message) -> None:
    with pytest.raises(ValueError, match=message):
        radiant_areas(area, emissivity)
