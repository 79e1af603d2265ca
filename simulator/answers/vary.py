"""Vary keys of a case: the runs of a plan carried out, and the table of what came out of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.members import Outcome, Span, Task, task_of
from simulator.answers.outputs import Output, unit_of
from simulator.case.changed import changed, data_of, spread_ducts
from simulator.case.keys import key_of
from simulator.errors import CaseError, DuctfloorError
from simulator.store.tables import Column, as_data

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.answers.many_runs import Runner, Told
    from simulator.answers.plans import Plan, Way
    from simulator.case.ranges import Variation
    from simulator.case.schema import Case
    from simulator.case.units import System

__all__ = ["Row", "Varied", "rank_correlation", "vary"]


@dataclass(frozen=True)
class Row:
    """One run.

    Attributes
    ----------
    values : tuple
        Of each variation, as a case file would hold them; None where it was left as it is.
    numbers : tuple of float or None
        The same in SI, also where it was left as it is; None for words.
    outcome : Outcome
    """

    values: tuple[Any, ...]
    numbers: tuple[float | None, ...]
    outcome: Outcome


@dataclass(frozen=True)
class Varied:
    """What came of varying a case.

    Attributes
    ----------
    title, case : str
        Title of the case, and its file.
    variations : tuple of Variation
    way : {"grid", "one at a time", "sample"}
    outputs : tuple of Output
    rows : list of Row
    computed, found : int
        Runs carried out, and runs whose outcome had been kept.
    """

    title: str
    case: str
    variations: tuple[Variation, ...]
    way: Way
    outputs: tuple[Output, ...]
    rows: list[Row]
    computed: int = 0
    found: int = 0

    @property
    def failed(self) -> list[Row]:
        """Runs that failed."""
        return [row for row in self.rows if row.outcome.error]

    def column(self, output: Output) -> NDArray[np.float64]:
        """One output of every run in SI, NaN where there is none."""
        values = [row.outcome.values.get(output.name) for row in self.rows]
        return np.array([value if isinstance(value, int | float) else math.nan for value in values])

    def numbers(self, variation: int) -> NDArray[np.float64]:
        """One varied key of every run in SI, NaN for words."""
        return np.array([math.nan if (x := row.numbers[variation]) is None else x for row in self.rows])

    def columns(self, system: System | None = None) -> list[Column]:
        """Return the table.

        Parameters
        ----------
        system : {"SI", "US"}, optional
            Units for people; left out: SI with degrees Celsius and hours.
        """
        columns = [Column("member", tuple(range(1, len(self.rows) + 1)), "1", "number of the run, from 1")]
        for place, variation in enumerate(self.variations):
            numbers = tuple(row.numbers[place] for row in self.rows)
            if any(number is not None for number in numbers):
                unit, scale, zero = unit_of(variation.kind.dimension or "number", system)
                cells: tuple[Any, ...] = tuple(
                    None if number is None else _tidy((number - zero) / scale) for number in numbers
                )
                columns.append(Column(variation.name, cells, unit, "key of the case that was varied"))
            else:
                texts = tuple(
                    "as is" if row.values[place] is None else str(row.values[place]) for row in self.rows
                )
                columns.append(Column(variation.name, texts, "", "key of the case that was varied"))
        for output in self.outputs:
            unit, scale, zero = unit_of(output.dimension, system)
            found = [row.outcome.values.get(output.name) for row in self.rows]
            if output.numeric:
                cells = tuple(
                    _tidy((value - zero) / scale) if isinstance(value, int | float) else None
                    for value in found
                )
            else:
                cells = tuple("" if value is None else str(value) for value in found)
            columns.append(Column(output.name, cells, unit, output.meaning))
        errors = tuple(row.outcome.error for row in self.rows)
        columns.append(Column("failed", errors, "", "what went wrong; empty when all went well"))
        return columns

    def about(self) -> dict[str, Any]:
        """Return what the table is about."""
        return {
            "title": self.title, "case": self.case, "way": self.way,
            "varied": [variation.name for variation in self.variations],
            "computed": self.computed, "found": self.found, "failed": len(self.failed),
        }  # fmt: skip

    def as_data(self) -> dict[str, Any]:
        """Return plain data for JSON."""
        return as_data(self.columns(), self.about())


def _tidy(number: float) -> float:
    """Take out what rounding leaves in the last digits when units change."""
    return float(f"{number:.13g}")


def vary(
    case: Case,
    plan: Plan,
    outputs: Sequence[Output],
    runner: Runner,
    *,
    span: Span | None = None,
    results: Path | None = None,
    spread: bool = False,
    told: Told | None = None,
) -> Varied:
    """Carry out the runs of a plan.

    Parameters
    ----------
    case : Case
    plan : Plan
    outputs : sequence of Output
    runner : Runner
    span : Span, optional
        Time that the answers look at.
    results : Path, optional
        Begin of the names of results files to write, one for each run; left out: none.
    spread : bool
        Whether ducts are spread over the floor's width as their number changes.
    told : callable, optional
        Called with runs done and runs in all.

    Returns
    -------
    Varied
        A run that failed, or a case that cannot be, has its reason in its row.

    Raises
    ------
    DuctfloorError
        When the runs cannot be carried out at all.
    """
    names = [output.name for output in outputs]
    prepared: list[Outcome | Task] = []
    numbers: list[tuple[float | None, ...]] = []
    for number, values in enumerate(plan.values, start=1):
        changes = {
            key: value
            for variation, value in zip(plan.variations, values, strict=True)
            if value is not None
            for key in variation.keys
        }
        file = None if results is None else results.with_name(f"{results.name}-{number:04d}.h5")
        try:
            made = changed(case, spread_ducts(case, changes) if spread else changes)
            prepared.append(task_of(made, names, span, file))
        except DuctfloorError as error:
            prepared.append(Outcome({}, str(error), isinstance(error, CaseError)))
            numbers.append(_numbers_typed(plan, values))
        else:
            numbers.append(tuple(_number_of(made, variation) for variation in plan.variations))
    outcomes = iter(runner.run([task for task in prepared if isinstance(task, Task)], told))
    rows = [
        Row(values, known, next(outcomes) if isinstance(one, Task) else one)
        for values, known, one in zip(plan.values, numbers, prepared, strict=True)
    ]
    return Varied(
        case.title, case.source_path or "", plan.variations, plan.way, tuple(outputs), rows, runner.computed,
        runner.found,
    )  # fmt: skip


def _number_of(case: Case, variation: Variation) -> float | None:
    """Value of a key in SI, as the case holds it; None for words."""
    if variation.numbers is None:
        return None
    held: Any = case
    for part in key_of(data_of(case), variation.keys[0]):
        held = held[part] if isinstance(part, int) else getattr(held, part)
    return float(held) if isinstance(held, int | float) and not isinstance(held, bool) else None


def _numbers_typed(plan: Plan, values: tuple[Any, ...]) -> tuple[float | None, ...]:
    """Values in SI of a case that cannot be."""
    found: list[float | None] = []
    for variation, value in zip(plan.variations, values, strict=True):
        known = variation.numbers is not None and value in variation.values
        found.append(
            variation.numbers[variation.values.index(value)] if known and variation.numbers else None
        )
    return tuple(found)


def rank_correlation(varied: Varied, output: Output) -> list[float | None]:
    """How an output rises with each key: Spearman's rank correlation (Am. J. Psychology 15 (1904) 72).

    Returns
    -------
    list of float or None
        One for each variation, -1 to 1; None for words, or when there are fewer than 3 runs.
    """
    from scipy.stats import rankdata  # noqa: PLC0415 - slow to load, and only samples need it

    y = varied.column(output)
    found: list[float | None] = []
    for place in range(len(varied.variations)):
        x = varied.numbers(place)
        known = np.isfinite(x) & np.isfinite(y)
        if known.sum() < 3 or np.ptp(x[known]) == 0.0 or np.ptp(y[known]) == 0.0:
            found.append(None)
            continue
        found.append(float(np.corrcoef(rankdata(x[known]), rankdata(y[known]))[0, 1]))
    return found
