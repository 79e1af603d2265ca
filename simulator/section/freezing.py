"""Ground whose water freezes and melts: the full mesh, with latent heat settled cell by cell after each step.

A state carries, beside the temperature of every cell, the heat that its water would give in freezing. A step
conducts heat as if nothing froze; then each cell is put in balance at its own heat: below 0 degC all ice,
above all water, between the two at 0 degC (the enthalpy method by splitting; on enthalpy methods: V. R.
Voller, "Fast implicit finite-difference method for the analysis of phase change problems", Numerical Heat
Transfer B 17 (1990) 155-169, from memory). The heat in a cell stays the same to rounding. Conductivity and
heat capacity are those of the layer at all temperatures: give those of the frozen ground where it is frozen
for most of the time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.section.direct import DirectSection

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators
    from simulator.section.solver import ModalForm, Stage

FREEZING_POINT = 273.15
LATENT_HEAT = 334e3
"""Of water [J/kg]."""
WATER_DENSITY = 1000.0


class FreezingSection:
    """Section solver with freezing; states are (S, 2 N): temperatures, then heat in unfrozen water [J/m].

    Parameters
    ----------
    operators : SectionOperators
    reference : float [K]
        Temperatures of states are above this.
    """

    name = "full mesh, direct, with freezing"

    def __init__(self, operators: SectionOperators, reference: float) -> None:
        self.operators = operators
        self.reference = reference
        self._latent = operators.water * (WATER_DENSITY * LATENT_HEAT)
        self._point = FREEZING_POINT - reference
        self._mesh = DirectSection(operators)
        inside = np.abs(operators.cell_across) < operators.layout.building_half_width
        self._inside = inside.astype(np.float64)

    @property
    def size(self) -> int:
        """Number of states per station."""
        return 2 * self.operators.cells

    @property
    def modal(self) -> ModalForm | None:
        """See SectionSolver: none."""
        return None

    def _split(self, state: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        cells = self.operators.cells
        return state[:, :cells], state[:, cells:]

    def project(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver; cells below 0 degC begin frozen."""
        water = np.where(temperature < self._point, 0.0, self._latent)
        return np.concatenate((np.array(temperature, dtype=np.float64), water), axis=1)

    def stage(self, tau: float) -> Stage:
        """See SectionSolver."""
        return self._mesh.stage(tau)

    def respond(self, stage: Stage, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return self._mesh.respond(stage, self._split(state)[0])

    def advance(
        self, stage: Stage, state: NDArray[np.float64], loads: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """See SectionSolver."""
        temperature, water = self._split(state)
        return np.concatenate((self._mesh.advance(stage, temperature, loads), water), axis=1)

    def settle(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """Put every cell in balance at its own heat."""
        temperature, water = self._split(state)
        capacity = self.operators.capacity
        # Heat above all ice at the freezing point.
        heat = capacity * (temperature - self._point) + water
        unfrozen = np.clip(heat, 0.0, self._latent)
        return np.concatenate((self._point + (heat - unfrozen) / capacity, unfrozen), axis=1)

    def ice(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S, N) share of each cell's water that is ice; 0 where there is none."""
        water = self._split(state)[1]
        return np.where(self._latent > 0.0, 1.0 - water / np.maximum(self._latent, 1e-300), 0.0)

    def read(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return self._mesh.read(self._split(state)[0])

    def stored(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver; with the heat in unfrozen water."""
        temperature, water = self._split(state)
        total: NDArray[np.float64] = temperature @ self.operators.capacity + water.sum(axis=1)
        return total

    def stored_under_floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver; with the heat in unfrozen water."""
        temperature, water = self._split(state)
        total: NDArray[np.float64] = temperature @ self.operators.capacity_under_floor + water @ self._inside
        return total

    def floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return self._mesh.floor(self._split(state)[0])

    def field(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return self._split(state)[0]
