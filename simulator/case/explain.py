"""Pydantic's errors in the words of a case file: key, problem, what is allowed, the likely fix."""

from __future__ import annotations

import re
import types
import typing
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ValidationError

from simulator.case.nearest import nearest, nearest_word

KeyPath = tuple[str | int, ...]

_MISSING = object()
_KEY_PART = re.compile(r"([^.\[\]]+)|\[(\d+)\]")
_KINDS = {
    "dict_type": "must be a table of keys",
    "model_type": "must be a table of keys",
    "model_attributes_type": "must be a table of keys",
    "list_type": "must be a list",
    "string_type": "must be text in quotes",
}


@dataclass(frozen=True)
class Problem:
    """One problem of a case.

    Attributes
    ----------
    path : tuple of str or int
        Keys and list positions, the latter counted from 0.
    problem, allowed, fix : str
        Parts of the message.
    value : object
        The value found, None when it is not worth showing.
    kind : str
        ``"missing"``, ``"unknown"`` or ``"wrong"``.
    """

    path: KeyPath
    problem: str
    allowed: str | None = None
    fix: str | None = None
    value: object = None
    kind: str = "wrong"


def key_text(path: Sequence[str | int]) -> str:
    """Write a path as a dotted key, with list entries counted from 1."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += f".{part}" if text else part
    return text


def path_of_key(key: str) -> KeyPath:
    """Read a dotted key written by `key_text` back into a path."""
    return tuple(match[1] or int(match[2]) - 1 for match in _KEY_PART.finditer(key))


def explain(error: ValidationError, data: dict[str, Any], root: type[BaseModel]) -> list[Problem]:
    """Translate a validation error.

    Parameters
    ----------
    error : pydantic.ValidationError
        What validation raised.
    data : dict
        The table that was validated.
    root : type of pydantic.BaseModel
        The model it was validated against.

    Returns
    -------
    list of Problem
        In pydantic's order; a missing key is left out where the same table holds a misspelling of it.
    """
    problems = [_explain_one(detail, data, root) for detail in error.errors(include_url=False)]
    misspelt = {
        (problem.path[:-1], nearest_word(str(problem.path[-1]), _keys_at(problem.path[:-1], data, root)))
        for problem in problems
        if problem.kind == "unknown"
    }
    return [
        problem
        for problem in problems
        if problem.kind != "missing" or (problem.path[:-1], problem.path[-1]) not in misspelt
    ]


def _explain_one(detail: Any, data: dict[str, Any], root: type[BaseModel]) -> Problem:
    path = _path_of(detail["loc"], root)
    context: dict[str, Any] = detail.get("ctx", {})
    value = _value_at(data, path)
    shown = None if isinstance(value, dict | list) or value is _MISSING else value
    kind = detail["type"]
    if kind == "case":
        extra = context.get("key") or ""
        path = (*path, *path_of_key(extra))
        value = _value_at(data, path)
        shown = None if isinstance(value, dict | list) or value is _MISSING else value
        return Problem(path, context["problem"], context["allowed"] or None, context["fix"] or None, shown)
    if kind == "extra_forbidden":
        return _unknown_key(path, data, root)
    if kind == "missing":
        field = _model_at(path[:-1], data, root)
        about = ""
        if field is not None and path[-1] in field.model_fields:
            about = field.model_fields[str(path[-1])].description or ""
        return Problem(
            path, "is missing", fix=f"give {path[-1]} ({about})" if about else None, kind="missing"
        )
    if kind == "union_tag_not_found":
        return Problem(
            (*path, "kind"), "is missing", allowed=_listed(_tags(path, data, root)), kind="missing"
        )
    if kind == "union_tag_invalid":
        tags = _tags(path, data, root)
        given = _value_at(data, (*path, "kind"))
        return Problem(
            (*path, "kind"),
            "is no known kind",
            allowed=_listed(tags),
            fix=nearest(given, tags) if isinstance(given, str) else None,
            value=given,
        )
    if kind == "literal_error":
        words = _literal_words(path, data, root)
        return Problem(
            path,
            "is not understood",
            allowed=_listed(words) if words else str(context.get("expected", "")),
            fix=nearest(shown, words) if isinstance(shown, str) else None,
            value=shown,
        )
    if kind in ("too_short", "too_long"):
        limit = context.get("min_length", context.get("max_length"))
        word = "few" if kind == "too_short" else "many"
        least = "at least" if kind == "too_short" else "at most"
        return Problem(path, f"has too {word} entries", allowed=f"{least} {limit}")
    return Problem(path, _KINDS.get(kind, str(detail["msg"])), fix=_brackets(kind, path, value), value=shown)


def _brackets(kind: str, path: KeyPath, value: object) -> str | None:
    """Return a hint when a table is written where a list of tables belongs, or the other way round."""
    if not all(isinstance(part, str) for part in path):
        return None
    name = key_text(path)
    if kind == "list_type" and isinstance(value, dict):
        return f"write [[{name}]] for each entry"
    if kind in ("dict_type", "model_type", "model_attributes_type") and isinstance(value, list):
        return f"write [{name}]: there is only one"
    return None


def _unknown_key(path: KeyPath, data: dict[str, Any], root: type[BaseModel]) -> Problem:
    key = str(path[-1])
    model = _model_at(path[:-1], data, root)
    keys = _keys(model)
    problem = f"unknown key {key!r}" if len(path) > 1 else f"unknown table or key {key!r}"
    fix = nearest(key, keys) or _home(key, path, data, root)
    allowed = None if fix else ", ".join(keys)
    return Problem(path, problem, allowed, fix, kind="unknown")


def _home(key: str, path: KeyPath, data: dict[str, Any], root: type[BaseModel]) -> str | None:
    """Return a hint when the key has a place elsewhere: another kind, another table."""
    kinds = [
        _kind_of(model)
        for model in _models_at(path[:-1], data, root, every_kind=True)
        if "kind" in model.model_fields and key in model.model_fields
    ]
    if kinds:
        return f'it belongs to kind = "{kinds[0]}"'
    if key in root.model_fields and len(path) > 1:
        return f"it is a table of its own: [{key}]"
    for name, field in root.model_fields.items():
        if name != path[0] and any(key in _keys(member) for member in members(field.annotation)):
            return f"it belongs to [{name}]"
    return None


def _listed(words: Sequence[str]) -> str:
    return ", ".join(f'"{word}"' for word in words)


def _keys(model: type[BaseModel] | None) -> list[str]:
    return [] if model is None else list(model.model_fields)


def _keys_at(path: Sequence[str | int], data: object, root: type[BaseModel]) -> list[str]:
    return _keys(_model_at(path, data, root))


def _value_at(data: object, path: Sequence[str | int]) -> Any:
    """Return the value at a path, or a mark that there is none."""
    for part in path:
        if isinstance(data, dict) and part in data:
            data = data[part]
            continue
        if isinstance(data, list) and isinstance(part, int) and part < len(data):
            data = data[part]
        else:
            return _MISSING
    return data


def members(annotation: Any) -> list[type[BaseModel]]:
    """Return the models inside an annotation: through Annotated, unions and lists."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    origin = typing.get_origin(annotation)
    if origin is typing.Annotated:
        return members(typing.get_args(annotation)[0])
    if origin in (typing.Union, types.UnionType, list):
        return [member for part in typing.get_args(annotation) for member in members(part)]
    return []


