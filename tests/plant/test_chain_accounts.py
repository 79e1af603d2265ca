"""Conservation: whatever the plant and its drives, what one part gives the other takes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.plant import chain_kernels
from simulator.plant import layout_kernels as at
from simulator.plant.chain import start
from tests.examples import examples
from tests.plant.plants import case_of, plant, residuals, run

ARRANGEMENTS = [
    "counter flow",
    "parallel flow",
    "cross flow",
    "cross flow, air mixed",
    "cross flow, water mixed",
]


@st.composite
def cases(draw):
    """A case with anything in it."""
    coils = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "conductance": st.floats(1.0, 2000.0).map("{} W/K".format),
                    "arrangement": st.sampled_from(ARRANGEMENTS),
                    "air_side_share": st.floats(0.0, 1.0),
                    "water_volume": st.floats(0.1, 20.0).map("{} L".format),
                }
            ),
            max_size=3,
        )
    )
    layers = draw(st.integers(1, 6))
    water = {
        "tank_volume": f"{draw(st.floats(20.0, 3000.0))} L",
        "layers": layers,
        "height": "1.2 m",
        "temperature": f"{draw(st.floats(1.0, 95.0))} degC",
        "make_up": f"{draw(st.sampled_from([0.0, 5.0, 2000.0]))} L/h",
        "coils": draw(st.sampled_from(["series", "parallel"])),
    }
    stove = {
        "rate": f"{draw(st.floats(0.1, 20.0))} kg/h",
        # Not wholly shut in: with the fan off the fire would heat it without end.
        "bare_share": draw(st.floats(0.01, 1.0)),
        "mass": f"{draw(st.floats(5.0, 500.0))} kg",
        "start_up": f"{draw(st.sampled_from([0.0, 100.0, 3000.0]))} s",
        "burn_out": f"{draw(st.sampled_from([0.0, 100.0, 3000.0]))} s",
    }
    if draw(st.booleans()):
        stove |= {"efficiency": None, "flue_temperature": f"{draw(st.floats(60.0, 500.0))} degC"}
    hood = {
        "bypass": draw(st.floats(0.0, 0.9)),
        "heat_loss": f"{draw(st.floats(0.0, 20.0))} W/(m2.K)",
        "fan_place": draw(st.sampled_from(["after coils", "before coils"])),
        "film": draw(st.sampled_from([None, "15 W/(m2.K)"])),
    }
    stove = {key: value for key, value in stove.items() if value is not None or key == "efficiency"}
    return case_of(coils, stove=stove, hood=hood, water=water)


DRIVES = st.fixed_dictionaries(
    {
        "length": st.sampled_from([1.0, 60.0, 300.0, 3600.0, 1e6]),
        "batch_rate": st.sampled_from([0.0, 1e-3]),
        "feed": st.sampled_from([0.0, 0.3, 1.0]),
        "overfeed": st.sampled_from([0.0, 1.0, 3.0]),
        "intake": st.floats(250.0, 320.0),
        "room": st.floats(260.0, 310.0),
        "intake_rise": st.floats(-20.0, 20.0),
        "room_rise": st.floats(-10.0, 10.0),
        "air_flow": st.sampled_from([0.0, 1e-4, 0.01, 0.15, 1.0]),
        "fan_power": st.sampled_from([0.0, 100.0]),
        "pump": st.sampled_from([0.0, 0.01, 1.0]),
        "air_capacity": st.sampled_from([math.nan, 1006.0]),
    }
)


@settings(max_examples=examples(150))
@given(case=cases(), drives=st.lists(DRIVES, min_size=1, max_size=4))
def test_accounts_close_to_rounding(case, drives) -> None:
    made = plant(case)
    state = start(made)
    for told in drives:
        ran = run(made, state, **told)
        assert ran.status != chain_kernels.FAILED
        assert np.all(np.isfinite(ran.state))
        assert np.all(np.isfinite(ran.temperatures))
        # Heat held above 0 K sets the size of rounding.
        held = made.fixed.shell_capacity * ran.state[0] + made.fixed.layer_capacity * np.sum(
            ran.state[made.places.layers]
        )
        scale = 1e-11 * (held + np.abs(ran.flows[: at.BURNT]).sum())
        assert np.abs(residuals(ran.flows)).max() < scale
        coils = ran.flows[made.places.coil_heat]
        assert math.isclose(coils.sum(), ran.flows[at.COILS], rel_tol=1e-12, abs_tol=scale)
        assert ran.flows[at.VENTED] >= 0.0
        assert 0.0 <= ran.flows[at.BOILING_TIME] <= told["length"] * (1.0 + 1e-12)
        if told["air_flow"] == 0.0:
            assert ran.flows[at.AIR_NET] == 0.0
        tank = ran.state[made.places.layers]
        assert np.all(np.diff(tank) >= -1e-9)
        state = ran.state


@settings(max_examples=examples(30))
@given(case=cases(), kelvin=st.floats(275.0, 305.0), air_flow=st.sampled_from([0.0, 0.15]))
def test_nothing_happens_where_all_is_equally_warm_and_no_fire_burns(case, kelvin, air_flow) -> None:
    case.room.temperature = kelvin
    made = plant(case)
    state = start(made)
    state[:2] = kelvin
    state[3:] = kelvin
    told = {
        "feed": 0.0,
        "intake": kelvin,
        "room": kelvin,
        "air_flow": air_flow,
        "fan_power": 0.0,
        "pump": 0.0,
    }
    ran = run(made, state, **told)
    if case.water.make_up == 0.0:
        assert np.abs(np.delete(ran.state, 2) - kelvin).max() < 1e-9
    assert np.abs(ran.state[:2] - kelvin).max() < 1e-9


def test_a_lost_flow_is_found() -> None:
    # The checks above must be able to fail.
    flows = run(plant(case_of(1))).flows
    flows[at.HOOD_TO_ROOM] += 1.0
    assert abs(residuals(flows)[0]) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("air_flow", [0.0, 0.15])
def test_heat_of_a_long_steady_fire_goes_where_the_efficiency_says(air_flow) -> None:
    made = plant(case_of())
    settled = run(made, steps=1, length=2e6, air_flow=air_flow).state
    ran = run(made, settled, length=3600.0, air_flow=air_flow)
    flows = ran.flows
    assert flows[at.FUEL] == pytest.approx(3600.0 * 2.8 / 3600.0 * made.fixed.heating_value, rel=1e-12)
    assert flows[at.FLUE_LOSS] == pytest.approx(0.25 * flows[at.FUEL], rel=1e-12)
    kept = flows[at.STOVE_TO_ROOM] + flows[at.HOOD_TO_ROOM] + flows[at.AIR_NET]
    assert kept == pytest.approx(0.75 * flows[at.FUEL], rel=1e-6)


def test_the_stream_leaves_as_warm_as_the_heat_it_took() -> None:
    made = plant(case_of(2, hood={"bypass": 0.3}))
    settled = run(made, steps=24).state
    ran = run(made, settled, length=1.0, air_capacity=1006.0)
    rise = ran.flows[at.AIR_NET] / (0.15 * 1006.0)
    assert ran.temperatures[at.AFTER_COILS] - 290.0 == pytest.approx(rise, abs=0.02)
    fan = 60.0 / (0.15 * 1006.0)
    assert ran.temperatures[at.FAN_AIR] - ran.temperatures[at.AFTER_COILS] == pytest.approx(fan, rel=1e-9)
