"""The reduced model: the same section projected on few modes, with a checked error.

The section is symmetric in the capacity-weighted sense, so its response to every port is a sum of decaying
exponentials. A rational Krylov basis (solutions of (stiffness + s * capacity) x = port for well-chosen real
s [1/s]) spans all of them that matter between the shortest step and the whole run; projecting on it and
diagonalising leaves a handful of independent modes. Projection of a symmetric system keeps stability, and the
uniform temperature is in the basis, so heat is conserved exactly.

Shifts are added where the residual is largest until the solution at a shift that the basis has not seen is
right to the stated tolerance. Rational Krylov projection: Ruhe, Linear Algebra Appl. 58 (1984) 391;
adaptive shifts: Druskin & Simoncini, Systems & Control Letters 60 (2011) 546 (sources from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy.linalg
import scipy.sparse as sp

from simulator.errors import SolverError
from simulator.section.full import factorise
from simulator.section.solver import ModalForm, Stage

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators

LANE_LOAD = 30.0
"""Heat flow of one duct to which the tolerance refers [W/m]."""
SURFACE_LOAD = 10.0
"""Temperature change behind a surface film to which the tolerance refers [K]."""
SAFETY = 100.0
"""An error on the real axis of s shows up several times larger after a switch in time: inverting the Laplace
transform amplifies it. The tolerance on the real axis is the allowed error in time over this factor."""
SMALL_SECTION = 300
"""Sections of no more cells than this are diagonalised whole."""
MOST_SHIFTS = 30
KEPT_STAGES = 4096


@dataclass(frozen=True)
class Reduction:
    """Modes of a section.

    Attributes
    ----------
    modes : (N, R) float
        Cell temperatures of each mode; orthonormal in capacity.
    rates : (R,) float [1/s]
        Decay rate of each mode.
    error : float [K]
        Error expected in time at reference loads: the largest found at the last shift tried, times SAFETY.
    shifts : tuple of float [1/s]
    """

    modes: NDArray[np.float64]
    rates: NDArray[np.float64]
    error: float
    shifts: tuple[float, ...]


def reduce_section(
    operators: SectionOperators,
    start: NDArray[np.float64],
    *,
    shortest: float,
    longest: float,
    tolerance: float,
) -> Reduction:
    """Find the modes of a section that matter.

    Parameters
    ----------
    operators : SectionOperators
    start : (N, n) float [K]
        Starting temperatures above the reference; represented exactly.
    shortest, longest : float [s]
        Range of times over which the model must hold: a fraction of the step, and the whole run.
    tolerance : float [K]
        Allowed error of floor surface and duct wall in time, at reference loads.

    Returns
    -------
    Reduction

    Raises
    ------
    SolverError
        If the tolerance is not met.
    """
    if operators.cells <= SMALL_SECTION:
        return _whole(operators)
    root = np.sqrt(operators.capacity)
    matrix = operators.stiffness
    scale = np.full(operators.injection.shape[1], SURFACE_LOAD)
    scale[: operators.lanes] = LANE_LOAD
    loads = operators.injection * scale
    used = np.abs(loads).max(axis=0) > 0.0
    starts = _normalised_starts(start)
    loads = np.column_stack((loads[:, used], operators.capacity[:, None] * starts))
    count = int(used.sum())
    watched = np.unique(
        np.concatenate(
            (operators.floor_cells, np.nonzero(operators.reading[:, : operators.lanes].any(axis=1))[0])
        )
    )
    candidates = np.geomspace(
        1.0 / longest, 1.0 / shortest, 4 * max(2, math.ceil(math.log10(longest / shortest)))
    )
    basis = _extend(
        np.zeros((operators.cells, 0)), root[:, None] * np.column_stack((np.ones(root.size), starts))
    )
    tried: list[float] = []
    error = math.inf
    passes = 0
    while len(tried) < MOST_SHIFTS:
        shift = _next_shift(tried, candidates, basis, root, matrix, loads, operators.capacity)
        if shift is None:
            break
        factor = factorise((matrix + sp.diags_array(operators.capacity * shift)).tocsc())
        exact = factor.solve(loads)
        # A start decays from itself: (stiffness + s capacity) x = capacity * start / tau, tau = 1/s.
        exact[:, count:] *= shift
        if len(tried) >= 2:
            error = _error(basis, root, matrix, operators, loads, exact, count, shift, watched)
            passes = passes + 1 if SAFETY * error < tolerance else 0
            if passes >= 2:
                tried.append(shift)
                break
        basis = _extend(basis, root[:, None] * exact)
        tried.append(shift)
    if SAFETY * error > tolerance:
        problem = (
            f"the reduced section misses its tolerance: {SAFETY * error:.2g} K instead of {tolerance:.2g} K"
        )
        raise SolverError(problem, fix='set numerics.solver = "full", or allow a larger numerics.tolerance')
    modes, rates = _diagonalise(basis, root, matrix)
    return Reduction(modes, rates, SAFETY * error, tuple(sorted(tried)))


def _normalised_starts(start: NDArray[np.float64]) -> NDArray[np.float64]:
    level = np.abs(start).max(axis=0)
    varied = np.ptp(start, axis=0) > 1e-9
    return start[:, varied & (level > 0.0)]


def _whole(operators: SectionOperators) -> Reduction:
    root = np.sqrt(operators.capacity)
    scaled = operators.stiffness.toarray() / root[:, None] / root[None, :]
    rates, vectors = scipy.linalg.eigh(0.5 * (scaled + scaled.T))
    return Reduction(vectors / root[:, None], np.maximum(rates, 0.0), 0.0, ())


def _extend(basis: NDArray[np.float64], vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Add the directions of `vectors` that the orthonormal `basis` lacks."""
    length = np.linalg.norm(vectors, axis=0)
    fresh = vectors[:, length > 0.0] / length[length > 0.0]
    for _ in range(2):
        fresh = fresh - basis @ (basis.T @ fresh)
    left, size, _ = scipy.linalg.svd(fresh, full_matrices=False)
    left = left[:, size > 1e-9]
    left = left - basis @ (basis.T @ left)
    left, _ = np.linalg.qr(left)
    return np.column_stack((basis, left))


