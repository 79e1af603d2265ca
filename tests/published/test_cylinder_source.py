"""Heat flow that starts at a pipe in an infinite solid, and how little the mesh round the pipe matters.

Cylinder source with a constant heat flow (L. R. Ingersoll, O. J. Zobel, A. C. Ingersoll, Heat Conduction,
1954; Carslaw & Jaeger 13.5), cylinder at constant temperature (Carslaw & Jaeger 13.5), line source (10.4).
Formulas from memory; G evaluated by integral and by Laplace inversion, which agree to 1e-5. Printed tables
not seen.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.special import exp1

from simulator.section.layout import Surface
from simulator.section.operators import SectionOperators
from tests.published.cases import STEP, run
from tests.published.conduction import (
    DAY,
    DIFFUSIVITY,
    FIXED,
    GROUND,
    HOUR,
    UNIFORM_FLUX,
    Floats,
    block,
    loads_of,
    march,
    wall,
)
from tests.published.registry import EXACT, RECOMPUTED, Row, check, verify

K = GROUND.conductivity
RADIUS = 0.05

# Fo -> G at the wall, G at twice the radius; temperature rise = q / k * G.
CYLINDER = {
    0.1: (0.050012, 0.000418),
    0.5: (0.098176, 0.015817),
    1.0: (0.127665, 0.035076),
    2.0: (0.162694, 0.063013),
    5.0: (0.216843, 0.111575),
    10.0: (0.262748, 0.155185),
    20.0: (0.311853, 0.202996),
    50.0: (0.380121, 0.270415),
    100.0: (0.433362, 0.323357),
    1000.0: (0.614432, 0.504146),
}
# Fo -> heat flow over k dT.
CONSTANT = {0.1: 14.1293, 1.0: 6.18122, 10.0: 3.35469, 100.0: 2.17122}
# (distance [m], hours) -> rise [K] from 20 W/m.
LINE = {(0.05, 8): 3.17695, (0.10, 8): 1.79491, (0.30, 24): 0.84865}


def ring_means(operators: SectionOperators, cells: Floats) -> CubicSpline:
    """Mean temperature round the pipe over ln r, out to the rim of the near field."""
    ring = operators.rings[0]
    count = ring.mean_log.size + 1
    first = int(operators.first_ring_cell[0])
    means = cells[first : first + count * ring.sectors].reshape(count, ring.sectors).mean(axis=1)
    return CubicSpline(np.append(ring.mean_log, math.log(ring.rim_node_radius)), means)


def cylinder_rows(cell_scale: float = 1.0, heat: float = 1.0, share: float = 0.008) -> Iterator[Row]:
    operators = block(
        12.0, 24.0, [(0.0, 12.0, RADIUS)], film=0.0, levelling=UNIFORM_FLUX, cell_scale=cell_scale
    )
    steps = 20
    ends = [fourier * RADIUS**2 / DIFFUSIVITY for fourier in CYLINDER]
    legs = [((end - begin) / steps, steps) for begin, end in zip([0.0, *ends], ends, strict=False)]
    load = loads_of(operators, lane_0=heat)
    marched = list(march(operators, np.zeros(operators.cells), legs, lambda _: load))[steps - 1 :: steps]
    for (fourier, (at_wall, at_twice)), (_, cells) in zip(CYLINDER.items(), marched, strict=True):
        ours = K * wall(operators, cells, heat)
        yield Row(f"cylinder source at the wall, Fo {fourier:g}", ours, at_wall, round(share * at_wall, 5))
        if fourier >= 2.0:
            ours = K * float(ring_means(operators, cells)(math.log(2.0 * RADIUS)))
            yield Row(f"cylinder source at 2 r, Fo {fourier:g}", ours, at_twice, round(share * at_twice, 5))


@check("cylinder source, Ingersoll et al. (1954)", RECOMPUTED)
def cylinder_source() -> Iterable[Row]:
    yield from cylinder_rows()


@check("cylinder source, Ingersoll et al. (1954)", RECOMPUTED)
def cylinder_source_halved() -> Iterable[Row]:
    for row in cylinder_rows(0.5, share=0.0022):
        if "wall" in row.check:
            yield Row(f"{row.check}, cells halved", row.ours, row.published, row.tolerance)


def line_rows(cell_scale: float, share: float, heat: float = 20.0) -> Iterator[Row]:
    # A thin pipe: the ground missing inside it holds back 0.03 % of the heat.
    operators = block(3.0, 6.0, [(0.0, 3.0, 0.002)], film=0.0, levelling=UNIFORM_FLUX, cell_scale=cell_scale)
    radius = np.hypot(operators.cell_across, operators.cell_depth - 3.0)
    load = loads_of(operators, lane_0=heat)
    legs = [(60.0, 20), (600.0, 46), (1800.0, 32)]
    for time, cells in march(operators, np.zeros(operators.cells), legs, lambda _: load):
        for (distance, hours), published in LINE.items():
            if abs(time - hours * HOUR) < 1.0:
                # Cells near the distance, carried to it by the shape of the exact field.
                near = np.abs(radius / distance - 1.0) < 0.15
                shape = exp1(radius[near] ** 2 / (4.0 * DIFFUSIVITY * time))
                exact = exp1(distance**2 / (4.0 * DIFFUSIVITY * time))
                ours = float(np.mean(cells[near] / shape)) * float(exact)
                name = f"line source, {distance:.2f} m away, {hours} h"
                yield Row(name, ours, published, round(share * published, 4), "K")


@check("line source, Carslaw & Jaeger (1959) 10.4", RECOMPUTED)
def line_source() -> Iterable[Row]:
    yield from line_rows(1.0, 0.011)


@check("line source, Carslaw & Jaeger (1959) 10.4", RECOMPUTED)
def line_source_halved() -> Iterable[Row]:
    for row in line_rows(0.5, 0.003):
        yield Row(f"{row.check}, cells halved", row.ours, row.published, row.tolerance, row.unit)


def constant_rows(cell_scale: float, share: float, conductivity: float = K) -> Iterator[Row]:
    """Through whole runs: a flow so large that neither film nor duct length cools the air."""
    for step, fouriers in ((33.333, (0.1, 1.0, 10.0)), (600.0, (100.0,))):
        found = run(
            site={"duration": f"{math.ceil(fouriers[-1] * RADIUS**2 / DIFFUSIVITY) + 60} s"},
            ground={
                "depth": "6 m",
                "layers": [{"conductivity": f"{conductivity} W/(m.K)", "heat_capacity": "2 MJ/(m3.K)"}],
            },
            floor={"width": "6 m"},
            ducts={"depth": "3 m", "film": "1e9 W/(m2.K)"},
            fan={"mass_flow": "50 kg/s"},
            numerics={"stations": 1, "step": f"{step} s", "cell_scale": cell_scale},
            output={"interval": f"{step} s", "fields": "0 h"},
        )
        for fourier in fouriers:
            time = fourier * RADIUS**2 / DIFFUSIVITY
            heat = np.interp(time, found["time"], found["duct_heat_per_length"][:, 0, 0])
            published = CONSTANT[fourier]
            name = f"cylinder at constant temperature, heat flow, Fo {fourier:g}"
            yield Row(name, float(heat) / STEP / K, published, round(share * published, 5), "k dT")


@check("cylinder at constant temperature, Carslaw & Jaeger (1959) 13.5", RECOMPUTED)
def constant_temperature() -> Iterable[Row]:
    yield from constant_rows(1.0, 0.014)


@check("cylinder at constant temperature, Carslaw & Jaeger (1959) 13.5", RECOMPUTED)
def constant_temperature_halved() -> Iterable[Row]:
    for row in constant_rows(0.5, 0.006):
        yield Row(f"{row.check}, cells halved", row.ours, row.published, row.tolerance, row.unit)


def wall_history(across: float, line: float | None, radius: float = RADIUS) -> Floats:
    """Wall temperature 5 min, 1 h and 1 day after a unit heat flow begins; `line` is one more grid line."""
    cut = None if line is None else (Surface("floor", -3.0, line, FIXED), Surface("floor", line, 3.0, FIXED))
    operators = block(
        3.0, 4.0, [(across, 0.4, radius)], half=False, levelling=UNIFORM_FLUX, surfaces=cut
    )  # fmt: skip
    load = loads_of(operators, lane_0=1.0)
    legs = [(15.0, 20), (60.0, 55), (1800.0, 46)]
    wanted = (300, round(HOUR), round(DAY))
    return np.array(
        [
            wall(operators, cells, 1.0)
            for time, cells in march(operators, np.zeros(operators.cells), legs, lambda _: load)
            if round(time) in wanted
        ]
    )


SHIFTS = (0.0, 0.006, 0.0125, 0.02)
"""Parts of the 25 mm cells round the pipe [m]."""
LINES = (None, 0.0317, 0.11)


def spread_of_cuts(radius_error: float = 0.0) -> float:
    """Largest relative change of the wall temperature over all cuts of the mesh round the same pipe."""
    uncut = wall_history(0.0, None)
    return max(
        float(np.max(np.abs(wall_history(across, line, RADIUS + radius_error) / uncut - 1.0)))
        for across in SHIFTS
        for line in LINES
    )


@check("a pipe does not feel how grid lines cut it (invariance of the exact solution)", EXACT)
def cuts_of_the_mesh() -> Iterable[Row]:
    yield Row(
        "largest change of wall temperature over 12 cuts of the mesh",
        100 * spread_of_cuts(),
        0.0,
        0.1,
        "%",
        3,
    )


@pytest.mark.parametrize(
    "checked", [cylinder_source, line_source, constant_temperature, cuts_of_the_mesh], ids=lambda c: c.name
)
def test_sources(checked) -> None:
    checked.verify()


@pytest.mark.parametrize(
    "checked",
    [cylinder_source_halved, line_source_halved, constant_temperature_halved],
    ids=lambda each: each.name,
)
def test_sources_with_cells_halved(checked) -> None:
    checked.verify()


def test_one_percent_of_heat_too_much_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(cylinder_rows(heat=1.01))


def test_two_percent_of_conductivity_too_much_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(constant_rows(1.0, 0.014, conductivity=1.02 * K))


def test_a_pipe_1_mm_too_wide_would_show_among_the_cuts() -> None:
    assert spread_of_cuts(radius_error=0.001) > 0.005
