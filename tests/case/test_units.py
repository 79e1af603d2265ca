"""Units against pint, and against conversion factors of NIST Special Publication 811 (value from memory)."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.case.unit_reading import read_unit
from simulator.case.unit_table import DIMENSIONS, SPELLINGS, TEMPERATURES, UNITS
from simulator.case.units import parse, scale_and_zero, show, shown_unit
from simulator.errors import CaseError

REGISTRY = pint.UnitRegistry()
#: pint rounds the BTU to 1055.056 J, which is 1.4e-7 above the International Table BTU
PINT_TOLERANCE = 2e-7

IN_PINT = {
    "m": "meter", "mm": "millimeter", "cm": "centimeter", "km": "kilometer",
    "ft": "foot", "in": "inch", "yd": "yard", "L": "liter", "gal": "US_liquid_gallon",
    "s": "second", "min": "minute", "h": "hour", "d": "day", "week": "week",
    "kg": "kilogram", "g": "gram", "tonne": "metric_ton", "lb": "pound",
    "J": "joule", "kJ": "kilojoule", "MJ": "megajoule", "GJ": "gigajoule",
    "Wh": "watt * hour", "kWh": "kilowatt * hour", "MWh": "megawatt * hour",
    "BTU": "british_thermal_unit", "kBTU": "1000 * british_thermal_unit",
    "MMBTU": "1000000 * british_thermal_unit",
    "W": "watt", "kW": "kilowatt", "MW": "megawatt", "hp": "horsepower",
    "MBH": "1000 * british_thermal_unit / hour",
    "Pa": "pascal", "hPa": "hectopascal", "kPa": "kilopascal", "mbar": "millibar", "bar": "bar",
    "atm": "standard_atmosphere", "psi": "pound_force_per_square_inch",
    "cfm": "foot ** 3 / minute", "gpm": "US_liquid_gallon / minute", "ach": "1 / hour",
    "fpm": "foot / minute", "mph": "mile / hour",
    "K": "kelvin", "degC": "delta_degree_Celsius", "degF": "delta_degree_Fahrenheit",
    "degR": "delta_degree_Fahrenheit",
}  # fmt: skip
#: conventional columns [Pa]: NIST Special Publication 811, appendix B.8 (value from memory)
COLUMNS = {"inH2O": 249.0889, "mmH2O": 9.80665, "inHg": 3386.389, "mmHg": 133.3224}

COMPOUND = {
    "W/(m.K)": ("conductivity", "watt / meter / kelvin"),
    "W/m/K": ("conductivity", "watt / meter / kelvin"),
    "W/m.K": ("conductivity", "watt / meter / kelvin"),
    "W/mK": ("conductivity", "watt / meter / kelvin"),
    "Btu/(h.ft.F)": ("conductivity", "british_thermal_unit / hour / foot / delta_degree_Fahrenheit"),
    "Btu.in/(h.ft2.F)": (
        "conductivity",
        "british_thermal_unit * inch / hour / foot ** 2 / delta_degree_Fahrenheit",
    ),
    "BTU in/(h ft^2 °F)": (
        "conductivity",
        "british_thermal_unit * inch / hour / foot ** 2 / delta_degree_Fahrenheit",
    ),
    "W/(m2.K)": ("film coefficient", "watt / meter ** 2 / kelvin"),
    "W/m²·K": ("film coefficient", "watt / meter ** 2 / kelvin"),
    "W m-2 K-1": ("film coefficient", "watt / meter ** 2 / kelvin"),
    "Btu/h-ft2-F": ("film coefficient", "british_thermal_unit / hour / foot ** 2 / delta_degree_Fahrenheit"),
    "Btu/(hr.ft2.degF)": (
        "film coefficient",
        "british_thermal_unit / hour / foot ** 2 / delta_degree_Fahrenheit",
    ),
    "m2.K/W": ("thermal resistance", "meter ** 2 * kelvin / watt"),
    "h.ft2.F/Btu": (
        "thermal resistance",
        "hour * foot ** 2 * delta_degree_Fahrenheit / british_thermal_unit",
    ),
    "m3/s": ("volume flow", "meter ** 3 / second"),
    "m^3/s": ("volume flow", "meter ** 3 / second"),
    "m**3/h": ("volume flow", "meter ** 3 / hour"),
    "cu ft/min": ("volume flow", None),
    "ft3/min": ("volume flow", "foot ** 3 / minute"),
    "L/s": ("volume flow", "liter / second"),
    "lb/h": ("mass flow", "pound / hour"),
    "kg/s": ("mass flow", "kilogram / second"),
    "BTU/hour": ("power", "british_thermal_unit / hour"),
    "Btu/h": ("power", "british_thermal_unit / hour"),
    "Btuh": ("power", "british_thermal_unit / hour"),
    "ft2": ("area", "foot ** 2"),
    "sq ft": ("area", "foot ** 2"),
    "cu ft": ("volume", "foot ** 3"),
    "lb/ft3": ("density", "pound / foot ** 3"),
    "kg/m3": ("density", "kilogram / meter ** 3"),
    "Btu/(lb.F)": ("specific heat", "british_thermal_unit / pound / delta_degree_Fahrenheit"),
    "kJ/(kg.K)": ("specific heat", "kilojoule / kilogram / kelvin"),
    "MJ/(m3.K)": ("volumetric heat capacity", "megajoule / meter ** 3 / kelvin"),
    "BTU/(ft3.F)": ("volumetric heat capacity", "british_thermal_unit / foot ** 3 / delta_degree_Fahrenheit"),
    "BTU/F": ("heat capacity", "british_thermal_unit / delta_degree_Fahrenheit"),
    "BTU/(h.F)": ("heat loss", "british_thermal_unit / hour / delta_degree_Fahrenheit"),
    "W/m2": ("heat flux", "watt / meter ** 2"),
    "BTU/(h.ft2)": ("heat flux", "british_thermal_unit / hour / foot ** 2"),
    "W/m": ("heat flow per length", "watt / meter"),
    "m2/d": ("diffusivity", "meter ** 2 / day"),
    "ft2/h": ("diffusivity", "foot ** 2 / hour"),
    "1/h": ("rate", "1 / hour"),
    "h-1": ("rate", "1 / hour"),
    "/h": ("rate", "1 / hour"),
    "air changes per hour": ("rate", "1 / hour"),
    "ft/min": ("velocity", "foot / minute"),
    "MJ/kg": ("energy per mass", "megajoule / kilogram"),
    "Btu/lb": ("energy per mass", "british_thermal_unit / pound"),
    "s/m": ("vapour resistance", "second / meter"),
    "gallons": ("water volume", "gallon"),
    "L/min": ("water flow", "liter / minute"),
    "gal/h": ("water flow", "gallon / hour"),
}


def in_pint(expression: str, number: float = 1.0) -> float:
    return float((number * REGISTRY.Quantity(1, REGISTRY.parse_expression(expression).units)
                  * REGISTRY.parse_expression(expression).magnitude).to_base_units().magnitude)  # fmt: skip


def test_every_unit_of_the_table_is_checked() -> None:
    assert set(UNITS) == set(IN_PINT) | set(COLUMNS)
    assert set(SPELLINGS.values()) <= set(UNITS)
    assert not set(SPELLINGS) & set(UNITS)


@pytest.mark.parametrize("unit", IN_PINT)
def test_unit_agrees_with_pint(unit: str) -> None:
    assert read_unit(unit)[0] == pytest.approx(in_pint(IN_PINT[unit]), rel=PINT_TOLERANCE)


@pytest.mark.parametrize("unit", IN_PINT)
def test_powers_agree_with_pint(unit: str) -> None:
    found = dict(REGISTRY.parse_expression(IN_PINT[unit]).to_base_units().unit_items())
    names = ("kilogram", "meter", "second", "kelvin")
    assert read_unit(unit)[1] == tuple(int(found.get(name, 0)) for name in names)


@pytest.mark.parametrize("unit", COLUMNS)
def test_pressure_columns(unit: str) -> None:
    assert parse(f"1 {unit}", "pressure") == pytest.approx(COLUMNS[unit], rel=2e-7)


@pytest.mark.parametrize(
    ("unit", "dimension", "expression"), [(u, d, e) for u, (d, e) in COMPOUND.items() if e]
)
def test_compound_unit_agrees_with_pint(unit: str, dimension: str, expression: str) -> None:
    assert parse(f"3 {unit}", dimension) == pytest.approx(3 * in_pint(expression), rel=PINT_TOLERANCE)


def test_every_dimension_is_tried() -> None:
    tried = {dimension for dimension, _ in COMPOUND.values()}
    simple = {"length", "time", "temperature", "temperature difference", "mass", "energy", "pressure"}
    assert tried | simple == set(DIMENSIONS)


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_units_offered_in_messages_are_readable(dimension: str) -> None:
    for offered in DIMENSIONS[dimension].examples.replace(", or ", ", ").split(", "):
        text = offered.strip('"')
        parse(text if text.startswith("R-") else f"2 {text}", dimension)
    assert scale_and_zero(DIMENSIONS[dimension].unit, dimension) == (1.0, 0.0)


@pytest.mark.parametrize(
    ("text", "celsius"),
    [
        ("50 degF", 10.0),
        ("50 F", 10.0),
        ("50 °F", 10.0),
        ("50 deg F", 10.0),
        ("50degF", 10.0),
        ("-40 F", -40.0),
        ("10 degC", 10.0),
        ("10 °C", 10.0),
        ("283.15 K", 10.0),
        ("509.67 degR", 10.0),
        ("-459.67 degF", -273.15),
    ],
)
def test_temperature(text: str, celsius: float) -> None:
    assert parse(text, "temperature") == pytest.approx(celsius + 273.15, abs=1e-9)


@given(st.floats(-400, 4000))
def test_temperatures_agree_with_pint(number: float) -> None:
    for unit, name in (("degF", "degree_Fahrenheit"), ("degC", "degree_Celsius")):
        kelvin = REGISTRY.Quantity(number, name).to("kelvin").magnitude
        scale, zero = scale_and_zero(unit, "temperature")
        assert number * scale + zero == pytest.approx(kelvin, abs=1e-9)


def test_temperature_difference_is_another_dimension() -> None:
    assert parse("9 degF", "temperature difference") == pytest.approx(5.0, rel=1e-15)
    assert parse("5 degC", "temperature difference") == 5.0
    assert parse("-9 degF", "temperature difference") == pytest.approx(-5.0, rel=1e-15)
    assert parse("5 K", "temperature difference") == 5.0
    assert parse("9 degF", "temperature") == pytest.approx(260.372222, abs=1e-6)  # 9 degF = -12.7778 degC


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("40 ft 6 in", "length", 40.5 * 0.3048),
        ("40ft 6in", "length", 40.5 * 0.3048),
        ("-1 ft 6 in", "length", -1.5 * 0.3048),
        ("5 1/2 in", "length", 5.5 * 0.0254),
        ("3/4 in", "length", 0.75 * 0.0254),
        ("1 h 30 min", "time", 5400.0),
        ("2 d 12 h", "time", 216000.0),
        ("30_000 BTU/h", "power", 30000 * 1055.05585262 / 3600),
        ("1.5e3 W", "power", 1500.0),
        (".5 m", "length", 0.5),
        ("2. m", "length", 2.0),
        ("+3 m", "length", 3.0),
        ("−3 m", "length", -3.0),
        ("  3   m ", "length", 3.0),
        ("0.5/h", "rate", 0.5 / 3600),
        ("2 1/h", "rate", 2 / 3600),
        # 1 h.ft2.F/BTU = 0.1761102 m2.K/W: NIST Special Publication 811 (value from memory)
        ("R-10", "thermal resistance", 1.761102),
        ("R10", "thermal resistance", 1.761102),
        ("10 h.ft2.F/Btu", "thermal resistance", 1.761102),
        ("RSI-1.76", "thermal resistance", 1.76),
        # one inch of R-5 is 0.8805510 m2.K/W, so 0.0254 / 0.8805510
        ("R-5 per inch", "conductivity", 0.0254 / 0.8805510),
        ("0.1 in wg", "pressure", 24.90889),
        ("0.1 in. w.g.", "pressure", 24.90889),
        ("0.1 inH2O", "pressure", 24.90889),
        ("0.1 in WC", "pressure", 24.90889),
    ],
)
def test_forms_of_a_quantity(text: str, dimension: str, value: float) -> None:
    assert parse(text, dimension) == pytest.approx(value, rel=4e-7)


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("3 furlong", "length", "\"3 furlong\": unknown unit 'furlong'; use one of m, cm, mm, ft, in"),
        ("3 kw", "power", "unknown unit 'kw'; did you mean 'kW'?"),
        ("3 metrs", "length", "unknown unit 'metrs'; did you mean 'metres'?"),
        ("3 bananas/s", "mass flow", "unknown unit 'bananas'; use one of kg/s, kg/h, lb/h"),
        ("2 years", "time", "unknown unit 'years'; write it in days"),
        ("20", "length", 'has no unit; write it with a unit in quotes, for example "2 m"'),
        (20, "temperature", 'has no unit; write it with a unit in quotes, for example "20 degC"'),
        (True, "length", 'is not a number with a unit; write it with a unit in quotes, for example "2 m"'),
        ("ft", "length", "is not a number with a unit"),
        ("", "length", "is not a number with a unit"),
        ("nan m", "length", "is not a number with a unit"),
        ("inf m", "length", "is not a number with a unit"),
        ("1,5 m", "length", "holds a comma; write a decimal point, and no thousands separator"),
        ("30,000 BTU/h", "power", "holds a comma"),
        ("1e300 km", "length", "is too large; allowed: numbers up to 1e+18"),
        ("1e999 m", "length", "is too large"),
        ("50 cfm", "length", "'cfm' is a unit of volume flow, but a length is needed; use one of m, cm,"),
        (
            "5 h.ft2.F/Btu",
            "film coefficient",
            "is a unit of thermal resistance, but a film coefficient is needed",
        ),
        ("5 kg.m", "length", "'kg.m' does not fit, but a length is needed"),
        ("5 W/K/", "heat loss", "the unit 'W/K/' cannot be read"),
        ("5 (W/K", "heat loss", "the unit '(W/K' cannot be read"),
        ("5 W)", "power", "the unit 'W)' cannot be read"),
        ("5 m^0", "length", "the unit 'm^0' cannot be read"),
        ("5 ((((((m))))))", "length", "cannot be read"),
        ("5 W+W", "power", "the unit 'W+W' cannot be read"),
        ("__import__('os')", "length", "is not a number with a unit"),
        ("2*3 m", "length", "the unit '*3 m' cannot be read"),
        ("-500 degF", "temperature", "is below absolute zero; allowed: above -273.15 degC"),
        (
            "5 W",
            "temperature",
            "'W' is a unit of power, but a temperature is needed; use one of degC, degF, K",
        ),
        ("5 K/s", "temperature", "'K/s' does not fit, but a temperature is needed"),
        ("40 ft 16 in", "length", "has two parts, but not a whole number and then less than one of its unit"),
        ("1.5 ft 6 in", "length", "has two parts, but not a whole number"),
        ("6 in 1 ft", "length", "has two parts"),
        ("40 ft 6 s", "length", "'s' is a unit of time, but a length is needed"),
        ("40 ft -6 in", "length", "the unit 'ft -6 in' cannot be read"),
        ("3/0 in", "length", "holds the fraction 3/0; write a decimal number, or a proper fraction"),
        ("5/4 in", "length", "holds the fraction 5/4"),
        ("1/7 in", "length", "holds the fraction 1/7"),
        ("R-5", "conductivity", 'is an R-value where a conductivity is needed; write "R-5 per inch"'),
        ("R-0 per inch", "conductivity", "must be above 0"),
        ("R-5 per inch", "thermal resistance", "is an R-value where a thermal resistance is needed"),
        ("5 " + "m" * 200, "length", "is too long for a number with a unit"),
    ],
)
def test_refusals(text: object, dimension: str, message: str) -> None:
    with pytest.raises(CaseError) as caught:
        parse(text, dimension)
    caught.value.value = text if message.startswith('"') else None
    assert str(caught.value).startswith(message) or message in str(caught.value)


def is_read_or_refused(text: str, dimension: str) -> bool:
    try:
        return math.isfinite(parse(text, dimension))
    except CaseError as error:
        return bool(error.problem)


@given(st.text(), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_is_read_or_refused(text: str, dimension: str) -> None:
    assert is_read_or_refused(text, dimension)


UNIT_TEXT = st.lists(
    st.sampled_from(
        [*UNITS, *SPELLINGS, ".", "/", "(", ")", "^2", "2", "-1", "-", " ", "1/", "°F", "R-", ","]
    ),
    max_size=8,
).map("".join)


@given(
    st.sampled_from(["1 ", "3/4 ", "-2.5", "1e3 ", "R-", "4 ft "]),
    UNIT_TEXT,
    st.sampled_from(sorted(DIMENSIONS)),
)
def test_any_unit_is_read_or_refused(number: str, unit: str, dimension: str) -> None:
    assert is_read_or_refused(number + unit, dimension)


@given(
    st.floats(-1e6, 1e6, allow_nan=False),
    st.sampled_from([(u, d, e) for u, (d, e) in COMPOUND.items() if e]),
)
def test_numbers_are_scaled(number: float, unit: tuple[str, str, str]) -> None:
    written, dimension, expression = unit
    expected = number * in_pint(expression)
    assert parse(f"{number!r} {written}", dimension) == pytest.approx(
        expected, rel=PINT_TOLERANCE, abs=1e-300
    )


@pytest.mark.parametrize(
    ("value", "dimension", "si", "us"),
    [
        (283.15, "temperature", "10.0 degC", "50.0 degF"),
        (5.0, "temperature difference", "5.00 K", "9.00 degF"),
        (12.3444, "length", "12.34 m", "40.50 ft"),
        (0.1016, "length", "10.2 cm", "4.00 in"),
        (8792.1, "power", "8.79 kW", "30,000 BTU/h"),
        (3.6e6, "energy", "1.00 kWh", "3,412 BTU"),
        (0.1415843, "volume flow", "0.142 m3/s", "300 cfm"),
        (1.761102, "thermal resistance", "1.761 m2.K/W", "10.00 h.ft2.F/BTU"),
        (43200.0, "time", "12.00 h", "12.00 h"),
        (259200.0, "time", "3.00 days", "3.00 days"),
        (24.90889, "pressure", "24.9 Pa", "0.100 in wg"),
        (0.0, "power", "0.0 W", "0 BTU/h"),
        (-0.001, "temperature difference", "0.00 K", "0.00 degF"),
        (math.nan, "temperature", "nan degC", "nan degF"),
    ],
)
def test_shown(value: float, dimension: str, si: str, us: str) -> None:
    assert show(value, dimension, "SI") == si
    assert show(value, dimension, "US") == us


@given(
    st.floats(1e-3, 1e9),
    st.sampled_from(sorted(set(DIMENSIONS) - {"temperature"})),
    st.sampled_from(["SI", "US"]),
)
def test_what_is_shown_reads_back(value: float, dimension: str, system: str) -> None:
    text = show(value, dimension, system)  # type: ignore[arg-type]
    unit = shown_unit(dimension, system, value)  # type: ignore[arg-type]
    back = parse(text.replace(",", "").replace(" million BTU", " MMBTU"), dimension)
    assert back == pytest.approx(value, rel=1e-12, abs=0.5000001 * 10.0**-unit.decimals * unit.scale)


def test_absolute_units_have_differences() -> None:
    for unit, (scale, _) in TEMPERATURES.items():
        assert UNITS[unit][0] == scale
