"""A table back to TOML text, one line for each key, list entries on lines of their own."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Mapping
from typing import Any

__all__ = ["toml_text", "toml_value"]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPED = {letter: f"\\u{letter:04x}" for letter in (*range(0x20), *range(0x7F, 0xA0), 0x2028, 0x2029)}


def toml_text(data: Mapping[str, Any]) -> str:
    """Write a table as TOML.

    Parameters
    ----------
    data : mapping
        As ``tomllib`` gives it: text, numbers, dates and times, lists and tables.

    Returns
    -------
    str
        Reads back as the same data; comments are not kept, because data have none.
    """
    plain = {key: value for key, value in data.items() if not isinstance(value, dict)}
    tables = {key: value for key, value in data.items() if isinstance(value, dict)}
    lines = [f"{_key(key)} = {toml_value(value)}" for key, value in plain.items()]
    for name, table in tables.items():
        lines += ["", f"[{_key(name)}]"] if lines else [f"[{_key(name)}]"]
        lines += [f"{_key(key)} = {_spread(value)}" for key, value in table.items()]
    return "\n".join(lines) + "\n"


def toml_value(value: object) -> str:
    """Write one value on one line.

    Raises
    ------
    TypeError
        When TOML has no such kind of value.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(int(value))
    if isinstance(value, float):
        return repr(float(value))
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).translate(_ESCAPED)
    if isinstance(value, dt.datetime | dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(item) for item in value)}]"
    if isinstance(value, dict):
        inside = ", ".join(f"{_key(key)} = {toml_value(item)}" for key, item in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    message = f"TOML has no value of type {type(value).__name__}"
    raise TypeError(message)


def _spread(value: object) -> str:
    """Write a list of tables with one entry on each line."""
    if isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        return "[\n" + "".join(f"    {toml_value(item)},\n" for item in value) + "]"
    return toml_value(value)


def _key(key: str) -> str:
    return key if _BARE_KEY.fullmatch(key) else toml_value(key)
