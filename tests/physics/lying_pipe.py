"""Slow flow in a heated lying pipe, solved from its equations: laminar, fully developed, Boussinesq.

Half of the cross-section in polar finite volumes, radius 1, stream function and vorticity; velocities across
in units of viscosity over radius. Newton's method on the whole system. Nothing here comes from the program.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import splu

TOLERANCE = 1e-8


class _Half:
    """Half disc of n by n cells, finer towards the wall, angle from the top."""

    def __init__(self, n: int) -> None:
        edge = np.tanh(1.5 * np.linspace(0.0, 1.0, n + 1)) / np.tanh(1.5)
        middle, width = 0.5 * (edge[1:] + edge[:-1]), np.diff(edge)
        angle = np.pi / n
        self.area = np.repeat(0.5 * np.diff(edge**2) * angle, n)
        cell = np.arange(n * n).reshape(n, n)
        before = np.concatenate([cell[:-1].ravel(), cell[:, :-1].ravel()])
        behind = np.concatenate([cell[1:].ravel(), cell[:, 1:].ravel()])
        rings, spokes = (n - 1) * n, n * (n - 1)
        self.faces = np.arange(rings + spokes)
        self.n = n
        distance = np.concatenate([np.repeat(np.diff(middle), n), np.repeat(middle * angle, n - 1)])
        size = np.concatenate([np.repeat(edge[1:-1] * angle, n), np.repeat(width, n - 1)])
        weight = np.concatenate(
            [np.repeat((middle[1:] - edge[1:-1]) / np.diff(middle), n), np.full(spokes, 0.5)]
        )
        both = np.concatenate([before, behind])
        twice = np.concatenate([self.faces, self.faces])
        shape = (self.faces.size, n * n)
        ones = np.ones(self.faces.size)
        self.at_face = sparse.csr_matrix((np.concatenate([weight, 1.0 - weight]), (twice, both)), shape)
        step = sparse.csr_matrix((np.concatenate([-ones, ones]), (twice, both)), shape)
        # Sum over the faces of a cell of what flows out of it; gradients flow in.
        self.out = -step.T.tocsr()
        inside = self.out @ sparse.diags(size / distance) @ step
        self.to_wall = np.zeros(n * n)
        self.to_wall[cell[-1]] = angle / (1.0 - middle[-1])
        self.wall_distance = 1.0 - middle[-1]
        on_line = np.zeros((n, n))
        on_line[:, 0] += width / (0.5 * middle * angle)
        on_line[:, -1] += width / (0.5 * middle * angle)
        # At the wall velocity and temperature are 0; about the upright line they are even, the whirl is odd.
        self.even = inside - sparse.diags(self.to_wall)
        self.odd = inside - sparse.diags(self.to_wall + on_line.ravel())
        centre = (np.arange(n) + 0.5) * angle
        across = np.concatenate(
            [
                np.tile(np.sin(centre) * 2.0 * np.sin(0.5 * angle) / angle, n - 1),
                np.tile(np.cos(np.arange(1, n) * angle), n),
            ]
        )
        ends = np.zeros((n, n))
        ends[:, 0] -= width
        ends[:, -1] -= width
        # Integral over each cell of the slope along the level.
        self.level_slope = self.out @ sparse.diags(across * size) @ self.at_face + sparse.diags(ends.ravel())
        self.flow = self._flow_through_faces(cell, middle, edge)

    def _flow_through_faces(
        self, cell: NDArray[np.int64], middle: NDArray[np.float64], edge: NDArray[np.float64]
    ) -> sparse.csr_matrix:
        """Flow as differences of the stream function at corners, so that none is made or lost."""
        n = self.n
        corner = np.arange((n + 1) * (n + 1)).reshape(n + 1, n + 1)
        corners = sparse.lil_matrix((corner.size, n * n))
        for i in range(1, n):
            share = (edge[i] - middle[i - 1]) / (middle[i] - middle[i - 1])
            for j in range(1, n):
                for side in (j - 1, j):
                    corners[corner[i, j], cell[i - 1, side]] = 0.5 * (1.0 - share)
                    corners[corner[i, j], cell[i, side]] = 0.5 * share
        from_corner = np.concatenate([corner[1:-1, :-1].ravel(), corner[1:, 1:-1].ravel()])
        less_corner = np.concatenate([corner[1:-1, 1:].ravel(), corner[:-1, 1:-1].ravel()])
        ones = np.ones(self.faces.size)
        through = sparse.csr_matrix(
            (
                np.concatenate([ones, -ones]),
                (np.tile(self.faces, 2), np.concatenate([from_corner, less_corner])),
            ),
            (self.faces.size, corner.size),
        )
        return (through @ corners.tocsr()).tocsr()


def nusselt_numbers(
    drives: Iterable[float], prandtl: float, cells: int, *, even_heat: bool
) -> Iterator[tuple[float, float]]:
    """Rayleigh numbers [-], on diameter and bulk less wall temperature, each with its Nusselt number [-].

    Parameters
    ----------
    drives : iterable of float
        Buoyancy in units of the solution's own temperature, rising from one to the next, as each solution
        starts from the last. The Rayleigh number comes out of the solution.
    prandtl : float
    cells : int
        In each direction.
    even_heat : bool
        Whether heat along the pipe is even; otherwise the wall is of one temperature all along. Round the
        pipe it is of one temperature always.
    """
    half = _Half(cells)
    area, count = half.area, half.area.size
    whole = area.sum()
    stream, whirl = np.zeros(count), np.zeros(count)
    along = splu(half.even.tocsc()).solve(-area)
    warm = splu((half.even / prandtl).tocsc()).solve(-area * along / (area @ along / whole))
    thom = sparse.diags(-2.0 * half.to_wall / half.wall_distance**2)
    for drive in drives:
        for _ in range(200):
            through = half.flow @ stream
            carry = half.out @ sparse.diags(through) @ half.at_face

            def carried(value: NDArray[np.float64]) -> sparse.csr_matrix:
                return half.out @ sparse.diags(half.at_face @ value) @ half.flow

            mean = area @ along / whole
            source = np.ones(count) if even_heat else warm / warm.mean()
            misses = np.concatenate(
                [
                    half.odd @ stream + area * whirl,
                    half.odd @ whirl + thom @ stream - carry @ whirl + drive * (half.level_slope @ warm),
                    half.even @ along - carry @ along + area,
                    half.even @ warm / prandtl - carry @ warm + area * along * source / mean,
                ]
            )
            slopes = sparse.bmat(
                [
                    [half.odd, sparse.diags(area), None, None],
                    [thom - carried(whirl), half.odd - carry, None, drive * half.level_slope],
                    [-carried(along), None, half.even - carry, None],
                    [-carried(warm), None, sparse.diags(area * source / mean), half.even / prandtl - carry],
                ]
            )
            change = splu(slopes.tocsc()).solve(-misses)
            stream, whirl, along, warm = np.split(np.concatenate([stream, whirl, along, warm]) + change, 4)
            scale = max(np.abs(each).max() for each in (stream, whirl, along, warm))
            if np.abs(change).max() < TOLERANCE * scale:
                break
        else:
            message = f"no solution at a drive of {drive:g}"
            raise RuntimeError(message)
        bulk = (area @ (along * warm)) / (area @ along)
        heat = half.to_wall @ warm / prandtl / np.pi
        yield 8.0 * drive * bulk * prandtl, 2.0 * prandtl * heat / bulk
