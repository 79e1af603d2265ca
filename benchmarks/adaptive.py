"""Peer: scipy's `solve_ivp`, method BDF, with the exact sparse Jacobian of every mode."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy.sparse as sp
from scipy.integrate import solve_ivp

from benchmarks.coupled import Coupled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from benchmarks.four_ducts import Mode, Problem
    from benchmarks.section import Section


class OrdinaryEquations:
    """y' = jacobian @ y + steady + outside(t) * weather; y holds station after station, then the room."""

    def __init__(self, section: Section, problem: Problem, mode: Mode, *, coupled_jacobian: bool) -> None:
        coupled = Coupled(section, problem, mode)
        stations = problem.stations
        rate = 1.0 / section.mass.diagonal()
        every = sp.eye_array(stations)
        storage = problem.room_storage
        readers = sp.kron(every, sp.csr_array(section.walls.T))
        givers = sp.kron(every, sp.csr_array(rate[:, None] * section.ducts))
        alone = sp.kron(every, sp.diags_array(-rate) @ section.stiffness)
        exchange = sp.csr_array(coupled.from_walls)
        cells = alone + givers @ exchange @ readers
        by_room = givers @ coupled.from_room + np.tile(rate * section.floor, stations)
        to_room = (coupled.pull @ readers + coupled.floor_scale * np.tile(section.floor, stations)) / storage
        self.matrix = _bordered(cells, by_room, to_room, -coupled.hold / storage)
        if coupled_jacobian:
            self.jacobian = self.matrix.tocsc()
        else:
            # Newton's method also converges with the couplings along the air left out of its matrix.
            own = sp.csr_array(np.kron(np.eye(stations), np.ones((coupled.lanes, coupled.lanes))))
            block = alone + givers @ exchange.multiply(own) @ readers
            self.jacobian = _bordered(block, by_room * 0.0, to_room * 0.0, -coupled.hold / storage).tocsc()
        self.steady = np.append(
            (rate[:, None] * coupled.forcing(0.0)).T.ravel(), coupled.steady_push / storage
        )
        self.weather = np.append(np.tile(rate * section.outside, stations), problem.room_loss / storage)
        self.coupled, self.problem = coupled, problem

    def __call__(self, time: float, y: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.matrix @ y + self.steady + self.problem.outside(time) * self.weather


def _bordered(
    inner: sp.sparray, column: NDArray[np.float64], row: NDArray[np.float64], corner: float
) -> sp.csr_array:
    return sp.block_array(
        [[inner, sp.csr_array(column[:, None])], [sp.csr_array(row[None, :]), sp.csr_array([[corner]])]]
    ).tocsr()


def bdf(
    section: Section, problem: Problem, *, relative: float, absolute: float, coupled_jacobian: bool = True
) -> NDArray[np.float64]:
    """March with `solve_ivp`, started anew at every switch.

    Returns
    -------
    (rows, 3) exit air, floor mean, room [K above base]
    """
    modes: dict[Mode, OrdinaryEquations] = {}
    y = np.append(np.zeros(section.size * problem.stations), problem.room_start)
    rows = []
    for begin, end, mode in problem.periods:
        if mode not in modes:
            modes[mode] = OrdinaryEquations(section, problem, mode, coupled_jacobian=coupled_jacobian)
        equations = modes[mode]
        times = problem.rows[(problem.rows > begin) & (problem.rows <= end)]
        answer = solve_ivp(
            equations, (begin, end), y, method="BDF", t_eval=times, jac=equations.jacobian,
            rtol=relative, atol=absolute,
        )  # fmt: skip
        if not answer.success:
            raise RuntimeError(answer.message)
        for state in answer.y.T:
            sections = state[:-1].reshape(problem.stations, section.size).T
            rows.append(equations.coupled.row(sections, float(state[-1])))
        y = answer.y[:, -1]
    return np.array(rows)
