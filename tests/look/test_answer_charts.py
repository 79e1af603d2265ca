"""Charts of fan choice and charge: what is drawn is what the answers hold."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.answers.charge import charge
from simulator.answers.fan_choice import fan_choice
from simulator.answers.fan_night import Thermostat
from simulator.look.charge_chart import charge_chart
from simulator.look.fan_choice_chart import fan_choice_chart
from simulator.store.record import record
from tests.answers.small import shed


@pytest.fixture(scope="module")
def choice():
    return fan_choice(shed(run_in="0 h"), limit=280.15, snaps=False, thermostat=Thermostat(281.15))


@pytest.mark.parametrize("units", ["SI", "US"])
def test_lines_of_every_way_to_run_the_fan(choice, units) -> None:
    figure = fan_choice_chart(choice, "A shed", units=units)
    drawn = {line.get_gid(): line for axes in figure.axes for line in axes.lines if line.get_gid()}
    for night in choice.nights:
        for measure in ("room", "floor"):
            line = drawn[f"{measure} {night.name}"]
            assert np.asarray(line.get_ydata()) == pytest.approx(night.course.values[measure])
    bars = {patch.get_gid() for axes in figure.axes for patch in axes.collections}
    assert {f"fan {night.name}" for night in choice.nights} <= bars


@pytest.mark.parametrize("units", ["SI", "US"])
def test_charge_is_drawn_in_kilowatt_hours(units) -> None:
    case = shed(run_in="1 days")
    with record(case) as results:
        found = charge(results, case, ahead=86400.0)
    figure = charge_chart(found, units=units)
    drawn = {line.get_gid(): line for axes in figure.axes for line in axes.lines if line.get_gid()}
    assert np.asarray(drawn["under the floor"].get_ydata()) == pytest.approx(found.under_floor / 3.6e6)
    assert np.asarray(drawn["uptake"].get_ydata()) == pytest.approx(100.0 * found.uptake.share)
    profile = drawn["at the start"]
    assert np.asarray(profile.get_xdata()) == pytest.approx(
        found.depths.profiles[0][: profile.get_xdata().size]
    )
