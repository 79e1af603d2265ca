"""Every unit and dimension a case file may use: a closed table, no arithmetic.

A dimension is a tuple of whole powers of kilogram, metre, second and kelvin. An absolute temperature
has the same powers as a temperature difference but is a different thing (its units have a zero point),
so it is named apart.

Factors are exact by definition where the unit is (international foot and pound, US gallon of 231 cubic
inches, International Table BTU of 1055.05585262 J, standard gravity 9.80665 m/s2, standard atmosphere);
water and mercury columns use the conventional densities 1000 and 13595.1 kg/m3. Values from memory of
NIST Special Publication 811, appendix B.
"""

from __future__ import annotations

from dataclasses import dataclass

Powers = tuple[int, int, int, int]

_FOOT = 0.3048
_INCH = 0.0254
_POUND = 0.45359237
_BTU = 1055.05585262
_GALLON = 231 * _INCH**3
_GRAVITY = 9.80665
_HOUR = 3600.0

_LENGTH: Powers = (0, 1, 0, 0)
_VOLUME: Powers = (0, 3, 0, 0)
_TIME: Powers = (0, 0, 1, 0)
_MASS: Powers = (1, 0, 0, 0)
_ENERGY: Powers = (1, 2, -2, 0)
_POWER: Powers = (1, 2, -3, 0)
_PRESSURE: Powers = (1, -1, -2, 0)
_FLOW: Powers = (0, 3, -1, 0)
_RATE: Powers = (0, 0, -1, 0)
_VELOCITY: Powers = (0, 1, -1, 0)
_KELVIN: Powers = (0, 0, 0, 1)

#: unit -> (factor to SI, powers)
UNITS: dict[str, tuple[float, Powers]] = {
    "m": (1.0, _LENGTH),
    "mm": (1e-3, _LENGTH),
    "cm": (1e-2, _LENGTH),
    "km": (1e3, _LENGTH),
    "ft": (_FOOT, _LENGTH),
    "in": (_INCH, _LENGTH),
    "yd": (3 * _FOOT, _LENGTH),
    "L": (1e-3, _VOLUME),
    "gal": (_GALLON, _VOLUME),
    "s": (1.0, _TIME),
    "min": (60.0, _TIME),
    "h": (_HOUR, _TIME),
    "d": (86400.0, _TIME),
    "week": (604800.0, _TIME),
    "kg": (1.0, _MASS),
    "g": (1e-3, _MASS),
    "tonne": (1e3, _MASS),
    "lb": (_POUND, _MASS),
    "J": (1.0, _ENERGY),
    "kJ": (1e3, _ENERGY),
    "MJ": (1e6, _ENERGY),
    "GJ": (1e9, _ENERGY),
    "Wh": (_HOUR, _ENERGY),
    "kWh": (1e3 * _HOUR, _ENERGY),
    "MWh": (1e6 * _HOUR, _ENERGY),
    "BTU": (_BTU, _ENERGY),
    "kBTU": (1e3 * _BTU, _ENERGY),
    "MMBTU": (1e6 * _BTU, _ENERGY),
    "W": (1.0, _POWER),
    "kW": (1e3, _POWER),
    "MW": (1e6, _POWER),
    "hp": (550 * _FOOT * _POUND * _GRAVITY, _POWER),
    "MBH": (1e3 * _BTU / _HOUR, _POWER),
    "Pa": (1.0, _PRESSURE),
    "hPa": (1e2, _PRESSURE),
    "kPa": (1e3, _PRESSURE),
    "mbar": (1e2, _PRESSURE),
    "bar": (1e5, _PRESSURE),
    "atm": (101325.0, _PRESSURE),
    "psi": (_POUND * _GRAVITY / _INCH**2, _PRESSURE),
    "inH2O": (1000.0 * _GRAVITY * _INCH, _PRESSURE),
    "mmH2O": (_GRAVITY, _PRESSURE),
    "inHg": (13595.1 * _GRAVITY * _INCH, _PRESSURE),
    "mmHg": (13.5951 * _GRAVITY, _PRESSURE),
    "cfm": (_FOOT**3 / 60.0, _FLOW),
    "gpm": (_GALLON / 60.0, _FLOW),
    "ach": (1.0 / _HOUR, _RATE),
    "fpm": (_FOOT / 60.0, _VELOCITY),
    "mph": (1609.344 / _HOUR, _VELOCITY),
    "K": (1.0, _KELVIN),
    "degC": (1.0, _KELVIN),
    "degF": (5.0 / 9.0, _KELVIN),
    "degR": (5.0 / 9.0, _KELVIN),
}

#: unit -> (factor, zero point in K) for absolute temperatures: kelvin = factor * value + zero
TEMPERATURES: dict[str, tuple[float, float]] = {
    "K": (1.0, 0.0),
    "degC": (1.0, 273.15),
    "degF": (5.0 / 9.0, 459.67 * 5.0 / 9.0),
    "degR": (5.0 / 9.0, 0.0),
}

