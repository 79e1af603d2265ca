"""Unit strings in and out: ``"40 ft 6 in"`` to 12.3444 m, and 283.15 K to ``"50.0 degF"``.

Reading is a small parser over the closed table in `unit_table`; nothing is evaluated. A quantity is a
number, then a unit. Lengths and times may have two parts (``"40 ft 6 in"``, ``"1 h 30 min"``) and whole
numbers may carry a fraction of an inch's kind (``"5 1/2 in"``). Compound units are products with whole
powers: ``W/(m.K)``, ``W/m/K``, ``BTU.in/(h.ft2.F)``, ``m^3/s``, ``1/h``.

Decisions:

* After a slash a run of products is all below the line, as the trade writes it: ``W/m2.K`` is
  ``W/(m2.K)`` and ``Btu/h-ft2-F`` is ``Btu/(h.ft2.F)``. No other reading of those matches a quantity
  that a case file holds.
* Letter case counts (``mW`` is no spelling of ``MW``); the spellings that the trade uses are listed.
* A decimal or thousands comma is refused, because ``1,500`` means two different numbers to two readers.
* Temperatures and temperature differences are different dimensions: ``"9 degF"`` is 260.37 K as a
  temperature and 5 K as a difference.
* There is no year (365 or 365.25 days?): write days.
"""

from __future__ import annotations

import math
import re

from simulator.case.unit_reading import read_unit, table_form, tidy
from simulator.case.unit_showing import ShownUnit, System, show, shown_unit
from simulator.case.unit_table import DIMENSIONS, SPELLINGS, TEMPERATURES, UNITS, Dimension
from simulator.errors import CaseError

__all__ = ["ShownUnit", "System", "limit", "parse", "scale_and_zero", "show", "shown_unit"]

_LONGEST_TEXT = 120
_LARGEST = 1e18
_ROUNDING = 1e-9
# Atomic, so that "1e300 km" is never taken for "1 e" and "300 km".
_NUMBER = r"(?>(?:\d+(?:_\d+)*(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?)"
_FRACTION = r"(?:(\d+)\s+)?(\d+)/(\d+)(?=\s*[A-Za-z])"
_QUANTITY = re.compile(rf"([+-]?)\s*(?:{_FRACTION}|({_NUMBER}))\s*(.*)", re.DOTALL | re.ASCII)
_TWO_PARTS = re.compile(rf"([+-]?)\s*({_NUMBER})\s*([A-Za-z]+)\s*,?\s*({_NUMBER})\s*([A-Za-z]+)", re.ASCII)
_R_VALUE = re.compile(
    rf"(R|RSI)[\s-]?({_NUMBER})\s*(per in|per inch|/\s?in|/\s?inch)?", re.IGNORECASE | re.ASCII
)
_FRACTIONS = (2, 3, 4, 8, 16, 32, 64)
_US_RESISTANCE = UNITS["ft"][0] ** 2 * UNITS["h"][0] * UNITS["degF"][0] / UNITS["BTU"][0]


def dimension_named(name: str) -> Dimension:
    """Return the dimension of that name; a KeyError is a slip of the program, not of the user."""
    return DIMENSIONS[name]


def parse(text: object, dimension: str) -> float:
    """Read a quantity.

    Parameters
    ----------
    text : object
        What the case file holds; anything but a string is refused.
    dimension : str
        Name of the dimension needed, a key of `unit_table.DIMENSIONS`.

    Returns
    -------
    float
        The value in SI; temperatures in kelvin above absolute zero.

    Raises
    ------
    CaseError
        When the text is no quantity of that dimension. It carries no file or line.
    """
    wanted = dimension_named(dimension)
    cleaned = _clean(text, wanted)
    special = _r_value(cleaned, wanted)
    if special is None:
        special = _two_parts(cleaned, wanted)
    if special is not None:
        return _bounded(special)
    match = _QUANTITY.fullmatch(cleaned)
    if match is None:
        raise CaseError("is not a number with a unit", fix=_example(wanted))
    sign, whole, above, below, number, unit = match.groups()
    value = float(number) if number is not None else _fraction(whole, above, below)
    unit = unit.strip()
    if unit.startswith(","):
        raise CaseError(
            "holds a comma", fix="write a decimal point, and no thousands separator, for example 1500 or 1.5"
        )
    if not unit:
        raise CaseError("has no unit", fix=_example(wanted))
    scale, zero = scale_and_zero(unit, dimension)
    result = _bounded((-value if sign == "-" else value) * scale + zero)
    if not wanted.absolute:
        return result
    if result < -_ROUNDING:
        raise CaseError("is below absolute zero", allowed="above -273.15 degC, which is -459.67 degF")
    return max(result, 0.0)


