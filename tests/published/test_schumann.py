"""Air that warms a solid of no resistance along its way: the step response of Anzelius, Schumann and Nusselt.

T. E. W. Schumann, Heat transfer: a liquid flowing through a porous prism, J. Franklin Inst. 208 (1929)
405-416 (citation read; formulas from memory). Table evaluated twice apart from this program, by the Bessel
integral and by the non-central chi-square distribution, which agree to 4e-16. x is the number of transfer
units up to the place, y the heat that the air could have given to the solid over what the solid holds; air at
x is J(x, y), the solid 1 - J(y, x). Here the solid is a closed block of the highest conductivity round one
duct.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import ncx2

from tests.published.cases import LENGTH, RADIUS, STEP, run
from tests.published.registry import RECOMPUTED, Row, check, verify

Y = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
TABLE = {
    1.0: (0.53013, 0.65425, 0.81742, 0.90614, 0.95277, 0.97665, 0.98863, 0.99740, 0.99943),
    2.0: (0.26901, 0.39430, 0.60350, 0.75301, 0.85194, 0.91393, 0.95123, 0.98528, 0.99583),
    5.0: (0.02995, 0.06563, 0.16857, 0.29819, 0.43507, 0.56392, 0.67555, 0.83645, 0.92561),
}
FILM = 10.0
SIDE = 0.5
HEAT_CAPACITY = 4e6 * (SIDE**2 - math.pi * RADIUS**2)
"""Of the solid [J/(m.K)]."""
UNIT = HEAT_CAPACITY / (FILM * 2.0 * math.pi * RADIUS)
"""Time in which y grows by one [s]."""


def j_function(x: float, y: float) -> float:
    return float(ncx2.sf(2.0 * x, 2, 2.0 * y))


def history(units: float, *, stations: int = 80, capacity_error: float = 0.0) -> dict[str, NDArray[Any]]:
    """A run over ten units of y with `units` transfer units along the duct."""
    flow = FILM * 2.0 * math.pi * RADIUS * LENGTH / units / 1000.0
    solid = {"conductivity": "1000 W/(m.K)", "heat_capacity": f"{4.0 * (1.0 + capacity_error)} MJ/(m3.K)"}
    step = round(UNIT / 40.0, 3)
    return run(
        site={"duration": f"{math.ceil(10.0 * UNIT)} s"},
        floor={"width": f"{SIDE} m"},
        ground={"depth": f"{SIDE} m", "layers": [solid]},
        ducts={"depth": f"{SIDE / 2} m", "film": f"{FILM} W/(m2.K)"},
        fan={"mass_flow": f"{flow} kg/s"},
        numerics={"stations": stations, "step": f"{step} s"},
        output={"interval": f"{step} s", "fields": "0 h"},
    )


def rows(**options: float) -> Iterator[Row]:
    for units, published in TABLE.items():
        found = history(units, **options)
        # Rows fall a few seconds beside the wanted times.
        air = np.interp(np.array(Y) * UNIT, found["time"], found["exit_temperature"]) / STEP
        for y, ours, value in zip(Y, air, published, strict=True):
            yield Row(f"air at x {units:g}, y {y:g}", float(ours), value, 3e-4)


def solid_rows() -> Iterator[Row]:
    stations = 80
    found = history(2.0, stations=stations)
    x = 2.0 * (found["station"] / LENGTH)
    worst = 0.0
    for y in Y:
        row = int(np.argmin(np.abs(found["time"] - y * UNIT)))
        exact = np.array([1.0 - j_function(found["time"][row] / UNIT, place) for place in x])
        worst = max(worst, float(np.max(np.abs(found["wall_temperature"][row, 0] / STEP - exact))))
    yield Row("solid along x 0 to 2, y 0.5 to 10: largest departure", worst, 0.0, 3e-4)


@check("Schumann, J. Franklin Inst. 208 (1929) 405", RECOMPUTED)
def step_response() -> Iterable[Row]:
    yield from rows()
    yield from solid_rows()


def test_step_response() -> None:
    step_response.verify()


def test_table_is_that_of_the_formula() -> None:
    for x, values in TABLE.items():
        np.testing.assert_allclose([j_function(x, y) for y in Y], values, atol=6e-6)


def test_one_percent_of_heat_capacity_too_much_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(rows(capacity_error=0.01))


def test_stations_converge_with_their_square() -> None:
    # At x 5 the stations' error outweighs that of the steps.
    def error(stations: int) -> float:
        found = history(5.0, stations=stations)
        ours = np.interp(np.array(Y) * UNIT, found["time"], found["exit_temperature"]) / STEP
        return float(np.max(np.abs(ours - [j_function(5.0, y) for y in Y])))

    assert 3.2 < error(5) / error(10) < 4.8
