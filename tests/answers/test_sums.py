"""The sums on paper against other libraries, hand arithmetic and what the trade knows."""

from __future__ import annotations

import json
import math

import psychrolib
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from simulator.answers.measured import Measured
from simulator.answers.sum_fuel import fuel_sum
from simulator.answers.sum_heat import heat_sum, share_sum
from simulator.answers.sum_streams import air_sum, water_sum
from simulator.errors import CaseError

BTU = 1055.05585262
GPM = 231 * 0.0254**3 / 60
BTU_PER_HOUR = BTU / 3600


# Water


def test_the_flow_that_the_trade_knows() -> None:
    # Water that takes 15,000 BTU/h while warming from 60 to 81.4 degF flows at about 1.4 US gal/min (common
    # practice, no source).
    found = water_sum(heat="15000 BTU/h", entering="60 degF", leaving="81.4 degF")
    assert found.answer.name == "volume_flow"
    assert found["volume_flow"].value / GPM == pytest.approx(1.4, abs=0.01)


def test_the_rule_of_500() -> None:
    # BTU/h = 500 x gal/min x degF for cold water (common practice, no source); 8.33 lb/gal x 60 min.
    found = water_sum(flow="2 gpm", entering="50 degF", leaving="60 degF")
    assert found["heat"].value / BTU_PER_HOUR == pytest.approx(10000.0, rel=0.005)


@pytest.mark.parametrize(
    ("cold", "hot"), [(5.0, 15.0), (15.6, 27.4), (20.0, 80.0), (60.0, 95.0), (40.0, 10.0)]
)
def test_heat_of_water_by_an_independent_library(cold, hot) -> None:
    # CoolProp 8, IAPWS-95: density where it enters times the difference of enthalpies
    enters, leaves = cold + 273.15, hot + 273.15
    density = PropsSI("D", "T", enters, "P", 101325.0, "Water")
    gained = PropsSI("H", "T", leaves, "P", 101325.0, "Water") - PropsSI(
        "H", "T", enters, "P", 101325.0, "Water"
    )
    found = water_sum(flow=1e-4, entering=enters, leaving=leaves)
    assert found["heat"].value == pytest.approx(1e-4 * density * abs(gained), rel=1e-3)
    assert found["heat"].label == ("Heat taken up" if hot > cold else "Heat given off")


@given(
    flow=st.floats(1e-6, 1e-2),
    cold=st.floats(274.0, 320.0),
    warmer=st.floats(0.5, 50.0),
    place=st.sampled_from([None, 283.15, 350.0]),
)
def test_whatever_is_left_blank_is_found_again(flow, cold, warmer, place) -> None:
    whole = {"flow": flow, "entering": cold, "leaving": cold + warmer}
    heat = water_sum(**whole, flow_at=place)["heat"].value
    whole["heat"] = heat
    for blank, name in (("flow", "volume_flow"), ("entering", "entering"), ("leaving", "leaving")):
        rest = {key: value for key, value in whole.items() if key != blank}
        assert water_sum(**rest, flow_at=place)[name].value == pytest.approx(whole[blank], rel=1e-9)


def test_a_bucket_and_a_watch() -> None:
    # 5 US gal in 3.5 min are 1.42857 gal/min
    bucket = water_sum(flow="5 gal", duration="3.5 min", entering="15 degC", leaving="27 degC")
    assert bucket["volume_flow"].value / GPM == pytest.approx(5.0 / 3.5, rel=1e-9)
    assert bucket["amount"].value == pytest.approx(bucket["heat"].value * 210.0, rel=1e-12)


def test_errors_of_thermometers_and_flow_meter_by_hand() -> None:
    # Q = m c dT: (u_Q / Q)^2 = (u_m / m)^2 + 2 (u_T / dT)^2; 5 % and 0.5 K twice over 12 K
    found = water_sum(
        flow="5 L/min", flow_within="5 %", entering="15 degC", leaving="27 degC", thermometers_within="0.5 K"
    )
    relative = found["heat"].measured.within / found["heat"].value
    assert relative == pytest.approx(math.sqrt(0.05**2 + 2 * (0.5 / 12.0) ** 2), rel=2e-3)
    assert sum(found.shares_of_error.values()) == pytest.approx(1.0)


def test_one_thermometer_for_both_is_told_as_a_difference() -> None:
    found = water_sum(flow="5 L/min", entering="15 degC", leaving="27 degC", difference_within="0.6 K")
    assert found["heat"].measured.within / found["heat"].value == pytest.approx(0.05, rel=2e-3)
    assert found["entering"].measured.within == 0.0


