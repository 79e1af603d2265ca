"""One run among many: what it is made of, how it is carried out anywhere, and what comes back."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simulator.answers.outputs import OUTPUTS, Look, Value, evaluate, output_named
from simulator.case.loader import load_text
from simulator.errors import CaseError, DuctfloorError
from simulator.run.loop import simulate
from simulator.store.gathered import Gatherer
from simulator.store.kept_members import member_fingerprint
from simulator.store.shared_reductions import SharedReductions
from simulator.store.writer import ResultsWriter

if TYPE_CHECKING:
    import datetime as dt

    from simulator.case.schema import Case
    from simulator.run.observers import Observer

__all__ = ["Outcome", "Span", "Task", "outcome_of", "run_task", "task_of"]

_REDUCTIONS: list[SharedReductions] = []
"""The process's own keeper, made at its first run."""


@dataclass(frozen=True)
class Span:
    """The time that the answers look at, as `overnight` takes it; left out: the last night."""

    begin: dt.datetime | None = None
    end: dt.datetime | None = None
    night: int | None = None


@dataclass(frozen=True)
class Task:
    """One run, ready to be sent to another process.

    Attributes
    ----------
    fingerprint : str
        Of everything that its outcome depends on.
    text : str
        The case, as a case file.
    folder : str
        That file names in it count from.
    outputs : tuple of str
        Names of the answers that are wanted beside those that every run gives.
    span : Span
    results : str or None
        Results file to write; None keeps the answers only.
    """

    fingerprint: str
    text: str
    folder: str
    outputs: tuple[str, ...]
    span: Span
    results: str | None = None


@dataclass(frozen=True)
class Outcome:
    """What came of a run.

    Attributes
    ----------
    values : mapping of str to float, str or None
        Answers by name, in SI; empty when it failed.
    error : str
        What was wrong; empty when all went well.
    bad_input : bool
        Whether the case was at fault, not the computation.
    seconds : float
        Time it took.
    reduced : bool
        Whether its section had to be reduced anew.
    """

    values: Mapping[str, Value]
    error: str = ""
    bad_input: bool = False
    seconds: float = 0.0
    reduced: bool = False

    def as_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return {
            "values": dict(self.values), "error": self.error, "bad_input": self.bad_input,
            "seconds": self.seconds, "reduced": self.reduced,
        }  # fmt: skip


def outcome_of(data: Mapping[str, Any]) -> Outcome:
    """Read back what `Outcome.as_dict` gave.

    Raises
    ------
    KeyError, OverflowError, TypeError, ValueError
        When the data are no outcome.
    """
    values = {str(name): _value_of(value) for name, value in dict(data["values"]).items()}
    if not isinstance(data["error"], str):
        raise TypeError("error")
    return Outcome(
        values, data["error"], bool(data["bad_input"]), float(data["seconds"]), bool(data["reduced"])
    )


def _value_of(value: object) -> Value:
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value if math.isfinite(value) else None
    raise TypeError(value)


def task_of(
    case: Case, outputs: Sequence[str] = (), span: Span | None = None, results: Path | None = None
) -> Task:
    """Make a task of a case.

    Parameters
    ----------
    case : Case
        With a text of its own.
    outputs : sequence of str
        Answers wanted beside the standard ones.
    span : Span, optional
    results : Path, optional
        Results file to write.

    Raises
    ------
    StoreError
        When a file that the case names cannot be read.
    """
    span = span or Span()
    more = tuple(name for name in outputs if name not in OUTPUTS)
    return Task(
        fingerprint=member_fingerprint(case, repr(span)),
        text=case.source_text,
        folder=str(case.resolve("").resolve()),
        outputs=more,
        span=span,
        results=None if results is None else str(results.resolve()),
    )


def run_task(task: Task, threads: int | None = 1, progress: Callable[[float], None] | None = None) -> Outcome:
    """Carry out a run; what goes wrong with it comes back in its outcome.

    Parameters
    ----------
    task : Task
    threads : int or None
        For the reduction of a section; None leaves it to the case.
    progress : callable, optional
        As `simulate` takes it.

    Returns
    -------
    Outcome
    """
    began = time.perf_counter()
    if not _REDUCTIONS:
        _REDUCTIONS.append(SharedReductions())
    keeper = _REDUCTIONS[0]
    made = keeper.made
    gatherer = Gatherer()
    observers: list[Observer] = [gatherer]
    try:
        case = load_text(task.text, folder=task.folder)
        if task.results is not None:
            observers.append(ResultsWriter(task.results))
        else:
            # Maps of the ground cost time, and no answer here reads them.
            case = case.model_copy(update={"output": case.output.model_copy(update={"fields": 0.0})})
        if threads is not None:
            numerics = case.numerics.model_copy(update={"threads": threads})
            case = case.model_copy(update={"numerics": numerics})
        simulate(case, observers, progress=progress, keeper=keeper)
        outputs = [*OUTPUTS.values(), *(output_named(name) for name in task.outputs)]
        with gatherer.results() as results:
            span = task.span
            look = Look(results, begin=span.begin, end=span.end, night=span.night)
            values = evaluate(look, outputs)
    except DuctfloorError as error:
        return Outcome({}, str(error), isinstance(error, CaseError), time.perf_counter() - began)
    finally:
        keeper.release()
    return Outcome(values, seconds=time.perf_counter() - began, reduced=keeper.made > made)
