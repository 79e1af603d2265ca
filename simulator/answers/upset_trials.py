"""The standard upsets tried on a case: how hot and cold it gets, which limits go, how long there is to act.

Every trial is a run of its own, in memory, held row by row against the same run without any upset: only what
the upset itself brings about is laid to it.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.answers.case_values import CaseValues
from simulator.answers.cautions_plant import alarm_of
from simulator.answers.findings import findings
from simulator.answers.plant_courses import limit_courses
from simulator.answers.plant_events import Crossing, Event, crossings
from simulator.answers.plant_limits import PLANT_LIMITS
from simulator.answers.plant_rules import plant_findings
from simulator.answers.upset_extremes import extremes
from simulator.answers.upset_outcomes import Nearest, TrialOutcome, UpsetTrials
from simulator.case.standard_upsets import Trial, standard_upsets, with_upset
from simulator.errors import DuctfloorError
from simulator.store.record import record

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.answers.cautions_plant import Alarm
    from simulator.answers.findings import Finding
    from simulator.answers.plant_courses import LimitCourse
    from simulator.case.schema import Case
    from simulator.case.schema_upsets import Upset
    from simulator.store.reader import Results

__all__ = ["hold_against", "try_upsets"]

MOST_ROWS: Final = 3000
"""Rows of a trial at most; a row for every step where the run is no longer than that."""
MOSTLY: Final = 0.5
"""A stretch beyond a limit is laid to the upset where less than this share of it would be beyond without."""
GOES_FURTHER: Final = 1.0
"""A limit passed without the upset as well is told again where it is passed by so much more [K]."""


def try_upsets(case: Case, progress: Callable[[float], None] | None = None) -> UpsetTrials:
    """Run a case without any upset, and once with each of the standard ones; no file is left.

    Parameters
    ----------
    case : Case
    progress : callable, optional
        Called now and then with the share that is done, 0 to 1.

    Returns
    -------
    UpsetTrials
        A trial that cannot be computed says so; the others are there.

    Raises
    ------
    DuctfloorError
        When the case cannot be computed even without any upset.
    """
    plain = _coarse(case)
    trials = [_on_the_clock(trial, plain) for trial in standard_upsets(plain)]
    count = 1 + len(trials)

    def told(number: int) -> Callable[[float], None] | None:
        return None if progress is None else lambda share: progress((number + share) / count)

    outcomes = []
    with record(with_upset(plain), progress=told(0)) as usual:
        anyway = _passed(usual, plain)
        for number, trial in enumerate(trials, start=1):
            end = trial.upset.until or plain.site.start + dt.timedelta(seconds=plain.site.duration)
            happened = _happened(trial.upset, plain)
            try:
                results = record(trial.on(plain), progress=told(number))
            except (DuctfloorError, ArithmeticError) as error:
                outcomes.append(TrialOutcome(trial.upset, trial.question, happened, end, failure=str(error)))
                continue
            with results:
                outcomes.append(hold_against(usual, results, trial, happened, end, plain))
    return UpsetTrials(anyway, tuple(outcomes))


def hold_against(
    usual: Results, results: Results, trial: Trial, happened: str, end: dt.datetime, case: Case
) -> TrialOutcome:
    """Hold the run of a trial against the run without it, which has the same rows.

    Parameters
    ----------
    usual, results : Results
        Without and with the upset.
    trial : Trial
    happened : str
        What happens, in words.
    end : datetime
        When it is put right, or the run ends.
    case : Case

    Returns
    -------
    TrialOutcome
    """
    begin = (trial.upset.at - results.start).total_seconds()
    event = Event(trial.upset.label, begin, trial.upset.kind)
    ducts = case.ducts.service_temperature
    passed: list[Alarm] = []
    worse: list[Alarm] = []
    near: list[Nearest] = []
    for limit in PLANT_LIMITS:
        before = list(limit_courses(usual, limit, CaseValues(usual.case_text), ducts))
        after = list(limit_courses(results, limit, CaseValues(results.case_text), ducts))
        if not after:
            continue
        alarm, alone = _laid_to(results, before, after, event)
        if alarm is not None:
            (passed if alone else worse).append(alarm)
        reach = max(_most(course.beyond) for course in (*before, *after))
        if np.isfinite(reach) and reach < 0.0:
            closest = max(after, key=lambda course: _most(course.beyond))
            near.append(Nearest(limit.name, limit.what, limit.source, closest.allowed, -reach))
    return TrialOutcome(
        trial.upset,
        trial.question,
        happened,
        end,
        extremes(usual, results, begin),
        tuple(sorted(passed, key=lambda alarm: alarm.crossed_at)),
        tuple(worse),
        _broken(usual, results),
        min(near, key=lambda one: one.margin, default=None),
    )


def _laid_to(
    results: Results, before: list[LimitCourse], after: list[LimitCourse], event: Event
) -> tuple[Alarm | None, bool]:
    """Return what an upset brings the courses of a limit to.

    Parameters
    ----------
    results : Results
    before, after : list of LimitCourse
        Everything that the limit looks at, without the upset and with it.
    event : Event

    Returns
    -------
    Alarm or None
    bool
        Whether the limit is kept without the upset then; otherwise it is passed anyway, but by less.
    """
    times = results["time"].values
    anyway = np.any([course.beyond >= 0.0 for course in before], axis=0)
    found = []
    for course in after:
        past = course.beyond >= 0.0
        for told in crossings(times, course.beyond, []):
            if told.at < event.at:
                continue
            first = int(np.searchsorted(times, told.at))
            ends = np.flatnonzero(~past[first:])
            last = first + int(ends[0]) if ends.size else times.size
            if anyway[first:last].mean() < MOSTLY:
                found.append(alarm_of(results, course, Crossing(told.at, event), event.at))
                break
    if found:
        return min(found, key=lambda alarm: alarm.crossed_at), True
    rows = times >= event.at
    furthest = max(after, key=lambda course: _most(course.beyond[rows]))
    reach = _most(furthest.beyond[rows])
    usual = max(_most(course.beyond[rows]) for course in before)
    if reach >= 0.0 and reach - usual >= GOES_FURTHER:
        later = [one.at for one in crossings(times, furthest.beyond, []) if one.at >= event.at]
        return alarm_of(results, furthest, Crossing(later[0] if later else event.at, event), event.at), False
    return None, False


def _most(beyond: np.ndarray) -> float:
    return float(np.nanmax(beyond)) if np.isfinite(beyond).any() else -math.inf


def _passed(usual: Results, case: Case) -> tuple[Alarm, ...]:
    """List the limits that a run without any upset passes."""
    found: dict[str, Alarm] = {}
    values, ducts = CaseValues(usual.case_text), case.ducts.service_temperature
    for limit in PLANT_LIMITS:
        for course in limit_courses(usual, limit, values, ducts):
            listed = crossings(usual["time"].values, course.beyond, [])
            if listed and limit.name not in found:
                found[limit.name] = alarm_of(usual, course, listed[0])
    return tuple(found.values())


def _broken(usual: Results, results: Results) -> tuple[Finding, ...]:
    """List the rules that only the run with the upset breaks."""

    def of(run: Results) -> list[Finding]:
        return [*plant_findings(run, CaseValues(run.case_text)), *findings(run)]

    anyway = {finding.limit.name for finding in of(usual)}
    return tuple(finding for finding in of(results) if finding.limit.name not in anyway)


def _coarse(case: Case) -> Case:
    """Return the case with a row for every step, or fewer in a long run, and no maps of the ground."""
    steps = case.site.duration / case.numerics.step
    every = case.numerics.step * max(math.ceil(steps / MOST_ROWS), 1)
    output = case.output.model_copy(update={"interval": every, "fields": 0.0})
    return case.model_copy(update={"output": output})


def _on_the_clock(trial: Trial, case: Case) -> Trial:
    """Move the upset to the begin of its step: all trials then cut steps alike, and share a reduction."""
    upset, step, start = trial.upset, case.numerics.step, case.site.start

    def moved(moment: dt.datetime) -> dt.datetime:
        return start + dt.timedelta(seconds=(moment - start).total_seconds() // step * step)

    at, until = moved(upset.at), None if upset.until is None else moved(upset.until)
    if until is not None and until <= at:
        return trial
    return Trial(upset.model_copy(update={"at": at, "until": until}), trial.question)


def _happened(upset: Upset, case: Case) -> str:
    """Say what goes wrong in an upset."""
    size = upset.size or 0.0
    if upset.kind == "power cut":
        parts = ["the fan"]
        if case.water is not None:
            parts.append("the pump")
        if case.stove is not None and case.stove.burn == "steady":
            parts.append("the feed")
        named = " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
        return f"the power fails: {named} {'stops' if len(parts) == 1 else 'stop'}"
    return {
        "pump stops": "the pump stops",
        "fan stops": "the fan stops",
        "cover left off": "the night cover stays off",
        "fire over-fed": f"{size:g} times the fuel burns",
        "filter clogged": f"the filter clogs: {size:.0%} of the way through it is shut",
    }[upset.kind]
