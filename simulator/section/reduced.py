"""The reduced model: a section solver on the few modes of a reduction."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.section.solver import ModalForm, Stage

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators
    from simulator.section.reduction import Reduction

KEPT_STAGES = 4096


class ReducedSection:
    """Section solver on the modes of a reduction.

    Parameters
    ----------
    operators : SectionOperators
    reduction : Reduction
    name : str
        For reports: a reduction that leaves nothing out may call itself otherwise.
    """

    def __init__(
        self, operators: SectionOperators, reduction: Reduction, name: str = "reduced"
    ) -> None:
        self._name = name
        self.operators = operators
        self.reduction = reduction
        # In one product: the modes are large, and reading them takes longer than the sums.
        ports = operators.injection.shape[1]
        seen = reduction.modes.T @ np.column_stack(
            (operators.injection, operators.reading, operators.capacity, operators.capacity_under_floor)
        )
        self._injection, self._reading = seen[:, :ports], seen[:, ports : 2 * ports]
        self._capacity, self._capacity_under_floor = seen[:, -2].copy(), seen[:, -1].copy()
        self._floor = np.ascontiguousarray(reduction.modes[operators.floor_cells].T)
        self._modal = ModalForm(
            reduction.rates,
            np.ascontiguousarray(self._injection),
            np.ascontiguousarray(self._reading),
            np.ascontiguousarray(self._capacity),
        )
        self._stages: dict[float, Stage] = {}

    @property
    def name(self) -> str:
        """See SectionSolver."""
        return self._name

    @property
    def size(self) -> int:
        """Number of modes."""
        return int(self.reduction.rates.size)

    @property
    def modal(self) -> ModalForm | None:
        """See SectionSolver."""
        return self._modal

    def project(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return np.ascontiguousarray((temperature * self.operators.capacity) @ self.reduction.modes)

    def stage(self, tau: float) -> Stage:
        """See SectionSolver."""
        known = self._stages.get(tau)
        if known is None:
            if len(self._stages) >= KEPT_STAGES:
                self._stages.clear()
            decay = 1.0 / (1.0 + tau * self.reduction.rates)
            influence = (self._reading * (tau * decay)[:, None]).T @ self._injection
            data = (
                decay,
                np.ascontiguousarray(self._reading * decay[:, None]),
                (self._injection * (tau * decay)[:, None]).T,
            )
            known = Stage(tau, influence, data)
            self._stages[tau] = known
        return known

    def respond(self, stage: Stage, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        reading: NDArray[np.float64] = stage.data[1]
        return state @ reading

    def advance(
        self, stage: Stage, state: NDArray[np.float64], loads: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """See SectionSolver."""
        decay, _, push = stage.data
        result: NDArray[np.float64] = state * decay + loads @ push
        return result

    def settle(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver: nothing follows."""
        return state

    def read(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        result: NDArray[np.float64] = state @ self._reading
        return result

    def stored(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        result: NDArray[np.float64] = state @ self._capacity
        return result

    def stored_under_floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        result: NDArray[np.float64] = state @ self._capacity_under_floor
        return result

    def floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        result: NDArray[np.float64] = state @ self._floor
        return result

    def field(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        cells: NDArray[np.float64] = state @ self.reduction.modes.T
        return cells
