"""What a key is to be varied over, as people type it.

``ducts.length = 10 ft..60 ft in 6 steps``, ``fan.flow = 300..600 cfm in steps of 50 cfm``, ``ducts.count =
4, 6, 8``, ``fan.intake = room, outside``. A number without a unit takes that of the number after it. Several
keys before the equals sign, with commas between them, take the same value together.
"""

from __future__ import annotations

import math
import re
import tomllib
from dataclasses import dataclass
from typing import Any

from simulator.case.changed import data_of
from simulator.case.explain import key_text
from simulator.case.keys import Kind, key_of, kind_of
from simulator.case.schema import Case
from simulator.case.unit_table import DIMENSIONS
from simulator.case.units import parse, scale_and_zero
from simulator.errors import CaseError

__all__ = ["Range", "Variation", "setting", "variation"]

MOST_VALUES = 10_000
_RANGE = re.compile(
    r"(?P<low>\S.*?)\s*(?:\.\.|\bto\b)\s*(?P<high>\S.*?)"
    r"(?:\s+in\s+(?:(?P<count>\d{1,6})(?:\s+steps?)?|steps?\s+of\s+(?P<step>\S.*)))?"
)
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d+)?")
_UNIT_AFTER = re.compile(r"[+-]?[\d_.eE+-]*\d\.?\s*([^\d\s].*)", re.DOTALL)


@dataclass(frozen=True)
class Range:
    """The ends of a range, in SI.

    Attributes
    ----------
    low, high : float
    """

    low: float
    high: float


@dataclass(frozen=True)
class Variation:
    """Keys that change together, and their values.

    Attributes
    ----------
    keys : tuple of str
        Written in full.
    values : tuple
        As a case file would hold them; the two ends only, for a range whose steps were left open.
    numbers : tuple of float or None
        The same in SI; None for values that are no numbers.
    kind : Kind
        What the first key holds.
    range : Range or None
        When a range was given.
    open : bool
        Whether a range was given without its steps.
    unit : str
        Unit in which a range is written; empty for bare numbers.
    """

    keys: tuple[str, ...]
    values: tuple[Any, ...]
    numbers: tuple[float, ...] | None
    kind: Kind
    range: Range | None = None
    open: bool = False
    unit: str = ""

    @property
    def name(self) -> str:
        """The keys as one name."""
        return ", ".join(self.keys)

    def value_at(self, number: float) -> object:
        """Write a number in SI as the case file would hold it, in the unit of the range."""
        return _written(number, self.kind, self.unit)

    def in_steps(self, count: int) -> Variation:
        """Return the same range in so many values, its ends among them."""
        if self.range is None:
            return self
        numbers = _even(self.range.low, self.range.high, count, self.kind)
        return Variation(
            self.keys, tuple(self.value_at(number) for number in numbers), tuple(numbers), self.kind,
            self.range, open=False, unit=self.unit,
        )  # fmt: skip


def setting(case: Case, text: str) -> tuple[tuple[str, ...], Any]:
    """Read ``KEY = VALUE``, one value for one or several keys.

    Returns
    -------
    keys : tuple of str
    value : object

    Raises
    ------
    CaseError
        When the text is none, or there is no such key.
    """
    keys, values = _sides(case, text)
    return keys, _literal(values)


def variation(case: Case, text: str) -> Variation:
    """Read ``KEY = RANGE`` or ``KEY = LIST``.

    Parameters
    ----------
    case : Case
        In which the keys stand.
    text : str

    Returns
    -------
    Variation

    Raises
    ------
    CaseError
        When the text cannot be read, or there is no such key. Whether the values fit the case shows when
        they are put into it.
    """
    keys, right = _sides(case, text)
    data = data_of(case)
    kind = kind_of(data, key_of(data, keys[0]))
    match = _RANGE.fullmatch(right)
    if match is not None and _NUMBER.match(match["low"]):
        return _from_range(keys, right, match, kind)
    items = [item.strip() for item in _split(right, keys)]
    if any(not item for item in items):
        raise CaseError("has an empty entry", key=", ".join(keys), value=right)
    if kind.dimension is not None:
        items = _with_units(items)
    values = tuple(_literal(item) for item in items)
    if len(set(map(str, values))) < len(values):
        raise CaseError("names a value twice", key=", ".join(keys), value=right)
    return Variation(keys, values, _numbers(values, kind), kind)


def _sides(case: Case, text: str) -> tuple[tuple[str, ...], str]:
    left, equals, right = text.partition("=")
    left, right = left.strip(), right.strip()
    if not equals or not left or not right:
        raise CaseError(
            "is no key with values", value=text,
            fix='write it like "ducts.length = 10 ft..60 ft in 6 steps"',
        )  # fmt: skip
    data = data_of(case)
    keys = tuple(key_text(key_of(data, key.strip())) for key in left.split(","))
    return keys, right


