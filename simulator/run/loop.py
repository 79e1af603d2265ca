"""The time loop: steps on the integer clock, observers told at every output row, nothing else."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
from threadpoolctl import threadpool_limits

from simulator.air.flue import gas_at
from simulator.case.timetable import Drive
from simulator.physics.moist_air_kernels import ratio_at_relative_humidity
from simulator.run.chain_run import chain_of_run
from simulator.run.checkpoint import Place, StatePart, gather, hand_out, section_identity
from simulator.run.coupling import GAMMA, Coupling, Steps, StepWeather
from simulator.run.ledger import Ledger
from simulator.run.outputs import Narrator
from simulator.run.plan import RunPlan, operating_point, plan
from simulator.run.stage_kernels import ROOM_RATIO
from simulator.run.state import RunState, still_air

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.climate.series import Series
    from simulator.run.chain_run import ChainRun
    from simulator.run.checkpoint import Checkpoints, Part
    from simulator.run.observers import Observer
    from simulator.section.reduced import Keeper
    from simulator.section.solver import SectionSolver

PROGRESS_EVERY = 0.1
"""Seconds between calls of a progress function."""
RUN_IN_BLOCK = 2000
"""Steps of a run-in that are marched at once."""


def simulate(
    case: Case,
    observers: Sequence[Observer],
    progress: Callable[[float], None] | None = None,
    keeper: Keeper | None = None,
    checkpoints: Checkpoints | None = None,
) -> dict[str, Any]:
    """Run a case from start to end.

    Parameters
    ----------
    case : Case
    observers : sequence of Observer
        Told the places before the first step, then every output row.
    progress : callable, optional
        Called now and then with the share of the run that is done, 0 to 1.
    keeper : Keeper, optional
        Keeps reduced sections from one run to the next.
    checkpoints : Checkpoints, optional
        Keeps the state now and then, and gives back that of an unfinished run: observers are then started as
        ever but told only the rows that follow.

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
    # The matrices are small: threads inside BLAS cost more than they give, and change the last bits.
    with threadpool_limits(limits=1, user_api="blas"):
        return _simulate(case, observers, progress, keeper, checkpoints)


def _simulate(
    case: Case,
    observers: Sequence[Observer],
    progress: Callable[[float], None] | None,
    keeper: Keeper | None,
    checkpoints: Checkpoints | None,
) -> dict[str, Any]:
    began = time.perf_counter()
    prepared = plan(case)
    solver = prepared.solver(keeper)
    coupling = prepared.coupling(solver)
    steps = all_steps(prepared, coupling)
    chain = chain_of_run(prepared, coupling, steps)
    built = time.perf_counter()
    stored = None if checkpoints is None else checkpoints.begin(section_identity(solver))
    try:
        for observer in observers:
            observer.start(case, prepared.geometry)
        state = _march(prepared, coupling, chain, steps, observers, progress, checkpoints, stored)
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
        "fan_notes": "; ".join(operating_point(case).notes),
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
    moving = still_air(
        stations, lanes, prepared.path.branches, prepared.room.temperature - prepared.reference
    )
    if prepared.moist.there:
        moving.scalars[ROOM_RATIO] = ratio_at_relative_humidity(
            prepared.moist.room_humidity, prepared.room.temperature, prepared.mover.pressure
        )
    return RunState(tick=prepared.begin, section=solver.project(profile), moving=moving)


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
    chain: ChainRun | None,
    steps: Steps,
    observers: Sequence[Observer],
    progress: Callable[[float], None] | None,
    checkpoints: Checkpoints | None,
    stored: Mapping[str, NDArray[Any]] | None,
) -> RunState:
    narrator = Narrator(prepared, coupling)
    # A map of the ground takes as long as many steps: it is made only where somebody looks at it.
    wanted = any(getattr(observer, "wants_maps", True) for observer in observers)
    fields = set(prepared.geometry.field_ticks.tolist()) if wanted else set()
    state = first_state(prepared, coupling.solver)
    still = prepared.case.ground.run_in_drive == "off"
    called = time.perf_counter()
    # Blocks end where somebody wants to look; a run-in is one more block, cut so that progress can be told.
    stops = np.searchsorted(steps.ends, prepared.geometry.series_ticks[1:]) + 1
    run_in = int(np.searchsorted(steps.ends, 0, side="right")) if prepared.begin < 0 else 0
    before = np.arange(RUN_IN_BLOCK, run_in, RUN_IN_BLOCK)
    outside = prepared.weather.temperature_at(prepared.geometry.series_ticks).tolist()
    place = Place()
    parts: dict[str, Part] = {"place": place, "state": StatePart(state), "narrator": narrator}
    if chain is not None:
        parts["chain"] = chain
    if stored is not None:
        hand_out(parts, stored)
    first, row = place.step, place.row
    for last in [*before.tolist(), *([run_in] if run_in else []), *stops.tolist()][place.block :]:
        if state.tick == 0:
            _open(state, coupling, steps, first)
            if chain is not None:
                chain.open_books()
            _tell(observers, narrator, chain, state, steps, first, outside[0], with_field=0 in fields)
        if chain is None or (state.tick < 0 and still):
            coupling.march(state, steps.part(first, last), hold_room=state.tick < 0 and still)
        else:
            chain.march(state, first, last)
        if state.tick > 0:
            row += 1
            with_field = state.tick in fields
            _tell(observers, narrator, chain, state, steps, last - 1, outside[row], with_field=with_field)
        first = last
        place.block, place.step, place.row = place.block + 1, first, row
        if checkpoints is not None and checkpoints.due():
            checkpoints.save(gather(parts))
        if progress is not None and time.perf_counter() - called > PROGRESS_EVERY:
            called = time.perf_counter()
            progress((state.tick - prepared.begin) / (prepared.end - prepared.begin))
    if progress is not None:
        progress(1.0)
    return state


