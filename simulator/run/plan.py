"""From a case to everything a run needs, and a short description of it for the user."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.air.flow import AirMover, air_mover
from simulator.air.flue import FlueRun, changes_of_burn, flue_run_of
from simulator.air.moisture import MoistAir, moist_air_of
from simulator.air.network import OperatingPoint, network_of, relative_roughness
from simulator.air.path import FLUE_GAS, JACKET_AIR, AirPath, Way, path_of, way_of
from simulator.case.timetable import TICKS_PER_SECOND, Timetable
from simulator.climate import supply, weather
from simulator.climate.series import Tabulated
from simulator.errors import SolverError
from simulator.house.room import Room, room_of
from simulator.physics.films import pipe_wall_resistance
from simulator.physics.internal_flow_kernels import film_coefficient
from simulator.run.chain_parts import jumps, needs_chain
from simulator.run.clock import graded_step_ends, row_ticks, step_ends
from simulator.run.coupling import GAMMA, Coupling
from simulator.run.geometry import geometry_of, station_edges
from simulator.run.ground_start import start_temperatures
from simulator.run.sizes import check_section, check_steps
from simulator.section.direct import DirectSection
from simulator.section.freezing import FreezingSection
from simulator.section.kept_reduction import kept_reduction
from simulator.section.layout import DuctPlaces, layout_from_case
from simulator.section.operators import SectionOperators, build_operators
from simulator.section.reduced import ReducedSection

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.climate.series import Series
    from simulator.climate.weather import Weather
    from simulator.run.observers import Geometry
    from simulator.section.keeper import Keeper
    from simulator.section.solver import SectionSolver

FULL_MESH_TOLERANCE = 1e-6
"""Error in any cell [K] under which all modes that count are taken to be there."""
STILL_AIR_FILM = 5.0
"""Film used for levelling round the pipe where the case never runs the fan [W/(m2.K)]."""
MIDDLING_AIR = 303.15
"""Air temperature at which the levelling film is taken [K]; it matters little."""


@dataclass(frozen=True, eq=False)
class RunPlan:
    """A case made ready to run.

    Attributes
    ----------
    case : Case
    operators : SectionOperators
    meshes : Keeper or None
        Keeps what triangulation gives.
    places : DuctPlaces
    path : AirPath
    mover : AirMover
    room : Room
    weather : Weather
    supply_series : Series or None
    timetable : Timetable
    begin, end : int [ticks]
        First tick of the run-in (0 without one) and last tick.
    step_ends : (n,) int [ticks]
    geometry : Geometry
    start_temperature : (N,) float [K]
    reference : float [K]
    moist : MoistAir
    flue : FlueRun
    """

    case: Case
    operators: SectionOperators
    meshes: Keeper | None
    places: DuctPlaces
    path: AirPath
    mover: AirMover
    room: Room
    weather: Weather
    supply_series: Series | None
    timetable: Timetable
    begin: int
    end: int
    step_ends: NDArray[np.int64]
    geometry: Geometry
    start_temperature: NDArray[np.float64]
    reference: float
    moist: MoistAir
    flue: FlueRun

    @property
    def tolerance(self) -> float:
        """Error allowed to a section in modal form [K]."""
        numerics = self.case.numerics
        return FULL_MESH_TOLERANCE if numerics.solver == "full" else numerics.tolerance

    def solver(self, keeper: Keeper | None = None) -> SectionSolver:
        """Build the section solver that the case asks for; take a reduction from `keeper` if it has it.

        Raises
        ------
        SolverError
            If a reduced model is asked for and cannot meet the case's tolerance.
        """
        choice = self.case.numerics.solver
        if self.case.ground.freezing:
            return FreezingSection(self.operators, self.reference)
        if choice == "direct":
            return DirectSection(self.operators)
        shortest = GAMMA * float(np.diff(self.step_ends, prepend=self.begin).min()) / TICKS_PER_SECOND
        longest = max((self.end - self.begin) / TICKS_PER_SECOND, 10.0 * shortest)
        full = choice == "full"
        try:
            reduction = kept_reduction(
                keeper,
                self.operators,
                (self.start_temperature - self.reference)[:, None],
                shortest=shortest,
                longest=longest,
                tolerance=self.tolerance,
                everywhere=full,
                threads=self.case.numerics.threads or os.cpu_count() or 1,
            )
        except SolverError:
            if choice == "reduced":
                raise
            return DirectSection(self.operators)
        return ReducedSection(self.operators, reduction, name="full mesh by its modes" if full else "reduced")

    def coupling(self, solver: SectionSolver) -> Coupling:
        """Put the parts of the run together."""
        case = self.case
        ducts, ground = case.ducts, case.ground
        outside = ducts.diameter / 2.0 + ducts.wall_thickness
        wall = pipe_wall_resistance(ducts.diameter, ducts.wall_thickness, ducts.wall_conductivity)
        pipe = ducts.contact_resistance / (2.0 * math.pi * outside) + float(wall) / (math.pi * ducts.diameter)
        nan = math.nan
        bottom = ground.bottom
        bottom_load = 0.0
        if bottom.kind == "temperature":
            bottom_load = bottom.temperature - self.reference
        elif bottom.kind == "heat flow":
            bottom_load = bottom.flux
        sides_load = ground.sides.temperature - self.reference if ground.sides.kind == "temperature" else 0.0
        return Coupling(
            solver=solver,
            path=self.path,
            mover=self.mover,
            room=self.room,
            reference=self.reference,
            station_length=self.geometry.station_dx,
            copies=self.operators.layout.copies,
            diameter=ducts.diameter,
            pipe_resistance=pipe,
            film_on=nan if ducts.film is None else ducts.film,
            film_off=nan if ducts.film_off is None else ducts.film_off,
            floor_film=case.floor.film,
            floor_area=case.floor.area,
            bottom_load=bottom_load,
            sides_load=sides_load,
            intake_is_room=case.fan.intake == "room",
            exit_is_room=case.fan.exit == "room",
            relative_roughness=relative_roughness(case),
            film_enhancement=ducts.film_enhancement,
            moist=self.moist,
            flue=self.flue,
        )


def levelling_film(case: Case, mover: AirMover, ducts: int) -> float:
    """Inside film at full flow [W/(m2.K)], with which the duct air evens out temperatures round the pipe."""
    if case.ducts.film is not None:
        return case.ducts.film
    if mover.curve is None:
        flow = mover.total_mass_flow(1.0, MIDDLING_AIR) / ducts
    else:
        flow = float(network_of(case, mover, MIDDLING_AIR).operating_point().branch_flow.mean())
    if not flow > 0.0:
        return STILL_AIR_FILM
    return float(film_coefficient(flow, MIDDLING_AIR, case.ducts.diameter, 0.0, case.duct_length))


def path_from_case(case: Case, places: DuctPlaces, edges: NDArray[np.float64]) -> AirPath:
    """Way of the air through the lanes of the section, the flue run's last."""
    ducts = case.ducts
    ends = np.asarray(edges)

    def at_edge(along: float) -> float:
        return float(ends[np.argmin(np.abs(ends - along))])

    ways = [
        way_of(
            branch, places.lane_at, bend_loss=ducts.bend_loss, end_losses=ducts.entry_loss + ducts.exit_loss
        )
        for branch in case.duct_branches
    ]
    if case.flue is not None and places.flue_lane is not None:
        run = (places.flue_lane, *case.flue.ends(case.floor.length))
        ways.append(Way("flue", (run,), (0.0,), case.flue.loss_coefficient, FLUE_GAS))
        if case.flue.jacket is not None:
            ways.append(Way("jacket", (run,), (0.0,), 0.0, JACKET_AIR))
    snapped = [
        replace(way, runs=tuple((lane, at_edge(begin), at_edge(end)) for lane, begin, end in way.runs))
        for way in ways
    ]
    return path_of(snapped, edges)


