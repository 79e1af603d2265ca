"""The heat chain: stove, hood, coils, tank and house round the ground, air and room that `coupling` marches.

Within a step the parts are solved one after another and repeated until they agree on the means of the step:
stove and water take the room's air and give heat to the stream and to the room, the house gives the room's
loss and gain as a straight line over its temperature, and the implicit step of ground, ducts and room answers
with new means. Whatever one part gives, the next takes, so the account closes however well they agree.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.errors import SolverError
from simulator.house import house as housing
from simulator.house import house_kernels as indoors
from simulator.house.house import House, HouseDrives
from simulator.house.house_kernels import close_house, open_house
from simulator.physics.air_kernels import heat_capacity, within_fit
from simulator.plant import chain as burning
from simulator.plant import layout_kernels as fireside
from simulator.plant.chain import Plant
from simulator.plant.chain_kernels import FAILED, advance_plant
from simulator.plant.fire import SHAPES
from simulator.plant.fire_kernels import line_of_loads
from simulator.run.chain_guess import Relaxed
from simulator.run.coupling import Steps
from simulator.run.ledger import INDEX
from simulator.run.stage_kernels import (
    AROUND_VAPOUR_GAIN,
    AROUND_VAPOUR_LOSS,
    FLOOR_GAIN,
    INTAKE_AHEAD,
    ROOM_GAIN,
    ROOM_LOSS,
    ROOM_MEAN,
    ROOM_RATIO,
    VAPOUR_LEAKED,
)
from simulator.run.switching import SWITCHES, Rules

if TYPE_CHECKING:

    from numpy.typing import NDArray

    from simulator.case.timetable import Timetable
    from simulator.run.coupling import Coupling
    from simulator.run.state import RunState

from simulator.run.chain_state import ChainState, Mishap, Settings
from simulator.run.chain_weather import Line

MOST_PASSES = 30
HOTTEST_SHELL = 2500.0
"""No fire of wood makes a shell this hot [K]; a run that gets there is told so and stopped."""
AGREED = 2e-3
"""Doubt about the step's room and floor temperatures [K] at which the parts agree."""
AGREED_FLOW = 1e-4
"""Change of the air flow between two passes over the flow."""


@dataclass(frozen=True)
class _Heat:
    """Heat to the air stream over a step [W]: its mean and its rise from begin to end."""

    mean: float
    rise: float


class _Work:
    """Length [s] and arrays of one step."""

    def __init__(self, chain: Chain) -> None:
        self.length = 0.0
        self.drawn = 0.0
        self.house_guess = 0.0
        self.plant_inputs = np.zeros(fireside.INPUTS)
        if chain.plant is not None:
            self.plant_new = np.zeros(chain.plant.state_size)
            self.plant_flows = np.zeros(chain.plant.flow_size)
            self.plant_temperatures = np.zeros(chain.plant.temperature_size)
        self.house_out = np.zeros(indoors.OUT)
        if chain.house is not None:
            self.house_inputs = np.zeros(indoors.HEAD + 2 * chain.house.fixed.area.size)
            self.house_work = np.zeros(indoors.work_size(chain.house.fixed))


