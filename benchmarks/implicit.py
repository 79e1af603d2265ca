"""Implicit solves with a factorised section, and the reference in time on them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy.linalg
from scipy.sparse.linalg import SuperLU, splu

from benchmarks.coupled import Coupled
from benchmarks.four_ducts import ROW

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from benchmarks.four_ducts import Mode, Problem
    from benchmarks.section import Section


class Factored:
    """(mass / tau + stiffness) factorised once, with its answer to every port; `tau` may be complex."""

    def __init__(self, section: Section, tau: complex) -> None:
        self.rate = 1.0 / tau
        matrix = (section.mass * self.rate + section.stiffness).tocsc()
        self.lu: SuperLU = splu(
            matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
        ports = np.column_stack((section.ducts, section.floor)).astype(matrix.dtype)
        self.answer = self.lu.solve(ports)
        readers = np.column_stack((section.walls, section.floor))
        self.influence = readers.T @ self.answer


class Stage:
    """Solves (mass / tau - Jacobian) x = rhs for all stations and the room together, exactly.

    The ports join stations and room by a term of low rank: one small dense system beside the sparse solve.
    """

    def __init__(self, coupled: Coupled, factored: Factored) -> None:
        self.coupled, self.factored = coupled, factored
        lanes, stations = coupled.lanes, coupled.stations
        influence = factored.influence
        count = lanes * stations
        walls = np.kron(np.eye(stations), influence[:lanes, :lanes])
        by_room = np.tile(influence[:lanes, lanes], stations)
        floor = coupled.floor_scale * np.tile(influence[lanes, :lanes], stations)
        # Unknowns: every q, and the room.
        matrix = np.zeros((count + 1, count + 1), dtype=influence.dtype)
        matrix[:count, :count] = np.eye(count) - coupled.from_walls @ walls
        matrix[:count, count] = -coupled.from_walls @ by_room - coupled.from_room
        matrix[count, :count] = -coupled.pull @ walls - floor
        matrix[count, count] = (
            coupled.problem.room_storage * factored.rate + coupled.hold
            - coupled.pull @ by_room - coupled.floor_scale * stations * influence[lanes, lanes]
        )  # fmt: skip
        self.inverse = scipy.linalg.inv(matrix)

    def solve(self, rhs: NDArray[np.inexact], rhs_room: complex) -> tuple[NDArray[np.inexact], complex]:
        """Solve for (N, S) sections and the room."""
        coupled, section = self.coupled, self.coupled.section
        free = self.factored.lu.solve(np.asfortranarray(rhs))
        readings = (free.T @ section.walls).ravel()
        known = np.append(
            coupled.from_walls @ readings,
            rhs_room + coupled.pull @ readings + coupled.floor_scale * (section.floor @ free).sum(),
        )
        unknown = self.inverse @ known
        q = unknown[:-1].reshape(coupled.stations, coupled.lanes)
        loads = np.vstack((q.T, np.full(coupled.stations, unknown[-1])))
        return free + self.factored.answer @ loads, unknown[-1]


class Workshop:
    """Keeps factorisations, couplings and stages of one section."""

    def __init__(self, section: Section, problem: Problem) -> None:
        self.section, self.problem = section, problem
        self._factored: dict[complex, Factored] = {}
        self._coupled: dict[Mode, Coupled] = {}
        self._stages: dict[tuple[Mode, complex], Stage] = {}

    def coupled(self, mode: Mode) -> Coupled:
        if mode not in self._coupled:
            self._coupled[mode] = Coupled(self.section, self.problem, mode)
        return self._coupled[mode]

    def stage(self, mode: Mode, tau: complex) -> Stage:
        if (mode, tau) not in self._stages:
            if tau not in self._factored:
                self._factored[tau] = Factored(self.section, tau)
            self._stages[mode, tau] = Stage(self.coupled(mode), self._factored[tau])
        return self._stages[mode, tau]


def halved(length: float, halvings: int) -> list[float]:
    """Pieces of a length, halved again and again towards its beginning."""
    return [length / 2.0**halvings, *(length / 2.0**power for power in range(halvings, 0, -1))]


def radau(section: Section, problem: Problem, *, halvings: int = 9, pieces: int = 1) -> NDArray[np.float64]:
    """March with a method of order 5: the reference in time.

    The first row interval after a switch is halved again and again towards the switch; every other one is cut
    into equal pieces.

    Returns
    -------
    (rows, 3) exit air, floor mean, room [K above base]
    """
    nodes, matrix = _radau()
    values, vectors = np.linalg.eig(np.linalg.inv(matrix))
    inverse = np.linalg.inv(vectors)
    real = int(np.argmin(np.abs(values.imag)))
    one = int(np.argmax(values.imag))
    opening = halved(ROW, halvings)
    shop = Workshop(section, problem)
    sections, room = np.zeros((section.size, problem.stations)), problem.room_start
    rows = []
    for begin, end, mode in problem.periods:
        coupled = shop.coupled(mode)
        time = float(begin)
        for interval in range((end - begin) // ROW):
            for step in opening if interval == 0 else [ROW / pieces] * pieces:
                heat, heat_room = coupled.rate(sections, room, 0.0)
                outside = np.array([problem.outside(time + node * step) for node in nodes])
                change = np.zeros_like(sections)
                change_room = 0.0
                for index, twice in ((real, 1.0), (one, 2.0)):
                    value = values[index] if index != real else values[index].real
                    row = inverse[index] if index != real else inverse[index].real
                    weather = row @ outside
                    rhs = row.sum() * heat + (section.outside * weather)[:, None]
                    rhs_room = row.sum() * heat_room + problem.room_loss * weather
                    part, part_room = shop.stage(mode, step / value).solve(rhs, rhs_room)
                    last = vectors[2, index] if index != real else vectors[2, index].real
                    # The third of the pair is the conjugate of the second.
                    change += twice * (last * part).real
                    change_room += twice * (last * part_room).real
                sections, room = sections + change, room + change_room
                time += step
            rows.append(coupled.row(sections, room))
    return np.array(rows)


def _radau() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Nodes and matrix of the three-stage Radau IIA method (Hairer & Wanner, Solving ODEs II, IV.5)."""
    root = np.sqrt(6.0)
    nodes = np.array([(4.0 - root) / 10.0, (4.0 + root) / 10.0, 1.0])
    matrix = np.array([
        [(88 - 7 * root) / 360, (296 - 169 * root) / 1800, (-2 + 3 * root) / 225],
        [(296 + 169 * root) / 1800, (88 + 7 * root) / 360, (-2 - 3 * root) / 225],
        [(16 - root) / 36, (16 + root) / 36, 1 / 9],
    ])  # fmt: skip
    return nodes, matrix
