"""Sections at every station, the air that marches past them, and the room, as one linear system per mode.

Air entering a station at T_in leaves the heat q = exchange * (T_in - wall) there. The wall has one
temperature along the station, so exchange = C (1 - exp(-film * perimeter * dx / C)) / dx for a capacity
flow C. The wall itself rises with q, hence q = exchange * (T_in - reading) / (1 + exchange * resistance).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from benchmarks.four_ducts import Mode, Problem
    from benchmarks.section import Section


class Coupled:
    """The linear system of one mode. S stations, M lanes; readings of lanes are flat, station by station.

    q = from_walls @ readings + from_room * room + q_rise
    mixed exit = exit_walls @ readings + exit_room * room + exit_rise
    storage * d room/dt = pull @ readings + floor reading + push(t) - hold * room
    """

    def __init__(self, section: Section, problem: Problem, mode: Mode) -> None:
        self.section, self.problem = section, problem
        stations, lanes = problem.stations, section.resistance.size
        self.stations, self.lanes = stations, lanes
        self.dx = problem.length / stations
        count = stations * lanes
        self.from_walls = np.zeros((count, count))
        self.from_room, self.q_rise = np.zeros(count), np.zeros(count)
        self.exit_walls, self.exit_room, self.exit_rise = np.zeros(count), 0.0, 0.0
        weight = problem.lane_ducts / problem.lane_ducts.sum()
        total = problem.mass_flow * mode.share * problem.heat_capacity
        if total > 0.0:
            flow = total / problem.lane_ducts.sum()
            taken = -math.expm1(-problem.film * math.pi * problem.diameter * self.dx / flow)
            exchange = flow * taken / self.dx
            rise = (mode.power + problem.fan_power * mode.share**3) / total
            for lane in range(lanes):
                share = exchange / (1.0 + exchange * section.resistance[lane])
                air, air_room, air_rise = np.zeros(count), 1.0, rise
                for station in range(stations):
                    here = station * lanes + lane
                    q = share * air
                    q[here] -= share
                    self.from_walls[here], self.from_room[here], self.q_rise[here] = (
                        q, share * air_room, share * air_rise
                    )  # fmt: skip
                    drop = self.dx / flow
                    air, air_room, air_rise = (
                        air - drop * q,
                        air_room * (1.0 - drop * share),
                        air_rise * (1.0 - drop * share),
                    )
                self.exit_walls += weight[lane] * air
                self.exit_room += weight[lane] * air_room
                self.exit_rise += weight[lane] * air_rise
        else:
            # Still air takes the temperature of the wall beside it.
            self.exit_walls[count - lanes :] = weight
        floor = section.copies * problem.length * section.floor_conductance
        self.pull = total * self.exit_walls
        self.hold = problem.room_loss + floor + total * (1.0 - self.exit_room)
        self.steady_push = total * self.exit_rise + (mode.power if total == 0.0 else 0.0)
        self.floor_scale = section.copies * self.dx

    def push(self, outside: float) -> float:
        """Heat into the room [W] that depends on no unknown."""
        return self.steady_push + self.problem.room_loss * outside

    def forcing(self, outside: float) -> NDArray[np.float64]:
        """(N, S) heat into the cells [W/m] that depends on no unknown."""
        q = self.q_rise.reshape(self.stations, self.lanes)
        return self.section.ducts @ q.T + (self.section.outside * outside)[:, None]

    def flow(self, readings: NDArray[np.float64], room: float) -> NDArray[np.float64]:
        """(M, S) heat flow of every duct [W/m]."""
        q = self.from_walls @ readings + self.from_room * room + self.q_rise
        return q.reshape(self.stations, self.lanes).T

    def rate(
        self, sections: NDArray[np.float64], room: float, outside: float
    ) -> tuple[NDArray[np.float64], float]:
        """(N, S) net heat into the cells [W/m] and net heat into the room [W]."""
        section = self.section
        readings = (sections.T @ section.walls).ravel()
        heat = section.ducts @ self.flow(readings, room) - section.stiffness @ sections
        heat += (section.floor * room + section.outside * outside)[:, None]
        into_room = self.pull @ readings + self.floor_scale * float((section.floor @ sections).sum())
        return heat, into_room + self.push(outside) - self.hold * room

    def row(self, sections: NDArray[np.float64], room: float) -> tuple[float, float, float]:
        """Exit air, mean floor surface and room [K above base]."""
        readings = (sections.T @ self.section.walls).ravel()
        leaving = float(self.exit_walls @ readings) + self.exit_room * room + self.exit_rise
        floor = float((self.section.mean @ sections).mean()) + self.section.mean_room * room
        return leaving, floor, room
