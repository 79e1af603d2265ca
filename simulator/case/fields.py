"""Field types of the case schema: quantities with units and ranges, plain numbers, times of day.

Each type is metadata for ``typing.Annotated`` and checks one value by itself. A failed check becomes a
pydantic error of type ``case`` whose context holds ``problem``, ``allowed`` and ``fix``; the loader adds
file, line and key.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ConfigDict
from pydantic_core import PydanticCustomError, core_schema

from simulator.case import units
from simulator.case.unit_reading import tidy
from simulator.errors import CaseError

_COMPASS = {
    name: 45.0 * number
    for number, name in enumerate(
        ("north", "northeast", "east", "southeast", "south", "southwest", "west", "northwest")
    )
}
_ANGLE = re.compile(r"([+-]?\d+(?:\.\d*)?|[+-]?\.\d+)\s*(?:deg|degree|degrees)?", re.ASCII)
_TIME_OF_DAY = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")


class SiValue(float):
    """A number that is already in SI (kelvin for temperatures), for cases built in Python."""


def refuse(
    problem: str, *, allowed: str | None = None, fix: str | None = None, key: str | None = None
) -> PydanticCustomError:
    """Return the error that a validator raises; `key` names a key inside the table being checked."""
    context = {"problem": problem, "allowed": allowed or "", "fix": fix or "", "key": key or ""}
    return PydanticCustomError("case", "{problem}", context)


class Table(BaseModel):
    """A table of the case file: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", arbitrary_types_allowed=True, defer_build=True)


@dataclass(frozen=True)
class Checked(ABC):
    """Metadata whose `check` replaces pydantic's own validation of the field."""

    @abstractmethod
    def check(self, value: object) -> Any:
        """Return the value to hold, or raise what `refuse` returns."""

    def __get_pydantic_core_schema__(self, source: object, handler: object) -> core_schema.CoreSchema:
        del source, handler
        return core_schema.no_info_plain_validator_function(self.check)


@dataclass(frozen=True)
class _Ranged(Checked):
    """A number between `low` and `high`, `low` itself left out when `above` is set."""

    low: float
    high: float
    above: bool = False

    def shown(self, value: float) -> str:
        """Write one limit."""
        return f"{value:.10g}"

    def range_text(self) -> str:
        """Write the allowed range."""
        low, high = self.shown(self.low), self.shown(self.high)
        low_number, _, low_unit = low.partition(" ")
        if low_unit == high.partition(" ")[2]:
            low = low_number
        return f"above {low}, up to {high}" if self.above else f"{low} to {high}"

    def within(self, value: float) -> float:
        """Return the value, or refuse it."""
        if not math.isfinite(value):
            raise refuse("must be a finite number", allowed=self.range_text())
        if self.above and value <= self.low:
            raise refuse(f"must be above {self.shown(self.low)}", allowed=self.range_text())
        if value < self.low:
            raise refuse(f"must not be below {self.shown(self.low)}", allowed=self.range_text())
        if value > self.high:
            raise refuse(f"must not be above {self.shown(self.high)}", allowed=self.range_text())
        return value


@dataclass(frozen=True)
class Quantity(_Ranged):
    """A string with a unit, turned into SI; limits are in SI."""

    dimension: str = "length"

    def check(self, value: object) -> float:
        """Return the SI value."""
        if isinstance(value, SiValue):
            return self.within(float(value))
        try:
            number = units.parse(value, self.dimension)
        except CaseError as error:
            raise refuse(error.problem, allowed=error.allowed, fix=error.fix) from None
        return self.within(number)

    def shown(self, value: float) -> str:
        """Write one limit with the unit that people read it in."""
        return units.limit(value, self.dimension)


@dataclass(frozen=True)
class OrWords(Checked):
    """One of a few words, or else what another field type accepts."""

    words: tuple[str, ...]
    other: Quantity | Number

    def check(self, value: object) -> Any:
        """Return the word (true and false count as "on" and "off") or the checked number."""
        if isinstance(value, bool) and "off" in self.words and "on" in self.words:
            return "on" if value else "off"
        if isinstance(value, str):
            word = value.strip().lower()
            if word in self.words:
                return word
            if isinstance(self.other, Number) or not any(letter.isdigit() for letter in word):
                raise refuse("is not understood", allowed=self.allowed())
        return self.other.check(value)

    def allowed(self) -> str:
        """List the words and the kind of number."""
        words = ", ".join(f'"{word}"' for word in self.words)
        if isinstance(self.other, Quantity):
            return f"{words} or a {self.other.dimension}"
        return f"{words} or a number {self.other.range_text()}"