def test_errors_of_a_solved_temperature() -> None:
    # T2 = T1 + Q / (m c): a tenth of Q off moves T2 by a tenth of the rise
    found = water_sum(heat="4 kW", heat_within="10 %", flow="5 L/min", entering="15 degC")
    rise = found["leaving"].value - 288.15
    assert found["leaving"].measured.within == pytest.approx(0.1 * rise, rel=2e-3)


def test_a_difference_that_drowns_in_its_error_is_told() -> None:
    found = water_sum(flow="1.4 gpm", entering="60 F", leaving="62 F", thermometers_within="1 F")
    assert any("differ by little more than they may be off" in note for note in found.notes)


def test_scalding_water_is_told() -> None:
    assert any("burns skin" in note for note in water_sum(flow=1e-4, entering=290.0, leaving=335.0).notes)
    assert not water_sum(flow=1e-4, entering=290.0, leaving=310.0).notes


@pytest.mark.parametrize(
    ("given_", "told"),
    [
        ({"entering": "60 F", "leaving": "81 F"}, "2 are blank (heat, flow)"),
        ({"heat": 1.0, "flow": 1.0, "entering": 300.0, "leaving": 310.0}, "nothing is left to solve for"),
        ({"heat": "4 kW", "flow": "0.3 L/min", "entering": "60 F"}, "more than 100 degC: it would boil"),
        ({"heat": "-4 kW", "flow": "1 L/min", "entering": "60 F"}, "less than 0 degC: it would freeze"),
        ({"heat": "4 kW", "entering": "60 F", "leaving": "60 F"}, "is the same as entering"),
        ({"heat": 1.0, "entering": 290.0, "leaving": 290.0, "difference_within": 1.0}, "is the same"),
        ({"flow": "1 gpm", "entering": "20 F", "leaving": "60 F"}, "is not where water"),
        ({"flow": "-1 gpm", "entering": "40 F", "leaving": "60 F"}, "must be above 0"),
        ({"flow": "1 gpm", "entering": "40", "leaving": "60 F"}, "has no unit"),
        ({"flow": 1.0, "entering": 280.0, "heat": "15000 BTU"}, "BTU is an amount of heat"),
        ({"flow": 1.0, "entering": 280.0, "leaving": 290.0, "heat_within": "1 kW"}, "heat is left blank"),
        (
            {"flow": 1.0, "entering": 280.0, "leaving": 290.0}
            | {"difference_within": 1.0, "thermometers_within": 1.0},
            "are both given",
        ),
        ({"flow": 1.0, "heat": 9.0, "leaving": 290.0, "difference_within": 1.0}, "one is left blank"),
    ],
)  # fmt: skip
def test_what_cannot_be_solved_is_explained(given_, told) -> None:
    with pytest.raises(CaseError) as caught:
        water_sum(**given_)
    assert told in str(caught.value)


# Air


@pytest.mark.parametrize(("cold", "hot"), [(10.0, 40.0), (40.0, 10.0), (20.0, 107.0), (-20.0, 15.0)])
def test_heat_of_dry_air_by_an_independent_library(cold, hot) -> None:
    # CoolProp 8, pseudo-pure air
    enters, leaves = cold + 273.15, hot + 273.15
    gained = PropsSI("H", "T", leaves, "P", 101325.0, "Air") - PropsSI("H", "T", enters, "P", 101325.0, "Air")
    expected = 0.1 * PropsSI("D", "T", enters, "P", 101325.0, "Air") * abs(gained)
    assert air_sum(flow=0.1, entering=enters, leaving=leaves)["heat"].value == pytest.approx(
        expected, rel=5e-3
    )


def test_the_rule_of_108() -> None:
    # BTU/h = 1.08 x cfm x degF for air of 70 degF (ASHRAE Handbook, Fundamentals; from memory)
    found = air_sum(flow="320 cfm", entering="70 degF", leaving="100 degF")
    assert found["heat"].value / BTU_PER_HOUR == pytest.approx(1.08 * 320 * 30, rel=0.01)


def test_cooling_below_the_dew_point_by_an_independent_library() -> None:
    # psychrolib 2.5: 25 degC, 70 % to saturated air of 12 degC, less the heat of the water run off
    psychrolib.SetUnitSystem(psychrolib.SI)
    pressure = 101325.0
    wet = psychrolib.GetHumRatioFromRelHum(25.0, 0.7, pressure)
    dry = psychrolib.GetSatHumRatio(12.0, pressure)
    given_off = (
        psychrolib.GetMoistAirEnthalpy(25.0, wet)
        - psychrolib.GetMoistAirEnthalpy(12.0, dry)
        - (wet - dry) * 4186.0 * 12.0
    )
    mass = 0.1 * psychrolib.GetMoistAirDensity(25.0, wet, pressure) / (1.0 + wet)
    found = air_sum(flow=0.1, entering=298.15, leaving=285.15, humidity=0.7)
    assert found["heat"].value == pytest.approx(mass * given_off, rel=3e-3)
    assert found["settled"].value == pytest.approx(mass * (wet - dry), rel=1e-3)


