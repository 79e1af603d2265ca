"""Yearly wave in undisturbed ground.

T. Kusuda and P. R. Achenbach, Earth temperature and thermal diffusivity at selected stations in the United
States, ASHRAE Transactions 71 (1965) 61-75; the equation was read in this form in Hillel (1982), numbers
evaluated apart from this program: T = Tm - A e^(-z sqrt(pi/365a)) cos[(2 pi/365)(t - t0 - (z/2) sqrt(365/(pi
a)))], mean 10, amplitude 12, coldest day 20, 0.75e-6 m2/s.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from simulator.case.loader import load_text
from simulator.climate.ground_temperature import annual_wave
from simulator.run.plan import plan
from tests.published.conduction import DAY, FIXED, block, loads_of, march, profile
from tests.published.registry import RECOMPUTED, Row, check, verify

DAYS = (20, 80, 200, 320)
TABLE = {
    0.0: (-2.0000, 3.8515, 21.9889, 4.7602),
    1.0: (2.2125, 3.4586, 17.6525, 9.2723),
    2.0: (5.6818, 4.4761, 14.1483, 11.5834),
    3.0: (8.1523, 5.9863, 11.6923, 12.4062),
    5.0: (10.4827, 8.6338, 9.4369, 11.9011),
}
COLDEST = {0.0: 20.0, 1.0: 41.17, 2.0: 62.34, 3.0: 83.51, 5.0: 125.86}
WAVE = {"mean": 10.0, "amplitude": 12.0, "coldest_day": 20.0, "diffusivity": 0.75e-6}


def formula_rows(**changes: float) -> Iterator[Row]:
    days = np.arange(0.0, 365.0, 0.01)
    for depth, published in TABLE.items():
        for day, value in zip(DAYS, published, strict=True):
            ours = float(annual_wave(depth, day, **{**WAVE, **changes}))
            yield Row(f"undisturbed ground, {depth:g} m, day {day}", ours, value, 6e-5, "degC")
        coldest = float(days[np.argmin(annual_wave(depth, days, **{**WAVE, **changes}))])
        yield Row(f"undisturbed ground, {depth:g} m, coldest day", coldest, COLDEST[depth], 0.011, "d", 2)


@check("Kusuda & Achenbach (1965)", "equation read, recomputed")
def undisturbed_ground() -> Iterable[Row]:
    yield from formula_rows()


CASE = """
site = { start = 2030-07-19T00:00:00, duration = "1 h" }
weather = { kind = "constant", temperature = "10 degC" }
floor = { width = "2 m", length = "2 m" }
ducts = { count = 1, depth = "1 m", diameter = "0.1 m" }
fan = { flow = "0.02 m3/s" }
heat = { kind = "none" }
room = { kind = "fixed", temperature = "10 degC" }
[ground]
depth = "12 m"
bottom = { kind = "adiabatic" }
layers = [{ conductivity = "1.5 W/(m.K)", heat_capacity = "2 MJ/(m3.K)" }]
start = { kind = "annual wave", mean = "10 degC", amplitude = "12 K", coldest_day = 20 }
"""


@check("Kusuda & Achenbach (1965)", "equation read, recomputed")
def start_of_a_case() -> Iterable[Row]:
    """19 July is day 200; the diffusivity is that of the layer."""
    prepared = plan(load_text(CASE))
    depth, place = np.unique(prepared.operators.cell_depth, return_index=True)
    found = CubicSpline(depth, prepared.start_temperature[place] - 273.15)
    for level, published in list(TABLE.items())[1:]:
        yield Row(f"start of a case on day 200, {level:g} m", float(found(level)), published[2], 3e-4, "degC")


def solver_rows(coldest_day: float = 20.0) -> Iterator[Row]:
    """A year of the section solver under the swinging surface; the error is that of cells up to 0.5 m."""
    operators = block(0.05, 25.0, film=FIXED)

    def surface(day: float) -> float:
        return 10.0 - 12.0 * math.cos(2.0 * math.pi / 365.0 * (day - coldest_day))

    first = 320 - 2 * 365
    start = annual_wave(operators.cell_depth, first, **WAVE)
    for time, cells in march(
        operators, start, [(DAY, 2 * 365)], lambda t: loads_of(operators, floor=surface(first + t / DAY))
    ):
        day = round(first + time / DAY)
        if day in DAYS:
            found = profile(operators, cells, surface(day))
            for depth, published in list(TABLE.items())[1:]:
                ours = float(found(depth))
                value = published[DAYS.index(day)]
                yield Row(f"year of the section solver, {depth:g} m, day {day}", ours, value, 0.04, "degC", 3)


@check("Kusuda & Achenbach (1965)", RECOMPUTED)
def year_of_the_solver() -> Iterable[Row]:
    yield from solver_rows()


@pytest.mark.parametrize(
    "checked", [undisturbed_ground, start_of_a_case, year_of_the_solver], ids=lambda each: each.name
)
def test_yearly_wave(checked) -> None:
    checked.verify()


def test_a_day_or_one_percent_of_diffusivity_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(formula_rows(diffusivity=0.7575e-6))
    with pytest.raises(AssertionError):
        verify(solver_rows(coldest_day=21.0))
