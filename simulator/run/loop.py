"""The time loop: steps on the integer clock, observers told at every output row, nothing else."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.run.coupling import GAMMA, Coupling, StepWeather
from simulator.run.outputs import Narrator
from simulator.run.plan import RunPlan, plan
from simulator.run.state import RunState

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.case.timetable import Drive
    from simulator.climate.series import Series
    from simulator.run.observers import Observer
    from simulator.section.solver import SectionSolver

PROGRESS_EVERY = 0.1
"""Seconds between calls of a progress function."""


def simulate(
    case: Case, observers: Sequence[Observer], progress: Callable[[float], None] | None = None
) -> dict[str, Any]:
    """Run a case from start to end.

    Parameters
    ----------
    case : Case
    observers : sequence of Observer
        Told the places before the first step, then every output row.
    progress : callable, optional
        Called now and then with the share of the run that is done, 0 to 1.

    Returns
    -------
    dict
        Numbers that describe the run: steps, cells, states, seconds, largest ledger residual.

    Raises
    ------
    CaseError
        If a file named by the case cannot be used.
    SolverError
        If the computation fails.
    """
    began = time.perf_counter()
    prepared = plan(case)
    solver = prepared.solver()
    coupling = prepared.coupling(solver)
    built = time.perf_counter()
    try:
        for observer in observers:
            observer.start(case, prepared.geometry)
        state = _march(prepared, coupling, observers, progress)
    except BaseException:
        for observer in observers:
            observer.abort()
        raise
    summary = {
        "solver": solver.name,
        "cells": prepared.operators.cells,
        "states": solver.size,
        "stations": int(prepared.geometry.station_x.size),
        "steps": int(prepared.step_ends.size),
        "build_seconds": built - began,
        "run_seconds": time.perf_counter() - built,
        "largest_ledger_residual": state.ledger.largest_residual,
        "reduction_error": float(getattr(getattr(solver, "reduction", None), "error", 0.0)),
    }
    for observer in observers:
        observer.finish(summary)
    return summary


def first_state(prepared: RunPlan, solver: SectionSolver) -> RunState:
    """State at the first tick: the ground's start profile, the room's start temperature, still air."""
    stations, lanes = prepared.geometry.station_x.size, prepared.operators.lanes
    profile = np.broadcast_to(
        prepared.start_temperature - prepared.reference, (stations, prepared.start_temperature.size)
    )
    room = prepared.room.temperature - prepared.reference
    level = np.full((stations, lanes), room)
    return RunState(
        tick=prepared.begin,
        section=solver.project(profile),
        room=room,
        air_in=level.copy(),
        air_out=level.copy(),
        wall=level.copy(),
        branch_exit=np.full(prepared.path.branch_ducts.size, room),
        supply=room,
        exit=room,
        film=np.zeros((stations, lanes)),
    )


def stage_values(series: Series, begins: NDArray[np.int64], ends: NDArray[np.int64]) -> NDArray[np.float64]:
    """(n, 2) values of a series at the two stages of every step.

    The straight line through a step that has the step's exact mean and the series' rise over it: stage values
    then weigh up to the exact mean, and follow a linear series exactly.
    """
    mean = series.mean(begins, ends)
    rise = series.at(ends) - series.at(begins)
    return np.column_stack((mean + rise * (GAMMA - 0.5), mean + 0.5 * rise))


def _march(
    prepared: RunPlan,
    coupling: Coupling,
    observers: Sequence[Observer],
    progress: Callable[[float], None] | None,
) -> RunState:
    ends = prepared.step_ends
    begins = np.concatenate(([prepared.begin], ends[:-1]))
    outside = stage_values(prepared.weather.temperature, begins, ends)
    sun = stage_values(prepared.weather.sun, begins, ends)
    if prepared.supply_series is None:
        supply = np.full((ends.size, 2), np.nan)
    else:
        supply = stage_values(prepared.supply_series, begins, ends)
    narrator = Narrator(prepared, coupling)
    rows = set(prepared.geometry.series_ticks.tolist())
    fields = set(prepared.geometry.field_ticks.tolist())
    state = first_state(prepared, coupling.solver)
    still = prepared.case.ground.run_in_drive == "off"
    called = time.perf_counter()
    drive = _drive(prepared, prepared.begin, still=still)
    for number, end in enumerate(ends.tolist()):
        begin = state.tick
        drive = _drive(prepared, begin, still=still)
        weather = StepWeather(
            (float(outside[number, 0]), float(outside[number, 1])),
            (float(sun[number, 0]), float(sun[number, 1])),
            (float(supply[number, 0]), float(supply[number, 1])),
        )
        if begin == 0:
            _open(state, coupling, drive, weather)
            moment = narrator.moment(
                state, float(prepared.weather.temperature_at(0)), drive.fan_share, with_field=0 in fields
            )
            for observer in observers:
                observer.record(moment)
        coupling.advance(state, end, drive, weather, hold_room=begin < 0 and still)
        if end in rows and end > 0:
            moment = narrator.moment(
                state, float(prepared.weather.temperature_at(end)), drive.fan_share, with_field=end in fields
            )
            for observer in observers:
                observer.record(moment)
        if progress is not None and time.perf_counter() - called > PROGRESS_EVERY:
            called = time.perf_counter()
            progress((end - prepared.begin) / (prepared.end - prepared.begin))
    if progress is not None:
        progress(1.0)
    return state


def _open(state: RunState, coupling: Coupling, drive: Drive, weather: StepWeather) -> None:
    """Start the books at tick 0, and look at the air as it first moves."""
    state.ledger = type(state.ledger)()
    # The second look takes air properties from the first.
    for _ in (0, 1):
        coupling.look(state, drive, weather)


def _drive(prepared: RunPlan, tick: int, *, still: bool) -> Drive:
    drive = prepared.timetable.values_from(tick)
    if tick < 0 and still:
        return type(drive)(fan_share=0.0, heat_power=0.0, supply_temperature=float("nan"))
    return drive
