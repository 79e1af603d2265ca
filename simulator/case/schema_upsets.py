"""The ``[[upsets]]`` list: dated failures to try a case with."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case.fields import Moment, Number, Table, Words, refuse

UpsetKind = Literal[
    "pump stops", "fan stops", "power cut", "cover left off", "fire over-fed", "filter clogged"
]
OVER_FED = 1.5


class Upset(Table):
    """Something that goes wrong at an instant, and may be put right at another."""

    at: Annotated[dt.datetime, Moment()] = Field(description="when it happens")
    until: Annotated[dt.datetime, Moment()] | None = Field(
        None, description="when it is put right; left out: not within the run"
    )
    kind: UpsetKind = Field(description="what goes wrong")
    size: Annotated[float, Number(0.0, 10.0, above=True)] | None = Field(
        None, description="fire over-fed: times the burning rate; filter clogged: share of the flow lost"
    )
    name: Annotated[str, Words(80, empty=True)] = Field("", description="name to show")

    @model_validator(mode="after")
    def _sized(self) -> Upset:
        if self.until is not None and self.until <= self.at:
            raise refuse("must be later than at", key="until")
        if self.kind == "fire over-fed":
            if self.size is None:
                object.__setattr__(self, "size", OVER_FED)
            elif self.size < 1.0:
                raise refuse("must not be below 1: more is burnt, not less", key="size", allowed="1 to 10")
        elif self.kind == "filter clogged":
            if self.size is None:
                raise refuse("is missing: how much of the flow path is clogged", key="size", fix="size = 0.7")
            if self.size >= 1.0:
                raise refuse(
                    "must be below 1", key="size", allowed="above 0, below 1",
                    fix='the fan against a shut way is kind = "fan stops"',
                )  # fmt: skip
        elif self.size is not None:
            raise refuse(f'does not fit kind = "{self.kind}"', key="size", fix="leave it out")
        return self

    @property
    def label(self) -> str:
        """Name to show: the given one, or the kind."""
        return self.name or self.kind