def all_steps(prepared: RunPlan, coupling: Coupling) -> Steps:
    """All steps of a run, its run-in included, with what drives them."""
    ends = prepared.step_ends
    begins = np.concatenate(([prepared.begin], ends[:-1]))
    if prepared.supply_series is None:
        supply = np.full((ends.size, 2), np.nan)
    else:
        supply = stage_values(prepared.supply_series, begins, ends)
    timetable = prepared.timetable
    switches = [prepared.begin, *timetable.switches_between(prepared.begin, prepared.end)]
    settings = [timetable.values_from(tick) for tick in switches]
    table = np.array([[d.fan_share, d.heat_power, d.supply_temperature, 0.0] for d in settings])
    drives = table[np.searchsorted(switches, begins, side="right") - 1]
    if prepared.case.ground.run_in_drive == "off":
        drives[begins < 0] = (0.0, 0.0, np.nan, 0.0)
    gas = stage_gas(prepared, begins, ends)
    if prepared.case.ground.run_in_drive == "off":
        gas[begins < 0, :, 0] = 0.0
    return Steps(
        ends=ends,
        drives=np.ascontiguousarray(drives, dtype=np.float64),
        outside=stage_values(prepared.weather.temperature, begins, ends),
        sun=stage_values(prepared.weather.sun, begins, ends),
        supply=supply,
        gas=gas,
        around=coupling.around(ends.size),
    )


def stage_gas(prepared: RunPlan, begins: NDArray[np.int64], ends: NDArray[np.int64]) -> NDArray[np.float64]:
    """(n, 2, 2) flow [kg/s] and entry temperature [K] of combustion gas at the stages of every step."""
    case, made = prepared.case, prepared.flue.made
    gas = np.empty((ends.size, 2, 2))
    # A stove lit at the end of a step gives nothing in it: look just before.
    first = begins + np.round(GAMMA * (ends - begins)).astype(np.int64)
    for number, ticks in enumerate((first, ends - 1)):
        gas[:, number] = gas_at(case, made, ticks)
    return gas


def _open(state: RunState, coupling: Coupling, steps: Steps, step: int) -> None:
    """Start the books at tick 0, and look at the air as it first moves."""
    state.ledger = Ledger()
    state.moving.water_totals[:] = 0.0
    drive = Drive(*(float(value) for value in steps.drives[step, :3]))
    rows = (steps.outside[step], steps.sun[step], steps.supply[step])
    pairs = [(float(row[0]), float(row[1])) for row in rows]
    gas = [(float(flow), float(kelvin)) for flow, kelvin in steps.gas[step]]
    weather = StepWeather(pairs[0], pairs[1], pairs[2], (gas[0], gas[1]))
    # The second look takes air properties from the first.
    for _ in (0, 1):
        coupling.look(state, drive, weather)


def _tell(
    observers: Sequence[Observer],
    narrator: Narrator,
    chain: ChainRun | None,
    state: RunState,
    steps: Steps,
    step: int,
    outside: float,
    *,
    with_field: bool,
) -> None:
    fan_share = float(steps.drives[step, 0]) if chain is None else chain.fan_share(state.tick)
    moment = narrator.moment(state, outside, fan_share, with_field=with_field)
    if chain is not None:
        moment = replace(moment, values={**moment.values, **chain.values(state)})
    for observer in observers:
        observer.record(moment)
