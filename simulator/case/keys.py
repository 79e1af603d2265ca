"""Keys of a case as people type them: ``ducts.length``, ``ground.layers[2].thickness``, ``layers[loam]``.

Entries of lists are counted from 1, or named by what they hold: their name, material or time of day. A key
that only one table has may stand alone.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from simulator.case.explain import KeyPath, key_text, members
from simulator.case.fields import Checked, Number, OrWords, Quantity, Whole
from simulator.case.inputs import check_of
from simulator.case.nearest import nearest
from simulator.case.schema import Case
from simulator.case.schema_air import EitherFlow
from simulator.errors import CaseError

__all__ = ["Kind", "key_of", "kind_of"]

_PART = re.compile(r"\s*([^.\[\]\s]+)\s*|\[([^\[\]]*)\]")
_NAMES = ("name", "material", "at")


@dataclass(frozen=True)
class Kind:
    """What a key holds.

    Attributes
    ----------
    dimension : str or None
        Of a quantity with a unit.
    whole : bool
        Whether only whole numbers fit.
    number : bool
        Whether bare numbers fit.
    """

    dimension: str | None = None
    whole: bool = False
    number: bool = False


def key_of(data: Mapping[str, Any], text: str) -> KeyPath:
    """Find the key that is meant.

    Parameters
    ----------
    data : mapping
        The case file as ``tomllib`` gives it.
    text : str
        The key as typed.

    Returns
    -------
    tuple of str or int
        Keys and list positions, the latter counted from 0. The last key need not stand in the file.

    Raises
    ------
    CaseError
        When there is no such key, or more than one.
    """
    parts = _split(text)
    if len(parts) == 1 and parts[0] not in Case.model_fields:
        parts = [_home_of(parts[0]), *parts]
    path: KeyPath = ()
    models: list[type[BaseModel]] = [Case]
    value: Any = data
    for part in parts:
        if models and isinstance(value, list):
            number = _entry(value, part, path, text)
            path, value = (*path, number), value[number]
            continue
        if isinstance(value, dict) and "kind" in value and len(models) > 1:
            models = [model for model in models if _word_of(model) == value["kind"]] or models
        fields = {name: field for model in models for name, field in model.model_fields.items()}
        if part not in fields:
            inside, near = key_text(path) or "a case", nearest(part, fields)
            allowed = None if near else ", ".join(fields)
            raise CaseError(f"{inside} has no key {part!r}", key=text, allowed=allowed, fix=near)
        path = (*path, part)
        models = [
            member
            for model in models
            if part in model.model_fields
            for member in members(model.model_fields[part].annotation)
        ]
        value = value.get(part) if isinstance(value, dict) else None
        if models and value is None and part != parts[-1] and _is_list(fields[part].annotation):
            raise CaseError("the case gives no such list", key=text, fix=f"write {key_text(path)} into it")
    return path


def kind_of(data: Mapping[str, Any], path: Sequence[str | int]) -> Kind:
    """Say what a key found by `key_of` holds."""
    models: list[type[BaseModel]] = [Case]
    value: Any = data
    check: Checked | None = None
    for part in path:
        if not isinstance(part, int):
            if isinstance(value, dict) and "kind" in value and len(models) > 1:
                models = [model for model in models if _word_of(model) == value["kind"]] or models
            field = next(model.model_fields[part] for model in models if part in model.model_fields)
            check = check_of(field.annotation, list(field.metadata))
            models = members(field.annotation)
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            value = None
    if isinstance(check, OrWords):
        check = check.other
    if isinstance(check, Quantity):
        return Kind(check.dimension)
    if isinstance(check, EitherFlow):
        return Kind("volume flow")
    return Kind(whole=isinstance(check, Whole), number=isinstance(check, Number | Whole))


def _split(text: str) -> list[str]:
    parts: list[str] = []
    place = 0
    while place < len(text):
        match = _PART.match(text, place)
        if match is None or not (match[1] or match[2]):
            break
        parts.append((match[1] or match[2]).strip())
        place = match.end()
        if text[place : place + 1] == "." and place + 1 < len(text):
            place += 1
        elif text[place : place + 1] not in ("", "["):
            break
    if place < len(text) or not parts:
        raise CaseError("is no key of a case", value=text, fix="write it like ducts.length or layers[2]")
    return parts


def _home_of(key: str) -> str:
    """Find the one table that has a key."""
    tables = {
        name: [member for member in members(field.annotation) if key in member.model_fields]
        for name, field in Case.model_fields.items()
    }
    homes = [name for name, found in tables.items() if found]
    if len(homes) == 1:
        return homes[0]
    if homes:
        listed = ", ".join(f"{home}.{key}" for home in homes)
        raise CaseError("stands in more than one table", key=key, allowed=listed)
    every = [
        name
        for field in Case.model_fields.values()
        for member in members(field.annotation)
        for name in member.model_fields
    ]
    fix = nearest(key, [*Case.model_fields, *every]) or "`ductfloor check CASE` lists every key"
    raise CaseError("no table of a case has such a key", key=key, fix=fix)


def _entry(entries: list[Any], part: str, path: KeyPath, text: str) -> int:
    """Find an entry of a list by its number from 1, or by what it holds."""
    if re.fullmatch(r"\d{1,6}", part):
        number = int(part) - 1
        if 0 <= number < len(entries):
            return number
        raise CaseError(f"{key_text(path)} has no entry {part}", key=text, allowed=f"1 to {len(entries)}")
    wanted = part.strip("\"'").casefold()
    names = [
        [str(entry[name]) for name in _NAMES if name in entry] if isinstance(entry, dict) else []
        for entry in entries
    ]
    found = [number for number, known in enumerate(names) if wanted in [name.casefold() for name in known]]
    if len(found) == 1:
        return found[0]
    listed = ", ".join(
        f"{number + 1}" + (f" ({known[0]})" if known else "") for number, known in enumerate(names)
    )
    problem = "has no entry" if not found else "has more than one entry"
    raise CaseError(f"{key_text(path)} {problem} called {part!r}", key=text, allowed=listed or "none")


def _word_of(model: type[BaseModel]) -> object:
    field = model.model_fields.get("kind")
    return None if field is None else field.default


def _is_list(annotation: object) -> bool:
    return "list[" in str(annotation)