@dataclass(frozen=True, eq=False)
class Chain:
    """The parts of the chain that a run does not change.

    Attributes
    ----------
    coupling : Coupling
    timetable : Timetable
    plant : Plant or None
    loads : tuple of (tick, kg)
        Of fuel, all that burn in the run.
    house : House or None
    drives : HouseDrives or None
        Of the house, a row for each step of the clock.
    mishaps : tuple of Mishap
    """

    coupling: Coupling
    timetable: Timetable
    plant: Plant | None
    loads: tuple[tuple[int, float], ...]
    house: House | None
    drives: HouseDrives | None
    mishaps: tuple[Mishap, ...]
    rules: Rules

    def start(self, room: float, floor: float) -> ChainState:
        """State at the first tick; `room` and `floor` [K]."""
        surfaces = 0
        plant, plant_now, flows, held = np.zeros(0), np.zeros(0), 0, np.zeros(0)
        if self.plant is not None:
            plant, flows = burning.start(self.plant), self.plant.flow_size
            plant_now = np.full(self.plant.temperature_size, room)
            plant_now[self.plant.places.tank] = plant[self.plant.places.layers]
        if self.house is not None:
            held = housing.start(self.house)
            surfaces = self.house.fixed.area.size
        house_now = np.full(1 + 2 * surfaces + held.size, room)
        house_now[1 + 2 * surfaces :] = held
        return ChainState(
            plant=plant,
            masses=held,
            plant_totals=np.zeros(flows),
            house_totals=np.zeros(indoors.FLOWS),
            plant_now=plant_now,
            house_now=house_now,
            gas_now=np.zeros(2),
            rules=self.rules,
            floor=floor,
            sky=room if self.drives is None else float(self.drives.inputs[0, indoors.SKY]),
        )

    def settings(self, tick: int, rules: Rules) -> Settings:
        """Find how everything is switched from `tick` on."""
        drive = self.timetable.values_from(tick)
        meant = {"fan": drive.fan_share, "feed": drive.feed, "pump": drive.pump, "cover": drive.cover}
        values = rules.override(meant)
        overfeed = 1.0
        for mishap in self.mishaps:
            if not mishap.begin <= tick < mishap.end:
                continue
            if mishap.kind in {"fan stops", "power cut"}:
                values["fan"] = 0.0
            if mishap.kind in {"pump stops", "power cut"}:
                values["pump"] = 0.0
            if mishap.kind == "power cut":
                # A steady feed is driven by a motor.
                values["feed"] = 0.0
            if mishap.kind == "cover left off":
                values["cover"] = 0.0
            if mishap.kind == "fire over-fed":
                overfeed *= mishap.size
            if mishap.kind == "filter clogged":
                values["fan"] *= 1.0 - mishap.size
        fan, feed, pump, cover = (values[name] for name in SWITCHES)
        return Settings(fan, feed, pump, cover, overfeed, drive)

    def step(
        self, state: RunState, chain: ChainState, line: Line, end: int, settings: Settings, step: Steps
    ) -> None:
        """Advance ground, air, room and chain to tick `end` in place, inside the step that `line` describes.

        Parameters
        ----------
        state : RunState
        chain : ChainState
        line : Line
        end : int [ticks]
        settings : Settings
        step : Steps
            The whole step of the clock, for the gas of a flue run that is not the stove's.

        Raises
        ------
        SolverError
            If a temperature is not finite.
        """
        coupling = self.coupling
        begin, reference = state.tick, coupling.reference
        length = (end - begin) / TICKS_PER_SECOND
        mean, stages = line.stages(begin, end)
        outside = float(mean[0]) + reference
        outside_rise = 2.0 * (float(stages[0, 1]) + reference - outside)
        saved = state.saved()
        room_before = state.room + reference
        floor_before = state.ledger.totals[INDEX["floor"]]
        leaked_before = state.moving.water_totals[VAPOUR_LEAKED]
        fan_before = state.ledger.totals[INDEX["fan"]]
        goes_on = chain.settings is not None and settings.same_flow == chain.settings.same_flow
        guess = chain.course.guess(
            begin, end, room_before, chain.floor, float(state.moving.scalars[ROOM_RATIO]), goes_on=goes_on
        )
        flow, fan_power = self._stream(state, chain, settings, room_before)
        work = self._work
        work.length = length
        if self.house is not None and self.drives is not None:
            work.house_inputs[:] = self.drives.inputs[line.number]
            chain.sky = float(work.house_inputs[indoors.SKY])
            work.house_inputs[indoors.LENGTH] = length
            work.house_inputs[indoors.OUTSIDE] = outside
            work.house_inputs[indoors.COVER] = settings.cover
        self._light(work, settings, begin, end)
        relaxed = Relaxed(guess)
        agreed, damp = False, self.house is not None and coupling.moist.there
        for number in range(MOST_PASSES):
            room, rise, floor, ratio = guess
            around = self._bare.copy()
            intake = (room, rise) if coupling.intake_is_room else (outside, outside_rise)
            if settings.fan > 0.0 and coupling.mover.curve is None:
                at_fan = room if coupling.intake_is_room else float(stages[0, 0]) + reference
                flow = coupling.mover.total_mass_flow(settings.fan, at_fan)
            heat, gas = self._fireside(
                work, chain, settings, end, intake, (room, rise), flow, fan_power, around
            )
            self._indoors(work, chain, room, floor, ratio, around)
            if number:
                state.restore(saved)
            state.moving.scalars[INTAKE_AHEAD] = room - room_before
            coupling.march(state, self._steps(end, settings, stages, heat, gas, step, line, around))
            totals = state.ledger.totals
            new_room = float(state.moving.scalars[ROOM_MEAN]) + reference
            new_rise = state.room + reference - room_before
            new_floor = new_room
            if coupling.floor_film > 0.0:
                upward = (totals[INDEX["floor"]] - floor_before) / length
                new_floor += upward / (coupling.floor_film * coupling.floor_area)
            new_flow = state.mass_flow if settings.fan > 0.0 else 0.0
            new_ratio = ratio
            loss = around[0, AROUND_VAPOUR_LOSS]
            if damp and loss > 0.0:
                leaked = state.moving.water_totals[VAPOUR_LEAKED] - leaked_before
                new_ratio = work.house_inputs[indoors.OUTSIDE_RATIO] + leaked / (loss * length)
            new_power = (totals[INDEX["fan"]] - fan_before) / length
            found = (new_room, new_rise, new_floor, new_ratio)
            doubt = relaxed.doubt(found) if self.plant is not None or self.house is not None else 0.0
            agreed = (
                doubt < AGREED
                and abs(new_flow - flow) <= AGREED_FLOW * flow
                and abs(new_power - fan_power) <= 1e-3 * (1.0 + new_power)
            )
            if agreed or not math.isfinite(doubt):
                break
            guess = relaxed.next(found)
            flow, fan_power = new_flow, new_power
        if not math.isfinite(new_room):
            hours = end / 3.6e6
            problem = f"a temperature is not finite {hours:.3f} h after the start"
            raise SolverError(problem, fix="look for extreme values in stove, water and house")
        state.moving.scalars[INTAKE_AHEAD] = 0.0
        self._close(work, chain, outside, new_room, new_ratio, length)
        chain.course = chain.course.followed(begin, end, room_before, found, goes_on=goes_on)
        chain.floor, chain.fan_power, chain.settings = new_floor, new_power, settings
        chain.unsettled += not agreed

    @cached_property
    def _work(self) -> _Work:
        """Arrays that every step uses anew."""
        return _Work(self)

    @cached_property
    def _bare(self) -> NDArray[np.float64]:
        """(1, 5) what surrounds the room apart from the chain."""
        return self.coupling.around(1)

    @cached_property
    def _fuel(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Ticks and masses of all loads."""
        ticks = np.array([tick for tick, _ in self.loads], dtype=np.int64)
        return ticks, np.array([mass for _, mass in self.loads], dtype=np.float64)

    @cached_property
    def _flow_by_volume(self) -> bool:
        mover = self.coupling.mover
        return math.isnan(mover.mass_flow) and math.isnan(mover.density)

    def _stream(
        self, state: RunState, chain: ChainState, settings: Settings, room: float
    ) -> tuple[float, float]:
        """Guess air flow [kg/s] and fan power [W] of a step, `room` [K] at its begin."""
        mover = self.coupling.mover
        if settings.fan <= 0.0:
            return 0.0, 0.0
        flow, power = state.mass_flow, chain.fan_power
        same = chain.settings is not None and settings.fan == chain.settings.fan
        if not same or flow <= 0.0:
            flow = mover.total_mass_flow(settings.fan, room)
        if math.isnan(mover.efficiency):
            power = mover.fan_power(settings.fan)
        return flow, power

    def _light(self, work: _Work, settings: Settings, begin: int, end: int) -> None:
        """Fill what the plant is told of a step and no pass changes."""
        inputs = work.plant_inputs
        inputs[fireside.LENGTH] = work.length
        inputs[fireside.FEED] = settings.feed
        inputs[fireside.OVERFEED] = settings.overfeed
        inputs[fireside.PUMP] = settings.pump
        inputs[fireside.PRESSURE] = self.coupling.mover.pressure
        inputs[fireside.AIR_CAPACITY] = self.coupling.mover.heat_capacity
        if self.plant is not None and self.loads:
            shape = SHAPES.index(self.plant.burn_shape)
            inputs[fireside.BATCH_RATE], inputs[fireside.BATCH_RISE] = line_of_loads(
                shape, self.plant.burn_time, *self._fuel, begin, end
            )

    def _fireside(
        self,
        work: _Work,
        chain: ChainState,
        settings: Settings,
        end: int,
        intake: tuple[float, float],
        room: tuple[float, float],
        flow: float,
        fan_power: float,
        around: NDArray[np.float64],
    ) -> tuple[_Heat, tuple[float, float]]:
        """Take stove and water over the step; adds to `around`, returns heat to the stream and the gas.

        `intake` and `room`: mean and rise [K].
        """
        if self.plant is None:
            return _Heat(settings.drive.heat_power, 0.0), (0.0, 300.0)
        length = work.length
        inputs = work.plant_inputs
        inputs[fireside.INTAKE], inputs[fireside.INTAKE_RISE] = intake
        inputs[fireside.ROOM], inputs[fireside.ROOM_RISE] = room
        inputs[fireside.AIR_FLOW] = flow
        # A given volume flow is lighter where it is warmer; a fan at its curve nearly so.
        inputs[fireside.FLOW_RISE] = -flow * intake[1] / intake[0] if self._flow_by_volume else 0.0
        inputs[fireside.FAN_POWER] = fan_power
        code = advance_plant(
            self.plant.fixed, chain.plant, inputs, work.plant_new, work.plant_flows, work.plant_temperatures
        )
        if code == FAILED:
            hours = end / 3.6e6
            problem = f"stove and water did not settle {hours:.3f} h after the start"
            raise SolverError(problem, fix="shorten numerics.step, or look for extreme values in the stove")
        if not work.plant_new[fireside.SHELL] < HOTTEST_SHELL:
            hours = end / 3.6e6
            problem = f"the stove's shell grows hotter than any fire {hours:.3f} h after the start"
            raise SolverError(problem, fix="give the stove more surface or burn less: heat has no way out")
        flows = work.plant_flows
        to_room = flows[fireside.STOVE_TO_ROOM] + flows[fireside.HOOD_TO_ROOM] + flows[fireside.TANK_LOSS]
        around[0, ROOM_GAIN] += to_room / length
        # Outside air takes the place of what the fire draws from the room.
        drawn = flows[fireside.AIR_DRAWN] / length * heat_capacity(within_fit(room[0]))
        around[0, ROOM_LOSS] += drawn
        work.drawn = drawn
        gas = burning.gas_of(flows, work.plant_temperatures, length)
        mean = float(flows[fireside.AIR_NET] / length)
        # The line through the step that has its mean and what the air takes up at its end.
        warmed = float(work.plant_temperatures[fireside.AFTER_COILS]) - intake[0] - 0.5 * intake[1]
        at_end = flow * self.coupling.mover.air_heat_capacity(intake[0]) * warmed
        if self.plant.fixed.fan_before_coils:
            at_end -= fan_power
        return _Heat(mean, 2.0 * (at_end - mean) if flow > 0.0 else 0.0), gas

    def _indoors(
        self,
        work: _Work,
        chain: ChainState,
        room: float,
        floor: float,
        ratio: float,
        around: NDArray[np.float64],
    ) -> None:
        """Take the house over the step; adds to `around`."""
        if self.house is None:
            return
        out = work.house_out
        open_house(
            self.house.fixed, chain.masses, work.house_inputs, room, floor, ratio, work.house_work, out
        )
        around[0, ROOM_LOSS] += out[indoors.LOSS]
        around[0, ROOM_GAIN] += out[indoors.GAIN]
        around[0, FLOOR_GAIN] += out[indoors.FLOOR_GAIN]
        if self.coupling.moist.there and not math.isnan(around[0, AROUND_VAPOUR_GAIN]):
            around[0, AROUND_VAPOUR_GAIN] += out[indoors.VAPOUR_GAIN]
            around[0, AROUND_VAPOUR_LOSS] = out[indoors.VAPOUR_LOSS]
        work.house_guess = floor

    def _steps(
        self,
        end: int,
        settings: Settings,
        stages: NDArray[np.float64],
        heat: _Heat,
        gas: tuple[float, float],
        step: Steps,
        line: Line,
        around: NDArray[np.float64],
    ) -> Steps:
        drive = settings.drive
        supply = math.nan if self.plant is not None else drive.supply_temperature
        gases = step.gas[line.number : line.number + 1]
        if self.plant is not None:
            gases = np.array([[gas, gas]], dtype=np.float64)
        return Steps(
            ends=np.array([end], dtype=np.int64),
            drives=np.array([[settings.fan, heat.mean, supply, heat.rise]], dtype=np.float64),
            outside=stages[0:1] + self.coupling.reference,
            sun=stages[1:2],
            supply=stages[2:3],
            gas=gases,
            around=around,
        )

    def _close(
        self,
        work: _Work,
        chain: ChainState,
        outside: float,
        room: float,
        ratio: float,
        length: float,
    ) -> None:
        """Book stove, water and house at the room's final mean."""
        if self.plant is not None:
            chain.plant, work.plant_new = work.plant_new, chain.plant
            chain.plant_totals += work.plant_flows
            flows = work.plant_flows
            chain.plant_now = work.plant_temperatures.copy()
            chain.gas_now = np.array([flows[fireside.GAS], flows[fireside.BURNT]]) / length
            chain.drawn += work.drawn * (room - outside) * length
        if self.house is not None:
            flows, new = np.zeros(indoors.FLOWS), np.empty_like(chain.masses)
            temperatures = np.empty_like(chain.house_now)
            close_house(
                self.house.fixed, chain.masses, work.house_inputs, work.house_work, room, work.house_guess,
                ratio, new, flows, temperatures,
            )  # fmt: skip
            chain.masses = new
            chain.house_totals += flows
            chain.house_now = temperatures
