"""A case with some of its keys changed: same checks, same clear errors, a text of its own."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from simulator.case.explain import KeyPath, key_text, path_of_key
from simulator.case.keys import key_of
from simulator.case.loader import load_text
from simulator.case.locate import line_of
from simulator.case.schema import Case
from simulator.case.toml_reading import read_toml
from simulator.case.toml_text import toml_text
from simulator.errors import CaseError

__all__ = ["changed", "data_of", "moved_text", "spread_ducts"]


def data_of(case: Case) -> dict[str, Any]:
    """Return what a case file says, as ``tomllib`` gives it.

    Raises
    ------
    CaseError
        For a case that was built in Python and so has no text.
    """
    if not case.source_text:
        raise CaseError("this case was not read from a file, so there is no text to change", fix="use `load`")
    return read_toml(case.source_text)


def changed(case: Case, changes: Mapping[str, object]) -> Case:
    """Return a case with some keys changed.

    Parameters
    ----------
    case : Case
        Read from a file or a text.
    changes : mapping of str to object
        New values by key, as a case file would hold them: ``{"ducts.length": "20 ft", "ducts.count": 8}``.
        Keys are written as `simulator.case.keys` reads them; None takes a key out.

    Returns
    -------
    Case
        Checked like any other; its `source_text` is the case file as it would have to be written.

    Raises
    ------
    CaseError
        When there is no such key, or the changed case is wrong; it names the key, and the line of the file
        in which the key stands now.
    """
    data = copy.deepcopy(data_of(case))
    file = case.source_path
    for key, value in changes.items():
        try:
            path = key_of(data, key)
        except CaseError as error:
            raise _about(error, file, None, error.key, error.value) from None
        _put(data, path, value)
    try:
        made = load_text(toml_text(data), folder=case.resolve(""))
    except CaseError as error:
        path = path_of_key(error.key or "")
        line = line_of(case.source_text, path) if path else None
        raise _about(error, file, line, error.key, error.value) from None
    made._source_path = None if file is None else Path(file)
    return made


def spread_ducts(case: Case, changes: Mapping[str, object]) -> dict[str, object]:
    """Add a spacing that spreads the ducts evenly over the floor's width, when their number is changed."""
    count, width = changes.get("ducts.count"), case.floor.width
    if not isinstance(count, int) or count < 2:
        return dict(changes)
    return {**changes, "ducts.spacing": f"{width / count:.9g} m"}


def moved_text(case: Case, folder: Path) -> str:
    """Return the case's text as it has to read in another folder: files it names count from there.

    Parameters
    ----------
    case : Case
    folder : Path
        Where the text is to be written.
    """
    data = data_of(case)
    for table in ("weather", "heat"):
        name = data.get(table, {}).get("file")
        if name is not None and not Path(name).is_absolute():
            target = case.resolve(name).resolve()
            data[table]["file"] = _relative(target, folder.resolve())
    return toml_text(data)


def _relative(target: Path, folder: Path) -> str:
    for up, base in enumerate((folder, *folder.parents)):
        if target.is_relative_to(base):
            return "/".join([".."] * up + list(target.relative_to(base).parts))
    return target.as_posix()


def _put(data: dict[str, Any], path: KeyPath, value: object) -> None:
    holder: Any = data
    for place, part in enumerate(path[:-1]):
        if isinstance(part, str) and part not in holder:
            holder[part] = {}
        holder = holder[part]
        if not isinstance(holder, dict | list):
            raise CaseError("is no table of keys", key=key_text(path[: place + 1]), value=holder)
    last = path[-1]
    if value is None and isinstance(holder, dict):
        holder.pop(last, None)
    else:
        holder[last] = copy.deepcopy(value)


def _about(error: CaseError, file: str | None, line: int | None, key: str | None, value: object) -> CaseError:
    return CaseError(
        error.problem, file=file, line=line, key=key, value=value, allowed=error.allowed, fix=error.fix,
        more=error.more,
    )  # fmt: skip
