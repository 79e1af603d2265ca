"""Numbers taken from a results file for a report, and a list of the datasets that were used."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from simulator.look.report.numbers import How, Number
from simulator.store.catalogue import CATALOGUE

if TYPE_CHECKING:
    from simulator.answers.window import Window
    from simulator.look.scales import FloatArray
    from simulator.store.reader import Results

__all__ = ["Book"]


class Book:
    """Takes numbers from results and remembers which datasets they came from.

    Parameters
    ----------
    results : Results
    window : Window
        The stretch of time that the report is about.
    """

    def __init__(self, results: Results, window: Window) -> None:
        self.results, self.window = results, window
        self.start = results.start
        self.begin = (window.begin - self.start).total_seconds()
        self.end = (window.end - self.start).total_seconds()
        self.seconds: FloatArray = np.asarray(results.read("time"), dtype=np.float64)
        self._used: dict[str, None] = {}

    def number(self, value: float, dataset: str, how: How) -> Number:
        """Carry a number that was worked out elsewhere, about the window."""
        return self._number(value, dataset, how, self.begin, self.end)

    def at(self, dataset: str, seconds: float) -> Number:
        """Read a series at a moment, on the straight line between its rows."""
        course = np.asarray(self.results.read(dataset), dtype=np.float64)
        value = float(np.interp(seconds, self.seconds, course))
        return self._number(value, dataset, "at", seconds, seconds)

    def change(self, dataset: str) -> Number:
        """Read the change of a ledger over the window."""
        course = np.asarray(self.results.read(dataset), dtype=np.float64)
        ends = np.interp([self.begin, self.end], self.seconds, course)
        return self.number(float(ends[1] - ends[0]), dataset, "change")

    def course(self, dataset: str) -> FloatArray:
        """Read a whole series and remember it as used."""
        self.note(dataset)
        return np.asarray(self.results.read(dataset), dtype=np.float64)

    def note(self, dataset: str) -> None:
        """Remember a dataset as used."""
        self._used.setdefault(dataset)

    def moment(self, seconds: float) -> dt.datetime:
        """Local date and time of a moment."""
        return self.start + dt.timedelta(seconds=seconds)

    def said(self, seconds: float) -> str:
        """Write a moment to the minute."""
        return f"{self.moment(seconds):%Y-%m-%d %H:%M}"

    @property
    def used(self) -> list[tuple[str, str, str]]:
        """Name, unit and meaning of every dataset used so far, by name."""
        return [(name, CATALOGUE[name].unit, CATALOGUE[name].long_name) for name in sorted(self._used)]

    def _number(self, value: float, dataset: str, how: How, begin: float, end: float) -> Number:
        self.note(dataset)
        return Number(value, dataset, how, begin, end, (self.said(begin), self.said(end)))
