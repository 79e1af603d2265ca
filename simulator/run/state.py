"""Everything that changes during a run and that a restart needs."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from simulator.run.ledger import Ledger

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass
class RunState:
    """State at one tick. Temperatures are above the run's reference temperature.

    Attributes
    ----------
    tick : int
    section : (S, R) float
        State of the section solver at every station.
    room : float [K]
    air_in, air_out, wall : (S, M) float [K]
        Air at both ends of every segment, and duct wall, at the end of the last stage.
    branch_exit : (B,) float [K]
    supply, exit : float [K]
    film : (S, M) float [W/(m2.K)]
    mass_flow : float [kg/s]
        Of all ducts together.
    floor_lift : float [K]
        Sun on the floor over its film.
    ledger : Ledger
    """

    tick: int
    section: NDArray[np.float64]
    room: float
    air_in: NDArray[np.float64]
    air_out: NDArray[np.float64]
    wall: NDArray[np.float64]
    branch_exit: NDArray[np.float64]
    supply: float
    exit: float
    film: NDArray[np.float64]
    mass_flow: float = 0.0
    floor_lift: float = 0.0
    ledger: Ledger = field(default_factory=Ledger)
