"""What a design takes: pipe, trench, number of ducts, and the price of them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Final

from simulator.case.duct_ways import same_place
from simulator.case.nearest import nearest
from simulator.case.units import scale_and_zero
from simulator.errors import CaseError

if TYPE_CHECKING:
    from simulator.case.schema import Case

__all__ = ["MEASURES", "Measure", "Prices", "number_of_ducts", "pipe_length", "prices_from", "trench_length"]

_PRICE: Final = re.compile(
    r"([^\d\s.,/]{0,4})\s*(\d+(?:\.\d+)?)\s*([^\d\s.,/]{0,4})\s*(?:(?:/|\bper\b)\s*(\w+))?"
)
_EACH: Final = ("each", "duct", "piece")


@dataclass(frozen=True)
class Measure:
    """Something that a design takes, known without running it."""

    name: str
    dimension: str
    meaning: str


MEASURES: Final = {
    measure.name: measure
    for measure in (
        Measure("pipe", "length", "pipe in all ducts, also outside the floor"),
        Measure("trench", "length", "trench in all; ducts above each other share one"),
        Measure("ducts", "count", "ways of the air side by side"),
        Measure("price", "money", "pipe, trench and pieces at the prices given"),
    )
}


@dataclass(frozen=True)
class Prices:
    """Prices, in any currency.

    Attributes
    ----------
    pipe, trench : float
        For each metre.
    duct : float
        For each duct: fittings, grilles, work.
    currency : str
    """

    pipe: float = 0.0
    trench: float = 0.0
    duct: float = 0.0
    currency: str = ""

    def of(self, case: Case) -> float:
        """Price of a case's ducts."""
        return (
            self.pipe * pipe_length(case)
            + self.trench * trench_length(case)
            + self.duct * number_of_ducts(case)
        )

    def text(self, price: float) -> str:
        """Write a price."""
        return (
            f"{self.currency}{price:,.2f}"
            if len(self.currency) == 1
            else f"{price:,.2f} {self.currency}".strip()
        )


def pipe_length(case: Case) -> float:
    """Pipe in all ducts, turns and pipe outside the floor included [m]."""
    return sum(branch.length for branch in case.duct_branches)


def number_of_ducts(case: Case) -> int:
    """Ways of the air side by side."""
    return len(case.duct_branches)


def trench_length(case: Case) -> float:
    """Trench that all ducts under the floor need [m]; runs in one line, also above each other, share it."""
    lines: dict[float, list[tuple[float, float]]] = {}
    for branch in case.duct_branches:
        for stretch in branch.stretches:
            across = next(
                (known for known in lines if same_place((known, 0.0), (stretch.across, 0.0))), stretch.across
            )
            span = min(stretch.begin, stretch.end), max(stretch.begin, stretch.end)
            lines.setdefault(across, []).append(span)
    total = 0.0
    for spans in lines.values():
        reached = float("-inf")
        for begin, end in sorted(spans):
            total += max(0.0, end - max(begin, reached))
            reached = max(reached, end)
    return total


def prices_from(texts: Mapping[str, Any]) -> Prices:
    """Read prices.

    Parameters
    ----------
    texts : mapping of str to str or number
        ``{"pipe": "4.20/ft", "trench": "$9/m", "duct": "35 each", "currency": "$"}``.

    Raises
    ------
    CaseError
        When one cannot be read.
    """
    known = [field.name for field in fields(Prices)]
    found: dict[str, float] = {}
    currency = str(texts.get("currency", ""))
    for name, text in texts.items():
        if name == "currency":
            continue
        if name not in known:
            raise CaseError(
                "has no price", key=f"price.{name}", allowed=", ".join(known), fix=nearest(name, known)
            )
        match = _PRICE.fullmatch(str(text).strip())
        if match is None:
            fix = 'write it like "4.20/ft"' if name != "duct" else 'write it like "35 each"'
            raise CaseError("is no price", key=f"price.{name}", value=text, fix=fix)
        before, number, after, unit = match.groups()
        after = "" if after in _EACH else after
        currency = currency or before or after
        found[name] = float(number) / _length_of(unit, name, text)
    return Prices(**found, currency=currency)


def _length_of(unit: str | None, name: str, text: object) -> float:
    """Metres that a price is for; 1 for one by the piece."""
    if name == "duct":
        if unit is not None and unit not in _EACH:
            raise CaseError("is a price by the piece", key="price.duct", value=text, fix='write "35 each"')
        return 1.0
    if unit is None:
        raise CaseError("has no length", key=f"price.{name}", value=text, fix='write it like "4.20/ft"')
    try:
        return scale_and_zero(unit, "length")[0]
    except CaseError as error:
        raise CaseError(error.problem, key=f"price.{name}", value=text, fix=error.fix) from None