def scale_and_zero(unit: str, dimension: str) -> tuple[float, float]:
    """Return ``(scale, zero)`` with SI value = number * scale + zero, for a unit of that dimension.

    Parameters
    ----------
    unit : str
        Unit text such as ``"degF"`` or ``"W/(m2.K)"``.
    dimension : str
        Name of the dimension needed.

    Raises
    ------
    CaseError
        When the unit is unknown or belongs to another dimension.
    """
    wanted = dimension_named(dimension)
    unit = table_form(tidy(unit))
    if wanted.absolute:
        name = SPELLINGS.get(unit, unit)
        if name in TEMPERATURES:
            return TEMPERATURES[name]
    scale, powers = read_unit(unit, wanted.examples)
    if powers != wanted.powers or wanted.absolute:
        kinds = [known.name for known in DIMENSIONS.values() if known.powers == powers and not known.absolute]
        what = f" is a unit of {kinds[0]}" if kinds else " does not fit"
        article = "an" if wanted.name[0] in "aeiou" else "a"
        raise CaseError(
            f"{unit!r}{what}, but {article} {wanted.name} is needed", fix=f"use one of {wanted.examples}"
        )
    return scale, 0.0


def _clean(text: object, wanted: Dimension) -> str:
    """Return the text with one way of writing signs, degrees and powers."""
    if not isinstance(text, str):
        bare = isinstance(text, int | float) and not isinstance(text, bool)
        problem = "has no unit" if bare else "is not a number with a unit"
        raise CaseError(problem, fix=_example(wanted))
    if len(text) > _LONGEST_TEXT:
        raise CaseError("is too long for a number with a unit", fix=_example(wanted))
    return tidy(text)


def _example(wanted: Dimension) -> str:
    """Return a hint with an example."""
    unit = wanted.examples.split(",")[0]
    return f'write it with a unit in quotes, for example "{20 if wanted.absolute else 2} {unit}"'


def _bounded(value: float) -> float:
    """Refuse what is not finite or beyond any physical size."""
    if not math.isfinite(value) or abs(value) > _LARGEST:
        raise CaseError("is too large", allowed=f"numbers up to {_LARGEST:g}")
    return value


def _fraction(whole: str | None, above: str, below: str) -> float:
    """Return the value of ``5 1/2`` or ``3/4``."""
    if len(below) > 2 or int(below) not in _FRACTIONS or len(above) > 2 or int(above) >= int(below):
        raise CaseError(
            f"holds the fraction {above[:9]}/{below[:9]}",
            fix="write a decimal number, or a proper fraction in halves, thirds, quarters, ... 64ths",
        )
    return (float(whole) if whole else 0.0) + int(above) / int(below)


def _two_parts(text: str, wanted: Dimension) -> float | None:
    """Read ``40 ft 6 in`` or ``1 h 30 min``; None when the text has another form."""
    match = _TWO_PARTS.fullmatch(text)
    if match is None or wanted.name not in ("length", "time"):
        return None
    sign, first, first_unit, second, second_unit = match.groups()
    large, _ = scale_and_zero(first_unit, wanted.name)
    small, _ = scale_and_zero(second_unit, wanted.name)
    if small >= large or float(second) * small >= large or not float(first).is_integer():
        raise CaseError(
            "has two parts, but not a whole number and then less than one of its unit",
            fix='write it like "40 ft 6 in" or "1 h 30 min"',
        )
    value = float(first) * large + float(second) * small
    return -value if sign == "-" else value


def _r_value(text: str, wanted: Dimension) -> float | None:
    """Read ``R-10`` (h.ft2.F/BTU), ``RSI-1.8`` (m2.K/W) or, as a conductivity, ``R-5 per inch``."""
    if wanted.name not in ("thermal resistance", "conductivity"):
        return None
    match = _R_VALUE.fullmatch(text)
    if match is None:
        return None
    kind, number, per_inch = match.groups()
    value = float(number) * (_US_RESISTANCE if kind.upper() == "R" else 1.0)
    if wanted.name == "thermal resistance" and per_inch is None:
        return value
    if wanted.name == "conductivity" and per_inch is not None and kind.upper() == "R":
        if value <= 0.0:
            raise CaseError("must be above 0", fix='write it like "R-5 per inch"')
        return UNITS["in"][0] / value
    fix = _example(wanted) if per_inch else 'write "R-5 per inch", or give a conductivity in W/(m.K)'
    raise CaseError(f"is an R-value where a {wanted.name} is needed", fix=fix)


def limit(value: float, dimension: str) -> str:
    """Write the limit of an allowed range in the unit people read it in."""
    if dimension == "temperature":
        return f"{round(value - 273.15, 6):.10g} degC"
    if dimension == "time":
        for name, seconds in (("days", 86400.0), ("h", 3600.0), ("min", 60.0)):
            if value >= seconds:
                return f"{value / seconds:.10g} {name}"
    if dimension == "rate":
        return f"{value * 3600.0:.10g} 1/h"
    return f"{value:.10g} {dimension_named(dimension).unit}"
