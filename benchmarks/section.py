"""One section across the ducts, discrete in space, as the peers see it.

    mass @ dT/dt = -stiffness @ T + ducts @ q + floor * room + outside * outside_temperature

q [W/m] is the heat flow of one whole duct, whose mean wall temperature is `walls.T @ T + resistance * q`; the
floor takes in `floor_conductance * room - floor @ T` [W/m].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import scipy.sparse as sp

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators


@dataclass(frozen=True, eq=False)
class Section:
    """N unknowns, M lanes. `copies` sections make the whole floor.

    The mean temperature of the floor's surface is `mean @ T + mean_room * room`.
    """

    mass: sp.csc_array
    stiffness: sp.csc_array
    ducts: NDArray[np.float64]
    walls: NDArray[np.float64]
    resistance: NDArray[np.float64]
    floor: NDArray[np.float64]
    floor_conductance: float
    outside: NDArray[np.float64]
    mean: NDArray[np.float64]
    mean_room: float
    copies: float

    @property
    def size(self) -> int:
        return int(self.floor.size)


def from_operators(operators: SectionOperators) -> Section:
    """The project's own semi-discrete section; what lies below the bottom is at the base temperature."""
    lanes, floor, outside = operators.lanes, operators.port("floor"), operators.port("outside")
    weight = operators.floor_widths / operators.floor_widths.sum()
    mean = operators.capacity * 0.0
    mean[operators.floor_cells] = weight * operators.surface_share
    return Section(
        mass=sp.diags_array(operators.capacity).tocsc(),
        stiffness=operators.stiffness,
        ducts=operators.injection[:, :lanes],
        walls=operators.reading[:, :lanes],
        resistance=operators.wall_resistance,
        floor=operators.reading[:, floor],
        floor_conductance=float(operators.conductance[floor]),
        outside=operators.injection[:, outside],
        mean=mean,
        mean_room=float(weight @ (1.0 - operators.surface_share)),
        copies=float(operators.layout.copies),
    )
