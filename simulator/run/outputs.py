"""What a run tells its observers at one instant, by the names of the results catalogue."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.air.path import ROOM_AIR
from simulator.physics.air_kernels import density as dry_air_density
from simulator.physics.air_kernels import within_fit
from simulator.physics.internal_flow_kernels import reynolds_number
from simulator.run.geometry import mirrored
from simulator.run.ledger import NAMES
from simulator.run.observers import Moment
from simulator.run.outputs_of_parts import flue_values, moist_values
from simulator.run.row_kernels import view_air, view_floor
from simulator.run.stage_kernels import DUCT_PRESSURE
from simulator.section.sampling import map_matrix

if TYPE_CHECKING:
    from collections.abc import Mapping

    import scipy.sparse as sp
    from numpy.typing import NDArray

    from simulator.run.coupling import Coupling
    from simulator.run.plan import RunPlan
    from simulator.run.state import RunState

FLOW_NAMES = {
    "heater": "heater_power",
    "fan": "fan_power",
    "duct": "duct_heat",
    "floor": "floor_heat",
    "return": "return_heat",
    "envelope": "envelope_loss",
    "infiltration": "infiltration_loss",
    "sun": "sun_gain",
    "other_gain": "other_gain",
    "outside_ground": "outside_ground_loss",
    "bottom": "bottom_heat",
    "sides": "sides_heat",
    "exhaust": "exhaust_loss",
    "latent": "latent_heat",
    "flue": "flue_heat",
}
"""Account of the ledger -> series with its heat flow."""
LEDGER_NAMES = tuple(f"ledger_{name}" for name in NAMES)
FLOWS = tuple(FLOW_NAMES[name] for name in NAMES)


@dataclass
class Narrator:
    """Turns run states into moments.

    Attributes
    ----------
    plan : RunPlan
    coupling : Coupling
    """

    plan: RunPlan
    coupling: Coupling

    def __post_init__(self) -> None:
        operators = self.coupling.solver.operators
        widths = operators.floor_widths
        self._floor_weight = widths / widths.sum() if widths.size else widths
        self._heat = float(
            operators.capacity.sum() * self.coupling.copies * self.coupling.station_length.sum()
        )
        self._map: sp.csr_array | None = None
        self._void = operators.mesh.solid.T < 0
        self._last_tick = 0
        self._under_at_start = 0.0
        self._last_totals = [0.0] * len(NAMES)
        lanes = operators.lanes
        path = self.plan.path
        air = path.branch_group == ROOM_AIR
        self._air_branches = int(np.count_nonzero(air))
        self._air_ducts = float(path.branch_ducts[air].sum())
        self._air_segments = int(path.branch_begin[self._air_branches])
        # Of jacket and gas in one lane the last written, the jacket's air, shows.
        self._entry_edge = path.segment_station + (path.direction < 0)
        self._exit_edge = path.segment_station + (path.direction > 0)
        # The last piece of each lane in the order of the air.
        self._lane_end = np.zeros(lanes, dtype=np.int64)
        self._lane_end[path.segment_lane] = np.arange(path.segment_lane.size)
        self._lane_end_station = path.segment_station[self._lane_end]
        self._every_lane = np.arange(lanes)
        self._length_column = self.coupling.station_length[:, None]

    def snapshot(self) -> dict[str, NDArray[Any]]:
        """Return what the next row is compared with, for a run that goes on later."""
        return {
            "last_tick": np.array(self._last_tick),
            "under_at_start": np.array(self._under_at_start),
            "last_totals": np.array(self._last_totals),
        }

    def restore(self, arrays: Mapping[str, NDArray[Any]]) -> None:
        """Take up what `snapshot` gave."""
        self._last_tick = int(arrays["last_tick"])
        self._under_at_start = float(arrays["under_at_start"])
        self._last_totals = arrays["last_totals"].tolist()

    def moment(self, state: RunState, outside: float, fan_share: float, *, with_field: bool) -> Moment:
        """Describe a state.

        Parameters
        ----------
        state : RunState
        outside : float [K]
        fan_share : float
            Share of full flow during the step that ended here.
        with_field : bool
            Add the temperatures of ground and floor surface.
        """
        coupling, reference = self.coupling, self.coupling.reference
        solver = coupling.solver
        operators = solver.operators
        length = coupling.station_length
        cells = np.ascontiguousarray(solver.floor(state.section))
        floor, station_floor = np.empty_like(cells), np.empty(length.size)
        lowest, highest, mean = view_floor(
            cells, operators.surface_share, state.room + state.floor_lift, reference, self._floor_weight,
            length, floor, station_floor,
        )  # fmt: skip
        ledger = state.ledger
        path = self.plan.path
        lane_exit = state.air_out[self._lane_end_station, self._every_lane] + reference
        air = np.empty((operators.lanes, length.size + 1))
        film = view_air(
            state.air_in, state.air_out, state.film, path.segment_lane, path.segment_station,
            self._entry_edge, self._exit_edge, self._air_segments, reference, air,
        )  # fmt: skip
        flow = state.mass_flow / self._air_ducts
        under = coupling.copies * float(solver.stored_under_floor(state.section) @ length)
        if state.tick == 0:
            self._under_at_start = under
        values: dict[str, float | NDArray[Any]] = {
            "outside_temperature": outside,
            "room_temperature": state.room + reference,
            "supply_temperature": state.supply + reference,
            "exit_temperature": state.exit + reference,
            "floor_mean_temperature": mean,
            "floor_lowest_temperature": lowest,
            "floor_highest_temperature": highest,
            "ground_mean_temperature": reference
            + coupling.copies * float(solver.stored(state.section) @ length) / self._heat,
            "fan_share": fan_share,
            "mass_flow": state.mass_flow,
            "reynolds_number": float(
                reynolds_number(flow, within_fit(state.supply + reference), coupling.diameter)
            ),
            "film_coefficient": film,
            "lane_exit_temperature": lane_exit,
            "air_temperature": air,
            "wall_temperature": state.wall.T + reference,
            "duct_heat_per_length": self._heat_per_length(state).T,
            "floor_station_temperature": station_floor,
            "ledger_stored_ground": ledger.stored_ground,
            "ledger_stored_room": ledger.stored_room,
            "ledger_stored_under_floor": under - self._under_at_start,
            "ledger_residual": ledger.residual,
            "ledger_handled": ledger.handled,
        }
        values.update(self._flows(state, outside, fan_share))
        if self.plan.moist.there:
            values.update(moist_values(self.plan, coupling, state))
        if self.plan.flue.there:
            values.update(flue_values(self.plan, coupling, state, outside))
        seconds = (state.tick - self._last_tick) / 1000.0
        totals = ledger.totals.tolist()
        for name, flow_name, now, before in zip(LEDGER_NAMES, FLOWS, totals, self._last_totals, strict=True):
            values[name] = now
            values[flow_name] = (now - before) / seconds if seconds > 0.0 else 0.0
        self._last_tick, self._last_totals = state.tick, totals
        if not with_field:
            return Moment(state.tick, values)
        values["floor_surface_temperature"] = mirrored(floor, operators)
        return Moment(state.tick, values, self._field(state))

    def _heat_per_length(self, state: RunState) -> NDArray[np.float64]:
        """(S, M) heat from one duct of each lane into the ground [W/m]."""
        coupling, path = self.coupling, self.plan.path
        if coupling.wide:
            return state.moving.heat.copy()
        if not state.mass_flow > 0.0:
            return np.zeros_like(state.wall)
        heat_capacity = coupling.mover.air_heat_capacity(state.supply + coupling.reference)
        drop = state.air_in - state.air_out
        flow: float | NDArray[np.float64] = state.mass_flow / self._air_ducts
        if not coupling.even_split:
            flow = np.zeros_like(state.wall)
            flow[path.segment_station, path.segment_lane] = state.moving.branch_flow[path.segment_branch]
        return flow * heat_capacity * drop / self._length_column

    def _flows(self, state: RunState, outside: float, fan_share: float) -> dict[str, float | NDArray[Any]]:
        """Flow of every branch and the pressures that go with it."""
        coupling = self.coupling
        moving = state.moving
        mover = coupling.mover
        intake = state.room + coupling.reference if coupling.intake_is_room else outside
        density = mover.density
        if math.isnan(density):
            density = float(dry_air_density(within_fit(intake), mover.pressure))
        volume = state.mass_flow / density
        pressure = float(moving.scalars[DUCT_PRESSURE]) if state.mass_flow > 0.0 else 0.0
        return {
            "volume_flow": volume,
            "duct_pressure": pressure,
            "fan_pressure": (
                pressure + mover.series_resistance * density * volume * volume if fan_share > 0.0 else 0.0
            ),
            "branch_mass_flow": moving.branch_flow.copy(),
            "branch_exit_temperature": state.branch_exit + coupling.reference,
        }

    def _field(self, state: RunState) -> NDArray[np.float64]:
        operators = self.coupling.solver.operators
        if self._map is None:
            self._map = map_matrix(operators)
        cells = self.coupling.solver.field(state.section)
        ny, nz = operators.mesh.solid.shape
        grid = (
            np.asarray(self._map @ cells.T).T.reshape(-1, ny, nz).transpose(0, 2, 1) + self.coupling.reference
        )
        grid[:, self._void] = math.nan
        return mirrored(grid, operators)
