"""Steady heat flow from buried pipes: conduction shape factors of heat transfer textbooks.

Formulas from memory (for instance Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table 4.1; and
VDI Heat Atlas, section E1); numbers evaluated apart from this program. S is heat flow per metre, kelvin and
conductivity. Single pipe and pair are exact for pipe walls of one temperature. The formulas of a row of pipes
and of a pipe between two planes are those of line sources: they hold without error when the heat flow round
the pipe meets no first-order disturbance, which a film of Biot number h r / k = 1 between pipe and ground
brings about (it makes the pipe invisible to a field that varies along a straight line). A row of truly
isothermal pipes gives off up to 5 % more; the last test shows it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import pytest

from tests.published.conduction import GROUND, ISOTHERMAL_WALL, block, loads_of, steady, wall
from tests.published.registry import RECOMPUTED, Row, check, verify

K = GROUND.conductivity

# (radius, depth of centre) -> 2 pi / arcosh(z / r).
SINGLE = {(0.05, 0.30): 2.53570, (0.05, 0.20): 3.04501, (0.15, 1.0): 2.43101}
# (radius, depth, spacing) -> per pipe, 2 pi / ln[(s / (pi r)) sinh(2 pi z / s)].
ROW = {(0.05, 0.30, 0.30): 1.00739, (0.05, 0.30, 0.50): 1.48395, (0.05, 0.20, 0.40): 1.85822}
PAIR = 1.52250
"""Diameter 0.1, spacing 0.4, in an infinite solid: 2 pi / arcosh(2 (s / D)^2 - 1)."""
BETWEEN_PLANES = 4.68833
"""Diameter 0.1, planes 0.15 away on both sides: 2 pi / ln(8 z / (pi D))."""


def single(radius: float, depth: float, *, off: float = 0.0, **options: float) -> float:
    # Sixty depths of ground round the pipe leave an error of its square, 3e-4.
    operators = block(60.0 * depth, 60.0 * depth, [(0.0, depth + off, radius)], **options)
    cells = steady(operators, loads_of(operators, lane_0=1.0))
    return 1.0 / (K * wall(operators, cells, 1.0))


def row_resistance(
    radius: float, depth: float, spacing: float, *, biot: float = 1.0, film: float = 1e9, **options: float
) -> float:
    """Pipe wall to air over the floor, per metre of one pipe [K.m/W]; one pipe between adiabatic planes."""
    levelling = radius / K / biot
    operators = block(spacing / 2, 4.0, [(0.0, depth, radius)], levelling=levelling, film=film, **options)
    return wall(operators, steady(operators, loads_of(operators, lane_0=1.0)), 1.0)


def pair() -> float:
    operators = block(10.0, 20.0, [(-0.2, 10.0, 0.05), (0.2, 10.0, 0.05)], half=False)
    cells = steady(operators, loads_of(operators, lane_0=1.0, lane_1=-1.0))
    return 1.0 / (K * (wall(operators, cells, 1.0, 0) - wall(operators, cells, -1.0, 1)))


def between_planes(**options: float) -> float:
    operators = block(1.0, 0.3, [(0.0, 0.15, 0.05)], bottom="temperature", levelling=0.05 / K, **options)
    return 1.0 / (K * wall(operators, steady(operators, loads_of(operators, lane_0=1.0)), 1.0))


def within(share: float, published: float) -> float:
    return round(share * published, 5)


def single_rows(**options: float) -> Iterator[Row]:
    for (radius, depth), published in SINGLE.items():
        name = f"pipe r {radius:g} m, {depth:g} m deep"
        yield Row(name, single(radius, depth, **options), published, within(0.0015, published))


@check("shape factor of a buried cylinder, textbooks", RECOMPUTED)
def single_pipe() -> Iterable[Row]:
    yield from single_rows()
    fine = single(0.05, 0.3, cell_scale=0.5)
    yield Row("pipe r 0.05 m, 0.3 m deep, cells halved", fine, SINGLE[0.05, 0.3], 0.0018)


@check("shape factor of two parallel cylinders, textbooks", RECOMPUTED)
def two_pipes() -> Iterable[Row]:
    yield Row("two pipes of 0.1 m, 0.4 m apart", pair(), PAIR, within(0.001, PAIR))


def row_rows(**options: float) -> Iterator[Row]:
    for (radius, depth, spacing), published in ROW.items():
        ours = 1.0 / (K * row_resistance(radius, depth, spacing, **options))
        name = f"row of pipes r {radius:g} m, {depth:g} m deep, every {spacing:g} m"
        yield Row(name, ours, published, within(0.0025, published))


@check("shape factor of a row of cylinders, textbooks", RECOMPUTED)
def row_of_pipes() -> Iterable[Row]:
    yield from row_rows()
    fine = 1.0 / (K * row_resistance(0.05, 0.3, 0.3, cell_scale=0.5))
    yield Row("row of pipes every 0.3 m, cells halved", fine, ROW[0.05, 0.3, 0.3], 0.0005)


@check("embedded-pipe resistance as in ISO 11855-2: z/k + s/(2 pi k) ln(s/(pi d)) + 1/h", RECOMPUTED)
def row_under_film() -> Iterable[Row]:
    for radius, depth, spacing in ROW:
        # Per square metre of floor; the formula's error e^(-4 pi z / s) is under 0.2 % of its logarithm.
        formula = depth / K + spacing / (2 * math.pi * K) * math.log(spacing / (2 * math.pi * radius)) + 0.1
        ours = spacing * row_resistance(radius, depth, spacing, film=10.0)
        name = f"row of pipes {depth:g} m deep, every {spacing:g} m, under a film of 10 W/(m2.K)"
        yield Row(name, ours, round(formula, 5), within(0.0015, formula), "m2.K/W", 5)


@check("shape factor of a cylinder midway between planes, textbooks", RECOMPUTED)
def pipe_between_planes() -> Iterable[Row]:
    yield Row(
        "pipe midway in a slab of 0.3 m", between_planes(), BETWEEN_PLANES, within(0.0045, BETWEEN_PLANES)
    )
    fine = between_planes(cell_scale=0.5)
    yield Row("pipe midway in a slab, cells halved", fine, BETWEEN_PLANES, within(0.001, BETWEEN_PLANES))


@pytest.mark.parametrize(
    "checked",
    [single_pipe, two_pipes, row_of_pipes, row_under_film, pipe_between_planes],
    ids=lambda c: c.name,
)
def test_shape_factors(checked) -> None:
    checked.verify()


def test_a_pipe_3_mm_out_of_place_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(single_rows(off=0.003))


def test_isothermal_pipes_in_a_close_row_give_off_more_than_the_formula() -> None:
    biot = (0.05 / K) / ISOTHERMAL_WALL
    with pytest.raises(AssertionError):
        verify(row_rows(biot=biot))