def _projected(
    basis: NDArray[np.float64], root: NDArray[np.float64], matrix: sp.csc_array
) -> NDArray[np.float64]:
    scaled = basis / root[:, None]
    small: NDArray[np.float64] = scaled.T @ (matrix @ scaled)
    return 0.5 * (small + small.T)


def _diagonalise(
    basis: NDArray[np.float64], root: NDArray[np.float64], matrix: sp.csc_array
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rates, vectors = scipy.linalg.eigh(_projected(basis, root, matrix))
    return (basis @ vectors) / root[:, None], np.maximum(rates, 0.0)


def _next_shift(
    tried: list[float],
    candidates: NDArray[np.float64],
    basis: NDArray[np.float64],
    root: NDArray[np.float64],
    matrix: sp.csc_array,
    loads: NDArray[np.float64],
    capacity: NDArray[np.float64],
) -> float | None:
    """Choose the candidate with the largest residual; both ends of the range come first."""
    if not tried:
        return float(candidates[0])
    if len(tried) == 1:
        return float(candidates[-1])
    modes, rates = _diagonalise(basis, root, matrix)
    small = modes.T @ loads
    stiff = matrix @ modes
    heavy = capacity[:, None] * modes
    worst, choice = -1.0, None
    for shift in candidates:
        if any(abs(math.log(shift / old)) < 0.2 for old in tried):
            continue
        coefficients = small / (rates + shift)[:, None]
        residual = loads - stiff @ coefficients - shift * (heavy @ coefficients)
        size = float(np.linalg.norm(residual / root[:, None], axis=0).max()) / math.sqrt(shift)
        if size > worst:
            worst, choice = size, float(shift)
    return choice


def _error(
    basis: NDArray[np.float64],
    root: NDArray[np.float64],
    matrix: sp.csc_array,
    operators: SectionOperators,
    loads: NDArray[np.float64],
    exact: NDArray[np.float64],
    count: int,
    shift: float,
    watched: NDArray[np.int64],
) -> float:
    """Largest error [K] at the watched cells and the lanes' readings, at one shift."""
    modes, rates = _diagonalise(basis, root, matrix)
    coefficients = (modes.T @ loads) / (rates + shift)[:, None]
    coefficients[:, count:] *= shift
    difference = modes @ coefficients - exact
    walls = operators.reading[:, : operators.lanes].T @ difference
    return max(float(np.abs(difference[watched]).max()), float(np.abs(walls).max(initial=0.0)))


class ReducedSection:
    """Section solver on the modes of a reduction.

    Parameters
    ----------
    operators : SectionOperators
    reduction : Reduction
    """

    name = "reduced"

    def __init__(self, operators: SectionOperators, reduction: Reduction) -> None:
        self.operators = operators
        self.reduction = reduction
        self._injection = reduction.modes.T @ operators.injection
        self._reading = reduction.modes.T @ operators.reading
        self._capacity = reduction.modes.T @ operators.capacity
        self._capacity_under_floor = reduction.modes.T @ operators.capacity_under_floor
        self._floor = np.ascontiguousarray(reduction.modes[operators.floor_cells].T)
        self._modal = ModalForm(
            reduction.rates,
            np.ascontiguousarray(self._injection),
            np.ascontiguousarray(self._reading),
            np.ascontiguousarray(self._capacity),
        )
        self._stages: dict[float, Stage] = {}

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
