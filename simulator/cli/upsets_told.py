"""The standard upsets of a case on the screen: what came of each, and what to do about the limits passed."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from simulator.cli.first_time import told_if_first
from simulator.cli.screen import heading, paragraph, progress_bar, table

if TYPE_CHECKING:
    from simulator.answers.cautions_plant import Alarm
    from simulator.answers.upset_outcomes import TrialOutcome, UpsetTrials
    from simulator.case.schema import Case
    from simulator.case.units import System

__all__ = ["print_upsets", "tried"]

KELVIN_AT_0_DEGC = 273.15
A_DAY = 86400.0


def tried(case: Case, name: str) -> UpsetTrials:
    """Try the standard upsets, with a bar where a person watches."""
    from simulator.answers.upset_trials import try_upsets

    with told_if_first(case, with_upsets=True), progress_bar(f"{name}, upsets") as progress:
        return try_upsets(case, progress)


def print_upsets(trials: UpsetTrials, system: System) -> None:
    """Print every trial, then each limit once with what to do, then all trials in one table."""
    for outcome in trials.outcomes:
        _print_outcome(outcome, system)
    _print_anyway(trials, system)
    _print_advice_on_limits(trials)
    heading("All upsets")
    table(
        ("upset", "first limit passed", "time to act"),
        [(outcome.upset.kind, *_in_short(outcome, system)) for outcome in trials.outcomes],
    )


def _print_outcome(outcome: TrialOutcome, system: System) -> None:
    from simulator.case.units import show

    def degrees(kelvin: float) -> str:
        return show(kelvin, "temperature", system)

    def number(kelvin: float) -> str:
        return degrees(kelvin).rpartition(" ")[0]

    upset = outcome.upset
    heading(outcome.question)
    until = f"until {outcome.end:%Y-%m-%d %H:%M}" if upset.until is not None else "to the end of the run"
    paragraph(f"At {upset.at:%Y-%m-%d %H:%M} {outcome.happened}, {until}.")
    if outcome.failure:
        paragraph(f"This trial could not be computed: {outcome.failure}")
        return
    if outcome.extremes:
        table(
            (
                degrees(KELVIN_AT_0_DEGC).rpartition(" ")[2],
                "hottest",
                "reached",
                "without it",
                "coldest",
                "without it",
            ),
            [
                (
                    one.what,
                    number(one.highest),
                    _clock(one.highest_at),
                    number(one.usual_highest),
                    number(one.lowest),
                    number(one.usual_lowest),
                )
                for one in outcome.extremes
            ],
        )
    for alarm in outcome.passed:
        paragraph(f"{alarm.limit.severity.upper()} {_crossing(alarm, system)}", rest="    ")
    for alarm in outcome.worse:
        paragraph(
            f"{alarm.limit.severity.upper()} {_what(alarm)} {_goes(alarm)} {degrees(alarm.allowed)} without "
            f"this upset as well, with it as far as {degrees(alarm.worst)} ({_clock(alarm.worst_at)}).",
            rest="    ",
        )  # fmt: skip
    for finding in outcome.broken:
        paragraph(f"{finding.limit.severity.upper()} {finding.text(system)}", rest="    ")
    if not outcome.passed:
        near = outcome.nearest
        told = "No limit is passed because of it."
        if near is not None:
            margin = show(near.margin, "temperature difference", system)
            told += f" Least is left to {degrees(near.allowed)} for {near.what} ({near.name}): {margin}."
        paragraph(told)


def _crossing(alarm: Alarm, system: System) -> str:
    """Say when a limit is passed, and how long there is to act."""
    from simulator.case.units import show

    worst = show(alarm.worst, "temperature", system)
    side = "highest" if alarm.limit.side == "above" else "lowest"
    act = "" if (alarm.time_to_act or 0.0) > A_DAY else ": that is the time to act"
    return (
        f"{_what(alarm)} {_goes(alarm)} {show(alarm.allowed, 'temperature', system)} ({alarm.limit.name}) "
        f"at {_clock(alarm.crossed_at)}, {_lead(alarm, system)} after the upset{act}. The {side} is {worst} "
        f"({_clock(alarm.worst_at)})."
    )


def _clock(moment: dt.datetime) -> str:
    """Write day and time to the nearest minute."""
    return f"{moment + dt.timedelta(seconds=30):%m-%d %H:%M}"


def _lead(alarm: Alarm, system: System) -> str:
    from simulator.case.units import show

    lead = alarm.time_to_act or 0.0
    if lead < alarm.apart:
        return f"less than {show(alarm.apart, 'time', system)}"
    return show(lead, "time", system)


def _what(alarm: Alarm) -> str:
    return f"{alarm.limit.what} ({alarm.place})" if alarm.place else alarm.limit.what


def _goes(alarm: Alarm) -> str:
    many = alarm.limit.what.endswith("s")
    if alarm.limit.side == "above":
        return "rise above" if many else "rises above"
    return "fall below" if many else "falls below"


def _print_anyway(trials: UpsetTrials, system: System) -> None:
    if not trials.passed_anyway:
        return
    heading("Without any upset")
    listed = "; ".join(_said(alarm, system) for alarm in trials.passed_anyway)
    paragraph(f"These limits are passed: {listed}. `ductfloor run` tells more of them.")


def _said(alarm: Alarm, system: System) -> str:
    from simulator.case.units import show

    return (
        f"{_what(alarm)} {show(alarm.worst, 'temperature', system)}, limit "
        f"{show(alarm.allowed, 'temperature', system)} ({alarm.limit.name})"
    )


def _print_advice_on_limits(trials: UpsetTrials) -> None:
    """Print each limit once that any upset passes, dangers first."""
    limits = {
        alarm.limit.name: alarm.limit
        for outcome in trials.outcomes
        for alarm in (*outcome.passed, *outcome.worse)
    }
    if not limits:
        return
    heading("What to do, and whom to call")
    for limit in sorted(limits.values(), key=lambda one: one.severity != "danger"):
        words = f"{limit.name.upper()}: {limit.message} {limit.act} {limit.call}".rstrip()
        paragraph(words)
        paragraph(f"[{limit.source}]", first="    ")


def _in_short(outcome: TrialOutcome, system: System) -> tuple[str, str]:
    if outcome.failure:
        return "could not be computed", "-"
    if not outcome.passed:
        return "none", "-"
    dangers = [alarm for alarm in outcome.passed if alarm.limit.severity == "danger"]
    first = (dangers or list(outcome.passed))[0]
    name = first.limit.name if dangers else f"{first.limit.name} (caution)"
    return name, _lead(first, system)
