"""Rules switch at the instant at which their condition becomes true, and do not chatter."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from simulator.case.conditions import parse_condition
from simulator.run.chain_run import chain_of_run
from simulator.run.loop import all_steps
from simulator.run.switching import Rule, Rules, margin
from tests.run.chain_rigs import DAMP, HOUSE, STOVE, WATER, rule
from tests.run.rigs import Rig, small_case, told

# A room apart from the ground, cooling to the outside: an exponential.
ALONE: dict[str, Any] = {
    "floor": {"film": "0 W/(m2.K)"},
    "weather": {"temperature": "-3 degC"},
    "timetable": {"start": {"fan": "off", "heat": "off"}},
    "fan": {"intake": "outside", "exit": "outside"},
}
LOSS, CAPACITY, WARM, COLD = 18.0, 180e3, 14.0, -3.0


def switched(*changes: dict[str, Any]) -> list[int]:
    """Ticks at which rules switched."""
    rig = Rig(small_case(*changes))
    steps = all_steps(rig.prepared, rig.coupling)
    chain = chain_of_run(rig.prepared, rig.coupling, steps)
    assert chain is not None
    chain.march(rig.state, 0, steps.ends.size)
    return chain.switched


def cooled_to(celsius: float) -> float:
    """Time [s] at which the room alone has cooled to a temperature."""
    return CAPACITY / LOSS * math.log((WARM - COLD) / (celsius - COLD))


@pytest.mark.parametrize(("step", "within"), [("600 s", 12.0), ("300 s", 3.0), ("60 s", 0.4)])
def test_a_thermostat_switches_when_an_exponential_passes(step: str, within: float) -> None:
    ticks = switched(ALONE, {"numerics": {"step": step}}, rule("room below 8 degC", dead_band="2 K"))
    assert ticks[0] / 1000.0 == pytest.approx(cooled_to(8.0), abs=within)


def test_switching_instants_converge_with_the_step() -> None:
    thermostat = rule("room below 8 degC", dead_band="2 K")
    first = [switched(ALONE, {"numerics": {"step": f"{step} s"}}, thermostat)[0] for step in (1200, 600, 300)]
    errors = [abs(tick / 1000.0 - cooled_to(8.0)) for tick in first]
    # Second order; an instant is known to a tenth of a second.
    assert errors[0] > 2.5 * errors[1] - 0.3
    assert errors[1] > 2.5 * errors[2] - 0.3


def test_least_times_are_kept() -> None:
    # Once cold, both conditions hold for ever: only the least times part the changes.
    keys = {"off_when": "room below 9 degC", "minimum_on": "20 min", "minimum_off": "7 min"}
    ticks = switched(ALONE, rule("room below 8 degC", **keys))
    gaps = np.diff(ticks)
    assert gaps.size > 4
    assert (gaps[::2] >= 20 * 60_000 - 1).all()
    assert (gaps[1::2] >= 7 * 60_000 - 1).all()


def test_contrary_conditions_do_not_chatter() -> None:
    ticks = switched(ALONE, rule("room below 8 degC", off_when="room below 9 degC"))
    assert len(ticks) < 6 * 3600 / 30


EVERYTHING = (STOVE, WATER, HOUSE, {"numerics": {"solver": "reduced"}})
FOLLOWED = (
    "room_temperature", "floor_mean_temperature", "tank_temperature", "tank_layer_temperature",
    "supply_temperature", "exit_temperature", "fan_air_temperature", "stove_gas_temperature",
    "coil_water_temperature", "coil_air_temperature", "mass_temperature",
)  # fmt: skip
BY_THE_FIRE = ("shell_temperature", "hood_wall_temperature", "hood_air_temperature")


def test_results_at_the_usual_step_are_those_of_a_tenth() -> None:
    changes = (
        *EVERYTHING, {"timetable": {"start": {"fan": "off"}}, "output": {"interval": "5 min"}},
        rule("supply above floor by 5 K", off_when="supply below floor by 1 K", minimum_on="5 min"),
    )  # fmt: skip
    instants = switched(*changes), switched(*changes, {"numerics": {"step": "30 s"}})
    # The supply passes the rule's mark at 1 mK/s: a few hundredths of a kelvin are seconds.
    assert instants[0] == pytest.approx(instants[1], abs=6000)
    usual, fine = told(*changes), told(*changes, {"numerics": {"step": "30 s"}})
    assert usual.ticks == fine.ticks
    # With the fan on the hood's wall cools by 0.1 K/s at once: those few seconds show for a while in what is
    # next to the fire, so that its rows of 20 min after a switch are left to the test without rules.
    ticks = np.array(usual.ticks)
    quiet = np.ones(ticks.size, dtype=bool)
    for at in instants[1]:
        quiet &= (ticks < at - 6000) | (ticks > at + 1_200_000)
    for name in FOLLOWED:
        assert np.nanmax(np.abs(usual[name] - fine[name])) < 0.1, name
    for name in BY_THE_FIRE:
        assert np.abs(usual[name] - fine[name])[quiet].max() < 0.1, name


@pytest.mark.parametrize("more", [{}, DAMP], ids=["dry", "damp"])
def test_results_at_the_usual_step_are_those_of_a_tenth_without_rules(more: dict[str, Any]) -> None:
    changes = (*EVERYTHING, more, {"output": {"interval": "5 min"}})
    usual, fine = told(*changes), told(*changes, {"numerics": {"step": "30 s"}})
    for name in (*FOLLOWED, *BY_THE_FIRE):
        assert np.nanmax(np.abs(usual[name] - fine[name])) < 0.1, name


def test_the_chain_converges_in_time_at_second_order() -> None:
    changes = (*EVERYTHING, {"output": {"interval": "20 min"}})
    runs = [told(*changes, {"numerics": {"step": f"{step} s"}}) for step in (1200, 600, 300, 30)]
    rows = [[ticks % 1_200_000 == 0 for ticks in run.ticks] for run in runs]
    names = ("room_temperature", "tank_temperature", "supply_temperature", "exit_temperature",
             "hood_air_temperature")  # fmt: skip
    for name in names:
        values = [run[name][kept] for run, kept in zip(runs, rows, strict=True)]
        errors = [float(np.sqrt(np.mean((each - values[-1]) ** 2))) for each in values[:-1]]
        # By four where it is clean. Some millikelvins stay whatever the step: passes end there, and parts of
        # a step of the plant keep to 5 mK.
        assert errors[0] > 2.8 * (errors[1] - 0.002), (name, errors)
        assert errors[1] > 2.8 * (errors[2] - 0.002), (name, errors)


def test_switching_instants_of_the_chain_converge_with_the_step() -> None:
    changes = (
        *EVERYTHING, {"timetable": {"start": {"fan": "off"}}},
        rule("tank above 20 degC", off_when="supply below floor by 1 K", minimum_on="60 min"),
    )  # fmt: skip
    steps = (1200, 600, 300, 10)
    instants = [switched(*changes, {"numerics": {"step": f"{step} s"}})[0] / 1000.0 for step in steps]
    errors = [abs(instant - instants[-1]) for instant in instants[:-1]]
    assert errors[0] > 2.5 * errors[1] - 0.3
    assert errors[1] > 2.5 * errors[2] - 0.3
    assert errors[2] < 1.0


def test_the_first_engaged_rule_wins() -> None:
    always, never = parse_condition("room above -50 degC"), parse_condition("room above 90 degC")
    made = [
        Rule("one", "fan", 0.3, never, None, never, 0, 0),
        Rule("two", "fan", 0.6, always, None, always, 0, 0),
        Rule("three", "fan", 0.9, always, None, always, 0, 0),
    ]
    rules = Rules(tuple(made))
    rules.change(rules.due(0, {"room": 290.0}), 0)
    assert rules.engaged.tolist() == [False, True, True]
    assert rules.override({"fan": 0.0, "pump": 1.0}) == {"fan": 0.6, "pump": 1.0}


def test_margin_is_the_best_alternative_of_the_weakest_part() -> None:
    condition = parse_condition("room above 10 degC and tank below 30 degC or supply above floor by 4 K")
    measured = {"room": 285.15, "tank": 298.15, "supply": 300.0, "floor": 299.0}
    assert margin(condition, measured) == pytest.approx(2.0)
    measured["room"] = 280.15
    assert margin(condition, measured) == pytest.approx(-3.0)
