"""A slow twin of the coupled step: everything that meets in one stage as one dense system of linear
equations.

Written from the equations alone (conduction with films, air giving off heat along each segment at an
exponential rate, a room balance), for tests: no influence, no elimination, no sweeps. Temperatures are
above the reference.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simulator.run.coupling import Coupling

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Setting:
    """What drives the system: flow of all ducts [W/K], supply held at a temperature or raised [K], and the
    rest.
    """

    capacity_flow: float
    conductance: float
    supply_fixed: bool
    supply_value: float
    outside: float
    gain: float = 0.0
    sun_on_floor: float = 0.0
    hold_room: bool = False


@dataclass(frozen=True)
class Twin:
    """M dy/dt = A y + b, with the air's quasi-steady equations as rows of zero mass.

    Unknowns: cells of every station, then heat flows q (S, M), air entering and leaving each segment (S, M)
    twice, supply, mixed exit, room.
    """

    mass: Array
    matrix: Array
    constant: Array
    stations: int
    cells: int
    lanes: int

    @property
    def flows(self) -> slice:
        return slice(self.stations * self.cells, self.stations * (self.cells + self.lanes))

    def air(self, end: int) -> slice:
        first = self.stations * (self.cells + self.lanes * (1 + end))
        return slice(first, first + self.stations * self.lanes)

    def step(self, state: Array, length: float) -> tuple[Array, list[Array]]:
        """One step of the two-stage scheme (R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006), and its
        stages.
        """
        gamma = 1.0 - 1.0 / math.sqrt(2.0)
        stages: list[Array] = []
        before = state
        for number in (0, 1):
            if number == 1:
                before = state + (1.0 - gamma) / gamma * (stages[0] - state)
            heavy = self.mass / (gamma * length)
            stages.append(np.linalg.solve(heavy - self.matrix, heavy @ before + self.constant))
        return stages[1], stages

    def reduced(self) -> tuple[Array, Array, Array, Array]:
        """Ordinary equations dy/dt = G y + g of cells and room, and the air's x = H y + h for the rest."""
        heavy = np.abs(self.mass).sum(axis=1) > 0.0
        light = ~heavy
        inner = np.linalg.inv(self.matrix[np.ix_(light, light)])
        h_matrix = -inner @ self.matrix[np.ix_(light, heavy)]
        h_constant = -inner @ self.constant[light]
        rows = self.matrix[np.ix_(heavy, heavy)] + self.matrix[np.ix_(heavy, light)] @ h_matrix
        constant = self.constant[heavy] + self.matrix[np.ix_(heavy, light)] @ h_constant
        weight = np.diag(self.mass)[heavy]
        return rows / weight[:, None], constant / weight, h_matrix, h_constant


def build_twin(coupling: Coupling, setting: Setting) -> Twin:
    """Write down every equation of a coupling for one setting."""
    op, length = coupling.solver.operators, coupling.station_length
    stations, cells, lanes = length.size, op.cells, op.lanes
    ducts = coupling.path.branch_ducts
    size = stations * (cells + 3 * lanes) + 3
    supply, mixed, room = size - 3, size - 2, size - 1
    mass, matrix, constant = np.zeros((size, size)), np.zeros((size, size)), np.zeros(size)
    free = not (coupling.room.fixed or setting.hold_room)
    moving = setting.capacity_flow > 0.0
    flow = setting.capacity_flow / ducts.sum()

    def q(s: int, m: int) -> int:
        return stations * cells + s * lanes + m

    def air(s: int, m: int, end: int) -> int:
        return stations * (cells + lanes * (1 + end)) + s * lanes + m

    floor = op.port("floor")
    lift = setting.sun_on_floor / (coupling.floor_film * coupling.floor_area) if setting.sun_on_floor else 0.0
    stiffness = op.stiffness.toarray()
    for s in range(stations):
        own = slice(s * cells, (s + 1) * cells)
        mass[own, own] = np.diag(op.capacity)
        matrix[own, own] = -stiffness
        for m in range(lanes):
            matrix[own, q(s, m)] = op.injection[:, m]
        matrix[own, room] += op.injection[:, floor]
        constant[own] = op.injection[:, floor] * lift
        constant[own] += op.injection[:, op.port("outside")] * setting.outside
        constant[own] += op.injection[:, op.port("bottom")] * coupling.bottom_load
        constant[own] += op.injection[:, op.port("sides")] * coupling.sides_load
        for m in range(lanes):
            wall = np.zeros(size)
            wall[own] = op.reading[:, m]
            wall[q(s, m)] = op.wall_resistance[m]
            first, last = air(s, m, 0), air(s, m, 1)
            if not moving:
                matrix[q(s, m), q(s, m)] = 1.0
                matrix[first] = wall
                matrix[first, first] -= 1.0
                matrix[last] = wall
                matrix[last, last] -= 1.0
                continue
            kept = math.exp(-setting.conductance * length[s] / flow)
            # T_out = wall + (T_in - wall) exp(-U' L / m c), and what the air loses is what the duct gives.
            matrix[q(s, m), last] = -1.0
            matrix[q(s, m), first] = kept
            matrix[q(s, m)] += (1.0 - kept) * wall
            matrix[last, first], matrix[last, last], matrix[last, q(s, m)] = flow, -flow, -length[s]
            matrix[first, first] = -1.0
            matrix[first, supply if s == 0 else air(s - 1, m, 1)] = 1.0
    matrix[supply, supply] = -1.0
    constant[supply] = setting.supply_value
    if not setting.supply_fixed:
        if coupling.intake_is_room:
            matrix[supply, room] = 1.0
        else:
            constant[supply] += setting.outside
    matrix[mixed, mixed] = -1.0
    for m in range(lanes):
        matrix[mixed, air(stations - 1, m, 1)] = ducts[m] / ducts.sum()
    if not free:
        constant[room] = 0.0
        matrix[room, room] = 0.0
        mass[room, room] = 1.0
        return Twin(mass, matrix, constant, stations, cells, lanes)
    loss = coupling.room.envelope_loss + coupling.room.infiltration_loss
    mass[room, room] = coupling.room.heat_capacity
    matrix[room, room] -= loss
    constant[room] = loss * setting.outside + setting.gain
    for s in range(stations):
        share = coupling.copies * length[s]
        matrix[room, s * cells : (s + 1) * cells] += share * op.reading[:, floor]
        matrix[room, room] -= share * op.conductance[floor]
        constant[room] -= share * op.conductance[floor] * lift
    if coupling.exit_is_room:
        # The room's own air that went out through the ducts comes back at the exit's temperature; outside air
        # that the ducts bring in pushes as much room air out.
        matrix[room, mixed] += setting.capacity_flow
        matrix[room, room] -= setting.capacity_flow
    elif coupling.intake_is_room:
        matrix[room, room] -= setting.capacity_flow
        constant[room] += setting.capacity_flow * setting.outside
    return Twin(mass, matrix, constant, stations, cells, lanes)