@dataclass(frozen=True)
class Number(_Ranged):
    """A bare number."""

    def check(self, value: object) -> float:
        """Return the number as float."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise refuse("must be a plain number", allowed=self.range_text(), fix="write it without quotes")
        if isinstance(value, int) and abs(value) > 10**18:
            raise refuse("is too large", allowed=self.range_text())
        return self.within(float(value))


@dataclass(frozen=True)
class Whole(_Ranged):
    """A bare whole number."""

    def check(self, value: object) -> int:
        """Return the number as int."""
        if isinstance(value, bool) or not isinstance(value, int):
            raise refuse("must be a whole number", allowed=self.range_text())
        if abs(value) > 10**18:
            raise refuse("is too large", allowed=self.range_text())
        self.within(float(value))
        return int(value)


@dataclass(frozen=True)
class Angle(_Ranged):
    """Degrees, written ``"35 deg"`` or as a bare number; with `compass` also ``"southeast"``."""

    compass: bool = False

    def shown(self, value: float) -> str:
        """Write one limit."""
        return f"{value:.10g} deg"

    def check(self, value: object) -> float:
        """Return the angle in degrees."""
        if isinstance(value, int | float) and not isinstance(value, bool):
            if isinstance(value, int) and abs(value) > 10**6:
                raise refuse("is too large", allowed=self.range_text())
            return self.within(float(value))
        fix = 'write it like "35 deg"' + (' or "south"' if self.compass else "")
        if not isinstance(value, str) or len(value) > 60:
            raise refuse("is not an angle", allowed=self.range_text(), fix=fix)
        word = value.strip().lower()
        plain = word.replace("-", "").replace(" ", "")
        if self.compass and plain in _COMPASS:
            return _COMPASS[plain]
        match = _ANGLE.fullmatch(tidy(word))
        if match is None:
            raise refuse("is not an angle", allowed=self.range_text(), fix=fix)
        return self.within(float(match[1]))


@dataclass(frozen=True)
class Flag(Checked):
    """A bare true or false."""

    def check(self, value: object) -> bool:
        """Return the flag."""
        if not isinstance(value, bool):
            raise refuse("must be true or false", fix="write it without quotes")
        return value


@dataclass(frozen=True)
class Words(Checked):
    """Free text."""

    longest: int = 200
    empty: bool = False

    def check(self, value: object) -> str:
        """Return the text."""
        if not isinstance(value, str):
            raise refuse("must be text in quotes")
        if not value.strip() and not self.empty:
            raise refuse("must not be empty")
        if len(value) > self.longest:
            raise refuse("is too long", allowed=f"up to {self.longest} characters")
        if any(not letter.isprintable() for letter in value):
            raise refuse("holds a control character")
        return value


@dataclass(frozen=True)
class TimeOfDay(Checked):
    """``"HH:MM"`` or ``"HH:MM:SS"`` (a bare TOML time does too), held as seconds since midnight."""

    def check(self, value: object) -> int:
        """Return seconds since midnight."""
        if isinstance(value, dt.time):
            if value.microsecond:
                raise refuse("must be a whole second")
            return value.hour * 3600 + value.minute * 60 + value.second
        match = _TIME_OF_DAY.fullmatch(value) if isinstance(value, str) else None
        if match is None:
            raise refuse("is not a time of day", allowed='"00:00" to "23:59"', fix='write it like "06:30"')
        hour, minute, second = int(match[1]), int(match[2]), int(match[3] or 0)
        if hour > 23 or minute > 59 or second > 59:
            raise refuse("is not a time of day", allowed='"00:00" to "23:59"')
        return hour * 3600 + minute * 60 + second


@dataclass(frozen=True)
class Moment(Checked):
    """A bare TOML local date and time."""

    first: int = 1900
    last: int = 2200

    def check(self, value: object) -> dt.datetime:
        """Return the date and time, without a zone."""
        fix = "write a date and time without quotes, for example 2031-01-15T18:00:00"
        if not isinstance(value, dt.datetime):
            raise refuse("is not a date and time", fix=fix)
        if value.tzinfo is not None:
            raise refuse("has a time zone; a case uses local standard time", fix="leave out the zone")
        if not self.first <= value.year <= self.last:
            raise refuse("is out of range", allowed=f"years {self.first} to {self.last}")
        if value.microsecond % 1000:
            raise refuse("must be a whole millisecond")
        return value
