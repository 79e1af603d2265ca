"""What a design has to meet: an answer or a measure, at least or at most so much."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from simulator.answers.costs import MEASURES, Measure
from simulator.answers.outputs import Output, Value, output_named
from simulator.case.units import parse
from simulator.errors import CaseError

__all__ = ["Need", "need_from", "needs_from"]

_NEED: Final = re.compile(r"(.+?)\s*[:=]?\s*\b(at least|at most)\s+(\S.*)", re.IGNORECASE)
_SHARE: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(%?)")


@dataclass(frozen=True)
class Need:
    """One need.

    Attributes
    ----------
    subject : Output or Measure
    sense : {1, -1}
        At least, or at most.
    bound : float
        In SI.
    said : str
        The bound as it was given.
    kind : {"want", "limit"}
        What the design is for, or what it must not pass.
    """

    subject: Output | Measure
    sense: Literal[1, -1]
    bound: float
    said: str
    kind: Literal["want", "limit"] = "want"

    @property
    def name(self) -> str:
        """Name of the answer or measure."""
        return self.subject.name

    @property
    def dimension(self) -> str:
        """Its dimension."""
        return self.subject.dimension

    @property
    def text(self) -> str:
        """The need in words."""
        return f"{self.name} {'at least' if self.sense > 0 else 'at most'} {self.said}"

    def margin(self, value: Value) -> float | None:
        """By how much a value meets the need, negative when it misses it; None when there is no value."""
        return self.sense * (value - self.bound) if isinstance(value, int | float) else None


def need_from(text: str, kind: Literal["want", "limit"] = "want") -> Need:
    """Read a need.

    Parameters
    ----------
    text : str
        ``"lowest floor at least 42 degF"``, ``"trench at most 60 m"``.
    kind : {"want", "limit"}

    Raises
    ------
    CaseError
        When the text cannot be read.
    """
    match = _NEED.fullmatch(text.strip())
    if match is None:
        raise CaseError(
            "is no need", key=kind, value=text, fix='write it like "lowest floor at least 42 degF"'
        )
    name, word, said = match[1].strip(), match[2].lower(), match[3].strip()
    subject: Output | Measure = MEASURES[name.lower()] if name.lower() in MEASURES else output_named(name)
    if subject.dimension == "words":
        raise CaseError("is no number", key=kind, value=text, fix="use dangers or cautions at most 0")
    sense: Literal[1, -1] = 1 if word == "at least" else -1
    return Need(subject, sense, _bound(said, subject.dimension, text, kind), said, kind)


def needs_from(wants: Sequence[str], limits: Sequence[str]) -> list[Need]:
    """Read all needs; see `need_from`.

    Raises
    ------
    CaseError
        When one cannot be read, nothing is wanted, or a need stands twice.
    """
    needs = [need_from(text, "want") for text in wants] + [need_from(text, "limit") for text in limits]
    if not wants:
        raise CaseError("nothing is wanted", fix='say what for: --want "lowest floor at least 42 degF"')
    seen: set[tuple[str, int]] = set()
    for need in needs:
        if (need.name, need.sense) in seen:
            raise CaseError("stands twice", key=need.kind, value=need.text)
        seen.add((need.name, need.sense))
    return needs


def as_texts(table: Mapping[str, Any]) -> list[str]:
    """Turn a table of a targets file into texts that `need_from` reads."""
    return [f"{name} {bound}" for name, bound in table.items()]


def _bound(said: str, dimension: str, text: str, kind: str) -> float:
    if dimension == "share":
        match = _SHARE.fullmatch(said)
        if match is None or (not match[2] and float(match[1]) > 1.0):
            raise CaseError("needs a share", key=kind, value=text, fix='write it like "55 %" or "0.55"')
        return float(match[1]) / (100.0 if match[2] else 1.0)
    if dimension in ("count", "number", "money"):
        match = re.search(r"\d+(?:\.\d+)?", said.replace(",", ""))
        if match is None:
            raise CaseError("needs a plain number", key=kind, value=text)
        return float(match[0])
    try:
        return parse(said, "energy" if dimension == "electricity" else dimension)
    except CaseError as error:
        raise CaseError(error.problem, key=kind, value=text, allowed=error.allowed, fix=error.fix) from None
