"""The time loop: steps on the integer clock, observers told at every output row, nothing else."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

import numpy as np
from threadpoolctl import threadpool_limits

from simulator.air.flue import gas_at
from simulator.case.timetable import TICKS_PER_SECOND, Drive
from simulator.physics.moist_air_kernels import ratio_at_relative_humidity
from simulator.run.chain_parts import needs_chain
from simulator.run.checkpoint import Place, StatePart, check_place, gather, hand_out, section_identity
from simulator.run.coupling import GAMMA, Coupling, Steps, StepWeather
from simulator.run.kept_rows import KeptRows, room_for_rows
from simulator.run.ledger import Ledger
from simulator.run.observers import BlockObserver
from simulator.run.outputs import Narrator, need_whole_states
from simulator.run.plan import RunPlan, operating_point, plan
from simulator.run.stage_kernels import ROOM_RATIO
from simulator.run.state import RunState, still_air
from simulator.section.kept_spot_check import kept_spot_check
from simulator.section.reduced import ReducedSection
from simulator.section.spot_check import periods_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.climate.series import Series
    from simulator.run.chain_run import ChainRun
    from simulator.run.checkpoint import Checkpoints, Part
    from simulator.run.observers import Observer
    from simulator.section.keeper import Keeper
    from simulator.section.solver import SectionSolver

PROGRESS_EVERY = 0.1
"""Seconds between calls of a progress function."""
MOST_STEPS, MOST_ROWS = 16384, 512
"""Steps marched and rows kept at once."""
CHAIN_STEPS = 64
"""Steps marched at once with a heat chain, where every row ends a block."""
WORK_AT_ONCE = 2e7
"""Steps times states marched at once: some hundredths of a second, or tenths with moisture."""
ROW_BYTES = 16e6
"""Memory for the sections of the rows kept at once."""


def simulate(
    case: Case,
    observers: Sequence[Observer],
    progress: Callable[[float], None] | None = None,
    keeper: Keeper | None = None,
    checkpoints: Checkpoints | None = None,
    *,
    meshes: Keeper | None = None,
    check: bool = False,
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
    meshes : Keeper, optional
        Keeps what triangulation gives; to triangulate takes a library that is slow to load.
    check : bool
        Compare the section in modal form with the full mesh after the run; see `section.spot_check`.

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
        return _simulate(case, observers, progress, keeper, checkpoints, meshes=meshes, check=check)


def _simulate(
    case: Case,
    observers: Sequence[Observer],
    progress: Callable[[float], None] | None,
    keeper: Keeper | None,
    checkpoints: Checkpoints | None,
    *,
    meshes: Keeper | None,
    check: bool,
) -> dict[str, Any]:
    began = time.perf_counter()
    prepared = plan(case, meshes)
    solver = prepared.solver(keeper)
    coupling = prepared.coupling(solver)
    steps = all_steps(prepared, coupling)
    chain = None
    if needs_chain(case):
        # Loaded late: it takes a tenth of a second, and most cases have none.
        from simulator.run.chain_run import chain_of_run

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
    if check and isinstance(solver, ReducedSection):
        periods = periods_of((prepared.end - prepared.begin) / TICKS_PER_SECOND)
        found = kept_spot_check(meshes, solver, periods)
        summary["spot_check_difference"] = found.difference
        summary["spot_check_allowed"] = prepared.tolerance
        summary["spot_check_hours"] = [period / 3600.0 for period in found.periods]
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
    teller = Teller(prepared, coupling, chain, steps, observers)
    state = first_state(prepared, coupling.solver)
    still = prepared.case.ground.run_in_drive == "off"
    called = time.perf_counter()
    run_in = int(np.searchsorted(steps.ends, 0, side="right")) if prepared.begin < 0 else 0
    most_steps, most_rows = (CHAIN_STEPS, 1) if chain is not None else block_size(coupling, state)
    columns, whole = teller.narrator.columns, teller.needs_whole_states
    rows = room_for_rows(
        most_rows, state.section, state.moving, columns, wide=coupling.wide, whole=whole
    )
    dues = np.searchsorted(steps.ends, prepared.geometry.series_ticks[1:])
    place = Place()
    parts: dict[str, Part] = {"place": place, "state": StatePart(state), "narrator": teller.narrator}
    if chain is not None:
        parts["chain"] = chain
    if stored is not None:
        hand_out(parts, stored)
        check_place(place, state.tick, prepared.begin, steps.ends, dues)
        teller.told = place.row + 1 if state.tick > 0 else 0
    first = place.step
    while first < steps.ends.size:
        if state.tick == 0:
            _open(state, coupling, steps, first)
            if chain is not None:
                chain.open_books()
            rows.note(0, state)
            teller.tell(rows, 1, first, state)
        last = min(first + most_steps, steps.ends.size if first >= run_in else run_in)
        begin, end = np.searchsorted(dues, (first, last))
        if end - begin > 0:
            # Blocks end where a row is due, so that the state at their ends is one that was told.
            end = min(end, begin + most_rows)
            last = int(dues[end - 1]) + 1
        rows.due = dues[begin:end] - first
        if chain is None or (first < run_in and still):
            coupling.march(state, steps.part(first, last), hold_room=first < run_in and still, rows=rows)
        else:
            chain.march(state, first, last)
            if end > begin:
                rows.note(0, state)
        if end > begin:
            teller.tell(rows, int(end - begin), first, state)
        first = last
        place.block, place.step, place.row = place.block + 1, first, max(teller.told - 1, 0)
        if checkpoints is not None and checkpoints.due():
            checkpoints.save(gather(parts))
        if progress is not None and time.perf_counter() - called > PROGRESS_EVERY:
            called = time.perf_counter()
            progress((state.tick - prepared.begin) / (prepared.end - prepared.begin))
    if progress is not None:
        progress(1.0)
    return state


def block_size(coupling: Coupling, state: RunState) -> tuple[int, int]:
    """Most steps that are marched at once, and most rows that are kept meanwhile.

    A block takes some tenths of a second, so that progress is told and a run can be broken off, and its rows
    fill no more than `ROW_BYTES`. A section without modes is slow and large: there every row ends a block.
    """
    if coupling.solver.modal is None:
        return MOST_STEPS, 1
    size = state.section.size
    steps = int(min(max(WORK_AT_ONCE / size, 16), MOST_STEPS))
    return steps, int(min(max(ROW_BYTES / (8 * size), 1), MOST_ROWS))


def all_steps(prepared: RunPlan, coupling: Coupling) -> Steps:
    """All steps of a run, its run-in included, with what drives them."""
    ends = prepared.step_ends
    begins = np.concatenate(([prepared.begin], ends[:-1]))
    if prepared.supply_series is None:
        supply = np.full((ends.size, 2), np.nan)
    else:
        supply = stage_values(prepared.supply_series, begins, ends)
    drives = np.column_stack((prepared.timetable.drives_from(begins), np.zeros(begins.size)))
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


class Teller:
    """Tells observers of the rows of a run.

    Parameters
    ----------
    prepared : RunPlan
    coupling : Coupling
    chain : ChainRun or None
    steps : Steps
        All steps of the run.
    observers : sequence of Observer

    Attributes
    ----------
    narrator : Narrator
    told : int
        Rows told so far.
    needs_whole_states : bool
        Whether rows must keep more of the section than a few sums.
    """

    def __init__(
        self,
        prepared: RunPlan,
        coupling: Coupling,
        chain: ChainRun | None,
        steps: Steps,
        observers: Sequence[Observer],
    ) -> None:
        self._chain = chain
        self.narrator = Narrator(prepared, coupling)
        self._observers = observers
        self._ticks = prepared.geometry.series_ticks
        self._outside = np.asarray(prepared.weather.temperature_at(self._ticks))
        # A map of the ground takes as long as many steps: it is made only where somebody looks at it.
        wanted = any(getattr(observer, "wants_maps", True) for observer in observers)
        self._fields = set(prepared.geometry.field_ticks.tolist()) if wanted else set()
        told = [
            getattr(observer, "wanted_series", None) if isinstance(observer, BlockObserver) else None
            for observer in observers
        ]
        self.needs_whole_states = (
            bool(self._fields)
            or coupling.wide
            or coupling.solver.modal is None
            or any(names is None or need_whole_states(names) for names in told)
        )
        self._fan_share = steps.drives[:, 0]
        self.told = 0

    def tell(self, kept: KeptRows, count: int, first: int, state: RunState) -> None:
        """Tell the first `count` of the states kept, the last of which is `state`.

        `first` is the step from which `kept.due` counts. With a heat chain rows are told one by one.
        """
        part = slice(self.told, self.told + count)
        ticks = self._ticks[part]
        steps = first + kept.due[:count] if self.told else np.array([first])
        with_field = [row for row, tick in enumerate(ticks.tolist()) if tick in self._fields]
        fan_share = self._fan_share[steps]
        more: dict[str, float | NDArray[np.float64]] = {}
        if self._chain is not None:
            fan_share = np.array([self._chain.fan_share(state.tick)])
            more = self._chain.values(state)
        rows = self.narrator.rows(kept, ticks, self._outside[part], fan_share, with_field, more)
        self.told += count
        moments = None
        for observer in self._observers:
            if isinstance(observer, BlockObserver):
                observer.record_rows(rows)
                continue
            moments = list(rows.moments()) if moments is None else moments
            for moment in moments:
                observer.record(moment)
