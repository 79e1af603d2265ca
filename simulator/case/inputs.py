"""What a case says, key by key in both systems of units, as `check` shows it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal, get_args

from simulator.case.fields import Angle, Checked, Quantity, TimeOfDay
from simulator.case.schema_air import EitherFlow, MassFlow
from simulator.case.units import shown_unit

if TYPE_CHECKING:
    from pydantic import BaseModel

    from simulator.case.schema import Case
    from simulator.case.units import System

__all__ = ["Input", "check_of", "inputs"]

Origin = Literal["given", "default", "derived"]


@dataclass(frozen=True)
class Input:
    """One key of the case.

    Attributes
    ----------
    table : str
        Table of the case file it stands in; empty for the top.
    key : str
        Key within the table; entries of lists counted from 1.
    si, us : str
        Value in either system; the same where it has no unit.
    value : object
        As held inside, in SI.
    origin : {"given", "default", "derived"}
        Whether the case file gives it, or it is a default, or it follows from other keys.
    """

    table: str
    key: str
    si: str
    us: str
    value: object
    origin: Origin


#: Told elsewhere: the timetable is shown as the list of its switches.
LEFT_OUT = frozenset({"timetable"})


def inputs(case: Case) -> Iterator[Input]:
    """List every key with a value, in the order of the schema."""
    for name in type(case).model_fields:
        if name in LEFT_OUT:
            continue
        value = getattr(case, name)
        if _is_table(value):
            yield from _inside(value, name, "", given=name in case.model_fields_set)
        elif isinstance(value, list):
            for number, item in enumerate(value, start=1):
                yield from _inside(item, f"{name}[{number}]", "", given=True)
        elif value:
            yield _row("", name, value, None, "given")


def _is_table(value: object) -> bool:
    return hasattr(type(value), "model_fields")


def _inside(table: BaseModel, name: str, prefix: str, *, given: bool) -> Iterator[Input]:
    idle = getattr(table, "idle_keys", ())
    for key, field in type(table).model_fields.items():
        if key in idle:
            continue
        value = getattr(table, key)
        if value is None or value in ("", []) or (isinstance(value, float) and math.isnan(value)):
            continue
        origin: Origin = "derived"
        if given and key in table.model_fields_set:
            origin = "given"
        elif _is_table(value) or value == field.default:
            origin = "default"
        yield from _spread(name, prefix + key, value, check_of(field.annotation, field.metadata), origin)


def _spread(table: str, key: str, value: Any, check: Any, origin: Origin) -> Iterator[Input]:
    if _is_table(value):
        yield from _inside(value, table, key + ".", given=origin == "given")
    elif isinstance(value, list) and any(_is_table(item) for item in value):
        for number, item in enumerate(value, start=1):
            yield from _spread(table, f"{key}[{number}]", item, check, origin)
    else:
        yield _row(table, key, value, check, origin)


def check_of(annotation: Any, metadata: list[Any]) -> Any:
    """Find what checks a field's value, also inside `... | None` and `list[...]`."""
    found = [item for item in metadata if isinstance(item, Checked)]
    waiting = list(get_args(annotation))
    while waiting and not found:
        part = waiting.pop(0)
        found = [part] if isinstance(part, Checked) else []
        waiting += get_args(part)
    return found[0] if found else None


def _row(table: str, key: str, value: Any, check: Any, origin: Origin) -> Input:
    listed = value if isinstance(value, list) else [value]
    si = ", ".join(_text(item, check, "SI") for item in listed)
    us = ", ".join(_text(item, check, "US") for item in listed)
    return Input(table, key, si, us, value, origin)


def _text(value: Any, check: Any, system: System) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.isoformat(" ")
    if isinstance(check, Angle):
        return f"{value:g} deg"
    if isinstance(check, TimeOfDay):
        return f"{value // 3600:02d}:{value // 60 % 60:02d}"
    if isinstance(check, Quantity):
        return _exact(value, check.dimension, system)
    if isinstance(check, EitherFlow):
        return _exact(value, "mass flow" if isinstance(value, MassFlow) else "volume flow", system)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _exact(value: float, dimension: str, system: System) -> str:
    """Write a quantity with the digits that tell whether it was understood as it was meant."""
    unit = shown_unit(dimension, system, value or None)
    return f"{round(unit.number(value), 9):.5g} {unit.label}"
