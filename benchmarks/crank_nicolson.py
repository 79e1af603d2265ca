"""Peer: Crank-Nicolson on a factorised section, all stations as right-hand sides of one sparse solve.

Written to be fast: what enters through ports is added after the solve by the answers found beforehand, states
are kept in the order that the solver takes, and the stations may be shared between processes (scipy's solve
holds the interpreter's lock, so threads would not help).
"""

from __future__ import annotations

import multiprocessing
from typing import TYPE_CHECKING

import numpy as np
import scipy.linalg

from benchmarks.coupled import Coupled
from benchmarks.four_ducts import ROW
from benchmarks.implicit import Factored, halved

if TYPE_CHECKING:
    from collections.abc import Iterable
    from multiprocessing.connection import Connection

    from numpy.typing import NDArray

    from benchmarks.four_ducts import Mode, Problem
    from benchmarks.section import Section


class Share:
    """Some of the stations: their sections, and their part of every step. S of them, P ports, M lanes.

    A half step is `free`, which gives what lanes and floor read without any load at the ports, and then
    `load` with the loads: heat flow of each duct, room, outside.
    """

    def __init__(self, section: Section, stations: int, halves: Iterable[float]) -> None:
        self.section = section
        # What duct walls, floor and the floor's mean read, from the few cells they touch.
        table = np.column_stack((section.walls, section.floor, section.mean))
        self.cells = np.nonzero(table.any(axis=1))[0]
        self.readers = np.ascontiguousarray(table[self.cells])
        diagonal = section.mass.diagonal()
        lumped = section.mass.nnz == np.count_nonzero(diagonal)
        self.factored, self.answers, self.masses = {}, {}, {}
        for half in halves:
            factored = Factored(section, half)
            outside = factored.lu.solve(section.outside)
            self.factored[half] = factored
            self.answers[half] = np.ascontiguousarray(np.column_stack((factored.answer, outside)).T)
            self.masses[half] = diagonal / half if lumped else section.mass / half
        self.state = np.zeros((section.size, stations), order="F")
        self.middle = self.state

    def free(self, half: float) -> NDArray[np.float64]:
        """Half a step of backward Euler without loads; (S, M + 2) readings."""
        mass = self.masses[half]
        rhs = mass[:, None] * self.state if isinstance(mass, np.ndarray) else mass @ self.state
        self.middle = self.factored[half].lu.solve(np.asfortranarray(rhs))
        return self.read(self.middle)

    def load(self, half: float, loads: NDArray[np.float64], *, damped: bool) -> None:
        """Add what (S, M + 2) loads do, and go on to the end of the step unless it is a damped one."""
        self.middle += (loads @ self.answers[half]).T
        if not damped:
            self.middle *= 2.0
            self.middle -= self.state
        self.state = self.middle

    def read(self, sections: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S, M + 2) readings of lanes, floor and the floor's mean."""
        return sections[self.cells].T @ self.readers


class Elsewhere:
    """A share of the stations that another process looks after."""

    def __init__(self, section: Section, stations: int, halves: list[float]) -> None:
        context = multiprocessing.get_context("fork")
        self.pipe, other = context.Pipe()
        self.process = context.Process(target=_serve, args=(other, section, stations, halves), daemon=True)
        self.process.start()

    def close(self) -> None:
        """End the process."""
        self.pipe.send(None)
        self.process.join()


def _serve(pipe: Connection, section: Section, stations: int, halves: list[float]) -> None:
    share = Share(section, stations, halves)
    while (order := pipe.recv()) is not None:
        if isinstance(order, float):
            pipe.send(share.free(order))
        else:
            half, loads, damped = order
            share.load(half, loads, damped=damped)


