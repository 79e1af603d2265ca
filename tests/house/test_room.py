"""The room of a case as plain numbers, by hand."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from simulator.house.room import room_of
from tests.run.rigs import small_case

LIVING = {
    "room": {
        "kind": "air node",
        "temperature": "18 degC",
        "heat_loss": "55 W/K",
        "heat_capacity": "2 MJ/K",
        "volume": "60 m3",
        "air_changes": "0.5 1/h",
        "gains": "120 W",
        "sun_area": "3 m2",
        "sun_to_floor": 0.7,
    }
}


def test_numbers_are_taken_over_in_si() -> None:
    room = room_of(small_case(LIVING))
    assert not room.fixed
    assert room.temperature == pytest.approx(291.15)
    assert room.heat_capacity == pytest.approx(2.0e6)
    assert room.envelope_loss == pytest.approx(55.0)
    assert (room.gains, room.sun_area, room.sun_to_floor) == pytest.approx((120.0, 3.0, 0.7))


def test_infiltration_is_air_changed_times_its_heat_capacity() -> None:
    """60 m3 x 0.5 1/h of dry air at 18 degC, density and specific heat from CoolProp: about 10 W/K."""
    state = ("T", 291.15, "P", 101325.0, "Air")
    by_hand = 60.0 * 0.5 / 3600.0 * PropsSI("D", *state) * PropsSI("C", *state)
    assert room_of(small_case(LIVING)).infiltration_loss == pytest.approx(by_hand, rel=4e-3)
    assert by_hand == pytest.approx(10.2, abs=0.2)


def test_infiltration_falls_with_the_air_pressure() -> None:
    """US Standard Atmosphere 1976 at 2000 m: 79495 Pa (value from memory)."""
    low, high = room_of(small_case(LIVING)), room_of(small_case(LIVING, {"site": {"elevation": "2000 m"}}))
    assert high.infiltration_loss / low.infiltration_loss == pytest.approx(79495.0 / 101325.0, rel=1e-3)


def test_a_fixed_room_has_a_temperature_and_nothing_else() -> None:
    room = room_of(small_case({"room": {"kind": "fixed", "temperature": "60 degF"}}))
    assert room.fixed
    assert room.temperature == pytest.approx(288.7056, abs=1e-4)
    assert (room.heat_capacity, room.envelope_loss, room.infiltration_loss, room.gains) == (
        0.0,
        0.0,
        0.0,
        0.0,
    )


def test_sun_stays_in_the_air_over_a_floor_that_takes_no_heat() -> None:
    assert room_of(small_case(LIVING, {"floor": {"film": "0 W/(m2.K)"}})).sun_to_floor == 0.0
