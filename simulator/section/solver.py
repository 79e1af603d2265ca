"""The narrow interface behind which a section is advanced.

One implicit stage of length tau solves, for every station at once,

    (capacity / tau + stiffness) T_new = capacity / tau * T_old + injection @ loads

Because this is linear, what the ports read after the stage is known before the loads are:

    reading @ T_new = response(T_old) + influence @ loads

so air march, floor film and room are solved together with it, without iteration on temperatures. The full
mesh and the reduced model offer the same calls; nothing outside this folder need know which it has.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators


@dataclass(frozen=True)
class Stage:
    """One stage length made ready.

    Attributes
    ----------
    tau : float [s]
    influence : (P, P) float
        What each port (row) reads per unit load of each port (column).
    data : object
        The solver's own.
    """

    tau: float
    influence: NDArray[np.float64]
    data: Any


@dataclass(frozen=True, eq=False)
class ModalForm:
    """A section as R independent decays, for loops that are compiled as a whole.

    Attributes
    ----------
    rates : (R,) float [1/s]
    injection, reading : (R, P) float
    capacity : (R,) float
        Heat stored per unit of each mode [J/m].
    """

    rates: NDArray[np.float64]
    injection: NDArray[np.float64]
    reading: NDArray[np.float64]
    capacity: NDArray[np.float64]


class SectionSolver(Protocol):
    """Advances S stations that share one section. States are (S, R); R is the solver's own business."""

    operators: SectionOperators

    @property
    def name(self) -> str:
        """Short name for reports."""
        ...

    @property
    def size(self) -> int:
        """Number of states per station."""
        ...

    @property
    def modal(self) -> ModalForm | None:
        """The same section in modal form, where it has one; whole steps then run compiled."""
        ...

    def project(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """State (S, R) of cell temperatures (S, N)."""
        ...

    def stage(self, tau: float) -> Stage:
        """Make a stage of `tau` [s] ready; the same tau twice gives the same object."""
        ...

    def respond(self, stage: Stage, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S, P) port readings after the stage if all loads were zero."""
        ...

    def advance(
        self, stage: Stage, state: NDArray[np.float64], loads: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """State (S, R) after the stage under the (S, P) loads."""
        ...

    def settle(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """State after what follows a whole step of conduction, with the same heat: melting and freezing."""
        ...

    def read(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S, P) port readings of a state."""
        ...

    def stored(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S,) heat above the reference temperature [J/m]."""
        ...

    def stored_under_floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S,) the part of that heat between the building's edges [J/m]."""
        ...

    def floor(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S, F) temperatures of the floor cells."""
        ...

    def field(self, state: NDArray[np.float64]) -> NDArray[np.float64]:
        """(S, N) temperatures of all cells."""
        ...