def test_air_above_its_dew_point_settles_nothing() -> None:
    assert "settled" not in air_sum(flow=0.1, entering=298.15, leaving=310.0, humidity="40 %")


@pytest.mark.parametrize("humidity", [None, 0.6])
@pytest.mark.parametrize("leaving", [285.0, 330.0])
def test_air_left_blank_is_found_again(humidity, leaving) -> None:
    whole = {"flow": 0.1, "entering": 300.0, "leaving": leaving}
    heat = air_sum(**whole, humidity=humidity)["heat"].value
    whole["heat"] = math.copysign(heat, leaving - 300.0)
    for blank, name in (("flow", "volume_flow"), ("entering", "entering"), ("leaving", "leaving")):
        rest = {key: value for key, value in whole.items() if key != blank}
        assert air_sum(**rest, humidity=humidity)[name].value == pytest.approx(whole[blank], rel=1e-8)


def test_thin_air_carries_less() -> None:
    # US Standard Atmosphere 1976: 84.556 kPa at 1500 m, of 101.325 kPa
    low, high = (
        air_sum(flow=0.1, entering=290.0, leaving=310.0, elevation=z)["heat"].value for z in (None, "1500 m")
    )
    assert high / low == pytest.approx(84556 / 101325, rel=1e-3)


def test_where_the_flow_was_measured_counts() -> None:
    # ideal gas: the same volume at 400 K holds 300/400 of the air at 300 K
    at_inlet = air_sum(flow=0.1, entering=300.0, leaving=400.0)["heat"].value
    assert air_sum(flow=0.1, entering=300.0, leaving=400.0, flow_at=400.0)["heat"].value == pytest.approx(
        at_inlet * 0.75, rel=1e-9
    )


# Fuel, rates and amounts, shares


@pytest.mark.parametrize("hours", [6.0, 6.5, 7.0])
def test_a_bag_of_pellets(hours) -> None:
    # An 18.1 kg bag of pellets burns 6 to 7 h in a small feed, so about 12 to 15 kW fired (common practice,
    # no source).
    found = fuel_sum(mass="18.1 kg", duration=hours * 3600.0)
    assert 12e3 < found["heat"].value < 15e3


def test_the_heat_of_a_bag_by_hand() -> None:
    # 18.8 MJ/kg x 0.92 - 2.443 MJ/kg x 0.08 = 17.10056 MJ/kg (ISO 18125); x 18.1 kg
    found = fuel_sum(mass="18.1 kg", moisture="8 %")
    assert found.answer.name == "amount"
    assert found["amount"].value == pytest.approx(18.1 * 17.10056e6, rel=1e-9)
    assert "heat" not in found


@pytest.mark.parametrize("efficiency", [None, 0.75])
def test_fuel_left_blank_is_found_again(efficiency) -> None:
    found = fuel_sum(mass=20.0, duration=3600.0 * 7, moisture=0.15, efficiency=efficiency)
    heat = found["stove_heat" if efficiency else "heat"].value
    rest = {"moisture": 0.15, "efficiency": efficiency}
    assert fuel_sum(heat=heat, duration=3600.0 * 7, **rest)["mass"].value == pytest.approx(20.0)
    assert fuel_sum(heat=heat, mass=20.0, **rest)["duration"].value == pytest.approx(3600.0 * 7)
    amount = f"{heat * 7 / 1000!r} kWh"
    assert fuel_sum(heat=amount, **rest)["mass"].value == pytest.approx(20.0)


def test_shares_of_a_fire() -> None:
    # 15,000 BTU/h are 4.396 kW; of 13.23 kW a third
    found = fuel_sum(mass="18.1 kg", duration="6.5 h", parts={"water": "15000 BTU/h", "floor": "30 kWh"})
    assert found["share_water"].value == pytest.approx(4.39607 / 13.2277, rel=1e-4)
    assert found["share_floor"].value == pytest.approx(30.0 / (18.1 * 17.10056 / 3.6), rel=1e-9)
    rest = 1.0 - found["share_water"].value - found["share_floor"].value
    assert found["share_left"].value == pytest.approx(rest)


