"""Rules that switch fan, feed, pump and cover by what is measured, over what the timetable says.

A rule is engaged or not. It engages when its condition becomes true and lets go when the opposite condition
does; between the two it stays as it is, and for a least time after each change as well, so that nothing
chatters. An engaged rule sets its switch; of several engaged for one switch the first in the case's list
holds. `Rules.margins` is continuous in the measured temperatures, so that the instant of a change can be
found as a root.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.timetable import ticks

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from simulator.case.conditions import Condition
    from simulator.case.schema_controls import Controls

SWITCHES = ("fan", "feed", "pump", "cover")
LEAST_HOLD = 30_000
"""A rule stands at least this long [ticks] after each change, whatever its own least times."""


def margin(condition: Condition, measured: dict[str, float]) -> float:
    """By how much a condition is true [K]: the best of its alternatives, each as true as its weakest part.

    Parameters
    ----------
    condition : Condition
    measured : dict of str to float [K]
        Every quantity that the condition names.
    """
    return max(min(part.excess(measured) for part in parts) for parts in condition.any_of)


@dataclass(frozen=True)
class Rule:
    """One rule of a case, times in ticks.

    Attributes
    ----------
    name, switch : str
    share : float
        What the switch is set to while the rule is engaged.
    on_when : Condition
    off_when, holds_while : Condition or None
        It lets go once the first is met or the second fails; one of them is given.
    minimum_on, minimum_off : int [ticks]
    """

    name: str
    switch: str
    share: float
    on_when: Condition
    off_when: Condition | None
    holds_while: Condition | None
    minimum_on: int
    minimum_off: int

    def margin(self, engaged: bool, measured: dict[str, float]) -> float:
        """By how much the condition for the next change is met [K]."""
        if not engaged:
            return margin(self.on_when, measured)
        if self.off_when is not None:
            return margin(self.off_when, measured)
        return -math.inf if self.holds_while is None else -margin(self.holds_while, measured)


@dataclass
class Rules:
    """All rules of a case and how they stand.

    Attributes
    ----------
    rules : tuple of Rule
    engaged : (N,) bool
    free_from : (N,) int [ticks]
        Before this a rule does not change.
    """

    rules: tuple[Rule, ...]
    engaged: NDArray[np.bool_] = field(init=False)
    free_from: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        self.engaged = np.zeros(len(self.rules), dtype=bool)
        self.free_from = np.full(len(self.rules), np.iinfo(np.int64).min // 2, dtype=np.int64)

    @cached_property
    def quantities(self) -> frozenset[str]:
        """Everything that the rules measure."""
        return frozenset(
            name
            for rule in self.rules
            for condition in (rule.on_when, rule.off_when)
            if condition is not None
            for name in condition.quantities
        )

    def margins(self, measured: dict[str, float]) -> NDArray[np.float64]:
        """(N,) by how much each rule's next change is due [K]."""
        pairs = zip(self.rules, self.engaged.tolist(), strict=True)
        return np.array([rule.margin(engaged, measured) for rule, engaged in pairs])

    def due(self, tick: int, measured: dict[str, float]) -> list[int]:
        """Rules that change at this instant."""
        if not self.rules:
            return []
        free = self.free_from <= tick
        return np.flatnonzero(free & (self.margins(measured) > 0.0)).tolist()

    def change(self, numbers: Sequence[int], tick: int) -> None:
        """Let rules engage or let go, and hold them for their least time."""
        for number in numbers:
            rule = self.rules[number]
            self.engaged[number] = not self.engaged[number]
            hold = rule.minimum_on if self.engaged[number] else rule.minimum_off
            self.free_from[number] = tick + max(hold, LEAST_HOLD)

    def next_free(self, tick: int) -> int | None:
        """First instant after `tick` at which a held rule may change again."""
        later = self.free_from[self.free_from > tick]
        return int(later.min()) if later.size else None

    def override(self, settings: Mapping[str, float]) -> dict[str, float]:
        """Put what engaged rules say over the timetable's settings (share by switch)."""
        result = dict(settings)
        for rule, engaged in zip(reversed(self.rules), self.engaged[::-1].tolist(), strict=True):
            if engaged:
                result[rule.switch] = rule.share
        return result


def rules_of(controls: Controls | None) -> Rules:
    """Rules of a case's ``[controls]``; none without it."""
    found = [] if controls is None else controls.rules
    return Rules(
        tuple(
            Rule(
                name=rule.name,
                switch=rule.switch,
                share=rule.share,
                on_when=rule.on_when,
                off_when=rule.off_when,
                holds_while=rule.holds_while,
                minimum_on=ticks(rule.minimum_on),
                minimum_off=ticks(rule.minimum_off),
            )
            for rule in found
        )
    )


def crossing(before: float, after: float, length: float) -> float:
    """Guess where a margin passes zero inside a step of `length`, by a straight line."""
    if not (math.isfinite(before) and math.isfinite(after)) or after <= before:
        return length
    return length * min(max(-before / (after - before), 0.0), 1.0)
