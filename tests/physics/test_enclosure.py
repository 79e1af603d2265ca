"""The radiant node against exact formulas and against a full exchange of grey walls with view factors."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics.enclosure import radiant_areas, share_kept
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


def test_room_behind_a_window() -> None:
    # Duffie and Beckman, absorptance of rooms (from memory): a / (a + (1 - a) t A_window / A_inside).
    for absorptance, window in ((0.45, 3.0), (0.8, 10.0), (0.1, 1.0)):
        expected = absorptance / (absorptance + (1.0 - absorptance) * 0.7 * window / 75.0)
        assert share_kept(1.0 - absorptance, 75.0, window, 0.7) == pytest.approx(expected, rel=1e-12)


def test_floor_under_glazing_as_large() -> None:
    # Duffie and Beckman, absorber under a cover (from memory): a / (1 - (1 - a) r_cover), all passes summed.
    passes = sum(0.7 * (0.3 * 0.25) ** each for each in range(80))
    assert share_kept(0.3, 24.0, 24.0, 0.75) == pytest.approx(passes, rel=1e-12)


def test_hoop_of_glazing_by_a_chain_of_bounces() -> None:
    """Two places a ray can be, floor and hoop, as an absorbing Markov chain solved with numpy."""
    back, reflected, seen = 0.3, 0.4, 24.0 / 60.0
    bounce = np.array([[0.0, reflected], [back * seen, back * (1.0 - seen)]])
    visits = np.linalg.solve((np.eye(2) - bounce).T, [1.0, 0.0])
    assert share_kept(reflected, 24.0, 60.0, 1.0 - back) == pytest.approx(
        (1.0 - reflected) * visits[0], rel=1e-12
    )


def thrown(random: np.random.Generator, place: np.ndarray, face: np.ndarray, size: np.ndarray):
    """Send rays from faces of a box by Lambert's law; return where and on which face each lands."""
    axis, end = face // 2, face % 2
    radius, angle = np.sqrt(random.random(face.size)), 2.0 * np.pi * random.random(face.size)
    away = np.empty((face.size, 3))
    rows = np.arange(face.size)
    away[rows, axis] = np.sqrt(1.0 - radius**2) * np.where(end == 1, -1.0, 1.0)
    away[rows, (axis + 1) % 3] = radius * np.cos(angle)
    away[rows, (axis + 2) % 3] = radius * np.sin(angle)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(away > 0.0, (size - place) / away, np.where(away < 0.0, -place / away, np.inf))
    reach[rows, axis] = size[axis] / np.abs(away[rows, axis])
    hit = np.argmin(reach, axis=1)
    landed = np.clip(place + reach[rows, hit][:, np.newaxis] * away, 0.0, size)
    return landed, 2 * hit + (away[rows, hit] > 0.0)


@pytest.mark.parametrize(("reflectance", "transmittance"), [(0.3, 0.75), (0.6, 0.6)])
def test_rays_in_a_box_with_one_wall_of_glass(reflectance: float, transmittance: float) -> None:
    """Every ray followed to its end in a box of 5 m by 4 m by 3 m: no view factors, nothing taken as even."""
    random = np.random.default_rng(5)
    size = np.array([5.0, 4.0, 3.0])
    areas = np.array([12.0, 12.0, 15.0, 15.0, 20.0, 20.0])
    glass = 0
    inside = np.where(np.arange(6) == glass, 0.0, areas)
    count = 40_000
    face = random.choice(6, count, p=inside / inside.sum())
    place = random.random((count, 3)) * size
    place[np.arange(count), face // 2] = np.where(face % 2 == 1, size[face // 2], 0.0)
    kept = 0
    while face.size:
        on_glass = face == glass
        goes_on = random.random(face.size) < np.where(on_glass, 1.0 - transmittance, reflectance)
        kept += int(np.sum(~goes_on & ~on_glass))
        place, face = thrown(random, place[goes_on], face[goes_on], size)
    # Three standard deviations of the count, and 1 % for light that is not quite even in the box.
    noise = 3.0 * math.sqrt(kept * (1.0 - kept / count)) / count
    assert share_kept(reflectance, inside.sum(), 12.0, transmittance) == pytest.approx(
        kept / count, abs=noise + 0.01
    )


@given(
    reflectance=st.floats(0.0, 0.99), inside=st.floats(0.1, 1e4), glazed=st.floats(0.0, 1e4),
    transmittance=st.floats(0.0, 1.0),
)  # fmt: skip
def test_kept_is_a_share(reflectance, inside, glazed, transmittance) -> None:
    kept = share_kept(reflectance, inside, glazed, transmittance)
    assert (1.0 - reflectance) * (1.0 - 1e-9) <= kept <= 1.0 + 1e-9
    assert share_kept(0.0, inside, glazed, transmittance) == pytest.approx(1.0)
    assert share_kept(reflectance, inside, 0.0, transmittance) == pytest.approx(1.0)


@pytest.mark.parametrize(
    "numbers", [(1.0, 5.0, 1.0, 0.7), (-0.1, 5.0, 1.0, 0.7), (0.3, 0.0, 1.0, 0.7), (0.3, 5.0, -1.0, 0.7),
                (0.3, 5.0, 1.0, 1.1), (math.nan, 5.0, 1.0, 0.7), (0.3, 5.0, math.nan, 0.7)]
)  # fmt: skip
def test_impossible_houses_are_refused(numbers) -> None:
    with pytest.raises(ValueError, match=r"0 to 1|above 0"):
        share_kept(*numbers)