class Joined:
    """One dense system for all heat flows and the room, of one mode and half step."""

    def __init__(self, coupled: Coupled, factored: Factored, outside_readings: NDArray[np.float64]) -> None:
        lanes, stations, count = coupled.lanes, coupled.stations, coupled.lanes * coupled.stations
        influence, every = factored.influence, np.eye(coupled.stations)
        walls = np.kron(every, influence[:lanes, :lanes])
        by_room = np.tile(influence[:lanes, lanes], stations)
        floor = coupled.floor_scale * np.tile(influence[lanes, :lanes], stations)
        storage = coupled.problem.room_storage * factored.rate
        # Unknowns: every q, and the room; q counts in full, the rise that the heater gives included.
        matrix = np.eye(count + 1)
        matrix[:count, :count] -= coupled.from_walls @ walls
        matrix[:count, count] = -coupled.from_walls @ by_room - coupled.from_room
        matrix[count, :count] = -coupled.pull @ walls - floor
        matrix[count, count] = (
            storage + coupled.hold - coupled.pull @ by_room
            - coupled.floor_scale * stations * influence[lanes, lanes]
        )  # fmt: skip
        known = np.zeros((count + 1, count + 1))
        known[:count, :count] = coupled.from_walls
        known[count, :count] = coupled.pull
        known[count, count] = 1.0
        inverse = scipy.linalg.inv(matrix)
        self.inverse, self.known = inverse, inverse @ known
        self.rise = inverse[:, :count] @ coupled.q_rise
        self.coupled, self.outside_readings, self.storage = coupled, outside_readings, storage

    def solve(self, readings: NDArray[np.float64], room: float, outside: float) -> NDArray[np.float64]:
        """(S, M + 2) loads from the readings of sections that nothing loads but their past."""
        coupled, lanes = self.coupled, self.coupled.lanes
        readings = readings[:, : lanes + 1] + outside * self.outside_readings
        known = np.append(
            readings[:, :lanes].ravel(),
            self.storage * room + coupled.floor_scale * readings[:, lanes].sum() + coupled.push(outside),
        )
        unknown = self.known @ known + self.rise
        loads = np.empty((coupled.stations, lanes + 2))
        loads[:, :lanes] = unknown[:-1].reshape(coupled.stations, lanes)
        loads[:, lanes], loads[:, lanes + 1] = unknown[-1], outside
        return loads


def crank_nicolson(
    section: Section, problem: Problem, *, step: int, halvings: int = 0, processes: int = 1
) -> NDArray[np.float64]:
    """March with Crank-Nicolson: backward Euler half steps, each carried on to the end of its step.

    The first step after a switch is halved towards the switch `halvings` times, and the first piece of it is
    two plain backward Euler half steps, which damp what the switch stirs up and need no other factorisation
    (R. Rannacher, Numer. Math. 43 (1984) 309-327, source from memory).

    Parameters
    ----------
    section : Section
    problem : Problem
    step : int [s]
    halvings : int
    processes : int
        Processes that share the stations.

    Returns
    -------
    (rows, 3) exit air, floor mean, room [K above base]

    Raises
    ------
    ValueError
        If the step does not divide the row interval.
    """
    if ROW % step:
        raise ValueError(f"a step of {step} s does not divide {ROW} s")
    opening = halved(step, halvings)
    halves = sorted({piece / 2.0 for piece in [*opening, float(step)]})
    parts = np.array_split(np.arange(problem.stations), min(processes, problem.stations))
    others = [Elsewhere(section, part.size, halves) for part in parts[1:]]
    try:
        return _march(Share(section, parts[0].size, halves), others, parts, problem, step, opening)
    finally:
        for other in others:
            other.close()


def _march(
    own: Share, others: list[Elsewhere], parts: list[NDArray[np.int64]], problem: Problem, step: int,
    opening: list[float],
) -> NDArray[np.float64]:  # fmt: skip
    modes: dict[Mode, Coupled] = {}
    joined: dict[tuple[Mode, float], Joined] = {}
    lanes, section = own.section.resistance.size, own.section
    room, rows = problem.room_start, []
    last = np.zeros((problem.stations, lanes + 2))
    for begin, end, mode in problem.periods:
        if mode not in modes:
            modes[mode] = Coupled(section, problem, mode)
        coupled, now = modes[mode], float(begin)
        for number, piece in enumerate([*opening, *[float(step)] * ((end - begin) // step - 1)]):
            half, damped = piece / 2.0, number == 0
            if (mode, half) not in joined:
                weather = own.readers[:, : lanes + 1].T @ own.answers[half][-1, own.cells]
                joined[mode, half] = Joined(coupled, own.factored[half], weather)
            system = joined[mode, half]
            for part in (1, 2) if damped else (1,):
                for other in others:
                    other.pipe.send(half)
                free = np.vstack((own.free(half), *(other.pipe.recv() for other in others)))
                loads = system.solve(free, room, problem.outside(now + half * part))
                for other, places in zip(others, parts[1:], strict=True):
                    other.pipe.send((half, loads[places], damped))
                own.load(half, loads[parts[0]], damped=damped)
                # What lanes and floor read follows from what they read before: no other process is asked.
                middle = free + loads @ (own.answers[half][:, own.cells] @ own.readers)
                middle_room = float(loads[0, lanes])
                last = middle if damped else 2.0 * middle - last
                room = middle_room if damped else 2.0 * middle_room - room
            now += piece
            if now % ROW == 0.0:
                rows.append(_row(coupled, last, room))
    return np.array(rows)


def _row(coupled: Coupled, readings: NDArray[np.float64], room: float) -> tuple[float, float, float]:
    walls = readings[:, : coupled.lanes].ravel()
    leaving = float(coupled.exit_walls @ walls) + coupled.exit_room * room + coupled.exit_rise
    return leaving, float(readings[:, -1].mean()) + coupled.section.mean_room * room, room