def test_errors_of_fuel_by_hand() -> None:
    # power = mass x value / time: relative errors add in square
    found = fuel_sum(
        mass=18.1, mass_within="2 %", duration=23400.0, duration_within="5 %", heating_value_within="3 %"
    )
    # The dry value enters as 18.8 x 0.92 of 17.10056.
    value = 0.03 * 18.8 * 0.92 / 17.10056
    expected = math.sqrt(0.02**2 + 0.05**2 + value**2)
    assert found["heat"].measured.within / found["heat"].value == pytest.approx(expected, rel=1e-4)


def test_parts_that_take_more_than_the_fuel_holds() -> None:
    found = fuel_sum(mass=1.0, parts={"water": "15000 BTU", "air": "5 kWh"})
    assert any("take more than the fuel holds" in note for note in found.notes)


@pytest.mark.parametrize(
    ("given_", "told"),
    [
        ({}, "are blank"),
        ({"mass": 1.0, "duration": 1.0, "heat": 1.0}, "nothing is left to solve for"),
        ({"mass": 1.0, "moisture": 12}, 'did you mean "12 %"?'),
        ({"mass": 1.0, "moisture": 0.95}, "gives no heat"),
        ({"mass": 1.0, "heating_value": "18.8 kW"}, "is no heat per mass"),
        ({"mass": 1.0, "heating_value": 18.8}, "allowed: 1 MJ/kg to 60 MJ/kg"),
        ({"mass": -1.0}, "must be above 0"),
        ({"mass": 1.0, "parts": {"water": "4 kW"}}, "has no burn time"),
        ({"mass": 1.0, "heat": "30 kWh"}, "kWh is an amount of heat"),
    ],
)
def test_what_fuel_cannot_give_is_explained(given_, told) -> None:
    with pytest.raises(CaseError) as caught:
        fuel_sum(**given_)
    assert told in str(caught.value)


def test_rate_amount_and_time() -> None:
    assert heat_sum(rate="15000 BTU/h", duration="6 h")["amount"].value == pytest.approx(90000 * BTU)
    assert heat_sum(amount="30 kWh", rate="2 kW")["duration"].value == pytest.approx(15 * 3600.0)
    found = heat_sum(amount=Measured(3.6e6, 3.6e5), duration="1 h")
    assert found["rate"].measured == Measured(pytest.approx(1000.0), pytest.approx(100.0))
    with pytest.raises(CaseError, match="is an amount of heat, but here a rate is meant"):
        heat_sum(rate="15000 BTU", duration="6 h")
    with pytest.raises(CaseError, match="is a rate of heat, but here an amount is meant"):
        heat_sum(amount="4 kW", duration="6 h")


def test_shares() -> None:
    # 15,000 BTU/h x 1055.05585262 J / 3600 s = 4396.066 W
    assert share_sum(part="15000 BTU/h", whole="13.2 kW")["share"].value == pytest.approx(4396.0661 / 13200)
    assert share_sum(whole="86 kWh", share="33 %")["part"].value == pytest.approx(0.33 * 86 * 3.6e6)
    assert share_sum(part="2 kWh", share=0.5)["whole"].value == pytest.approx(4 * 3.6e6)
    mixed = share_sum(part="4 kW", whole="48 kWh", duration="6 h")
    assert mixed["share"].value == pytest.approx(0.5)
    with pytest.raises(CaseError, match="they cannot be compared"):
        share_sum(part="15000 BTU/h", whole="86 kWh")


# What is handed on


def test_kinds_stand_beside_the_numbers() -> None:
    found = water_sum(flow="1.4 gpm", entering="60 degF", leaving="81.4 degF", duration="6 h")
    rows = dict(found.as_rows("US"))
    assert rows["Heat taken up"].endswith("- rate, solved")
    assert rows["In the time given"].endswith("- amount")
    assert rows["Water entering"] == "60.0 degF (15.6 degC)"
    assert any("kWh and BTU are amounts" in remark for remark in found.remarks())


def test_json_has_both_systems() -> None:
    data = json.loads(json.dumps(heat_sum(rate="10 kW", duration="1 h").as_dict()))
    amount = data["quantities"]["amount"]
    assert (data["solved_for"], amount["kind"], amount["unit"]) == ("amount", "amount", "J")
    # 10 kWh = 36 MJ = 34,121.4 BTU
    assert (amount["value"], amount["si"], amount["us"]) == (pytest.approx(3.6e7), "10.00 kWh", "34,121 BTU")


@pytest.mark.parametrize(
    ("off", "told"), [("nan %", "less than nothing"), (-0.1, "less than nothing"), ("x", "is no share")]
)
def test_errors_of_shares_must_be_numbers(off, told) -> None:
    with pytest.raises(CaseError, match=told):
        share_sum(whole="4 kW", share="33 %", share_within=off)
    with pytest.raises(CaseError, match=told):
        fuel_sum(mass=1.0, moisture_within=off)
