"""What came of trying the standard upsets on a case, in numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    import datetime as dt

    from simulator.answers.cautions_plant import Alarm
    from simulator.answers.findings import Finding
    from simulator.answers.upset_extremes import Extreme
    from simulator.case.schema_upsets import Upset

__all__ = ["Nearest", "TrialOutcome", "UpsetTrials"]

KELVIN_AT_0_DEGC: Final = 273.15


@dataclass(frozen=True)
class Nearest:
    """Of the limits that are kept throughout, the one that least is left to.

    Attributes
    ----------
    name, what, source : str
    allowed : float [K]
    margin : float [K]
    """

    name: str
    what: str
    source: str
    allowed: float
    margin: float


@dataclass(frozen=True)
class TrialOutcome:
    """What came of one upset.

    Attributes
    ----------
    upset : Upset
    question, happened : str
        What trying it answers, and what happens in it.
    end : datetime
        When it is put right, or the run ends.
    extremes : tuple of Extreme
    passed : tuple of Alarm
        Limits that are passed because of it, in order of time; the time to act counts from the upset.
    worse : tuple of Alarm
        Limits that are passed without it as well, but by less.
    broken : tuple of Finding
        Rules broken because of it.
    nearest : Nearest or None
        Of the limits kept with it and without it.
    failure : str
        Why the trial could not be computed; empty when it could.
    """

    upset: Upset
    question: str
    happened: str
    end: dt.datetime
    extremes: tuple[Extreme, ...] = ()
    passed: tuple[Alarm, ...] = ()
    worse: tuple[Alarm, ...] = ()
    broken: tuple[Finding, ...] = ()
    nearest: Nearest | None = None
    failure: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Hand over the outcome for other programs, temperatures in degrees Celsius and times in seconds."""
        near = self.nearest
        return {
            "kind": self.upset.kind,
            "at": self.upset.at.isoformat(" ", "minutes"),
            "until": self.end.isoformat(" ", "minutes"),
            "size": self.upset.size,
            "question": self.question,
            "happened": self.happened,
            "failure": self.failure or None,
            "extremes": [extreme.as_dict() for extreme in self.extremes],
            "limits_passed": [alarm.as_dict() for alarm in self.passed],
            "limits_passed_further": [alarm.as_dict() for alarm in self.worse],
            "rules_broken": [finding.as_dict() for finding in self.broken],
            "nearest_limit": None
            if near is None
            else {
                "name": near.name,
                "what": near.what,
                "limit_degC": round(near.allowed - KELVIN_AT_0_DEGC, 6),
                "margin_K": near.margin,
                "source": near.source,
            },
        }


@dataclass(frozen=True)
class UpsetTrials:
    """All standard upsets of a case.

    Attributes
    ----------
    passed_anyway : tuple of Alarm
        Limits that the case passes without any upset.
    outcomes : tuple of TrialOutcome
    """

    passed_anyway: tuple[Alarm, ...]
    outcomes: tuple[TrialOutcome, ...]

    def as_dict(self) -> dict[str, Any]:
        """Hand over everything for other programs."""
        return {
            "limits_passed_without_upset": [alarm.as_dict() for alarm in self.passed_anyway],
            "trials": [outcome.as_dict() for outcome in self.outcomes],
        }
