"""Outputs against numbers worked out by hand from made-up courses."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.answers.outputs import OUTPUTS, Look, evaluate, output_named, shown, unit_of
from simulator.errors import CaseError

START = dt.datetime(2031, 1, 15, 16)
SECONDS = np.arange(0.0, 18.0 * 3600.0 + 1.0, 3600.0)
HOURS = SECONDS / 3600.0


@pytest.fixture
def look(make_results) -> Look:
    """Fire from 18:00 to 22:00 (hours 2 to 6) with 2 kW and a fan of 100 W until the end."""
    fired = (HOURS > 2.0) & (HOURS <= 6.0)
    running = HOURS > 2.0
    results = make_results(
        START, SECONDS,
        heater_power=np.where(fired, 2000.0, 1e-13),
        mass_flow=np.where(running, 0.1, 0.0),
        fan_share=running.astype(float),
        fan_power=np.where(running, 100.0, 0.0),
        ledger_heater=np.clip(HOURS - 2.0, 0.0, 4.0) * 2000.0 * 3600.0,
        ledger_fan=np.clip(HOURS - 2.0, 0.0, 16.0) * 100.0 * 3600.0,
        # 1.2 kW into the ground while fired, then 300 W back.
        ledger_duct=3600.0
        * (np.clip(HOURS - 2.0, 0.0, 4.0) * 1200.0 - np.clip(HOURS - 6.0, 0.0, 12.0) * 300.0),
        room_temperature=20.0 - HOURS,
        floor_mean_temperature=np.full(HOURS.size, 18.0),
        exit_temperature=np.where(fired, 18.0 + HOURS, 16.0),
        supply_temperature=np.where(fired, 50.0, 20.0),
    )  # fmt: skip
    return Look(results)


def value(look: Look, name: str) -> object:
    return evaluate(look, [output_named(name)])[output_named(name).name]


def test_by_hand(look: Look) -> None:
    # The night is 18:00 to 09:00, hours 2 to 17: the room ends at 3 degC.
    assert value(look, "lowest room") == pytest.approx(273.15 + 3.0)
    assert value(look, "room at the end") == pytest.approx(273.15 + 3.0)
    assert value(look, "lowest exit air") == pytest.approx(273.15 + 16.0)
    # Heated air flows in the rows of hours 3 to 6; at hour 6 it leaves at 24 over a floor of 18 degC.
    assert value(look, "exit air over floor") == pytest.approx(6.0)
    assert value(look, "heat put in") == pytest.approx(8.0e3 * 3600.0 + 1.6e3 * 3600.0)
    assert value(look, "heat into the floor") == pytest.approx(4.8e3 * 3600.0)
    assert value(look, "heat back to the air") == pytest.approx(3.6e3 * 3600.0)
    assert value(look, "uptake") == pytest.approx(4.8 / 9.6)
    assert value(look, "kept") == pytest.approx(1.0 - 3.6 / 4.8)
    assert value(look, "fan electricity") == pytest.approx(1.6e3 * 3600.0)
    assert value(look, "hottest duct") == pytest.approx(273.15 + 50.0)
    assert value(look, "dangers") == 0


def test_over_the_first_hours_of_firing(look: Look) -> None:
    assert value(look, "heat into the floor over 3 h") == pytest.approx(3.6e3 * 3600.0)
    assert value(look, "Uptake over 2 h") == pytest.approx(2.4 / 4.2)
    # The run is over 16 h after the fire is lit.
    assert value(look, "uptake over 17 h") is None


def test_hours_beyond_a_threshold(look: Look) -> None:
    # Room 20 - h degC: under 10 degC (50 degF) in the rows of hours 11 to 17, each standing for an hour.
    assert value(look, "hours room under 50 degF") == pytest.approx(7 * 3600.0)
    assert value(look, "hours room over 10 degC") == pytest.approx(7 * 3600.0)
    assert value(look, "hours exit air under 17 degC") == pytest.approx(11 * 3600.0)


def test_what_a_run_lacks_is_none(look: Look) -> None:
    assert value(look, "water in the ducts") is None
    assert value(look, "draught margin") is None
    assert shown(None, "mass", "SI") == "-"


def test_every_output_has_a_unit_and_a_meaning(look: Look) -> None:
    found = evaluate(look, list(OUTPUTS.values()))
    for output in OUTPUTS.values():
        assert output.meaning
        assert bool(unit_of(output.dimension)[0]) == output.numeric
        assert found[output.name] is None or isinstance(found[output.name], str) != output.numeric


def test_names_as_people_type_them() -> None:
    assert output_named("Lowest-Floor").name == output_named("lowest_floor").name == "lowest floor"
    assert output_named("hours exit air under 50 degF").name == "hours exit air under 50 degF"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("lowest flor", "did you mean 'lowest floor'?"),
        ("nonsense", "`ductfloor vary --outputs` lists them all"),
        ("hours room under 40 W", "a temperature is needed"),
        ("uptake over 0 h", "needs a time above 0"),
    ],
)
def test_slips_are_told(text: str, told: str) -> None:
    with pytest.raises(CaseError) as error:
        output_named(text)
    assert told in str(error.value)