def operating_point(case: Case, share: float = 1.0) -> OperatingPoint:
    """Where fan and ducts meet with all air at the room's (or the outside's) temperature at the start.

    Parameters
    ----------
    case : Case
    share : float
        Of full speed.

    Raises
    ------
    CaseError
        If a file of weather cannot be used.
    """
    intake = case.room.temperature
    if case.fan.intake == "outside":
        intake = float(weather.from_case(case).temperature_at(0))
    return network_of(case, air_mover(case), intake).operating_point(share)


def grows(case: Case, driven: Sequence[Series], step: int) -> bool:
    """Whether the steps of a case grow while nothing switches.

    Not with a heat chain, water or gas in the ducts, whose steps follow more than switches; nor where what
    drives the case jumps by itself or has knots closer than a step.
    """
    if case.numerics.steps != "as needed" or needs_chain(case) or case.moisture or case.flue is not None:
        return False
    for series in driven:
        if isinstance(series, Tabulated) and (
            np.diff(series.knots).min() < step or np.any(series.left[1:] != series.right[:-1])
        ):
            return False
    return True


def all_step_ends(
    case: Case,
    table: Timetable,
    driven: Sequence[Series],
    begin: int,
    end: int,
    step: int,
    rows: NDArray[np.int64],
) -> NDArray[np.int64]:
    """List the ends of all steps of a run [ticks], its run-in from `begin` included.

    Parameters
    ----------
    driven : sequence of Series
        What drives the case beside its timetable.
    step : int [ticks]
        The usual step.
    rows : (T,) int [ticks]
    """
    longer = grows(case, driven, step)

    def ends_of(first: int, last: int, switches: list[int], stops: list[int]) -> NDArray[np.int64]:
        if not longer:
            return step_ends(first, last, step, switches, stops, refine=case.numerics.refine_after_switch)
        bends = [k for series in driven if isinstance(series, Tabulated) for k in series.knots.tolist()]
        return graded_step_ends(first, last, step, switches, stops + bends)

    switches = [*table.switches(), *jumps(case, table, 0, end)]
    ends = ends_of(0, end, switches, rows[rows > 0].tolist() + changes_of_burn(case, 0, end))
    if begin == 0:
        return ends
    switches = []
    if case.ground.run_in_drive == "timetable":
        switches = [*table.switches_between(begin, 0), *jumps(case, table, begin, 0)]
    return np.concatenate((ends_of(begin, 0, switches, []), ends))


