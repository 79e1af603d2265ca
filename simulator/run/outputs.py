"""What a run tells its observers at one instant, by the names of the results catalogue."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.physics.air_kernels import within_fit
from simulator.physics.internal_flow_kernels import reynolds_number
from simulator.run.geometry import mirrored
from simulator.run.ledger import NAMES
from simulator.run.observers import Moment
from simulator.section.sampling import map_matrix

if TYPE_CHECKING:
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
}
"""Account of the ledger -> series with its heat flow."""


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
        self._last_totals = np.zeros(len(NAMES))
        lanes = operators.lanes
        exits = self.plan.path.branch_begin[1:] - 1
        self._exit_lane = self.plan.path.segment_lane[exits]
        covered = np.zeros((self.coupling.station_length.size, lanes), dtype=bool)
        covered[self.plan.path.segment_station, self.plan.path.segment_lane] = True
        self._covered = covered

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
        share = operators.surface_share
        floor = (
            share * solver.floor(state.section) + (1.0 - share) * (state.room + state.floor_lift) + reference
        )
        ledger = state.ledger
        lane_exit = np.empty(operators.lanes)
        lane_exit[self._exit_lane] = state.branch_exit + reference
        station_floor = floor @ self._floor_weight
        length = coupling.station_length
        air = np.full((operators.lanes, length.size + 1), math.nan)
        inside = self._covered.T
        np.copyto(air[:, :-1], state.air_in.T, where=inside)
        np.copyto(air[:, 1:], state.air_out.T, where=inside)
        flow = state.mass_flow / float(self.plan.path.branch_ducts.sum())
        per_length = np.zeros_like(state.wall)
        if flow > 0.0:
            heat_capacity = coupling.mover.air_heat_capacity(state.supply + reference)
            per_length = flow * heat_capacity * (state.air_in - state.air_out) / length[:, None]
        under = coupling.copies * float(solver.stored_under_floor(state.section) @ length)
        if state.tick == 0:
            self._under_at_start = under
        values: dict[str, float | NDArray[Any]] = {
            "outside_temperature": outside,
            "room_temperature": state.room + reference,
            "supply_temperature": state.supply + reference,
            "exit_temperature": state.exit + reference,
            "floor_mean_temperature": float(station_floor @ length / length.sum()),
            "floor_lowest_temperature": float(floor.min()),
            "floor_highest_temperature": float(floor.max()),
            "ground_mean_temperature": reference
            + coupling.copies * float(solver.stored(state.section) @ length) / self._heat,
            "fan_share": fan_share,
            "mass_flow": state.mass_flow,
            "reynolds_number": float(
                reynolds_number(flow, within_fit(state.supply + reference), coupling.diameter)
            ),
            "film_coefficient": float(state.film[self._covered].mean()),
            "lane_exit_temperature": lane_exit,
            "air_temperature": air + reference,
            "wall_temperature": state.wall.T + reference,
            "duct_heat_per_length": per_length.T,
            "floor_station_temperature": station_floor,
            "ledger_stored_ground": ledger.stored_ground,
            "ledger_stored_room": ledger.stored_room,
            "ledger_stored_under_floor": under - self._under_at_start,
            "ledger_residual": ledger.residual,
            "ledger_handled": ledger.handled,
        }
        seconds = (state.tick - self._last_tick) / 1000.0
        rates = (ledger.totals - self._last_totals) / seconds if seconds > 0.0 else np.zeros(len(NAMES))
        for number, name in enumerate(NAMES):
            values[f"ledger_{name}"] = float(ledger.totals[number])
            values[FLOW_NAMES[name]] = float(rates[number])
        self._last_tick, self._last_totals = state.tick, ledger.totals.copy()
        if not with_field:
            return Moment(state.tick, values)
        values["floor_surface_temperature"] = mirrored(floor, operators)
        return Moment(state.tick, values, self._field(state))

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