def _from_range(keys: tuple[str, ...], text: str, match: re.Match[str], kind: Kind) -> Variation:
    name = ", ".join(keys)
    low_text, high_text = match["low"], match["high"]
    unit = ""
    step = None
    if kind.dimension is not None:
        unit = _unit_of(high_text, kind.dimension)
        low_text, high_text = _with_units([low_text, high_text])
        low, high = _parse(low_text, kind.dimension, name), _parse(high_text, kind.dimension, name)
        if match["step"]:
            span = "temperature difference" if kind.dimension == "temperature" else kind.dimension
            step_text = match["step"] if not _NUMBER.fullmatch(match["step"]) else f"{match['step']} {unit}"
            step = _parse(step_text, span, name)
    elif kind.whole or kind.number:
        low, high = _bare(low_text, name), _bare(high_text, name)
        step = _bare(match["step"], name) if match["step"] else None
    else:
        raise CaseError("has no range of numbers", key=name, value=text, fix="list its values with commas")
    if not high > low:
        raise CaseError("ends below its beginning", key=name, value=text, fix="write the lower end first")
    if step is None and kind.whole and match["count"] is None:
        step = 1.0
    if step is not None:
        if not step > 0.0:
            raise CaseError("has steps of nothing", key=name, value=text)
        steps = (high - low) / step
        _bounded(steps, name, text)
        count = math.floor(steps + 1e-9) + 1
        _bounded(count, name, text)
        numbers = [low + step * number for number in range(count)]
    else:
        count = int(match["count"] or 2)
        _bounded(count, name, text)
        if count < 2:
            raise CaseError("has fewer than 2 steps", key=name, value=text)
        numbers = _even(low, high, count, kind)
    return Variation(
        keys, tuple(_written(number, kind, unit) for number in numbers), tuple(numbers), kind,
        Range(low, high), open=match["count"] is None and step is None, unit=unit,
    )  # fmt: skip


def _even(low: float, high: float, count: int, kind: Kind) -> list[float]:
    numbers = [low + (high - low) * number / (count - 1) for number in range(count)]
    numbers[-1] = high
    return [float(number) for number in sorted({round(n) for n in numbers})] if kind.whole else numbers


def _written(number: float, kind: Kind, unit: str) -> object:
    if kind.dimension is None:
        return round(number) if kind.whole else float(f"{number:.10g}")
    scale, zero = scale_and_zero(unit, kind.dimension)
    return f"{(number - zero) / scale:.10g} {unit}"


def _bounded(count: float, name: str, text: str) -> None:
    if count > MOST_VALUES:
        raise CaseError("has too many steps", key=name, value=text, allowed=f"up to {MOST_VALUES}")


def _unit_of(text: str, dimension: str) -> str:
    """Find the unit that follows a number, or the plain one of the dimension where there are two."""
    match = _UNIT_AFTER.fullmatch(text.strip())
    if match is not None and not any(letter.isdigit() for letter in match[1].split()[-1][:1]):
        try:
            scale_and_zero(match[1], dimension)
        except CaseError:
            return DIMENSIONS[dimension].unit
        return match[1]
    return DIMENSIONS[dimension].unit


def _with_units(items: list[str]) -> list[str]:
    """Give a number without unit the unit of the next one that has some."""
    found: list[str] = []
    unit = ""
    for item in reversed(items):
        if _NUMBER.fullmatch(item):
            found.append(f"{item} {unit}".strip())
            continue
        match = _UNIT_AFTER.fullmatch(item)
        unit = match[1] if match is not None else ""
        found.append(item)
    return found[::-1]


def _split(text: str, keys: tuple[str, ...]) -> list[str]:
    """Split at commas outside brackets and quotes."""
    parts, depth, quote, part = [], 0, "", ""
    for letter in text:
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter in "[{(":
            depth += 1
        elif letter in "]})":
            depth -= 1
        elif letter == "," and depth == 0:
            parts.append(part)
            part = ""
            continue
        part += letter
    if depth or quote:
        raise CaseError("has a bracket or quote that does not close", key=", ".join(keys), value=text)
    return [*parts, part]


def _literal(text: str) -> Any:
    """Read what TOML would read, and take everything else as text."""
    try:
        return tomllib.loads(f"value = {text}")["value"]
    except (RecursionError, ValueError):
        return text


def _numbers(values: tuple[Any, ...], kind: Kind) -> tuple[float, ...] | None:
    if kind.dimension is None:
        if all(isinstance(value, int | float) and not isinstance(value, bool) for value in values):
            try:
                return tuple(float(value) for value in values)
            except OverflowError:
                # Whether the key takes so large a number shows when it is put into the case.
                return None
        return None
    try:
        return tuple(parse(value, kind.dimension) for value in values)
    except CaseError:
        return None


def _parse(text: str, dimension: str, key: str) -> float:
    try:
        return parse(text, dimension)
    except CaseError as error:
        raise CaseError(error.problem, key=key, value=text, allowed=error.allowed, fix=error.fix) from None


def _bare(text: str, key: str) -> float:
    if not _NUMBER.fullmatch(text.strip()):
        raise CaseError("must be a plain number, without a unit", key=key, value=text)
    if not math.isfinite(float(text)):
        raise CaseError("is too large", key=key, value=text)
    return float(text)