def plan(case: Case, meshes: Keeper | None = None) -> RunPlan:
    """Make a case ready to run.

    Parameters
    ----------
    case : Case
    meshes : Keeper, optional
        Keeps what triangulation gives.

    Returns
    -------
    RunPlan

    Raises
    ------
    CaseError
        If a file that the case names cannot be used, or the ducts leave no ground round themselves.
    """
    check_steps(case)
    mover = air_mover(case)
    count = len(case.duct_branches)
    layout, places = layout_from_case(case, levelling_film(case, mover, count))
    check_section(case, layout)
    operators = build_operators(layout, meshes)
    end = round(case.site.duration * TICKS_PER_SECOND)
    begin = -round(case.ground.run_in * TICKS_PER_SECOND)
    step = max(1, round(case.numerics.step * TICKS_PER_SECOND))
    series = row_ticks(end, round(case.output.interval * TICKS_PER_SECOND), step)
    if case.output.fields > 0.0:
        spacing = int(series[1] - series[0]) if series.size > 1 else end
        fields = row_ticks(end, round(case.output.fields * TICKS_PER_SECOND), spacing)
    else:
        fields = np.array([end], dtype=np.int64)
    table = case.timetable_compiled
    air, supplied = weather.from_case(case), supply.supply_from_case(case)
    driven = [air.temperature, air.sun, *([] if supplied is None else [supplied])]
    ends = all_step_ends(case, table, driven, begin, end, step, series)
    start = start_temperatures(case, operators)
    edges = station_edges(case)
    volume = operators.capacity
    path = path_from_case(case, places, edges)
    return RunPlan(
        case=case,
        operators=operators,
        meshes=meshes,
        places=places,
        path=path,
        mover=mover,
        room=room_of(case),
        weather=air,
        supply_series=supplied,
        timetable=table,
        begin=begin,
        end=end,
        step_ends=ends,
        geometry=geometry_of(case, operators, places, path, series, fields),
        start_temperature=start,
        reference=float(volume @ start / volume.sum()),
        moist=moist_air_of(case),
        flue=flue_run_of(case, places.flue_lane),
    )
