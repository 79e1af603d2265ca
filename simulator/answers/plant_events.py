"""What went wrong and when, and the time from there to a limit: how long there is to act."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from simulator.answers.case_values import CaseValues
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Crossing", "Event", "crossings", "events"]

LONGEST: Final = 86400.0
"""A limit passed later than this after an event is not laid to it [s]."""
STOPS: Final = (
    ("fan_setting", "the fan is switched off", "fan stops"),
    ("pump_setting", "the pump is switched off", "pump stops"),
)


@dataclass(frozen=True)
class Event:
    """Something that happened.

    Attributes
    ----------
    what : str
        In words.
    at : float [s]
        Since the start of the case.
    kind : str
        As in the case: "pump stops", "fan stops", "power cut" ...
    """

    what: str
    at: float
    kind: str


@dataclass(frozen=True)
class Crossing:
    """A limit passed.

    Attributes
    ----------
    at : float [s]
        When, between two rows by a straight line; at the first row when it was passed from the start.
    event : Event or None
        What went wrong before, at most a day ago, while the limit was still kept.
    """

    at: float
    event: Event | None

    @property
    def time_to_act(self) -> float | None:
        """Time from the event to the limit [s]."""
        return None if self.event is None else self.at - self.event.at


def events(results: Results, values: CaseValues) -> list[Event]:
    """List the upsets of the case, and fan or pump switched off while the fire burns, in order of time."""
    found = []
    for upset in values.rows("upsets"):
        at = upset.get("at")
        try:
            moment = at if isinstance(at, dt.datetime) else dt.datetime.fromisoformat(str(at))
        except ValueError:
            # The file was tampered with: no case of ours reads like this.
            continue
        moment = moment.replace(tzinfo=None)
        what = str(upset.get("name") or upset.get("kind"))
        seconds = (moment - results.start).total_seconds()
        found.append(Event(f'"{what}"', seconds, str(upset.get("kind"))))
    if "fuel_rate" in results:
        times, burning = results["time"].values, results["fuel_rate"].values > 0.0
        for name, what, kind in STOPS:
            if name not in results:
                continue
            setting = results[name].values
            for row in np.flatnonzero((setting[1:] <= 0.0) & (setting[:-1] > 0.0) & burning[1:]):
                at = float(times[row])
                # An upset that stops it is named already.
                if not any(abs(at - other.at) <= 2.0 * float(times[row + 1] - times[row]) for other in found):
                    found.append(Event(what, at, kind))
    return sorted(found, key=lambda event: event.at)


def crossings(times: FloatArray, beyond: FloatArray, happened: list[Event]) -> list[Crossing]:
    """Find where a course goes beyond its limit.

    Parameters
    ----------
    times : (n,) float [s]
    beyond : (n,) float
        Distance beyond the limit, negative while it is kept; NaN where it does not count.
    happened : list of Event
        In order of time.

    Returns
    -------
    list of Crossing
        In order of time.
    """
    past = beyond >= 0.0
    found = [Crossing(float(times[0]), None)] if past.size and past[0] else []
    kept_since = float(times[0]) if past.size else 0.0
    for row in range(1, past.size):
        if past[row] and not past[row - 1]:
            before = beyond[row - 1]
            share = 1.0 if np.isnan(before) else float(before / (before - beyond[row]))
            at = float(times[row - 1] + share * (times[row] - times[row - 1]))
            due = [event for event in happened if kept_since <= event.at <= at and at - event.at <= LONGEST]
            found.append(Crossing(at, due[-1] if due else None))
        elif past[row - 1] and not past[row]:
            kept_since = float(times[row - 1])
    return found
