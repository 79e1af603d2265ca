"""How the sums take what they are given: numbers in SI, texts with units, or numbers with their error."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from simulator.answers.measured import Measured
from simulator.case.rates import rate, rate_or_amount, with_key, within
from simulator.case.units import parse
from simulator.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.case.rates import Given
    from simulator.case.units import System

__all__ = ["Input", "Names", "above_zero", "fraction", "one_blank", "quantity", "rate_given", "written_in"]

Input = float | str | Measured | None
"""A number in SI, a text with its unit, a number with its error, or blank."""


class Names:
    """How a key is called in a message: as the function calls it, or as an option of the command line."""

    def __init__(self, options: dict[str, str] | None = None) -> None:
        self.options = options or {}

    def __getitem__(self, key: str) -> str:
        return self.options.get(key, key)


def quantity(
    value: Input, dimension: str, key: str, names: Names, off: float | str | None = None, off_key: str = ""
) -> Measured | None:
    """Read a quantity and how far it may be off; None when it was left blank.

    Raises
    ------
    CaseError
    """
    if value is None:
        if off is not None:
            raise CaseError(
                f"says how far {names[key]} may be off, but {names[key]} is left blank",
                key=names[off_key], value=off, fix=f"leave it out, or give {names[key]}",
            )  # fmt: skip
        return None
    if isinstance(value, Measured):
        found = value
    elif isinstance(value, str):
        try:
            found = Measured(parse(value, dimension))
        except CaseError as error:
            raise with_key(error, names[key], value) from None
    else:
        found = Measured(float(value))
    return found if off is None else Measured(found.value, _off(off, dimension, found.value, names[off_key]))


def rate_given(
    value: Input,
    rates: tuple[str, ...],
    key: str,
    names: Names,
    duration: Measured | None,
    off: float | str | None = None,
    off_key: str = "",
) -> tuple[Measured, str] | None:
    """Read a rate, or an amount in a known time, with its error and its dimension; None when left blank.

    Raises
    ------
    CaseError
    """
    if value is None or isinstance(value, float | int | Measured):
        found = quantity(value, rates[0], key, names, off, off_key)
        return None if found is None else (found, rates[0])
    seconds = None if duration is None else duration.value
    given: Given = rate(value, rates, key=names[key], duration=seconds, duration_key=names["duration"])
    if off is None:
        return Measured(given.value), given.dimension
    if isinstance(off, str) and duration is not None and not off.strip().endswith("%"):
        # An error of an amount is an amount as well.
        typed = rate_or_amount(off, rates, key=names[off_key])
        if typed.dimension != given.dimension and seconds:
            return Measured(given.value, abs(typed.value) / seconds), given.dimension
    return Measured(given.value, _off(off, given.dimension, given.value, names[off_key])), given.dimension


def fraction(
    value: float | str | Measured, key: str, names: Names, *, off: float | str | None = None
) -> Measured:
    """Read a share between 0 and 1: a number, or a text such as ``"8 %"``, which may be off by so much more.

    Raises
    ------
    CaseError
    """
    found = value if isinstance(value, Measured) else Measured(_share(value, names[key]))
    if not 0.0 <= found.value <= 1.0:
        fix = f'did you mean "{found.value:g} %"?' if 1.0 < found.value <= 100.0 else None
        raise CaseError(
            "is outside its range", key=names[key], value=value, allowed="0 to 1, or 0 to 100 %", fix=fix
        )
    if off is None:
        return found
    size = _share(off, names[f"{key}_within"])
    return Measured(found.value, _off(size, "share", found.value, names[f"{key}_within"]))


def one_blank(given: dict[str, object], names: Names) -> str:
    """Return the one name that was left blank.

    Raises
    ------
    CaseError
        When none or more than one was.
    """
    blank = [name for name, value in given.items() if value is None]
    if len(blank) == 1:
        return blank[0]
    listed = ", ".join(names[name] for name in given)
    if blank:
        missing = ", ".join(names[name] for name in blank)
        raise CaseError(
            f"of {listed}, leave one blank to be solved for; {len(blank)} are blank ({missing})",
            fix=f"give {len(blank) - 1} of them",
        )
    raise CaseError(f"of {listed}, all are given and nothing is left to solve for", fix="leave one out")


def _share(value: float | str, key: str) -> float:
    if isinstance(value, str):
        text = value.strip()
        try:
            return float(text[:-1]) / 100.0 if text.endswith("%") else float(text)
        except ValueError:
            raise CaseError(
                "is no share", key=key, value=value, allowed="0 to 1", fix='write 0.08 or "8 %"'
            ) from None
    return float(value)


def _off(off: float | str, dimension: str, value: float, key: str) -> float:
    if isinstance(off, str):
        return within(off, dimension, value, key=key)
    if not 0.0 <= float(off) < float("inf"):
        raise CaseError("is an error of less than nothing", key=key, value=off, allowed="0 and more")
    return float(off)


def above_zero(names: Names, given: Mapping[str, Measured | None]) -> None:
    """Refuse what must be more than nothing.

    Raises
    ------
    CaseError
    """
    for name, found in given.items():
        if found is not None and not found.value > 0.0:
            raise CaseError("must be above 0", key=names[name], value=found.value)


_US_WORDS = re.compile(
    r"(?<![a-z])(btuh?|kbtu|mmbtu|mbh|deg ?f|f|gpm|gal|gallons?|cfm|lbs?|ft|in|hp|tons?)(?![a-z])"
)


def written_in(text: str) -> System | None:
    """Say in which system of units a quantity was typed; None when it fits either, as a time or a share."""
    letters = re.sub(r"[^a-z/ ]+", " ", text.lower()).strip()
    if not letters or re.fullmatch(r"(h|hr|hrs|hours?|min|minutes?|s|days?|d)", letters):
        return None
    return "US" if _US_WORDS.search(letters) else "SI"
