"""TOML text to `Case`: reading, validation, cross checks, and messages with file, line and key."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from simulator.case.checks import check
from simulator.case.explain import Problem, explain, key_text
from simulator.case.locate import line_of
from simulator.case.schema import Case
from simulator.case.toml_reading import LARGEST_TEXT, read_toml, too_large
from simulator.errors import CaseError


def load(path: str | Path) -> Case:
    """Read a case file.

    Parameters
    ----------
    path : str or pathlib.Path
        A TOML file.

    Returns
    -------
    Case
        Validated, in SI.

    Raises
    ------
    CaseError
        When the file, or a file it names, cannot be read or is wrong; with file, line and key.
    """
    return load_text(text_of_file(path), path=path)


def text_of_file(path: str | Path, kind: str = "a case file") -> str:
    """Read a file of TOML.

    Parameters
    ----------
    path : str or pathlib.Path
    kind : str
        What it should be, for messages.

    Returns
    -------
    str

    Raises
    ------
    CaseError
        When it is no ordinary file, too large, or not UTF-8.
    """
    path = Path(path)
    name = str(path)
    try:
        if path.is_dir():
            raise CaseError(f"is a folder, not {kind}", file=name)
        if path.exists() and not path.is_file():
            raise CaseError(f"is a device, not {kind}", file=name)
        if path.stat().st_size > LARGEST_TEXT:
            raise too_large(name, kind)
        content = path.read_bytes()
    except FileNotFoundError:
        raise CaseError("there is no such file", file=name, fix="check the spelling and the folder") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise CaseError(f"cannot be read: {reason}", file=name) from None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise CaseError("is not UTF-8 text", file=name, line=line, fix="save the file as UTF-8") from None
    return text


def load_text(text: str, *, path: str | Path | None = None, folder: str | Path | None = None) -> Case:
    """Build a case from TOML text.

    Parameters
    ----------
    text : str
        The text of a case file.
    path : str or pathlib.Path, optional
        Where it came from, for messages and for the files it names.
    folder : str or pathlib.Path, optional
        Folder that file names count from; left out: that of `path`, or the current one.

    Raises
    ------
    CaseError
        As `load`.
    """
    source = None if path is None else Path(path)
    name = None if path is None else str(path)
    data = read_toml(text, name)
    try:
        case = Case.model_validate(data)
    except ValidationError as error:
        raise _all(explain(error, data, Case), text, name) from None
    case._source_text = text
    case._source_path = source
    case._folder = Path(folder) if folder is not None else (Path() if source is None else source.parent)
    problems = check(case) or _missing_files(case)
    if problems:
        raise _all([_with_value(problem, data) for problem in problems], text, name)
    return case


def starter_text() -> str:
    """Return the commented starter case that ships with the program."""
    return resources.files("simulator.case").joinpath("starter.toml").read_text(encoding="utf-8")


def _all(problems: Sequence[Problem], text: str, name: str | None) -> CaseError:
    """Return the error for all problems in the order of the text."""
    placed = [(line_of(text, problem.path), problem) for problem in problems]
    placed.sort(key=lambda pair: pair[0] if pair[0] is not None else 0)
    first, *others = placed
    return _error(*first, name, [_error(*other, name) for other in others])


def _error(
    line: int | None, problem: Problem, name: str | None, others: Sequence[CaseError] = ()
) -> CaseError:
    return CaseError(
        problem.problem,
        file=name,
        line=line,
        key=key_text(problem.path) or None,
        value=problem.value,
        allowed=problem.allowed,
        fix=problem.fix,
        others=others,
    )


def _with_value(problem: Problem, data: dict[str, Any]) -> Problem:
    """Add the value that the file holds at the problem's key."""
    value: Any = data
    for part in problem.path:
        try:
            value = value[part]
        except (KeyError, IndexError, TypeError):
            return problem
    if isinstance(value, dict | list):
        return problem
    return Problem(problem.path, problem.problem, problem.allowed, problem.fix, value)


def _missing_files(case: Case) -> list[Problem]:
    """Report files named by the case that cannot be opened."""
    problems = []
    for table, part in (("weather", case.weather), ("heat", case.heat)):
        file = getattr(part, "file", None)
        if file is None:
            continue
        path = case.resolve(file)
        try:
            there, usable = path.exists(), path.is_file()
        except (OSError, ValueError):
            there, usable = False, False
        if not usable:
            problem = f"{path} is not a file" if there else f"there is no file {path}"
            problems.append(Problem((table, "file"), problem, fix="names count from the case file's folder"))
    return problems
