"""The few modes of a section that matter, found by projection, with a checked error.

The section is symmetric in the capacity-weighted sense, so its response to every port is a sum of decaying
exponentials. A rational Krylov basis (solutions of (stiffness + s * capacity) x = port for well-chosen real
s [1/s]) spans all of them that matter between the shortest step and the whole run; projecting on it and
diagonalising leaves a handful of independent modes. Projection of a symmetric system keeps stability, and the
uniform temperature is in the basis, so heat is conserved exactly.

The first few shifts span the range of times asked for. Between two neighbours the solution at their middle,
on a log scale, is compared with the exact one: if it is right to the tolerance the gap is closed, otherwise
the middle becomes a shift itself and leaves two gaps. So every gap is checked against the full mesh.
Rational Krylov projection: Ruhe, Linear Algebra Appl. 58 (1984) 391 (source from memory).
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise, repeat
from typing import TYPE_CHECKING

import numpy as np
import scipy

from simulator.errors import SolverError
from simulator.section.shifted import ShiftedSolver

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators

LANE_LOAD = 30.0
"""Heat flow of one duct to which the tolerance refers [W/m]."""
SURFACE_LOAD = 10.0
"""Temperature change behind a surface film to which the tolerance refers [K]."""
SAFETY = 200.0
"""An error on the real axis of s shows up several times larger after a switch in time: inverting the Laplace
transform amplifies it. The tolerance on the real axis is the allowed error in time over this factor."""
SMALL_SECTION = 300
"""Sections of no more cells than this are diagonalised whole."""
FIRST_SHIFTS = 8
"""Shifts to begin with: as many as are solved at once."""
MOST_SHIFTS = 120
NARROWEST_GAP = 0.05
"""Gap between neighbouring shifts on the natural log scale under which more of them do not help."""
SMALLEST_DIRECTION = 1e-11
"""Directions that add less than this to the basis, relative to their vector, are rounding."""


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
        Error expected in time at reference loads: the largest found between shifts, times SAFETY.
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
    everywhere: bool = False,
    threads: int = 1,
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
        Allowed error in time, at reference loads.
    everywhere : bool
        Hold every cell to the tolerance, not only floor surface and duct walls.
    threads : int
        Sparse solves that may run at the same time; the answer is the same for any number.

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
    scale = np.full(operators.injection.shape[1], SURFACE_LOAD)
    scale[: operators.lanes] = LANE_LOAD
    loads = operators.injection * scale
    used = np.abs(loads).max(axis=0) > 0.0
    starts = _varied(start)
    problem = _Problem(
        operators,
        np.column_stack((loads[:, used], operators.capacity[:, None] * starts)),
        int(used.sum()),
        _watched(operators, everywhere=everywhere),
        1.0 / math.sqrt(shortest * longest),
    )
    problem.extend(np.column_stack((np.ones(operators.cells), starts)))
    shifts = [float(shift) for shift in np.linspace(-math.log(longest), -math.log(shortest), FIRST_SHIFTS)]
    gaps = list(pairwise(shifts))
    worst = 0.0
    with ThreadPoolExecutor(max_workers=max(1, threads)) as pool:
        for _, answers in problem.exact(pool, shifts):
            problem.extend(np.concatenate(answers, axis=1))
        while gaps:
            # Answers of the full mesh do not depend on the basis, so those of all gaps at hand are found at
            # once; what is done with them goes in order, and is the same for any number of threads.
            middles = [0.5 * (low + high) for low, high in gaps]
            open_gaps: list[tuple[float, float]] = []
            checked = iter(gaps)
            for group, answers in problem.exact(pool, middles):
                missed = []
                for middle, answer, found in zip(
                    group, answers, problem.errors(np.exp(group), answers), strict=True
                ):
                    low, high = next(checked)
                    error = SAFETY * found
                    if error <= tolerance:
                        worst = max(worst, error)
                        continue
                    if high - low < NARROWEST_GAP or len(shifts) >= MOST_SHIFTS:
                        shortfall = f"{error:.2g} K instead of {tolerance:.2g} K"
                        message = f"the reduced section misses its tolerance: {shortfall}"
                        fix = 'set numerics.solver = "direct", or allow a larger numerics.tolerance'
                        raise SolverError(message, fix=fix)
                    missed.append(answer)
                    shifts.append(middle)
                    open_gaps += [(low, middle), (middle, high)]
                if missed:
                    problem.extend(np.concatenate(missed, axis=1))
            gaps = open_gaps
    modes, rates = problem.modes()
    return Reduction(modes, rates, worst, tuple(math.exp(shift) for shift in sorted(shifts)))


class _Problem:
    """A section scaled to unit capacity, and a growing orthonormal basis of its states.

    Loads are the columns that the basis must answer: ports first, then starts. A start decays from itself:
    (stiffness + s * capacity) x = s * capacity * start.
    """

    def __init__(
        self,
        operators: SectionOperators,
        loads: NDArray[np.float64],
        ports: int,
        watched: NDArray[np.int64] | slice,
        typical: float,
    ) -> None:
        self.operators, self.loads, self.ports, self.watched = operators, loads, ports, watched
        self.root = np.sqrt(operators.capacity)
        self.solver = ShiftedSolver(operators, typical)
        self.walls = operators.reading[:, : operators.lanes]
        self.wall_cells = np.nonzero(self.walls.any(axis=1))[0]
        self.size = 0
        self.room = np.empty((operators.cells, 64))
        self.small = np.zeros((0, 0))
        self.small_loads = np.zeros((0, loads.shape[1]))

    @property
    def basis(self) -> NDArray[np.float64]:
        """(N, R) orthonormal directions found so far."""
        return self.room[:, : self.size]

    def exact(
        self, pool: ThreadPoolExecutor, logs: Sequence[float]
    ) -> Iterator[tuple[list[float], list[NDArray[np.float64]]]]:
        """Log shifts and the (N, n) answers of the full mesh to the loads there [K], some at a time.

        They come in order. With all cells watched the work on the basis is what takes long, and quicker in
        large pieces; otherwise one at a time leaves fewer modes.
        """
        batch = self.solver.at_once
        groups = [list(logs[first : first + batch]) for first in range(0, len(logs), batch)]
        shifts = [np.exp(group) for group in groups]
        for group, values, found in zip(
            groups, shifts, pool.map(self.solver.solve, shifts, repeat(self.loads)), strict=True
        ):
            answers = [np.ascontiguousarray(one) for one in found]
            for answer, value in zip(answers, values, strict=True):
                answer[:, self.ports :] *= value
            if isinstance(self.watched, slice):
                yield group, answers
            else:
                yield from (([log], [answer]) for log, answer in zip(group, answers, strict=True))

    def extend(self, vectors: NDArray[np.float64]) -> None:
        """Add the directions of (N, n) temperatures that the basis lacks."""
        fresh = self.root[:, None] * vectors
        length = np.linalg.norm(fresh, axis=0)
        fresh = fresh[:, length > 0.0] / length[length > 0.0]
        # Twice is enough, before and after choosing: one pass alone leaves rounding along the old directions.
        fresh = fresh - self.basis @ (self.basis.T @ fresh)
        left, triangle = np.linalg.qr(fresh)
        turn, size, _ = scipy.linalg.svd(triangle)
        left = left @ turn[:, size > SMALLEST_DIRECTION]
        left = left - self.basis @ (self.basis.T @ left)
        left, _ = np.linalg.qr(left)
        pushed = (self.operators.stiffness @ (left / self.root[:, None])) / self.root[:, None]
        across = self.basis.T @ pushed
        corner = left.T @ pushed
        self.small = np.block([[self.small, across], [across.T, 0.5 * (corner + corner.T)]])
        self.small_loads = np.vstack((self.small_loads, left.T @ (self.loads / self.root[:, None])))
        needed = self.size + left.shape[1]
        if needed > self.room.shape[1]:
            larger = np.empty((self.room.shape[0], 2 * needed))
            larger[:, : self.size] = self.basis
            self.room = larger
        self.room[:, self.size : needed] = left
        self.size = needed

    def errors(self, shifts: NDArray[np.float64], exact: list[NDArray[np.float64]]) -> list[float]:
        """Largest error [K] of the basis at each shift, at the watched cells and in the lanes' readings."""
        rates, vectors = scipy.linalg.eigh(self.small)
        loads = vectors.T @ self.small_loads
        answers = [loads / (rates + shift)[:, None] for shift in shifts]
        for answer, shift in zip(answers, shifts, strict=True):
            answer[:, self.ports :] *= shift
        together = vectors @ np.concatenate(answers, axis=1)
        truth = np.concatenate(exact, axis=1)

        def difference(cells: NDArray[np.int64] | slice) -> NDArray[np.float64]:
            found: NDArray[np.float64] = self.basis[cells] @ together
            found /= self.root[cells, None]
            found -= truth[cells]
            return found

        # All cells as a slice: picked by number the whole basis would be copied.
        watched = difference(self.watched)
        whole = isinstance(self.watched, slice)
        at_walls = watched[self.wall_cells] if whole else difference(self.wall_cells)
        off = (watched, self.walls[self.wall_cells].T @ at_walls)
        largest = [np.abs(one).max(axis=0, initial=0.0).reshape(shifts.size, -1).max(axis=1) for one in off]
        return [float(value) for value in np.maximum(*largest)]

    def modes(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Cell temperatures (N, R) and decay rates (R,) [1/s] of the modes in the basis."""
        rates, vectors = scipy.linalg.eigh(self.small)
        return (self.basis @ vectors) / self.root[:, None], np.maximum(rates, 0.0)


def _varied(start: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return those starts that differ from place to place; a uniform one is in the basis anyway."""
    return start[:, np.ptp(start, axis=0) > 1e-9]


def _watched(operators: SectionOperators, *, everywhere: bool) -> NDArray[np.int64] | slice:
    if everywhere:
        return slice(None)
    walls = np.nonzero(operators.reading[:, : operators.lanes].any(axis=1))[0]
    return np.unique(np.concatenate((operators.floor_cells, walls)))


def _whole(operators: SectionOperators) -> Reduction:
    root = np.sqrt(operators.capacity)
    scaled = operators.stiffness.toarray() / root[:, None] / root[None, :]
    rates, vectors = scipy.linalg.eigh(0.5 * (scaled + scaled.T))
    return Reduction(vectors / root[:, None], np.maximum(rates, 0.0), 0.0, ())
