"""Rates and amounts: which of the two a text gives, and what to say when it is the other one.

Heat is the case that people mix up: kW and BTU/h are rates, kWh and BTU are amounts, a rate times the time
for which it lasts. Flows are alike: gpm and cfm are rates, gallons and cubic feet are amounts.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from simulator.case.unit_table import DIMENSIONS
from simulator.case.units import parse
from simulator.errors import CaseError

__all__ = ["AMOUNT_OF", "Given", "heat_per_mass", "kind_of", "rate", "rate_or_amount", "with_key", "within"]

Kind = Literal["rate", "amount"]

AMOUNT_OF: Final = {"power": "energy", "volume flow": "volume", "mass flow": "mass"}
"""Dimension of the amount that goes with each dimension of a rate."""
_THINGS: Final = {"power": " of heat", "volume flow": "", "mass flow": ""}
_PER: Final = {"power": "h", "volume flow": "min", "mass flow": "h"}
_RATE_UNITS: Final = {
    "power": "kW, W or BTU/h",
    "volume flow": "gpm, L/min or cfm",
    "mass flow": "kg/h or lb/h",
}
_EITHER_AMOUNT_UNITS: Final = {
    "power": "kWh, MJ or BTU",
    "volume flow": "L, gal or m3",
    "mass flow": "kg or lb",
}


@dataclass(frozen=True)
class Given:
    """A number that was typed, with what it is.

    Attributes
    ----------
    value : float
        In SI.
    dimension : str
        A key of `unit_table.DIMENSIONS`.
    """

    value: float
    dimension: str


def kind_of(dimension: str) -> Kind | None:
    """Say whether a dimension is a rate or an amount; None for what is neither."""
    if dimension in AMOUNT_OF:
        return "rate"
    return "amount" if dimension in AMOUNT_OF.values() else None


def with_key(error: CaseError, key: str, value: object) -> CaseError:
    """Return the same complaint with the place it belongs to."""
    return CaseError(error.problem, key=key, value=value, allowed=error.allowed, fix=error.fix)


def rate_or_amount(text: object, rates: tuple[str, ...], *, key: str) -> Given:
    """Read a rate, or an amount of the same thing.

    Parameters
    ----------
    text : object
        Number with unit.
    rates : tuple of str
        Dimensions of rates that fit, keys of `AMOUNT_OF`; the first one names what is wanted.
    key : str
        Named in the message.

    Returns
    -------
    Given

    Raises
    ------
    CaseError
        When the text is neither.
    """
    for dimension in (*rates, *(AMOUNT_OF[name] for name in rates)):
        try:
            return Given(parse(text, dimension), dimension)
        except CaseError:
            continue
    try:
        parse(text, rates[0])
    except CaseError as error:
        units = "; ".join(
            f"as a rate {_RATE_UNITS[name]}, as an amount {_EITHER_AMOUNT_UNITS[name]}" for name in rates[:1]
        )
        if error.fix is not None and error.fix.startswith("use one of"):
            raise CaseError(error.problem, key=key, value=text, fix=f"write it {units}") from None
        raise with_key(error, key, text) from None
    message = f"{text!r} was refused and then read"
    raise RuntimeError(message)


def rate(
    text: object, rates: tuple[str, ...], *, key: str, duration: float | None, duration_key: str
) -> Given:
    """Read a rate; an amount only together with the time that it takes.

    Parameters
    ----------
    text : object
    rates : tuple of str
        As in `rate_or_amount`.
    key : str
    duration : float or None [s]
        Time that an amount takes.
    duration_key : str
        Where the time would have been given.

    Returns
    -------
    Given
        Always a rate.

    Raises
    ------
    CaseError
        When the text is neither a rate nor an amount, or is an amount and no time is known.
    """
    given = rate_or_amount(text, rates, key=key)
    if given.dimension in AMOUNT_OF:
        return given
    dimension = next(name for name in rates if AMOUNT_OF[name] == given.dimension)
    if duration is None:
        unit = _unit_of(text)
        raise CaseError(
            f"{unit} is an amount{_THINGS[dimension]}, but a rate is needed here, how much in what time",
            key=key,
            value=text,
            fix=f"write {unit}/{_PER[dimension]} if that is meant, or give with {duration_key} the time",
        )
    return Given(given.value / duration, dimension)


def _unit_of(text: object) -> str:
    """Return what stands behind the number."""
    return re.sub(r"^[\s\d.,+\-_/eE]+(?=[^\d])", "", str(text)).strip() or str(text)


def within(text: object, dimension: str, value: float | None, *, key: str) -> float:
    """Read how far a value may be off: with a unit, or as a share of the value such as ``"5 %"``.

    Parameters
    ----------
    text : object
    dimension : str
        Of the value; a temperature is off by a temperature difference.
    value : float or None
        SI, for shares.
    key : str

    Returns
    -------
    float
        In SI, not negative.

    Raises
    ------
    CaseError
        When the text is neither, or negative, or a share of something that has none.
    """
    difference = "temperature difference" if dimension == "temperature" else dimension
    if isinstance(text, str) and text.strip().endswith("%"):
        number = text.strip()[:-1].strip()
        try:
            share = float(number) / 100.0
        except ValueError:
            raise CaseError("is no share", key=key, value=text, fix='write it like "5 %"') from None
        if value is None or dimension == "temperature":
            units = DIMENSIONS[difference].examples
            raise CaseError("cannot be a share here", key=key, value=text, fix=f"use one of {units}")
        found = share * abs(value)
    elif dimension == "share":
        raise CaseError("is no share", key=key, value=text, fix='write it like "5 %"')
    else:
        try:
            found = parse(text, difference)
        except CaseError as error:
            raise with_key(error, key, text) from None
    if not 0.0 <= found < float("inf"):
        raise CaseError("is an error of less than nothing", key=key, value=text, allowed="0 and more")
    return found


def heat_per_mass(text: str) -> float:
    """Read a heat per mass [J/kg], such as ``"18.8 MJ/kg"`` or ``"8100 BTU/lb"``.

    Raises
    ------
    CaseError
    """
    above, slash, below = text.rpartition("/")
    fix = 'write it like "18.8 MJ/kg" or "8100 BTU/lb"'
    if not slash:
        raise CaseError("is no heat per mass", fix=fix)
    try:
        return parse(above, "energy") / parse(f"1 {below}", "mass")
    except CaseError:
        raise CaseError("is no heat per mass", fix=fix) from None
