"""Freezing of wet ground: the solutions of F. Neumann (Carslaw & Jaeger, Conduction of Heat in Solids, 11.2).

Formulas from memory, solved apart from this program. A half space at one temperature has its surface set to
another; the front is at 2 lambda sqrt(a t). Ice alone, at its freezing point in the beginning: 2.22 W/(m.K),
1.93 MJ/(m3.K), 334 kJ/kg, 917 kg/m3, surface at -10 degC; lambda 0.17568, front after a day 0.11077 m. Two
phases: ground of one conductivity and heat capacity, 20 % water by volume, at 5 degC in the beginning.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erf, erfc

from simulator.section.freezing import FREEZING_POINT, FreezingSection
from simulator.section.layout import Solid
from tests.published.conduction import DAY, GAMMA, block, loads_of
from tests.published.registry import EXACT, RECOMPUTED, Row, check, verify

SOURCE = "Carslaw & Jaeger (1959) 11.2"
ICE = Solid("ice", 2.22, 1.93e6, 0.917)
SOIL = Solid("soil", 1.8, 2.4e6, 0.2)
FRONT_IN_ICE = 0.11077
COLD, WARM = -10.0, 5.0


def frozen_depths(
    solid: Solid, start: float, days: Iterable[float], step: float = 300.0, scale: float = 0.5
) -> Iterator[float]:
    """Depth [m] of all ice together after so many days, in rising order, with the surface at COLD."""
    operators = block(0.5, 2.5, solid=solid, cell_scale=scale)
    solver = FreezingSection(operators, FREEZING_POINT)
    # Just above the freezing point everything begins as water.
    state = solver.project(np.full((1, operators.cells), max(start, 1e-12)))
    stage, loads = solver.stage(GAMMA * step), loads_of(operators, floor=COLD)[None, :]
    taken = 0
    for steps in (round(day * DAY / step) for day in days):
        for _ in range(steps - taken):
            first = solver.advance(stage, state, loads)
            between = state + (1.0 - GAMMA) / GAMMA * (first - state)
            state = solver.settle(solver.advance(stage, between, loads))
        taken = steps
        yield float(solver.ice(state)[0] @ operators.water) / (solid.water * operators.layout.y_max)


@functools.cache
def frozen_depth(solid: Solid, start: float, days: float, step: float = 300.0, scale: float = 0.5) -> float:
    return next(frozen_depths(solid, start, [days], step, scale))


def neumann(solid: Solid, days: float) -> float:
    """Depth of the front [m] in ground whose properties freezing leaves alone."""
    latent = solid.water * 334e6 / solid.heat_capacity

    def balance(value: float) -> float:
        around = math.exp(-value * value) * (-COLD / erf(value) - WARM / erfc(value))
        return around - value * latent * math.sqrt(math.pi)

    root = brentq(balance, 1e-3, 3.0)
    return 2.0 * root * math.sqrt(solid.conductivity / solid.heat_capacity * days * DAY)


def ice_rows(step: float = 300.0) -> Iterator[Row]:
    found = frozen_depth(ICE, 0.0, 1.0, step)
    yield Row("front in still water at 0 degC, 1 d", found, FRONT_IN_ICE, 0.0015, "m")


def soil_rows(solid: Solid = SOIL) -> Iterator[Row]:
    moments = (2.0, 10.0)
    for days, found in zip(moments, frozen_depths(solid, WARM, moments), strict=True):
        yield Row(f"front in wet ground, {days:g} d", found, neumann(SOIL, days), 0.012, "m")


@check(SOURCE, RECOMPUTED)
def front_in_ice() -> Iterable[Row]:
    yield from ice_rows()


@check(SOURCE, EXACT)
def front_in_wet_ground() -> Iterable[Row]:
    yield from soil_rows()


@pytest.mark.parametrize("checked", [front_in_ice, front_in_wet_ground], ids=lambda each: each.name)
def test_fronts(checked) -> None:
    checked.verify()


def test_planted_errors_are_found() -> None:
    with pytest.raises(AssertionError):
        verify(soil_rows(Solid("soil", 1.8, 2.4e6, 0.17)))
    with pytest.raises(AssertionError):
        verify(ice_rows(3600.0))


def test_the_front_nears_the_solution_as_steps_shrink() -> None:
    errors = [abs(frozen_depth(ICE, 0.0, 1.0, step) - FRONT_IN_ICE) for step in (3600.0, 900.0, 300.0)]
    assert errors[0] > 2.0 * errors[1] > 2.0 * errors[2]
