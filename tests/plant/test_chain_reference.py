"""The plant against a right-hand side written anew and integrated by scipy's Radau method."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.plant import chain_kernels
from simulator.plant import layout_kernels as layout
from simulator.plant.chain import start
from tests.plant.plants import Independent, case_of, plant, residuals, run

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


RISING = {
    # One node: cool intake air sends cold water to the top of layers, which then mix.
    "two coils": case_of(2, steady=False),
    "no coils, pinned film, bypass": case_of(steady=False, hood={"film": "15 W/(m2.K)", "bypass": 0.2}),
}


@pytest.mark.parametrize("case", RISING.values(), ids=RISING.keys())
def test_rising_fire_intake_and_room_against_an_independent_right_hand_side(case) -> None:
    made = plant(case)
    length = 900.0
    edges = np.arange(7) * length
    room = 288.0 + 5.0 * np.sin(edges / 1400.0)
    intake = 278.0 + 8.0 * np.cos(edges / 900.0)
    burning = 8e-4 * np.sin(edges / 1700.0) ** 2
    expected = Independent(
        case,
        room=lambda time: float(np.interp(time, edges, room)),
        intake=lambda time: float(np.interp(time, edges, intake)),
        batch_rate=lambda time: float(np.interp(time, edges, burning)),
        air_capacity=1006.0,
    ).after(edges[1:], edges[1:])
    state = start(made)
    worst = 0.0
    for i, row in enumerate(expected):
        told = {}
        for name, nodes in (("room", room), ("intake", intake), ("batch_rate", burning)):
            told[name] = 0.5 * (nodes[i] + nodes[i + 1])
            told[f"{name.removesuffix('_rate')}_rise"] = nodes[i + 1] - nodes[i]
        ran = run(made, state, length=length, fan_power=0.0, air_capacity=1006.0, **told)
        assert ran.status == chain_kernels.EXACT
        assert ran.flows[layout.BURNT] == pytest.approx(told["batch_rate"] * length, rel=1e-12)
        assert np.abs(residuals(ran.flows)).max() < 1e-9 * ran.flows[layout.FUEL] + 1e-4
        # What is told for the end is what stands there at the end.
        assert ran.temperatures[layout.FLUE] - ran.temperatures[layout.MEAN_FLUE] == pytest.approx(
            0.5 * told["room_rise"], rel=0.2
        )
        state = ran.state
        worst = max(worst, float(np.abs(np.delete(state, 2) - row).max()))
    assert worst < 0.05
