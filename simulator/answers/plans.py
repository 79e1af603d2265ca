"""Which runs a variation makes: a grid, one key at a time, or a sample that fills the ranges evenly."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from simulator.errors import CaseError

if TYPE_CHECKING:
    from simulator.case.ranges import Variation

__all__ = ["Plan", "Way", "plan_of"]

Way = Literal["grid", "one at a time", "sample"]
DEFAULT_STEPS: Final = 5
"""Values of a range whose steps are left open, on a grid."""
MOST_MEMBERS: Final = 100_000


@dataclass(frozen=True)
class Plan:
    """Which runs a variation makes.

    Attributes
    ----------
    variations : tuple of Variation
    way : {"grid", "one at a time", "sample"}
    values : list of tuple
        For every run, the value of each variation as a case file would hold it; None leaves it as it is.
    """

    variations: tuple[Variation, ...]
    way: Way
    values: list[tuple[Any, ...]]


def plan_of(variations: Sequence[Variation], way: Way = "grid", *, count: int = 64, seed: int = 0) -> Plan:
    """Say which runs are to be made.

    Parameters
    ----------
    variations : sequence of Variation
    way : {"grid", "one at a time", "sample"}
        Every value with every other; the case as it is and one key changed at a time; or so many points of a
        scrambled Halton sequence (Halton, Numerische Mathematik 2 (1960) 84), which fill the ranges evenly.
        The first points of a larger sample are those of a smaller one.
    count, seed : int
        Of the sample.

    Returns
    -------
    Plan

    Raises
    ------
    CaseError
        When a key is varied twice, or the runs are too many.
    """
    if not variations:
        raise CaseError("nothing is varied", fix='give a key and its values: "ducts.count = 4, 6, 8"')
    keys = [key for variation in variations for key in variation.keys]
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        raise CaseError("is varied twice", key=twice[0])
    if way == "sample":
        if not 1 <= count <= MOST_MEMBERS:
            raise CaseError("is no number of samples", value=count, allowed=f"1 to {MOST_MEMBERS}")
        return Plan(tuple(variations), way, _sample(variations, count, seed))
    if way == "one at a time":
        values: list[tuple[Any, ...]] = [(None,) * len(variations)]
        for place, variation in enumerate(variations):
            for value in variation.values:
                row: list[Any] = [None] * len(variations)
                row[place] = value
                values.append(tuple(row))
        return Plan(tuple(variations), way, values)
    variations = [each.in_steps(DEFAULT_STEPS) if each.open else each for each in variations]
    total = math.prod(len(variation.values) for variation in variations)
    if total > MOST_MEMBERS:
        raise CaseError(
            f"{total:,} runs are too many", allowed=f"up to {MOST_MEMBERS:,}", fix="take a sample instead"
        )
    return Plan(tuple(variations), way, list(itertools.product(*(each.values for each in variations))))


def _sample(variations: Sequence[Variation], count: int, seed: int) -> list[tuple[Any, ...]]:
    from scipy.stats import qmc  # noqa: PLC0415 - slow to load, and only samples need it

    points = qmc.Halton(len(variations), scramble=True, rng=seed).random(count)
    rows = []
    for point in points.tolist():
        row: list[Any] = []
        for share, variation in zip(point, variations, strict=True):
            if variation.range is None:
                row.append(
                    variation.values[min(int(share * len(variation.values)), len(variation.values) - 1)]
                )
                continue
            low, high = variation.range.low, variation.range.high
            if variation.kind.whole:
                row.append(min(int(low + share * (high - low + 1.0)), int(high)))
            else:
                row.append(_short(variation.value_at(low + share * (high - low))))
        rows.append(tuple(row))
    return rows


def _short(value: object) -> object:
    """Write a sampled value with five digits, which is as good a sample and can be read."""
    if isinstance(value, str):
        number, _, unit = value.partition(" ")
        return f"{float(number):.5g} {unit}"
    return float(f"{value:.5g}") if isinstance(value, float) else value
