"""One step of everything: sections, air, floor film and room advance together.

Time integration: the two-stage, second-order, L-stable diagonally implicit Runge-Kutta scheme with
gamma = 1 - 1/sqrt(2) (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006), stiffly accurate, so the second
stage is the new state. Every heat flow of a step is the weighted sum of its stage values, which makes the
ledger exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.air.flue import NO_FLUE, FlueRun
from simulator.air.moisture import NO_MOISTURE, MoistAir
from simulator.air.path import ROOM_AIR
from simulator.errors import SolverError
from simulator.run.dry_kernels import march_dry
from simulator.run.held_kernels import HeldRun, hold_run
from simulator.run.kept_rows import KeptRows, room_for_rows
from simulator.run.ledger import NAMES
from simulator.run.outcome_kernels import FINE, NOT_SETTLED
from simulator.run.row_kernels import keep_row
from simulator.run.stage_kernels import (
    GAS_ENTRY,
    GAS_FLOW,
    ROOM,
    ROOM_MEAN,
    WATER_TOTALS,
    Fixed,
    even_pressure,
    refresh_films,
    stage,
)
from simulator.run.step_tables_kernels import StepTables, empty_tables
from simulator.run.where import where_not_finite
from simulator.run.wide_kernels import between_stages, book_water, close_step, open_step, wide_stage
from simulator.run.wide_march_kernels import march_wide

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.air.flow import AirMover
    from simulator.air.path import AirPath
    from simulator.case.timetable import Drive
    from simulator.house.room import Room
    from simulator.run.state import RunState
    from simulator.section.solver import ModalForm, SectionSolver

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
LOOK_STEP = 300.0
"""Step [s] over which water that lies in a duct may dry, where the air is only looked at."""
STAGE_WEIGHTS = (1.0 - GAMMA, GAMMA)


@dataclass(frozen=True)
class StepWeather:
    """Outside temperature [K], sun [W/m2] and series supply temperature [K] at the two stages of a step.

    Also flow [kg/s] and entry temperature [K] of combustion gas.
    """

    outside: tuple[float, float]
    sun: tuple[float, float]
    supply: tuple[float, float]
    gas: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 300.0), (0.0, 300.0))


@dataclass(frozen=True, eq=False)
class Steps:
    """A row of n steps and what drives them.

    Attributes
    ----------
    ends : (n,) int [ticks]
    drives : (n, 4) float
        Fan share, mean heat power [W], supply temperature [K] of each step, rise of the heat power [W].
    outside [K], sun [W/m2], supply [K] : (n, 2) float
        Values at the two stages of each step.
    gas : (n, 2, 2) float
        Flow [kg/s] and entry temperature [K] of combustion gas at the two stages.
    around : (n, 5) float
        What surrounds the room: loss [W/K], gain [W], heat on the floor [W/m2], vapour given [kg/s] (NaN: its
        humidity is held), vapour lost [kg/s per humidity ratio].
    """

    ends: NDArray[np.int64]
    drives: NDArray[np.float64]
    outside: NDArray[np.float64]
    sun: NDArray[np.float64]
    supply: NDArray[np.float64]
    gas: NDArray[np.float64]
    around: NDArray[np.float64]

    def part(self, first: int, last: int) -> Steps:
        """Return steps `first` up to, not including, `last`."""
        cut = slice(first, last)
        return Steps(
            self.ends[cut],
            self.drives[cut],
            self.outside[cut],
            self.sun[cut],
            self.supply[cut],
            self.gas[cut],
            self.around[cut],
        )


@dataclass(frozen=True, eq=False)
class Coupling:
    """All parts of a run that do not change with time.

    Attributes
    ----------
    solver : SectionSolver
    path : AirPath
    mover : AirMover
    room : Room
    reference : float [K]
        All temperatures of the state are above this one.
    station_length : (S,) float [m]
    copies : int
        Sections in the whole floor's width.
    diameter : float [m]
    pipe_resistance : float [K.m/W]
        Pipe wall and contact gap, per metre of duct.
    film_on, film_off : float [W/(m2.K)]
        Pinned films; NaN for the correlations.
    floor_film : float [W/(m2.K)]
    floor_area : float [m2]
    bottom_load, sides_load : float
        Temperature [K above reference] or heat flow [W/m2] behind bottom and sides.
    intake_is_room, exit_is_room : bool
        Where duct air comes from and goes to; otherwise the outside.
    relative_roughness, film_enhancement : float
        Of the ducts' wall.
    moist : MoistAir
    flue : FlueRun
    """

    solver: SectionSolver
    path: AirPath
    mover: AirMover
    room: Room
    reference: float
    station_length: NDArray[np.float64]
    copies: int
    diameter: float
    pipe_resistance: float
    film_on: float
    film_off: float
    floor_film: float
    floor_area: float
    bottom_load: float
    sides_load: float
    intake_is_room: bool
    exit_is_room: bool
    relative_roughness: float = 0.0
    film_enhancement: float = 0.0
    moist: MoistAir = NO_MOISTURE
    flue: FlueRun = NO_FLUE

    @property
    def wide(self) -> bool:
        """Whether moisture or a flue run have to be followed."""
        return self.moist.there or self.flue.there

    @cached_property
    def even_split(self) -> bool:
        """Whether all air branches are alike and the flow is given: they then share it evenly."""
        air = self.path.branch_group == ROOM_AIR
        alike = all(np.ptp(values[air]) < 1e-9 for values in (self.path.branch_length, self.path.branch_loss))
        return alike and self.mover.curve is None

    def around(self, steps: int) -> NDArray[np.float64]:
        """(n, 5) what surrounds a room whose losses and gains never change; see `Steps.around`."""
        room, moist = self.room, self.moist
        loss = room.envelope_loss + room.infiltration_loss
        row = (loss, room.gains, 0.0, moist.vapour_gain, moist.infiltration_air)
        return np.tile(np.array(row, dtype=np.float64), (steps, 1))

    @cached_property
    def fixed(self) -> Fixed:
        """The same, as the kernels take it."""
        operators, path, mover, room = self.solver.operators, self.path, self.mover, self.room
        return Fixed(
            wall_resistance=operators.wall_resistance,
            station_length=self.station_length,
            port_total=operators.injection.sum(axis=0),
            branch_begin=path.branch_begin,
            segment_branch=path.segment_branch,
            segment_lane=path.segment_lane,
            segment_station=path.segment_station,
            begin=path.begin,
            end=path.end,
            branch_ducts=path.branch_ducts,
            copies=float(self.copies),
            diameter=self.diameter,
            pipe_resistance=self.pipe_resistance,
            film_on=self.film_on,
            film_off=self.film_off,
            floor_film=self.floor_film,
            floor_area=self.floor_area,
            bottom_load=self.bottom_load,
            sides_load=self.sides_load,
            intake_is_room=self.intake_is_room,
            exit_is_room=self.exit_is_room,
            room_fixed=room.fixed,
            room_heat_capacity=room.heat_capacity,
            infiltration_loss=room.infiltration_loss,
            sun_area=room.sun_area,
            sun_to_floor=room.sun_to_floor,
            reference=self.reference,
            volume_flow=mover.volume_flow,
            off_volume_flow=mover.off_volume_flow,
            mass_flow=mover.mass_flow,
            off_mass_flow=mover.off_mass_flow,
            fan_power=mover.power,
            density=mover.density,
            heat_capacity=mover.heat_capacity,
            pressure=mover.pressure,
            air_branches=int(np.count_nonzero(path.branch_group == ROOM_AIR)),
            branch_length=path.branch_length,
            branch_loss=path.branch_loss,
            relative_roughness=self.relative_roughness,
            film_enhancement=self.film_enhancement,
            even_split=self.even_split,
            has_curve=mover.curve is not None,
            curve_breaks=np.zeros(2) if mover.curve is None else mover.curve.breaks,
            curve_coefficients=np.zeros((1, 1)) if mover.curve is None else mover.curve.coefficients,
            curve_end_slope=0.0 if mover.curve is None else mover.curve.end_slope,
            curve_density=1.0 if mover.curve is None else mover.curve.density,
            free_delivery=float(mover.free_delivery),
            has_hump=mover.has_hump,
            series_resistance=float(mover.series_resistance),
            efficiency=float(mover.efficiency),
            **self.moist.fixed(),
            **self.flue.fixed(),
        )

    def march(
        self, state: RunState, steps: Steps, *, hold_room: bool = False, rows: KeptRows | None = None
    ) -> None:
        """Advance `state` through all `steps` in place and book them.

        Parameters
        ----------
        state : RunState
        steps : Steps
        hold_room : bool
            Keep the room at its present temperature (used in a run-in without heating).
        rows : KeptRows, optional
            Filled with what rows need of the state after each of the steps `rows.due`.

        Raises
        ------
        SolverError
            If a temperature is not finite or the lanes do not settle.
        """
        begins = np.concatenate(([state.tick], steps.ends[:-1]))
        lengths = (steps.ends - begins) / 1000.0
        outside = steps.outside - self.reference
        energies = np.zeros((lengths.size, len(NAMES)))
        stored = np.zeros((lengths.size, 2))
        modal = self.solver.modal
        arguments = (steps, lengths, outside, energies, stored, hold_room)
        if modal is None:
            self._march_cells(state, rows, *arguments)
        else:
            self._march_modes(state, rows, modal, *arguments)
        state.tick = int(steps.ends[-1])
        if rows is None:
            state.ledger.add(energies, stored)
        else:
            state.ledger.add(energies, stored, rows.due, rows.totals, rows.sums)

    def _march_modes(
        self,
        state: RunState,
        rows: KeptRows | None,
        modal: ModalForm,
        steps: Steps,
        lengths: NDArray[np.float64],
        outside: NDArray[np.float64],
        energies: NDArray[np.float64],
        stored: NDArray[np.float64],
        hold_room: bool,
    ) -> None:
        kept = self._no_rows(state) if rows is None else rows.handle()
        if self.wide:
            section = np.ascontiguousarray(state.section.T)
            code, step = march_wide(
                self.fixed, state.moving, kept, section, modal.rates, modal.injection, modal.reading,
                modal.capacity, GAMMA, lengths, steps.drives, outside, steps.sun, steps.supply, steps.around,
                steps.gas, hold_room, energies, stored,
            )  # fmt: skip
            section = np.ascontiguousarray(section.T)
        else:
            section = state.section.copy()
            code, step = march_dry(
                self._held(state, modal), kept, section, GAMMA, lengths, steps.drives, outside, steps.sun,
                steps.supply, steps.around, hold_room, energies, stored,
            )  # fmt: skip
        if code != FINE:
            _fail(settled=code != NOT_SETTLED, tick=int(steps.ends[step]), state=state, section=section)
        state.section = section

    @cached_property
    def _tables(self) -> StepTables:
        """Tables of the step lengths met so far."""
        return empty_tables(self.solver.size, self.fixed.wall_resistance.size)

    def _held(self, state: RunState, modal: ModalForm) -> HeldRun:
        """Handle on all that a march needs of `state.moving`, made once for many marches."""
        known: tuple[Any, HeldRun] | None = self.__dict__.get("_handle")
        if known is None or known[0] is not state.moving:
            handle = hold_run(
                self.fixed, state.moving, self._tables, modal.rates, modal.injection, modal.reading,
                modal.capacity,
            )  # fmt: skip
            known = (state.moving, handle)
            self.__dict__["_handle"] = known
        return known[1]

    def _no_rows(self, state: RunState) -> Any:
        handle = self.__dict__.get("_without_rows")
        if handle is None:
            handle = room_for_rows(0, state.section, state.moving, wide=self.wide).handle()
            self.__dict__["_without_rows"] = handle
        return handle

    def _march_cells(
        self,
        state: RunState,
        rows: KeptRows | None,
        steps: Steps,
        lengths: NDArray[np.float64],
        outside: NDArray[np.float64],
        energies: NDArray[np.float64],
        stored: NDArray[np.float64],
        hold_room: bool,
    ) -> None:
        due = {} if rows is None else {int(step): row for row, step in enumerate(rows.due)}
        share = (1.0 - GAMMA) / GAMMA
        loads = np.empty((state.section.shape[0], self.fixed.port_total.size))
        rates = np.zeros(len(NAMES))
        water_rates = np.zeros(WATER_TOTALS)
        for step, length in enumerate(lengths):
            open_step(self.fixed, state.moving, length)
            tau = GAMMA * length
            prepared = self.solver.stage(tau)
            old_section, old_room = state.section, state.room
            section, room, mean = old_section, old_room, 0.0
            refresh_films(self.fixed, state.moving, steps.drives[step, 0], outside[step, 0])
            for number in (0, 1):
                if number == 1:
                    section = old_section + share * (section - old_section)
                    room = old_room + share * (state.room - old_room)
                    between_stages(self.fixed, state.moving, share)
                drive = steps.drives[step]
                heat = drive[1] + drive[3] * (0.5 if number else GAMMA - 0.5)
                response = self.solver.respond(prepared, section)
                sweeps = self._stage(
                    state, steps.gas[step, number], response, prepared.influence, tau, room, hold_room,
                    drive[0], heat, drive[2], outside[step, number], steps.sun[step, number],
                    steps.supply[step, number], steps.around[step], loads, rates, water_rates,
                )  # fmt: skip
                if sweeps < 0:
                    _fail(settled=False, tick=int(steps.ends[step]), state=state, section=section)
                section = self.solver.advance(prepared, section, loads)
                mean += STAGE_WEIGHTS[number] * state.room
                energies[step] += STAGE_WEIGHTS[number] * length * rates
                book_water(self.fixed, state.moving, STAGE_WEIGHTS[number] * length, water_rates)
            close_step(self.fixed, state.moving)
            section = self.solver.settle(section)
            state.moving.scalars[ROOM_MEAN] = mean
            stored[step, 0] = self.copies * float(
                self.solver.stored(section - old_section) @ self.station_length
            )
            if not (self.room.fixed or hold_room):
                stored[step, 1] = self.room.heat_capacity * (state.room - old_room)
            if not (math.isfinite(state.room) and math.isfinite(stored[step, 0])):
                _fail(settled=True, tick=int(steps.ends[step]), state=state, section=section)
            state.section = section
            if rows is not None and step in due:
                even_pressure(self.fixed, state.moving)
                rows.section[due[step]] = section
                keep_row(rows.moving, due[step], state.moving)
        even_pressure(self.fixed, state.moving)

    def _stage(
        self,
        state: RunState,
        gas: NDArray[np.float64],
        *arguments: Any,
    ) -> int:
        """One stage, by the kernel that the case needs; the last argument is for water."""
        if not self.wide:
            return int(stage(self.fixed, state.moving, *arguments[:-1]))
        state.moving.scalars[GAS_FLOW], state.moving.scalars[GAS_ENTRY] = gas
        return int(wide_stage(self.fixed, state.moving, *arguments))

    def advance(
        self, state: RunState, end: int, drive: Drive, weather: StepWeather, *, hold_room: bool = False
    ) -> None:
        """Advance `state` by one step to tick `end` in place; see `march`."""
        self.march(state, self._single(end, drive, weather), hold_room=hold_room)

    def _single(self, end: int, drive: Drive, weather: StepWeather) -> Steps:
        values = (weather.outside, weather.sun, weather.supply, weather.gas)
        outside, sun, supply, gas = (np.array([value], dtype=np.float64) for value in values)
        row = (drive.fan_share, drive.heat_power, drive.supply_temperature, 0.0)
        settings = np.array([row], dtype=np.float64)
        return Steps(np.array([end]), settings, outside, sun, supply, gas, self.around(1))

    def look(self, state: RunState, drive: Drive, weather: StepWeather) -> None:
        """Fill the air and wall temperatures of `state` for its own instant, without advancing it."""
        tau = 1e-3
        one = self._single(state.tick, drive, weather)
        prepared = self.solver.stage(tau)
        outside = one.outside - self.reference
        loads = np.empty((state.section.shape[0], self.fixed.port_total.size))
        room = state.room
        setting = one.drives[0]
        refresh_films(self.fixed, state.moving, setting[0], outside[0, 0])
        open_step(self.fixed, state.moving, LOOK_STEP)
        self._stage(
            state, one.gas[0, 0], self.solver.respond(prepared, state.section), prepared.influence, tau,
            room, True, setting[0], setting[1], setting[2], outside[0, 0], one.sun[0, 0], one.supply[0, 0],
            one.around[0], loads, np.zeros(len(NAMES)), np.zeros(WATER_TOTALS),
        )  # fmt: skip
        even_pressure(self.fixed, state.moving)
        state.moving.scalars[ROOM] = room


def _fail(*, settled: bool, tick: int, state: RunState, section: NDArray[np.float64]) -> None:
    hours = tick / 3.6e6
    where = where_not_finite(section, state.moving)
    # Numbers that are none do not settle either.
    if settled or where:
        problem = f"a temperature is not finite{where}, {hours:.3f} h after the start"
        raise SolverError(problem, fix="look for extreme values in the case; if there are none, report this")
    problem = f"the ducts' mutual heating did not settle {hours:.3f} h after the start"
    raise SolverError(problem, fix="give the ducts more spacing, or shorten numerics.step")
