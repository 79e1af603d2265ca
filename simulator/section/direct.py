"""The full mesh, solved directly: every cell is a state, each stage one sparse solve for all stations.

Slow, and independent of the modes: what the other ways are checked against.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.section.solver import ModalForm, Stage

if TYPE_CHECKING:
    import scipy.sparse as sp
    from numpy.typing import NDArray
    from scipy.sparse.linalg import SuperLU

    from simulator.section.operators import SectionOperators

KEPT_STAGES = 24
"""Factorisations kept at once; a run with one step length and its refinements needs about ten."""


def factorise(matrix: sp.csc_array) -> SuperLU:
    """Sparse LU of a symmetric matrix whose diagonal holds, real or complex, ordered for symmetry."""
    from scipy.sparse.linalg import splu  # noqa: PLC0415 - slow to load, and most runs need none

    return splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


class DirectSection:
    """Section solver on the full mesh.

    Parameters
    ----------
    operators : SectionOperators
    """

    name = "full mesh, direct"

    def __init__(self, operators: SectionOperators) -> None:
        self.operators = operators
        self._stages: dict[float, Stage] = {}

    @property
    def size(self) -> int:
        """Number of cells."""
        return self.operators.cells

    @property
    def modal(self) -> ModalForm | None:
        """See SectionSolver: none."""
        return None

    def project(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return np.array(temperature, dtype=np.float64)

    def stage(self, tau: float) -> Stage:
        """See SectionSolver."""
        known = self._stages.get(tau)
        if known is not None:
            return known
        if len(self._stages) >= KEPT_STAGES:
            self._stages.pop(next(iter(self._stages)))
        operators = self.operators
        rate = operators.capacity / tau
        factor = factorise(operators.shifted(1.0 / tau))
        # Reading rows through the inverse: used by `respond` without solving for the whole field.
        adjoint = factor.solve(operators.reading)
        influence = adjoint.T @ operators.injection
        stage = Stage(tau, influence, (factor, rate, np.ascontiguousarray(adjoint * rate[:, None])))
        self._stages[tau] = stage
        return stage

    def respond(self, stage: Stage, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        weighted: NDArray[np.float64] = stage.data[2]
        return state @ weighted

    def advance(
        self, stage: Stage, state: NDArray[np.float64], loads: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """See SectionSolver."""
        factor = stage.data[0]
        # Solve for the change: the error of the solve is then relative to the change, not to the level.
        push = loads @ self.operators.injection.T - (self.operators.stiffness @ state.T).T
        change = factor.solve(np.asfortranarray(push.T)).T
        return np.ascontiguousarray(state + change)

    def settle(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver: nothing follows."""
        return state

    def read(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return state @ self.operators.reading

    def stored(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return state @ self.operators.capacity

    def stored_under_floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return state @ self.operators.capacity_under_floor

    def floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return np.ascontiguousarray(state[..., self.operators.floor_cells])

    def field(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """See SectionSolver."""
        return state
