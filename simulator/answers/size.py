"""The smallest design that meets stated needs: fewest or shortest ducts, least flow or fire, lowest price."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.costs import MEASURES, Measure, Prices, number_of_ducts, pipe_length, trench_length
from simulator.answers.members import Outcome, Span, task_of
from simulator.answers.needs import Need
from simulator.answers.outputs import OUTPUTS, Output, unit_of
from simulator.answers.search import Search
from simulator.case.changed import changed, spread_ducts
from simulator.case.units import show
from simulator.errors import CaseError, DuctfloorError

if TYPE_CHECKING:
    from simulator.answers.many_runs import Runner
    from simulator.case.ranges import Variation
    from simulator.case.schema import Case

__all__ = ["Design", "Question", "Sized", "question_of", "service_limit", "size"]

MOST_DESIGNS: Final = 50_000
DEFAULT_STEPS: Final = 12
NEAR_MISSES: Final = 3


@dataclass(frozen=True)
class Question:
    """What is asked.

    Attributes
    ----------
    variations : tuple of Variation
        Keys that may be changed, and their values.
    needs : tuple of Need
    smallest : str
        What is to be small: a measure, or a key that is varied.
    prices : Prices
    spread : bool
        Whether ducts are spread over the floor's width as their number changes.
    """

    variations: tuple[Variation, ...]
    needs: tuple[Need, ...]
    smallest: str
    prices: Prices = field(default_factory=Prices)
    spread: bool = False


@dataclass
class Design:
    """One design.

    Attributes
    ----------
    values : tuple
        Of each variation, as a case file would hold them.
    numbers : tuple of float
        The same in SI; place in the list for words.
    case : Case
    measures : mapping of str to float
    cost : float
        What is to be small.
    outcome : Outcome or None
        None until it was run.
    margins : list of float or None
        One for each need, in SI; None where there is no value.
    """

    values: tuple[Any, ...]
    numbers: tuple[float, ...]
    case: Case
    measures: Mapping[str, float]
    cost: float
    outcome: Outcome | None = None
    margins: list[float | None] = field(default_factory=list)

    @property
    def meets_all(self) -> bool:
        """Whether it was run and meets every need."""
        return bool(self.margins) and all(margin is not None and margin >= 0.0 for margin in self.margins)

    def value(self, need: Need) -> float | None:
        """Value of what a need is about; None when it is not known."""
        if isinstance(need.subject, Measure):
            return self.measures[need.name]
        value = None if self.outcome is None else self.outcome.values.get(need.name)
        return float(value) if isinstance(value, int | float) else None


@dataclass(frozen=True)
class Sized:
    """The answer.

    Attributes
    ----------
    question : Question
    best : Design or None
        None when no design meets all needs.
    designs : list of Design
        Those that were run, in the order of the runs.
    near_misses : list of Design
        Cheaper than the best (or all, without one), with the smallest shortfall first.
    curve : list of Design
        From the cheapest to the dearest, the best found for each cost: what more money buys.
    candidates : int
        Designs that there are.
    impossible : int
        Designs that cannot be built as the case stands.
    without_run : int
        Designs ruled out by what they take, without a run.
    runs : int
        Runs of the search.
    more_runs : int
        Runs for the curve beyond those.
    proven : bool
        Whether all cheaper designs are ruled out.
    crossed : list of str
        Needs that were not one-way, in words.
    why_impossible : str
        The reason of the first design that cannot be built.
    """

    question: Question
    best: Design | None
    designs: list[Design]
    near_misses: list[Design]
    curve: list[Design]
    candidates: int
    impossible: int
    without_run: int
    runs: int
    more_runs: int
    proven: bool
    crossed: list[str]
    why_impossible: str = ""

    def as_data(self) -> dict[str, Any]:
        """Return plain data for JSON: values in SI with degrees Celsius and hours."""
        needs = [
            {"need": need.text, "kind": need.kind, "unit": unit_of_need(need)[0]}
            for need in self.question.needs
        ]
        return {
            "smallest": self.question.smallest,
            "currency": self.question.prices.currency,
            "needs": needs,
            "best": None if self.best is None else self._design(self.best),
            "near_misses": [self._design(design) for design in self.near_misses],
            "curve": [self._design(design) for design in self.curve],
            "designs": [self._design(design) for design in self.designs],
            "candidates": self.candidates, "impossible": self.impossible, "without_run": self.without_run,
            "runs": self.runs, "more_runs": self.more_runs, "proven": self.proven, "crossed": self.crossed,
        }  # fmt: skip

    def _design(self, design: Design) -> dict[str, Any]:
        achieved = {}
        for need, margin in zip(self.question.needs, design.margins, strict=True):
            _, scale, zero = unit_of_need(need)
            value = design.value(need)
            achieved[need.text] = {
                "value": None if value is None else (value - zero) / scale,
                "margin": None if margin is None else margin / scale,
            }
        return {
            "values": {
                variation.name: value
                for variation, value in zip(self.question.variations, design.values, strict=True)
            },
            "measures": dict(design.measures),
            "meets_all": design.meets_all,
            "needs": achieved,
            "failed": "" if design.outcome is None else design.outcome.error,
        }  # fmt: skip


def unit_of_need(need: Need, system: Any = None) -> tuple[str, float, float]:
    """Return unit, scale and zero of what a need is about."""
    return ("", 1.0, 0.0) if need.dimension == "money" else unit_of(need.dimension, system)


def question_of(
    variations: Sequence[Variation],
    needs: Sequence[Need],
    *,
    smallest: str | None = None,
    prices: Prices | None = None,
    spread: bool = False,
) -> Question:
    """Put a question together.

    Parameters
    ----------
    variations : sequence of Variation
    needs : sequence of Need
    smallest : str, optional
        A measure or a varied key. Left out: the price if prices are given, else the pipe if only ducts are
        changed, else the one key that is changed.
    prices : Prices, optional
    spread : bool

    Raises
    ------
    CaseError
        When it is not clear what is to be small.
    """
    if not variations:
        raise CaseError("nothing may be changed", fix='say what: --change "ducts.count = 2..10"')
    variations = tuple(each.in_steps(DEFAULT_STEPS) if each.open else each for each in variations)
    total = math.prod(len(variation.values) for variation in variations)
    if total > MOST_DESIGNS:
        raise CaseError(f"{total:,} designs are too many", allowed=f"up to {MOST_DESIGNS:,}")
    names = [variation.name for variation in variations]
    shape = {"ducts.count", "ducts.length", "floor.length", "ducts.passes", "ducts.layout"}
    if smallest is None:
        if prices is not None:
            smallest = "price"
        elif {key for variation in variations for key in variation.keys} <= shape:
            smallest = "pipe"
        elif len(names) == 1:
            smallest = names[0]
        else:
            listed = ", ".join([*MEASURES, *names])
            raise CaseError("what is to be small is not clear", fix=f"give --smallest: {listed}")
    allowed = [*MEASURES, *(each.name for each in variations if each.numbers is not None)]
    if smallest not in allowed:
        raise CaseError(
            "is no measure and no key that is changed", key="smallest", value=smallest,
            allowed=", ".join(allowed),
        )  # fmt: skip
    if smallest == "price" and prices is None:
        raise CaseError("no prices are given", key="smallest", value=smallest, fix='--price "pipe = 4.20/ft"')
    return Question(variations, tuple(needs), smallest, prices or Prices(), spread)


def size(
    case: Case,
    question: Question,
    runner: Runner,
    *,
    span: Span | None = None,
    most_runs: int = 200,
    curve: int = 6,
    told: Callable[[int], None] | None = None,
) -> Sized:
    """Find the smallest design that meets all needs.

    Parameters
    ----------
    case : Case
    question : Question
    runner : Runner
    span : Span, optional
        Time that the answers look at.
    most_runs : int
        Runs after which the search gives up proving its answer.
    curve : int
        Designs of the trade-off curve.
    told : callable, optional
        Called with the number of runs so far.

    Returns
    -------
    Sized

    Raises
    ------
    CaseError
        When not a single design can be built.
    """
    designs, impossible, why = _designs(case, question)
    total = len(designs) + impossible
    if not designs:
        raise CaseError(f"none of {total} designs can be built: {why}")
    still = [place for place, need in enumerate(question.needs) if isinstance(need.subject, Measure)]
    moving = [place for place, need in enumerate(question.needs) if place not in still]
    fitting = [design for design in designs if _fits(design, question, still)]
    names = [need.name for need in question.needs if isinstance(need.subject, Output)]
    ran: list[Design] = []

    def run(design: Design) -> Design:
        if design.outcome is None:
            design.outcome = runner.run([task_of(design.case, names, span)])[0]
            design.margins = [need.margin(design.value(need)) for need in question.needs]
            ran.append(design)
            if told is not None:
                told(len(ran))
        return design

    if not fitting:
        return Sized(question, None, [], [], [], total, impossible, len(designs), 0, 0, True, [], why)

    def judge(place: int) -> np.ndarray | None:
        margins = [run(fitting[place]).margins[number] for number in moving]
        if any(margin is None for margin in margins):
            return None
        return np.array(margins, dtype=np.float64) if moving else np.zeros(1)

    search = Search(
        _places(fitting, question), np.array([design.numbers for design in fitting]),
        np.array([design.cost for design in fitting]), judge,
        np.array([variation.numbers is not None for variation in question.variations]),
    )  # fmt: skip
    found = search.run(most_runs)
    runs = len(ran)
    best = None if found.best is None else fitting[found.best]
    crossed = [
        f"{question.needs[moving[need]].name} both rises and falls with {question.variations[key].name}"
        for need, key in sorted(found.crossed)
    ]
    predicted = search.predicted()
    line = _curve(fitting, predicted, best, run, curve) if moving and predicted is not None else []
    near = sorted(
        (design for design in ran if not design.meets_all and (best is None or design.cost <= best.cost)),
        key=lambda design: _shortfall(design, ran),
    )[:NEAR_MISSES]
    return Sized(
        question, best, ran, near, line, total, impossible, len(designs) - len(fitting), runs,
        len(ran) - runs, found.proven, crossed, why,
    )  # fmt: skip


def _designs(case: Case, question: Question) -> tuple[list[Design], int, str]:
    designs: list[Design] = []
    impossible, why = 0, ""
    for values in itertools.product(*(variation.values for variation in question.variations)):
        changes: dict[str, object] = {
            key: value
            for variation, value in zip(question.variations, values, strict=True)
            for key in variation.keys
        }
        try:
            made = changed(case, spread_ducts(case, changes) if question.spread else changes)
        except DuctfloorError as error:
            impossible, why = impossible + 1, why or str(error)
            continue
        numbers = tuple(
            float(variation.values.index(value)) if variation.numbers is None
            else variation.numbers[variation.values.index(value)]
            for variation, value in zip(question.variations, values, strict=True)
        )  # fmt: skip
        measures = {
            "pipe": pipe_length(made), "trench": trench_length(made), "ducts": float(number_of_ducts(made)),
            "price": question.prices.of(made),
        }  # fmt: skip
        by_name = dict(zip((each.name for each in question.variations), numbers, strict=True))
        cost = measures[question.smallest] if question.smallest in measures else by_name[question.smallest]
        designs.append(Design(values, numbers, made, measures, cost))
    return designs, impossible, why


def _fits(design: Design, question: Question, still: Sequence[int]) -> bool:
    """Whether a design meets the needs that are known without a run."""
    margins = [question.needs[place].margin(design.measures[question.needs[place].name]) for place in still]
    return all(margin is not None and margin >= -1e-9 for margin in margins)


def _places(designs: Sequence[Design], question: Question) -> np.ndarray:
    """(N, K) place of each value in the order of its key's values."""
    columns = []
    for key, variation in enumerate(question.variations):
        known = variation.numbers or tuple(range(len(variation.values)))
        order = {number: place for place, number in enumerate(sorted(map(float, known)))}
        columns.append([order[float(design.numbers[key])] for design in designs])
    return np.array(columns, dtype=np.int64).T


