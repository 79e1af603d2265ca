"""Two or more runs side by side: what differs in what was put in, and in what came out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from simulator.answers.members import Span
from simulator.answers.outputs import OUTPUTS, Look, Output, Value, evaluate, output_named, unit_of
from simulator.case.explain import key_text
from simulator.case.inputs import Input, inputs
from simulator.case.schema import Case
from simulator.case.toml_reading import read_toml
from simulator.errors import CaseError

if TYPE_CHECKING:
    from simulator.case.units import System
    from simulator.store.reader import Results

__all__ = ["AnswerRow", "Compared", "InputRow", "compare"]

NOISE = 1e-6
"""Relative difference under which two answers are the same."""


@dataclass(frozen=True)
class InputRow:
    """A key that differs.

    Attributes
    ----------
    key : str
    si, us : tuple of str
        Of every run, in either system; a dash where a run has no such key.
    """

    key: str
    si: tuple[str, ...]
    us: tuple[str, ...]


@dataclass(frozen=True)
class AnswerRow:
    """An answer of every run.

    Attributes
    ----------
    output : Output
    values : tuple of float, str or None
        In SI.
    """

    output: Output
    values: tuple[Value, ...]

    @property
    def differences(self) -> tuple[float | None, ...]:
        """Against the first run; None where there is none."""
        first = self.values[0]
        return tuple(
            value - first if isinstance(value, int | float) and isinstance(first, int | float) else None
            for value in self.values
        )

    @property
    def differs(self) -> bool:
        """Whether any run differs from the first."""
        first = self.values[0]
        for value in self.values[1:]:
            if isinstance(value, int | float) and isinstance(first, int | float):
                if not math.isclose(value, first, rel_tol=NOISE, abs_tol=1e-9):
                    return True
            elif value != first:
                return True
        return False


@dataclass(frozen=True)
class Compared:
    """Runs side by side.

    Attributes
    ----------
    labels : tuple of str
    titles : tuple of str
    windows : tuple of str
        Time that the answers of each run look at.
    inputs : list of InputRow or None
        Keys that differ; None when a run was built in Python, whose text tells no units.
    answers : list of AnswerRow
    """

    labels: tuple[str, ...]
    titles: tuple[str, ...]
    windows: tuple[str, ...]
    inputs: list[InputRow] | None
    answers: list[AnswerRow]

    def answer(self, name: str) -> AnswerRow:
        """One of the standard answers."""
        return next(row for row in self.answers if row.output.name == name)

    def as_data(self) -> dict[str, Any]:
        """Return plain data for JSON: SI with degrees Celsius and hours."""
        answers = {}
        for row in self.answers:
            unit, scale, zero = unit_of(row.output.dimension)
            answers[row.output.name] = {
                "unit": unit_of(row.output.dimension)[0],
                "values": [
                    (value - zero) / scale if isinstance(value, int | float) else value
                    for value in row.values
                ],
                "differences": [None if d is None else d / scale for d in row.differences],
                "difference_unit": "K" if unit == "degC" else unit,
            }
        return {
            "labels": self.labels,
            "titles": self.titles,
            "windows": self.windows,
            "inputs": None
            if self.inputs is None
            else {row.key: {"si": row.si, "us": row.us} for row in self.inputs},
            "answers": answers,
        }


def compare(
    results: Sequence[Results],
    labels: Sequence[str],
    *,
    span: Span | None = None,
    outputs: Sequence[str] = (),
) -> Compared:
    """Put runs side by side.

    Parameters
    ----------
    results : sequence of Results
    labels : sequence of str
        One for each.
    span : Span, optional
        Time that the answers look at.
    outputs : sequence of str
        Answers wanted beside the standard ones.

    Returns
    -------
    Compared

    Raises
    ------
    CaseError
        When a run has no such time, or there is no such answer.
    StoreError
        When results hold no rows.
    """
    span = span or Span()
    looks = [Look(each, begin=span.begin, end=span.end, night=span.night) for each in results]
    chosen = [*OUTPUTS.values(), *(output_named(name) for name in outputs if name not in OUTPUTS)]
    values = [evaluate(look, chosen) for look in looks]
    cases = [_case_of(each.case_text) for each in results]
    known = [case for case in cases if case is not None]
    return Compared(
        labels=tuple(labels),
        titles=tuple(str(each.attrs["title"]) for each in results),
        windows=tuple(look.night.window.describe() for look in looks),
        inputs=_input_rows(known) if len(known) == len(cases) else None,
        answers=[AnswerRow(output, tuple(each[output.name] for each in values)) for output in chosen],
    )


def _case_of(text: str) -> Case | None:
    """Case of a results file; the files it names need not be there."""
    try:
        case = Case.model_validate(read_toml(text))
    except (CaseError, ValidationError):
        return None
    case._source_text = text
    return case


def _input_rows(cases: Sequence[Case]) -> list[InputRow]:
    listed = [{f"{one.table}.{one.key}".lstrip("."): one for one in inputs(case)} for case in cases]
    order = dict.fromkeys(key for each in listed for key in each)
    rows = []
    for key in order:
        found = [each.get(key) for each in listed]
        if key != "title" and len({_plain(one) for one in found}) > 1:
            rows.append(InputRow(key, _texts(found, "SI"), _texts(found, "US")))
    return [*rows, *_timetable_rows(cases)]


def _plain(one: Input | None) -> str:
    return "-" if one is None else repr(one.value)


def _texts(found: Sequence[Input | None], system: System) -> tuple[str, ...]:
    return tuple("-" if one is None else one.si if system == "SI" else one.us for one in found)


def _timetable_rows(cases: Sequence[Case]) -> Iterator[InputRow]:
    """Entries of the timetables as they were typed."""
    flat = [
        dict(_flat(read_toml(case.source_text).get("timetable", {}), ("timetable",))) for case in cases
    ]
    for key in dict.fromkeys(key for each in flat for key in each):
        texts = tuple(each.get(key, "-") for each in flat)
        if len(set(texts)) > 1:
            yield InputRow(key, texts, texts)


def _flat(value: object, path: tuple[str | int, ...]) -> Iterator[tuple[str, str]]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _flat(inner, (*path, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _flat(inner, (*path, number))
    else:
        yield key_text(path), str(value)