def _kind_of(model: type[BaseModel]) -> str:
    """Return the word that tells this model from its siblings."""
    return str(model.model_fields["kind"].default)


def _path_of(location: Sequence[str | int], root: type[BaseModel]) -> KeyPath:
    """Turn pydantic's location into a path of the file, which does not name the kinds of unions."""
    path: list[str | int] = []
    candidates: list[type[BaseModel]] = [root]
    for part in location:
        if len(candidates) > 1 and isinstance(part, str):
            chosen = [model for model in candidates if _kind_of(model) == part]
            if chosen:
                candidates = chosen
                continue
        path.append(part)
        if isinstance(part, int):
            continue
        field = candidates[0].model_fields.get(part) if len(candidates) == 1 else None
        candidates = [] if field is None else members(field.annotation)
    return tuple(path)


def _models_at(
    path: Sequence[str | int], data: object, root: type[BaseModel], *, every_kind: bool = False
) -> list[type[BaseModel]]:
    """Return the models that may describe the table at a path of the file, of its own kind unless asked."""
    candidates: list[type[BaseModel]] = [root]
    for place, part in enumerate(path):
        data = _value_at(data, (part,))
        if isinstance(part, int):
            continue
        field = candidates[0].model_fields.get(part) if len(candidates) == 1 else None
        candidates = [] if field is None else members(field.annotation)
        wide = every_kind and place == len(path) - 1
        if len(candidates) > 1 and isinstance(data, dict) and not wide:
            candidates = [model for model in candidates if _kind_of(model) == data.get("kind")] or candidates
    return candidates


def _model_at(path: Sequence[str | int], data: object, root: type[BaseModel]) -> type[BaseModel] | None:
    models = _models_at(path, data, root)
    return models[0] if len(models) == 1 else None


def _tags(path: Sequence[str | int], data: object, root: type[BaseModel]) -> list[str]:
    return [_kind_of(model) for model in _models_at(path, data, root)]


def _literal_words(path: Sequence[str | int], data: object, root: type[BaseModel]) -> list[str]:
    """Return the words that the key at a path may hold."""
    model = _model_at(path[:-1], data, root)
    field = None if model is None else model.model_fields.get(str(path[-1]))
    if field is None:
        return []
    words: list[str] = []
    pending = [field.annotation]
    while pending:
        annotation = pending.pop(0)
        if typing.get_origin(annotation) is typing.Literal:
            words += [str(word) for word in typing.get_args(annotation)]
        elif annotation is not None:
            pending += list(typing.get_args(annotation))
    return words