def _curve(
    designs: Sequence[Design],
    predicted: np.ndarray,
    best: Design | None,
    run: Callable[[Design], Design],
    count: int,
) -> list[Design]:
    """Run, at costs spread over all there are, the design that is expected to do best for its cost."""
    costs = np.array([design.cost for design in designs])
    marks = np.quantile(np.unique(costs), np.linspace(0.0, 1.0, count)) if count > 0 else []
    chosen: list[Design] = [] if best is None else [best]
    below = -math.inf
    for mark in marks:
        places = np.flatnonzero((costs > below) & (costs <= mark * (1.0 + 1e-12)))
        below = mark
        if places.size:
            chosen.append(designs[int(places[predicted[places].argmax()])])
    unique = list({id(design): design for design in chosen}.values())
    return sorted((run(design) for design in unique), key=lambda design: design.cost)


def _shortfall(design: Design, ran: Sequence[Design]) -> float:
    """Sum of what a design lacks, each need in units of its spread over all runs."""
    total = 0.0
    for place, margin in enumerate(design.margins):
        known = [x for other in ran if (x := other.margins[place]) is not None]
        spread = max(known) - min(known) if known else 1.0
        total += math.inf if margin is None else max(-margin, 0.0) / max(spread, 1e-12)
    return total


def service_limit(case: Case) -> Need:
    """Return the limit that always holds: no duct hotter than its material bears for long."""
    temperature = case.ducts.service_temperature
    said = show(temperature, "temperature", "US" if case.output.units == "US" else "SI")
    return Need(OUTPUTS["hottest duct"], -1, temperature, said, "limit")
