"""One bad entry among good ones is refused: no array passes because the rest of it is sound."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from simulator.physics import (
    coils,
    enclosure,
    fan_curve,
    films,
    flue_gas,
    free_convection,
    internal_flow,
    moist_air,
    pipe_losses,
    pipe_surface,
)

CALLS: dict[str, tuple[Callable[..., object], list[object], int, list[float]]] = {
    # name: (function, good arguments, which of them is spoilt, values that spoil it)
    "series: film": (films.in_series, [[5.0, 8.0], 0.1], 0, [-1.0]),
    "series: resistance": (films.in_series, [5.0, [0.1, 0.2]], 1, [-0.1]),
    "series: second resistance": (films.in_series, [5.0, 0.1, [0.1, 0.2]], 2, [-0.1]),
    "upright: surface": (free_convection.upright_film, [[300.0, 310.0], 290.0, 1.0], 0, [-1.0, math.nan]),
    "upright: height": (free_convection.upright_film, [300.0, 290.0, [1.0, 2.0]], 2, [-1.0, 0.0]),
    "manning": (pipe_surface.manning_friction, [[0.01, 0.02], 0.1], 0, [0.0, -0.01, math.inf, math.nan]),
    "manning: diameter": (pipe_surface.manning_friction, [0.01, [0.1, 0.2]], 1, [0.0, math.inf]),
    "friction": (pipe_surface.roughness_of_friction, [[0.02, 0.03]], 0, [0.0, -1.0]),
    "film factor": (pipe_surface.film_factor, [1e4, 0.7, 0.01, [0.2, 0.5]], 3, [-0.1, 1.1]),
    "fan: flows": (fan_curve.curve_through_points, [[0.0, 0.1, 0.2], [90.0, 50.0, 0.0]], 0, [math.inf]),
    "fan: pressures": (
        fan_curve.curve_through_points, [[0.0, 0.1, 0.2], [90.0, 50.0, 0.0]], 1, [math.inf, math.nan]
    ),
    "fan: polynomial": (fan_curve.curve_from_polynomial, [[90.0, -50.0], 1.0], 0, [math.nan, math.inf]),
    "grille": (pipe_losses.grille, [[0.5, 0.6]], 0, [0.0, 1.5]),
    "friction factor: roughness": (internal_flow.friction_factor, [1e4, [0.01, 0.02]], 1, [-0.01]),
    "friction factor: Reynolds": (internal_flow.friction_factor, [[1e4, 2e4]], 0, [-1.0]),
    "coil": (coils.effectiveness, ["counter flow", [0.0, 2.0], 0.5, 0.6], 1, [-1.0, math.nan]),
    "coil: air": (coils.effectiveness, ["counter flow", 2.0, [0.5, 0.6], 0.7], 2, [-1.0, 0.0, math.nan]),
    "coil: water": (coils.effectiveness, ["counter flow", 2.0, 0.5, [0.5, 0.6]], 3, [-1.0, 0.0]),
    "humidity": (moist_air.humidity_ratio, [[0.5, 0.6], 300.0], 0, [-0.1]),
    "dew point": (moist_air.dew_point, [[0.005, 0.006]], 0, [-1e-3]),
    "enclosure: area": (enclosure.radiant_areas, [[1.0, 1.0, 1.0], [0.9, 0.9, 0.9]], 0, [-1.0, math.nan]),
    "enclosure: emissivity": (
        enclosure.radiant_areas, [[1.0, 1.0, 1.0], [0.9, 0.9, 0.9]], 1, [0.0, -0.5, 1.5]
    ),
    "mixture": (flue_gas.mixture, [[0.1, 0.05, 0.1, 0.1, 0.7]], 0, [-0.1, math.nan]),
}  # fmt: skip


@pytest.mark.parametrize("name", CALLS)
def test_one_bad_entry_is_refused(name: str) -> None:
    function, good, which, spoilers = CALLS[name]
    assert np.all(np.isfinite(_numbers(function(*good))))
    for spoiler in spoilers:
        for place in range(len(good[which])):  # type: ignore[arg-type]
            spoilt = [list(each) if isinstance(each, list) else each for each in good]
            spoilt[which][place] = spoiler  # type: ignore[index]
            with pytest.raises(ValueError):  # noqa: PT011
                function(*spoilt)


def _numbers(answer: object) -> np.ndarray:
    if isinstance(answer, flue_gas.FlueGas):
        return np.asarray(answer.heat_capacity(500.0))
    if isinstance(answer, fan_curve.FanCurve):
        return answer.pressure([0.0, 0.05])
    return np.asarray(answer)


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        pytest.param(([0.0, 0.1], [1.0]), "as many pressures as flows", id="one missing"),
        pytest.param(([0.1], [1.0]), "two or more", id="one point"),
        pytest.param(([0.1, 0.1], [5.0, 1.0]), "rise from point to point", id="twice the same"),
        pytest.param(([-0.1, 0.1], [5.0, 1.0]), "0 or more", id="below 0"),
        pytest.param(([0.0, 0.1, 0.2], [5.0, 1.0, 6.0]), "must fall", id="ends rising"),
        pytest.param(([0.0, 0.1], [0.0, -1.0]), "pressure at no flow", id="none at no flow"),
    ],
)
def test_fan_points_that_make_no_curve(numbers: tuple[list[float], list[float]], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        fan_curve.curve_through_points(*numbers)


def test_two_points_and_a_point_at_no_flow_are_a_curve() -> None:
    assert float(fan_curve.curve_through_points([0.0, 0.1], [50.0, 0.0]).pressure(0.05)) == pytest.approx(
        25.0
    )


@pytest.mark.parametrize("bad", [0.0, -1.0, math.inf, math.nan])
def test_fans_of_no_size_are_refused(bad: float) -> None:
    for numbers in ((bad, 100.0), (0.1, bad), (0.1, 100.0, "parabola", bad)):
        with pytest.raises(ValueError, match="above 0"):
            fan_curve.curve_from_pair(*numbers)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="highest flow"):
        fan_curve.curve_from_polynomial([100.0, -10.0], bad)
    assert fan_curve.curve_from_pair(0.5, 0.5, "line", 0.5).free_delivery == pytest.approx(0.5)
