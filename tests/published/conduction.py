"""Sections solved on their own: steady fields, steps in time, and readings where a source states them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simulator.section.direct import DirectSection, factorise
from simulator.section.layout import Face, Lane, Region, SectionLayout, Solid, Surface
from simulator.section.operators import SectionOperators, build_operators

Floats = NDArray[np.float64]

FIXED = 1e9
"""Film [W/(m2.K)] that holds a surface at the temperature behind it."""
ISOTHERMAL_WALL = 1e-9
"""Levelling resistance [m2.K/W] that leaves no temperature difference round a pipe."""
UNIFORM_FLUX = 1000.0
"""Levelling resistance [m2.K/W] that leaves the heat flow round a pipe uniform."""
GROUND = Solid("ground", 1.5, 2.0e6)
DIFFUSIVITY = GROUND.conductivity / GROUND.heat_capacity
HOUR = 3600.0
DAY = 86400.0
GAMMA = 1.0 - 1.0 / math.sqrt(2.0)


def block(
    half_width: float,
    depth: float,
    lanes: Iterable[tuple[float, float, float]] = (),
    *,
    film: float = FIXED,
    levelling: float = ISOTHERMAL_WALL,
    bottom: str = "adiabatic",
    half: bool = True,
    solid: Solid = GROUND,
    cell_scale: float = 1.0,
    surfaces: tuple[Surface, ...] | None = None,
    **rest: Any,
) -> SectionOperators:
    """One solid with the floor on top; lanes are (across, depth, radius); `half` keeps y >= 0 only."""
    return build_operators(
        SectionLayout(
            y_min=0.0 if half else -half_width,
            y_max=half_width,
            depth=depth,
            solids=(solid,),
            regions=(Region(-half_width, half_width, 0.0, depth, 0),),
            surfaces=surfaces or (Surface("floor", -half_width, half_width, film),),
            lanes=tuple(Lane(y, z, r, r, levelling) for y, z, r in lanes),
            bottom=Face(bottom),
            mirrored=half,
            building_half_width=rest.pop("building_half_width", half_width),
            cell_scale=cell_scale,
            **rest,
        )
    )


def loads_of(operators: SectionOperators, **ports: float) -> Floats:
    """(P,) loads by port name; `lane_0`, `lane_1` for the lanes."""
    loads = np.zeros(operators.injection.shape[1])
    for name, value in ports.items():
        loads[int(name[5:]) if name.startswith("lane_") else operators.port(name)] = value
    return loads


def steady(operators: SectionOperators, loads: Floats) -> Floats:
    """(N,) steady cell temperatures."""
    return factorise(operators.stiffness).solve(operators.injection @ loads)


def wall(operators: SectionOperators, cells: Floats, heat: float, lane: int = 0) -> float:
    """Mean wall temperature of a duct that gives off `heat` [W/m]."""
    return float(operators.reading[:, lane] @ cells + operators.wall_resistance[lane] * heat)


def march(
    operators: SectionOperators,
    start: Floats,
    legs: Iterable[tuple[float, int]],
    loads_at: Callable[[float], Floats],
) -> Iterator[tuple[float, Floats]]:
    """Time and cell temperatures after each step of legs (step length [s], count).

    The scheme is that of the program: two implicit stages with GAMMA (Alexander 1977).
    """
    solver = DirectSection(operators)
    state = np.atleast_2d(start)
    time = 0.0
    for step, count in legs:
        stage = solver.stage(GAMMA * step)
        for _ in range(count):
            first = solver.advance(stage, state, loads_at(time + GAMMA * step)[None, :])
            between = state + (1.0 - GAMMA) / GAMMA * (first - state)
            time += step
            state = solver.advance(stage, between, loads_at(time)[None, :])
            yield time, state[0]


def column(operators: SectionOperators, cells: Floats) -> tuple[Floats, Floats]:
    """Depths and temperatures of the first column of cells."""
    chosen = operators.cell_of[0]
    return operators.cell_depth[chosen], cells[chosen]


def floor_surface(operators: SectionOperators, cells: Floats, behind_film: float) -> float:
    """Temperature of the floor surface in the first column."""
    share = operators.surface_share[0]
    return float(share * cells[operators.floor_cells[0]] + (1.0 - share) * behind_film)


def profile(operators: SectionOperators, cells: Floats, behind_film: float) -> CubicSpline:
    """Temperature over depth, through the surface and the cell centres; level at an adiabatic bottom."""
    depth, value = column(operators, cells)
    surface = floor_surface(operators, cells, behind_film)
    low = operators.layout.depth
    image = slice(-1, -4, -1)
    return CubicSpline(
        np.concatenate(([0.0], depth, 2.0 * low - depth[image])),
        np.concatenate(([surface], value, value[image])),
    )
