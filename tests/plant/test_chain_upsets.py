"""Pump, fan and fire gone wrong: which way temperatures go, and where they stop."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from simulator.errors import CaseError
from simulator.physics import combustion
from simulator.physics.combustion import Fuel, burn
from simulator.plant import layout_kernels as at
from simulator.plant.chain import batch_rates, gas_of, start
from simulator.plant.limits import limits_of
from tests.plant.plants import case_of, inputs_of, plant, run

HOT = {"room": 290.0, "air_flow": 0.05}


def test_a_standing_pump_leaves_the_coil_to_the_air() -> None:
    made = plant(case_of(1, stove={"rate": "1 kg/h"}))
    running = run(made, steps=48)
    stopped = run(made, running.state, steps=48, pump=0.0)
    coil = stopped.state[made.places.coils][0]
    assert coil > running.state[made.places.coils][0] + 5.0
    assert coil == pytest.approx(stopped.temperatures[at.MIXED_AIR], abs=0.1)
    assert run(made, stopped.state, pump=0.0).flows[at.COILS] == pytest.approx(0.0, abs=2000.0)


def test_a_coil_in_hot_air_boils_at_its_limit_and_blows_off_the_surplus() -> None:
    made = plant(case_of(1, stove={"rate": "4 kg/h"}))
    ran = run(made, steps=24, pump=0.0, **HOT)
    end = run(made, ran.state, pump=0.0, **HOT)
    coil = end.state[made.places.coils][0]
    assert 373.15 < coil < 373.15 + 0.05
    assert end.flows[at.BOILING_TIME] == pytest.approx(300.0)
    assert end.flows[at.VENTED] == pytest.approx(end.flows[at.COILS], rel=1e-3)
    # Heat of vaporisation at 100 degC from the reference equation of water.
    heat = PropsSI("H", "T", 373.15, "Q", 1, "Water") - PropsSI("H", "T", 373.15, "Q", 0, "Water")
    assert end.flows[at.VENTED] / end.flows[at.STEAM] == pytest.approx(heat, rel=0.01)


@pytest.mark.parametrize("pressure_cooker", ["100 degC", "120 degC"])
def test_boiling_follows_the_case(pressure_cooker) -> None:
    made = plant(case_of([{"boiling_temperature": pressure_cooker}], stove={"rate": "4 kg/h"}))
    ran = run(made, steps=48, pump=0.0, **HOT)
    assert ran.state[made.places.coils][0] == pytest.approx(made.fixed.boiling[0], abs=0.05)


def test_a_standing_fan_heats_shell_hood_and_coil() -> None:
    made = plant(case_of(1))
    running = run(made, steps=48)
    stopped = run(made, running.state, steps=48, air_flow=0.0, pump=0.0)
    assert stopped.state[at.SHELL] > running.state[at.SHELL] + 50.0
    assert stopped.state[at.HOOD_WALL] > running.state[at.HOOD_WALL] + 50.0
    assert stopped.state[made.places.coils][0] > running.state[made.places.coils][0] + 20.0


def test_slower_air_is_hotter_without_a_jump_where_it_stands() -> None:
    made = plant(case_of())
    found = []
    for flow in (0.0, 1e-6, 1e-4, 0.01, 0.05, 0.15):
        ran = run(made, steps=1, length=1e6, air_flow=flow)
        found.append(ran.state[at.SHELL])
    assert all(a >= b for a, b in pairwise(found))
    assert found[0] == pytest.approx(found[1], abs=0.05)


def test_warm_water_sinks_nowhere() -> None:
    made = plant(case_of(1, water={"layers": 5, "height": "1.2 m", "make_up": "0 L/h", "heat_loss": "0 W/K"}))
    state = start(made)
    state[made.places.layers] = [350.0, 340.0, 300.0, 300.0, 290.0]
    ran = run(made, state, length=1.0, feed=0.0, pump=0.0, air_flow=0.0)
    assert ran.state[made.places.layers] == pytest.approx(np.full(5, 316.0), abs=0.01)
    assert ran.flows[at.STORED_WATER] == pytest.approx(0.0, abs=50.0)


def test_layers_keep_hot_water_on_top() -> None:
    stirred = plant(case_of(1, water={"tank_volume": "200 L", "pump_flow": "1 L/min"}))
    layered = plant(
        case_of(1, water={"tank_volume": "200 L", "pump_flow": "1 L/min", "layers": 10, "height": "1.5 m"})
    )
    one, many = run(stirred, steps=24), run(layered, steps=24)
    tank = many.state[layered.places.layers]
    assert tank[-1] > one.state[stirred.places.layers][0] + 3.0
    assert tank[0] < one.state[stirred.places.layers][0] - 3.0


@pytest.mark.parametrize(
    ("moisture", "ratio", "celsius"), [(0.15, 2.0, 200.0), (0.08, 2.0, 120.0), (0.15, 2.5, 250.0)]
)
def test_efficiency_and_flue_temperature_are_two_ways_to_say_the_same(moisture, ratio, celsius) -> None:
    told = {"moisture": moisture, "air_ratio": ratio}
    by_gas = plant(case_of(stove={**told, "efficiency": None, "flue_temperature": f"{celsius} degC"}))
    ran = run(by_gas, room=293.15)
    # The enthalpy balance that the tests of published values hold to its table.
    loss = combustion.flue_loss(burn(Fuel(), moisture, ratio), celsius + 273.15, 293.15)
    assert ran.flows[at.FLUE_LOSS] == pytest.approx(loss * ran.flows[at.FUEL], rel=1e-9)
    by_share = plant(case_of(stove={**told, "efficiency": 1.0 - loss}))
    back = run(by_share, room=293.15)
    assert back.temperatures[at.FLUE] == pytest.approx(celsius + 273.15, abs=1e-6)
    flow, temperature = gas_of(back.flows, back.temperatures, 300.0)
    assert flow == pytest.approx(back.flows[at.BURNT] / 300.0 * by_share.made.wet_gas, rel=1e-12)
    assert temperature == back.temperatures[at.FLUE]


def test_no_gas_without_fire() -> None:
    ran = run(plant(case_of()), feed=0.0, room=288.0)
    assert ran.flows[at.GAS] == 0.0
    assert ran.temperatures[at.FLUE] == 288.0


def test_a_fan_before_the_coils_sees_the_hot_stream() -> None:
    after, before = plant(case_of(1)), plant(case_of(1, hood={"fan_place": "before coils"}))
    one, two = run(after, steps=48), run(before, steps=48)
    assert two.temperatures[at.FAN_AIR] > one.temperatures[at.FAN_AIR] + 10.0
    assert two.temperatures[at.FAN_AIR] == two.temperatures[at.MIXED_AIR]
    # Its power is no part of the stream's net heat, and the coil takes its share of it.
    assert two.flows[at.COILS] > one.flows[at.COILS]


def test_loads_become_rates() -> None:
    made = plant(case_of(stove={"fuel": "logs", "burn": "batches", "burn_time": "1 h"}, steady=False))
    ends = np.arange(1, 200) * 300_000
    rates = batch_rates(made, [(0, 5.0), (3_600_000, 4.0)], ends - 300_000, ends)
    assert rates.sum() * 300.0 == pytest.approx(9.0, rel=1e-9)
    assert rates.min() >= 0.0
    steady = plant(case_of())
    assert not batch_rates(steady, [(0, 5.0)], ends - 300_000, ends).any()


def test_limits_are_those_of_the_case() -> None:
    case = case_of(2, water={"safe_low": "10 degC", "safe_high": "30 degC"})
    made = plant(case)
    found = {(each.quantity, each.number, each.kind): each for each in limits_of(made)}
    assert found["shell_temperature", None, "highest"].value == case.stove.service_temperature
    assert found["fan_air_temperature", None, "highest"].value == case.hood.fan_service_temperature
    assert found["coil_water_temperature", 1, "highest"].value == 373.15
    assert found["tank_temperature", None, "lowest"].value == pytest.approx(283.15)
    assert found["tank_temperature", None, "highest"].value == pytest.approx(303.15)
    # Pellets with 8 % water and twice the air: the dew point of the table of wood fires, 41.3 degC.
    dew = found["stove_gas_temperature", None, "lowest"]
    assert dew.while_burning
    assert dew.value - 273.15 == pytest.approx(41.3, abs=0.1)
    assert all(each.source for each in found.values())
    assert "tank_temperature" not in {each.quantity for each in limits_of(plant(case_of()))}


def test_what_cannot_be_is_refused() -> None:
    hot = case_of(stove={"efficiency": None, "flue_temperature": "900 degC", "air_ratio": 4.0})
    with pytest.raises(CaseError, match="carries off"):
        plant(hot)
    bare = case_of()
    bare.hood = None
    with pytest.raises(CaseError, match="hood"):
        plant(bare)
    bare.stove = None
    with pytest.raises(CaseError, match="stove"):
        plant(bare)
    dry = case_of(1)
    dry.water = None
    with pytest.raises(CaseError, match="tank"):
        plant(dry)


def test_inputs_have_the_documented_size() -> None:
    assert inputs_of().size == at.INPUTS == at.FLOW_RISE + 1
    assert math.isnan(inputs_of()[at.AIR_CAPACITY])
