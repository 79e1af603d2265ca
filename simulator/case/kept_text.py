"""A case out of the text that a results file carries: the case file's own, or numbers in SI."""

from __future__ import annotations

import datetime as dt
import json
import tomllib
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from simulator.case.checks import check
from simulator.case.explain import explain
from simulator.case.fields import SiValue
from simulator.case.schema import Case
from simulator.errors import CaseError

__all__ = ["case_of_text", "tables_of_text"]


def tables_of_text(text: str) -> dict[str, Any]:
    """Return the tables of a kept case, as the schema takes them."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        # A case that was built in Python is kept as JSON with numbers in SI.
        told: dict[str, Any] = _in_si(json.loads(text))
    if "site" in told:
        told["site"]["start"] = dt.datetime.fromisoformat(told["site"]["start"])
    return told


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
    try:
        told = tables_of_text(text)
        case = Case.model_validate(told)
    except ValidationError as error:
        problem = explain(error, told, Case)[0]
        raise CaseError(f"the kept case is not understood: {problem.problem}") from None
    except (ValueError, RecursionError, KeyError, TypeError) as error:
        raise CaseError(f"the kept case cannot be read: {error}") from None
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
