"""The ``[controls]`` table: rules that switch by temperatures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.conditions import Condition, parse_condition
from simulator.case.fields import Checked, Number, OrWords, Quantity, Table, Words, refuse
from simulator.errors import CaseError

Seconds = Annotated[float, Quantity(0.0, 604800.0, dimension="time")]


@dataclass(frozen=True)
class ConditionText(Checked):
    """A sentence such as ``"room below 8 degC"``, held as `Condition`."""

    def check(self, value: object) -> Condition:
        """Return the condition."""
        if isinstance(value, Condition):
            return value
        try:
            return parse_condition(value)
        except CaseError as error:
            raise refuse(error.problem, allowed=error.allowed, fix=error.fix) from None


class Rule(Table):
    """A rule: while it is engaged, its switch stands at `to`, whatever the timetable says."""

    name: Annotated[str, Words(80, empty=True)] = Field("", description="name to show")
    switch: Literal["fan", "feed", "pump", "cover"] = Field(description="what it switches")
    to: Annotated[float | Literal["on", "off"], OrWords(("on", "off"), Number(0.0, 1.5))] = Field(
        description="on, off, or a share of the full flow or feed"
    )
    on_when: Annotated[Condition, ConditionText()] = Field(description="engages the rule")
    off_when: Annotated[Condition, ConditionText()] | None = Field(
        None, description="releases it; left out: once on_when has failed by dead_band"
    )
    dead_band: (
        Annotated[float, Quantity(0.0, 100.0, above=True, dimension="temperature difference")] | None
    ) = Field(None, description="instead of off_when: by how much on_when must have failed")
    minimum_on: Seconds = Field(0.0, description="time it stays engaged at least")
    minimum_off: Seconds = Field(0.0, description="time it stays released at least")

    @model_validator(mode="after")
    def _released(self) -> Rule:
        if self.off_when is None and self.dead_band is None:
            raise refuse(
                "is missing: without off_when a rule needs a dead band, or it would chatter",
                key="dead_band",
                fix='give dead_band = "1 K", or off_when',
            )
        if self.off_when is not None and self.dead_band is not None:
            raise refuse("is given beside off_when", key="dead_band", fix="give one or the other")
        if self.switch != "fan" and self.share > 1.0:
            raise refuse("must not be above 1: only a fan runs faster than on", key="to", allowed="0 to 1")
        return self

    @property
    def share(self) -> float:
        """`to` as a number: on is 1, off is 0."""
        if isinstance(self.to, str):
            return 1.0 if self.to == "on" else 0.0
        return float(self.to)

    @property
    def holds_while(self) -> Condition | None:
        """With a dead band: the engaged rule is released when this fails; None when `off_when` tells."""
        return None if self.dead_band is None else self.on_when.eased(self.dead_band)

    @property
    def conditions(self) -> tuple[Condition, ...]:
        """Conditions given."""
        return (self.on_when,) if self.off_when is None else (self.on_when, self.off_when)


class Controls(Table):
    """Rules; of several engaged ones for a switch the first in the list wins."""

    rules: Annotated[list[Rule], Field(min_length=1, max_length=100)] = Field(
        description="rules, the more important first"
    )
