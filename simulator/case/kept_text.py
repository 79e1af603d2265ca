"""A case out of the text that a results file carries: the case file's own, or numbers in SI."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from simulator.case.checks import check
from simulator.case.explain import explain
from simulator.case.fields import SiValue
from simulator.case.schema import Case
from simulator.case.toml_reading import read_toml
from simulator.errors import CaseError

__all__ = ["case_of_text", "table_of", "tables_of_text"]

Table = TypeVar("Table", bound=BaseModel)


def tables_of_text(text: str) -> dict[str, Any]:
    """Return the tables of a kept case, as the schema takes them.

    Raises
    ------
    CaseError
        When the text is neither a case file nor a case that was built in Python.
    """
    try:
        return read_toml(text)
    except CaseError as error:
        refused = error
    try:
        # A case that was built in Python is kept as JSON with numbers in SI.
        told = _in_si(json.loads(text))
        if "site" in told:
            told["site"]["start"] = dt.datetime.fromisoformat(told["site"]["start"])
    except (ValueError, RecursionError, KeyError, TypeError):
        raise CaseError(f"the kept case cannot be read: {refused.problem}") from None
    if not isinstance(told, dict):
        raise CaseError("the kept case cannot be read: it has no tables")
    return told


def table_of(told: dict[str, Any], name: str, model: type[Table]) -> Table:
    """Build one table of a kept case.

    Parameters
    ----------
    told : dict
        As `tables_of_text` gives it.
    name : str
    model : type
        Of the table.

    Raises
    ------
    CaseError
        When there is no such table, or it is not understood.
    """
    try:
        return model.model_validate(told[name])
    except (KeyError, ValidationError):
        raise CaseError(f"the kept case is not understood: {name}") from None


def case_of_text(text: str, folder: Path | str | None = None) -> Case:
    """Build the case that a results file carries.

    Parameters
    ----------
    text : str
    folder : Path or str, optional
        Folder that file names in the case count from; the current one when left out. Whether these files
        are there is not looked at.

    Raises
    ------
    CaseError
        When the text is no case that this version understands.
    """
    told = tables_of_text(text)
    try:
        case = Case.model_validate(told)
    except ValidationError as error:
        problem = explain(error, told, Case)[0]
        raise CaseError(f"the kept case is not understood: {problem.problem}") from None
    case._source_text = text
    case._folder = Path() if folder is None else Path(folder)
    problems = check(case)
    if problems:
        raise CaseError(f"the kept case is not sound: {problems[0].problem}")
    return case


def _in_si(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _in_si(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_in_si(item) for item in value]
    return SiValue(value) if isinstance(value, float) else value
