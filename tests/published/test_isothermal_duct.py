"""Air in a duct whose wall keeps its temperature: exponential approach, exact (any heat transfer textbook).

T_exit = T_wall + (T_in - T_wall) exp(-h pi d L / (m cp)), through a whole run. The wall is held by ground of
the highest conductivity and heat capacity that a case may have.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest

from tests.published.cases import AIR, CAPACITY_FLOW, LENGTH, RADIUS, STEP, at, run
from tests.published.registry import EXACT, Row, check, verify

HELD = {"layers": [{"conductivity": "1000 W/(m.K)", "heat_capacity": "100 MJ/(m3.K)"}]}


def rows(*, film_error: float = 0.0, flows: Iterable[float] = (1.0, 0.3, 3.0)) -> Iterator[Row]:
    for factor in flows:
        flow = float(AIR["mass_flow"].split()[0]) * factor
        found = run(
            site={"duration": "1 min"},
            ground=HELD,
            ducts={"film": f"{10.0 * (1.0 + film_error)} W/(m2.K)"},
            fan={"mass_flow": f"{flow} kg/s"},
            numerics={"stations": 16, "step": "20 s"},
            output={"interval": "1 min", "fields": "0 h"},
        )
        transfer_units = 10.0 * 2 * math.pi * RADIUS * LENGTH / (CAPACITY_FLOW * factor)
        ours = at(found, "exit_temperature", 60.0) / STEP
        # The wall warms by some 1e-4 of the step within the minute.
        name = f"isothermal duct, NTU {transfer_units:.3f}: exit"
        yield Row(name, float(ours), round(math.exp(-transfer_units), 6), 2e-4)
        half = at(found, "air_temperature", 60.0)[0, 8] / STEP
        name = f"isothermal duct, NTU {transfer_units:.3f}: halfway"
        yield Row(name, float(half), round(math.exp(-transfer_units / 2), 6), 2e-4)


@check("exponential approach in an isothermal duct, textbooks", EXACT)
def isothermal_duct() -> Iterable[Row]:
    yield from rows()


def test_isothermal_duct() -> None:
    isothermal_duct.verify()


def test_a_film_half_a_percent_out_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(rows(film_error=0.005, flows=(1.0,)))


def test_the_number_of_stations_does_not_matter() -> None:
    # The march over a station is exact, so only the warming of the wall could tell.
    short = {"site": {"duration": "1 min"}, "ground": HELD, "output": {"interval": "1 min", "fields": "0 h"}}
    exits = [
        float(run(**short, numerics={"stations": n, "step": "20 s"})["exit_temperature"][-1])
        for n in (1, 7, 60)
    ]
    np.testing.assert_allclose(exits, exits[0], rtol=2e-4)
