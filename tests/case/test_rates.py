"""Rates and amounts are told apart, and the message says which one was given."""

from __future__ import annotations

import pytest

from simulator.case.rates import heat_per_mass, kind_of, rate, rate_or_amount, within
from simulator.errors import CaseError

POWER, FLOW = ("power",), ("volume flow", "mass flow")


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        # 1 International Table BTU = 1055.05585262 J; 1 US gallon = 231 cubic inches (NIST SP 811)
        ("15000 BTU/h", "power", 15000 * 1055.05585262 / 3600),
        ("15000 BTU", "energy", 15000 * 1055.05585262),
        ("4.4 kW", "power", 4400.0),
        ("4.4 kWh", "energy", 4400.0 * 3600),
    ],
)
def test_heat(text, dimension, value) -> None:
    given = rate_or_amount(text, POWER, key="heat")
    assert given.dimension == dimension
    assert given.value == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("1.4 gpm", "volume flow", 1.4 * 231 * 0.0254**3 / 60),
        ("0.15 kg/s", "mass flow", 0.15),
        ("5 gal", "volume", 5 * 231 * 0.0254**3),
        ("40 lb", "mass", 40 * 0.45359237),
    ],
)
def test_flows(text, dimension, value) -> None:
    given = rate_or_amount(text, FLOW, key="flow")
    assert (given.dimension, given.value) == (dimension, pytest.approx(value, rel=1e-12))


def test_an_amount_becomes_a_rate_with_its_time() -> None:
    given = rate("30 kWh", POWER, key="heat", duration=6 * 3600.0, duration_key="for")
    assert (given.dimension, given.value) == ("power", pytest.approx(5000.0))


@pytest.mark.parametrize(
    ("text", "rates", "told"),
    [
        ("15000 BTU", POWER, "BTU is an amount of heat, but a rate is needed here"),
        ("15000 BTU", POWER, "write BTU/h if that is meant, or give with --for the time"),
        ("12 kWh", POWER, "kWh is an amount of heat"),
        ("5 gal", FLOW, "gal is an amount, but a rate is needed here"),
        ("5 gal", FLOW, "write gal/min if that is meant"),
        ("4 kgs", POWER, "unknown unit 'kgs'"),
        ("10 ft", FLOW, "'ft' is a unit of length, but a volume flow is needed"),
        ("12", POWER, "has no unit"),
    ],
)
def test_what_is_no_rate_is_explained(text, rates, told) -> None:
    with pytest.raises(CaseError) as caught:
        rate(text, rates, key="--heat", duration=None, duration_key="--for")
    assert told in str(caught.value)
    assert str(caught.value).startswith(f'--heat = "{text}": ')


def test_kinds() -> None:
    assert [kind_of(name) for name in ("power", "energy", "mass flow", "volume", "time")] == [
        "rate", "amount", "rate", "amount", None,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "dimension", "value", "off"),
    [
        ("5 %", "power", 4000.0, 200.0),
        ("0.2 kW", "power", 4000.0, 200.0),
        ("1.8 degF", "temperature", 300.0, 1.0),
    ],
)
def test_errors_with_a_unit_or_as_a_share(text, dimension, value, off) -> None:
    assert within(text, dimension, value, key="x") == pytest.approx(off)


@pytest.mark.parametrize(
    ("text", "dimension", "told"),
    [
        ("5 %", "temperature", "cannot be a share here; use one of K, degC, degF"),
        ("five %", "power", "is no share"),
        ("-1 K", "temperature", "is an error of less than nothing"),
        ("1 kg", "power", "'kg' is a unit of mass"),
    ],
)
def test_errors_that_cannot_be_read(text, dimension, told) -> None:
    with pytest.raises(CaseError, match="--x = ") as caught:
        within(text, dimension, 300.0, key="--x")
    assert told in str(caught.value)


def test_heat_per_mass() -> None:
    # 1 BTU/lb = 2326 J/kg exactly, by the definition of the International Table BTU
    assert heat_per_mass("8100 BTU/lb") == pytest.approx(8100 * 2326.0, rel=1e-9)
    assert heat_per_mass("18.8 MJ/kg") == pytest.approx(18.8e6)
    assert heat_per_mass("5.2 kWh/kg") == pytest.approx(5.2 * 3.6e6)
    for text in ("18.8 MJ", "18.8 kW/kg", "8 MJ/m3", "x/kg"):
        with pytest.raises(CaseError, match="is no heat per mass"):
            heat_per_mass(text)
