"""One step of everything: sections, air, floor film and room advance together.

Time integration: the two-stage, second-order, L-stable diagonally implicit Runge-Kutta scheme with
gamma = 1 - 1/sqrt(2) (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006), stiffly accurate, so the second stage
is the new state. Every heat flow of a step is the weighted sum of its stage values, which makes the ledger exact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.air.march_kernels import air_to_wall
from simulator.errors import SolverError
from simulator.plant.heater import supply_for
from simulator.run.coupling_kernels import solve_stage
from simulator.run.ledger import INDEX, NAMES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.air.flow import AirMover
    from simulator.air.path import AirPath
    from simulator.case.timetable import Drive
    from simulator.house.room import Room
    from simulator.run.state import RunState
    from simulator.section.solver import SectionSolver, Stage

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
STAGE_TIMES = (GAMMA, 1.0)
STAGE_WEIGHTS = (1.0 - GAMMA, GAMMA)


@dataclass(frozen=True)
class StepWeather:
    """Outside temperature [K], sun [W/m2] and series supply temperature [K] at the two stages of a step."""

    outside: tuple[float, float]
    sun: tuple[float, float]
    supply: tuple[float, float]


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

    def advance(
        self, state: RunState, end: int, drive: Drive, weather: StepWeather, *, hold_room: bool = False
    ) -> None:
        """Advance `state` to tick `end` in place.

        Parameters
        ----------
        state : RunState
        end : int [ticks]
        drive : Drive
            Settings during the step.
        weather : StepWeather
        hold_room : bool
            Keep the room at its present temperature (used in a run-in without heating).

        Raises
        ------
        SolverError
            If a temperature is not finite or the lanes do not settle.
        """
        length = (end - state.tick) / 1000.0
        tau = GAMMA * length
        stage = self.solver.stage(tau)
        old_section, old_room = state.section, state.room
        energies = np.zeros(len(NAMES))
        section, room = old_section, old_room
        for number in (0, 1):
            if number == 1:
                share = (1.0 - GAMMA) / GAMMA
                section = old_section + share * (section - old_section)
                room = old_room + share * (room - old_room)
            section, room, rates = self._stage(
                state, stage, tau, section, room, drive, weather, number, hold_room=hold_room
            )
            energies += STAGE_WEIGHTS[number] * length * rates
        change = self.solver.stored(section - old_section)
        ground = self.copies * float(change @ self.station_length)
        stored_room = 0.0 if self.room.fixed or hold_room else self.room.heat_capacity * (room - old_room)
        if not (math.isfinite(room) and math.isfinite(ground)):
            problem = f"a temperature is not finite {state.tick / 3.6e6:.3f} h after the start"
            raise SolverError(problem, fix="look for extreme values in the case; if there are none, report this")
        state.section, state.room, state.tick = section, room, end
        state.ledger.add(energies, ground, stored_room)

    def look(self, state: RunState, drive: Drive, weather: StepWeather) -> None:
        """Fill the air and wall temperatures of `state` for its own instant, without advancing it."""
        tau = 1e-3
        self._stage(state, self.solver.stage(tau), tau, state.section, state.room, drive, weather, 0)

    def _stage(
        self,
        state: RunState,
        stage: Stage,
        tau: float,
        section: NDArray[np.float64],
        room_before: float,
        drive: Drive,
        weather: StepWeather,
        number: int,
        *,
        hold_room: bool = False,
    ) -> tuple[NDArray[np.float64], float, NDArray[np.float64]]:
        solver, room, operators = self.solver, self.room, self.solver.operators
        outside = weather.outside[number] - self.reference
        sun = weather.sun[number] * room.sun_area
        sun_on_floor = sun * room.sun_to_floor
        lift = sun_on_floor / (self.floor_film * self.floor_area) if sun_on_floor > 0.0 else 0.0
        intake_is_room, exit_is_room = self.intake_is_room, self.exit_is_room
        supply = supply_for(drive, weather.supply[number])
        fan_power = self.mover.fan_power(drive.fan_share)
        intake_lagged = (state.room if intake_is_room else outside) + self.reference
        flow = self.mover.total_mass_flow(drive.fan_share, intake_lagged)
        heat_capacity = self.mover.air_heat_capacity(state.supply + self.reference)
        ducts = float(self.path.branch_ducts.sum())
        branches = self.path.branch_ducts.size
        branch_flow = np.full(branches, flow / ducts)
        moving = flow > 0.0
        conductance = np.empty_like(state.wall)
        air_to_wall(
            0.5 * (state.air_in + state.air_out) + self.reference, branch_flow, self.path.begin, self.path.end,
            self.path.segment_branch, self.path.segment_lane, self.path.segment_station, self.diameter,
            self.pipe_resistance, self.film_on if drive.fan_share > 0.0 else self.film_off, conductance, state.film,
        )  # fmt: skip
        total_capacity_flow = flow * heat_capacity
        supply_fixed = supply.fixed_temperature == supply.fixed_temperature
        if supply_fixed:
            supply_value = supply.fixed_temperature - self.reference
        else:
            supply_value = (supply.power + fan_power) / total_capacity_flow if moving else 0.0
        known = np.zeros(operators.injection.shape[1])
        known[operators.port("outside")] = outside
        known[operators.port("bottom")] = self.bottom_load
        known[operators.port("sides")] = self.sides_load
        floor_port = operators.port("floor")
        # All sun counts as a gain: the floor's share reaches the slab through the floor's own intake.
        room_gain = room.gains + sun + supply.power_to_room
        held = room.fixed or hold_room
        loads = np.empty((section.shape[0], known.size))
        response = solver.respond(stage, section)
        influence = stage.influence
        new_room, supply_air, floor_intake, mixed, sweeps = solve_stage(
            response, influence, known, operators.wall_resistance, self.station_length, conductance,
            self.path.branch_begin, self.path.segment_lane, self.path.segment_station,
            branch_flow * heat_capacity, self.path.branch_ducts, floor_port,
            float(operators.conductance[floor_port]), lift, float(self.copies), supply_fixed, supply_value,
            intake_is_room, exit_is_room, outside, held, room_before,
            0.0 if held else room.heat_capacity / tau, room.envelope_loss + room.infiltration_loss, room_gain,
            loads, state.wall, state.air_in, state.air_out, state.branch_exit,
        )  # fmt: skip
        if sweeps < 0:
            problem = f"the ducts' mutual heating did not settle {state.tick / 3.6e6:.3f} h after the start"
            raise SolverError(problem, fix="give the ducts more spacing, or shorten numerics.step")
        new_section = solver.advance(stage, section, loads)
        state.supply, state.exit = supply_air, mixed
        state.mass_flow, state.floor_lift = flow, lift
        # What each surface port took in: conductance * load - reading, over the whole floor.
        reading = response + loads @ influence.T
        taken = loads * operators.injection.sum(axis=0) - reading
        port_heat = self.copies * (self.station_length @ taken)
        intake = new_room if intake_is_room else outside
        rates = np.zeros(len(NAMES))
        rates[INDEX["fan"]] = fan_power if moving else 0.0
        to_air = total_capacity_flow * (supply_air - intake)
        rates[INDEX["heater"]] = (to_air - rates[INDEX["fan"]] if moving else 0.0) + supply.power_to_room
        rates[INDEX["duct"]] = total_capacity_flow * (supply_air - mixed)
        rates[INDEX["floor"]] = sun_on_floor - floor_intake
        exchange = 0.0
        if exit_is_room:
            rates[INDEX["return"]] = total_capacity_flow * (mixed - new_room)
            exchange = rates[INDEX["return"]]
            if not intake_is_room:
                rates[INDEX["exhaust"]] = total_capacity_flow * (new_room - outside)
        else:
            rates[INDEX["exhaust"]] = total_capacity_flow * (mixed - outside)
            if intake_is_room:
                exchange = total_capacity_flow * (outside - new_room)
        rates[INDEX["sun"]] = sun
        rates[INDEX["other_gain"]] = room.gains
        if held:
            # Whatever holds the room at its temperature takes the rest away.
            rates[INDEX["envelope"]] = room_gain - floor_intake + exchange
        else:
            rates[INDEX["envelope"]] = room.envelope_loss * (new_room - outside)
            rates[INDEX["infiltration"]] = room.infiltration_loss * (new_room - outside)
        rates[INDEX["outside_ground"]] = -port_heat[operators.port("outside")]
        rates[INDEX["bottom"]] = port_heat[operators.port("bottom")]
        rates[INDEX["sides"]] = port_heat[operators.port("sides")]
        return new_section, new_room, rates
