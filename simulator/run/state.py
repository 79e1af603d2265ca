"""Everything that changes during a run and that a restart needs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.run.ledger import Ledger
from simulator.run.stage_kernels import (
    EXIT,
    FLOOR_LIFT,
    MASS_FLOW,
    ROOM,
    SCALARS,
    SUPPLY,
    WATER_TOTALS,
    Moving,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass
class RunState:
    """State at one tick. Temperatures are above the run's reference temperature.

    Attributes
    ----------
    tick : int
    section : (S, R) float
        State of the section solver at every station.
    moving : Moving
        Air and wall temperatures, films and a few scalars, as the last stage left them.
    ledger : Ledger
    """

    tick: int
    section: NDArray[np.float64]
    moving: Moving
    ledger: Ledger = field(default_factory=Ledger)

    def saved(self) -> tuple[Any, ...]:
        """All of it, to come back to; the section's array is never written in place, so it is not copied."""
        ledger = replace(self.ledger, totals=self.ledger.totals.copy())
        return self.tick, self.section, tuple(values.copy() for values in self.moving), ledger

    def restore(self, saved: tuple[Any, ...]) -> None:
        """Come back to what `saved` returned."""
        self.tick, self.section, moving, ledger = saved
        for values, before in zip(self.moving, moving, strict=True):
            values[...] = before
        self.ledger = replace(ledger, totals=ledger.totals.copy())

    @property
    def room(self) -> float:
        """Room temperature [K above reference]."""
        return float(self.moving.scalars[ROOM])

    @property
    def supply(self) -> float:
        """Temperature of the air entering the ducts [K above reference]."""
        return float(self.moving.scalars[SUPPLY])

    @property
    def exit(self) -> float:
        """Mixed temperature of the air leaving the ducts [K above reference]."""
        return float(self.moving.scalars[EXIT])

    @property
    def mass_flow(self) -> float:
        """Mass flow of all ducts [kg/s]."""
        return float(self.moving.scalars[MASS_FLOW])

    @property
    def floor_lift(self) -> float:
        """Sun on the floor over its film [K]."""
        return float(self.moving.scalars[FLOOR_LIFT])

    @property
    def air_in(self) -> NDArray[np.float64]:
        """(S, M) air entering every segment [K above reference]."""
        return self.moving.air_in

    @property
    def air_out(self) -> NDArray[np.float64]:
        """(S, M) air leaving every segment [K above reference]."""
        return self.moving.air_out

    @property
    def wall(self) -> NDArray[np.float64]:
        """(S, M) duct wall [K above reference]."""
        return self.moving.wall

    @property
    def film(self) -> NDArray[np.float64]:
        """(S, M) inside film [W/(m2.K)]."""
        return self.moving.film

    @property
    def branch_exit(self) -> NDArray[np.float64]:
        """(B,) air leaving every branch [K above reference]."""
        return self.moving.branch_exit


def still_air(stations: int, lanes: int, branches: int, temperature: float) -> Moving:
    """Air and walls all at one temperature [K above reference], nothing moving."""
    scalars = np.zeros(SCALARS)
    scalars[[ROOM, SUPPLY, EXIT]] = temperature
    shape = (stations, lanes)
    return Moving(
        wall=np.full(shape, temperature),
        air_in=np.full(shape, temperature),
        air_out=np.full(shape, temperature),
        film=np.zeros(shape),
        conductance=np.zeros(shape),
        branch_exit=np.full(branches, temperature),
        scalars=scalars,
        branch_flow=np.zeros(branches),
        heat=np.zeros(shape),
        humid_in=np.zeros(shape),
        humid_out=np.zeros(shape),
        settling=np.zeros(shape),
        surface=np.full(shape, temperature),
        branch_ratio=np.zeros(branches),
        water=np.zeros(shape),
        water_change=np.zeros(shape),
        water_totals=np.zeros(WATER_TOTALS),
        gas_in=np.full(stations, temperature),
        gas_out=np.full(stations, temperature),
        gas_pipe=np.full(stations, temperature),
        gas_ways=np.zeros((stations, 4)),
    )
