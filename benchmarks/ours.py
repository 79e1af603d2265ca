"""This project's side, through its public API."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.run.loop import simulate

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.run.observers import Geometry, Moment, Rows
    from simulator.section.keeper import Keeper

NAMES = ("exit_temperature", "floor_mean_temperature", "room_temperature")


class Watcher:
    """Keeps the three temperatures that are compared [K], and asks for nothing else."""

    wants_maps = False
    wanted_series = NAMES

    def __init__(self) -> None:
        self.rows: list[tuple[float, ...]] = []
        self.summary: dict[str, Any] = {}
        self.last: float = np.inf

    def start(self, case: Case, geometry: Geometry) -> None:
        pass

    def record(self, moment: Moment) -> None:
        if moment.tick > 0:
            self.rows.append(tuple(float(moment.values[name]) for name in NAMES))

    def record_rows(self, rows: Rows) -> None:
        columns = np.column_stack([rows.values(name) for name in NAMES])
        wanted = (rows.ticks > 0) & (rows.ticks <= self.last)
        self.rows += [tuple(row) for row in columns[wanted].tolist()]

    def finish(self, summary: Mapping[str, Any]) -> None:
        self.summary.update(summary)

    def abort(self) -> None:
        pass


def run(case: Case, keeper: Keeper | None = None) -> NDArray[np.float64]:
    """(rows, 3) exit air, floor mean, room [K above the ground's start temperature]."""
    watcher = Watcher()
    simulate(case, [watcher], keeper=keeper)
    return np.array(watcher.rows) - case.ground.start.temperature


class _EnoughError(Exception):
    """Enough rows have been seen."""


class _ShortWatcher(Watcher):
    def __init__(self, last: int) -> None:
        super().__init__()
        self.last = last

    def record_rows(self, rows: Rows) -> None:
        super().record_rows(rows)
        if rows.ticks[-1] >= self.last:
            raise _EnoughError


def run_first(case: Case, days: float) -> NDArray[np.float64]:
    """The first days of a run, with the modes chosen for all of it; see `run`."""
    watcher = _ShortWatcher(round(days * 86_400_000))
    with contextlib.suppress(_EnoughError):
        simulate(case, [watcher])
    return np.array(watcher.rows) - case.ground.start.temperature
