"""The plant against a right-hand side written anew and integrated by scipy's Radau method."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.plant import chain_kernels
from simulator.plant.chain import start
from tests.plant.plants import Independent, case_of, plant, run

CASES = {
    "no coils": (case_of(), {}),
    "no coils, fan off": (case_of(), {"air_flow": 0.0}),
    "pinned film, bypass": (case_of(hood={"film": "15 W/(m2.K)", "bypass": 0.2}), {}),
    "one coil, one node": (case_of(1), {}),
    "two coils in series, layers": (case_of(2, water={"layers": 4, "height": "1.2 m"}), {}),
    "two coils in parallel": (
        case_of(
            [{"arrangement": "counter flow"}, {"arrangement": "parallel flow"}], water={"coils": "parallel"}
        ),
        {},
    ),
    "mixed streams, slow pump": (
        case_of([{"arrangement": "cross flow, air mixed"}, {"arrangement": "cross flow, water mixed"}]),
        {"pump": 0.3},
    ),
    "pump off": (case_of(1), {"pump": 0.0}),
    "make-up faster than pump": (
        case_of(
            1, water={"layers": 3, "height": "1 m", "make_up": "20 L/min", "make_up_temperature": "10 degC"}
        ),
        {},
    ),
}


@pytest.mark.parametrize(("case", "told"), CASES.values(), ids=CASES.keys())
def test_against_an_independent_right_hand_side(case, told) -> None:
    made = plant(case)
    times = np.arange(1, 25) * 300.0
    expected = Independent(case, **told).after(times)
    state = start(made)
    worst = 0.0
    for row in expected:
        ran = run(made, state, fan_power=0.0, **told)
        assert ran.status == chain_kernels.EXACT
        state = ran.state
        worst = max(worst, float(np.abs(np.delete(state, 2) - row).max()))
    # A part of a step may err by 5 mK; errors add up over the stove's time constant.
    assert worst < 0.05