#: other spellings of one unit, exact letter case
SPELLINGS: dict[str, str] = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "foot": "ft", "feet": "ft", "inch": "in", "inches": "in", "yard": "yd", "yards": "yd",
    "l": "L", "litre": "L", "litres": "L", "liter": "L", "liters": "L",
    "gallon": "gal", "gallons": "gal",
    "sec": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min", "mins": "min",
    "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "day": "d", "days": "d", "weeks": "week",
    "lbs": "lb", "lbm": "lb", "pound": "lb", "pounds": "lb", "tonnes": "tonne",
    "Btu": "BTU", "btu": "BTU", "kBtu": "kBTU", "MMBtu": "MMBTU",
    "watt": "W", "watts": "W", "HP": "hp",
    "CFM": "cfm", "GPM": "gpm", "ACH": "ach", "FPM": "fpm", "PSI": "psi",
    "C": "degC", "F": "degF", "celsius": "degC", "Celsius": "degC",
    "fahrenheit": "degF", "Fahrenheit": "degF", "kelvin": "K", "Kelvin": "K",
}  # fmt: skip

#: whole unit texts (lower case, spaces and dots removed) that the trade writes its own way
PHRASES: dict[str, str] = {
    "inwg": "inH2O", "inwc": "inH2O", "inh2o": "inH2O", "mmh2o": "mmH2O", "mmwg": "mmH2O", "mmwc": "mmH2O",
    "inhg": "inHg", "mmhg": "mmHg",
    "sqft": "ft2", "cuft": "ft3", "squarefeet": "ft2", "cubicfeet": "ft3", "sqm": "m2", "cum": "m3",
    "cuyd": "yd3", "cubicyards": "yd3",
    "airchangesperhour": "ach", "perhour": "1/h", "btuh": "BTU/h",
    "degreesf": "degF", "degreesc": "degC",
    "w/mk": "W/(m.K)", "w/m2k": "W/(m2.K)", "m2k/w": "m2.K/W", "j/kgk": "J/(kg.K)", "kj/kgk": "kJ/(kg.K)",
}  # fmt: skip


@dataclass(frozen=True)
class Dimension:
    """One kind of quantity: its powers, the unit it is held in and units to suggest."""

    name: str
    powers: Powers
    unit: str
    examples: str
    absolute: bool = False


DIMENSIONS: dict[str, Dimension] = {
    dimension.name: dimension
    for dimension in (
        Dimension("length", _LENGTH, "m", "m, cm, mm, ft, in"),
        Dimension("area", (0, 2, 0, 0), "m2", "m2, ft2"),
        Dimension("volume", _VOLUME, "m3", "m3, L, ft3, gal"),
        Dimension("water volume", _VOLUME, "m3", "L, m3, gal, ft3"),
        Dimension("time", _TIME, "s", "s, min, h, days"),
        Dimension("temperature", _KELVIN, "K", "degC, degF, K", absolute=True),
        Dimension("temperature difference", _KELVIN, "K", "K, degC, degF"),
        Dimension("mass", _MASS, "kg", "kg, lb"),
        Dimension("density", (1, -3, 0, 0), "kg/m3", "kg/m3, lb/ft3"),
        Dimension("energy", _ENERGY, "J", "kWh, MJ, BTU"),
        Dimension("energy per mass", (0, 2, -2, 0), "J/kg", "MJ/kg, kWh/kg, BTU/lb"),
        Dimension("power", _POWER, "W", "W, kW, BTU/h"),
        Dimension("heat flow per length", (1, 1, -3, 0), "W/m", "W/m, BTU/(h.ft)"),
        Dimension("heat flux", (1, 0, -3, 0), "W/m2", "W/m2, BTU/(h.ft2)"),
        Dimension("conductivity", (1, 1, -3, -1), "W/(m.K)", "W/(m.K), BTU/(h.ft.F), BTU.in/(h.ft2.F)"),
        Dimension("film coefficient", (1, 0, -3, -1), "W/(m2.K)", "W/(m2.K), BTU/(h.ft2.F)"),
        Dimension("thermal resistance", (-1, 0, 3, 1), "m2.K/W", 'm2.K/W, h.ft2.F/BTU, or "R-10"'),
        Dimension("heat loss", (1, 2, -3, -1), "W/K", "W/K, BTU/(h.F)"),
        Dimension("heat capacity", (1, 2, -2, -1), "J/K", "kJ/K, BTU/F"),
        Dimension("specific heat", (0, 2, -2, -1), "J/(kg.K)", "J/(kg.K), BTU/(lb.F)"),
        Dimension("volumetric heat capacity", (1, -1, -2, -1), "J/(m3.K)", "MJ/(m3.K), BTU/(ft3.F)"),
        Dimension("diffusivity", (0, 2, -1, 0), "m2/s", "m2/s, m2/d, ft2/h"),
        Dimension("volume flow", _FLOW, "m3/s", "m3/s, L/s, m3/h, cfm"),
        Dimension("water flow", _FLOW, "m3/s", "L/min, L/h, gpm, gal/h"),
        Dimension("mass flow", (1, 0, -1, 0), "kg/s", "kg/s, kg/h, lb/h"),
        Dimension("rate", _RATE, "1/s", "1/h, ach"),
        Dimension("pressure", _PRESSURE, "Pa", "Pa, in wg"),
        Dimension("velocity", _VELOCITY, "m/s", "m/s, fpm, mph"),
        Dimension("vapour resistance", (0, -1, 1, 0), "s/m", "s/m, s/cm"),
    )
}
