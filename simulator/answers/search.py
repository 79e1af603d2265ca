"""The cheapest of many designs that meets all needs, found with few runs and proven where that can be done.

Most needs only rise or only fall with each key. A design that misses a need then rules out all that are worse
in that need, and a design that meets all rules out all that cost more. Runs are spent where a smooth surface
through the known margins (thin-plate splines; Duchon, 1977) expects the boundary, and go on until nothing
cheaper than the best is left. Directions are learnt from the runs, and every further run checks them; a need
that once rises and once falls with a key is no longer taken to be one-way there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

__all__ = ["Found", "Search"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Judge = Callable[[int], "FloatArray | None"]

NOISE: Final = 2e-3
"""Share of a need's spread under which two margins count as equal: runs are computed to a tolerance."""


@dataclass
class Found:
    """What a search found.

    Attributes
    ----------
    best : int or None
        The cheapest design that meets all needs.
    proven : bool
        Whether every cheaper design was run, or is ruled out by needs that were one-way in all runs.
    margins : dict of int to ((R,) float or None)
        Of every design that was run, in the order of the runs; None where the run failed.
    crossed : set of (need, key)
        Pairs in which a need both rose and fell with a key.
    """

    best: int | None = None
    proven: bool = False
    margins: dict[int, FloatArray | None] = field(default_factory=dict)
    crossed: set[tuple[int, int]] = field(default_factory=set)


class Search:
    """A search among designs.

    Parameters
    ----------
    places : (N, K) int
        Place of every design along every key, 0, 1, 2 ... in the order of the key's values.
    numbers : (N, K) float
        The values themselves, for the surface through the margins.
    costs : (N,) float
        What is to be small; of equal costs the first design counts as the cheaper one.
    judge : callable
        Runs a design and returns its margins (R,), not negative where a need is met; None when it failed.
    ordered : (K,) bool, optional
        Whether a key's values have an order; words have none.
    """

    def __init__(
        self,
        places: IntArray,
        numbers: FloatArray,
        costs: FloatArray,
        judge: Judge,
        ordered: NDArray[np.bool_] | None = None,
    ) -> None:
        self.places, self.costs = places, costs
        count, keys = places.shape
        self._judge = judge
        self._ordered = np.ones(keys, dtype=bool) if ordered is None else ordered
        self._rank = np.empty(count, dtype=np.int64)
        # Costs that differ by rounding alone are equal.
        order = np.lexsort((np.arange(count), np.round(costs / max(float(np.abs(costs).max()), 1e-300), 12)))
        self._rank[order] = np.arange(count)
        self._by_rank = order
        self._surface = _even(numbers)
        self.found = Found()

    def run(self, most_runs: int) -> Found:
        """Search until nothing cheaper is left, or so many designs have been run.

        Parameters
        ----------
        most_runs : int

        Returns
        -------
        Found
        """
        self._try_all(self._along_axes(1.0), most_runs)
        self._go_on(most_runs)
        if self.found.best is None:
            # Before giving up: a need that is missed at both ends of a key may be met between them.
            self._try_all(self._along_axes(0.5), most_runs)
            self._go_on(most_runs)
        self._try_all(self._below_best(), most_runs)
        # That may have shown a need that is not one-way after all.
        self._go_on(most_runs)
        self.found.proven = not self._left().size
        return self.found

    def _try_all(self, indices: list[int], most_runs: int) -> None:
        for index in indices:
            if len(self.found.margins) < most_runs:
                self._try(index)

    def _go_on(self, most_runs: int) -> None:
        """Run what may be cheaper than the best until nothing is left."""
        while len(self.found.margins) < most_runs:
            left = self._left()
            if not left.size:
                return
            self._try(self._next(left))

    def predicted(self) -> FloatArray | None:
        """Smallest margin of every design in units of each need's spread, as the surface has it (N,)."""
        surface = self._predict()
        return None if surface is None else (surface / self._spread()).min(axis=1)

    def _try(self, index: int) -> None:
        if index in self.found.margins:
            return
        margins = self._judge(index)
        self.found.margins[index] = margins
        if margins is not None and bool((margins >= 0.0).all()):
            best = self.found.best
            if best is None or self._rank[index] < self._rank[best]:
                self.found.best = index

    def _along_axes(self, share: float) -> list[int]:
        """List the design at all lower ends, and for each key the one at a share of the way up."""
        top = self.places.max(axis=0)
        wanted = [np.zeros_like(top)]
        for key in np.flatnonzero(top > 0).tolist():
            corner = np.zeros_like(top)
            corner[key] = round(share * int(top[key]))
            wanted.append(corner)
        size = np.maximum(top, 1)
        nearest = [int(np.abs((self.places - corner) / size).sum(axis=1).argmin()) for corner in wanted]
        return list(dict.fromkeys(nearest))

    def _below_best(self) -> list[int]:
        """Neighbours of the best design, one step down in one key."""
        best = self.found.best
        if best is None:
            return []
        away = np.abs(self.places - self.places[best]).sum(axis=1)
        near = np.flatnonzero((away == 1) & (self._rank < self._rank[best]))
        return near.tolist()

    def _runs(self) -> tuple[IntArray, FloatArray]:
        known = [(index, margins) for index, margins in self.found.margins.items() if margins is not None]
        if not known:
            return np.zeros(0, dtype=np.int64), np.zeros((0, 1))
        return np.array([index for index, _ in known]), np.array([margins for _, margins in known])

    def _spread(self) -> FloatArray:
        _, margins = self._runs()
        spread = np.ptp(margins, axis=0)
        even: FloatArray = np.where(spread > 0.0, spread, np.maximum(np.abs(margins[0]), 1e-12))
        return even

    def _directions(self) -> IntArray:
        """(R, K) +1 where a need's margin rises with a key, -1 where it falls, 0 where neither is known."""
        indices, margins = self._runs()
        places = self.places[indices]
        needs, keys = margins.shape[1], places.shape[1]
        directions = np.zeros((needs, keys), dtype=np.int64)
        if len(indices) < 2:
            return directions
        noise = NOISE * self._spread()
        steps = np.sign(places[:, None, :] - places[None, :, :])
        rises = margins[:, None, :] - margins[None, :, :]
        single = np.abs(steps).sum(axis=2) == 1
        for need in range(needs):
            clear = np.where(np.abs(rises[:, :, need]) > noise[need], np.sign(rises[:, :, need]), 0.0)
            for key in np.flatnonzero(self._ordered).tolist():
                signs = (clear * steps[:, :, key])[single]
                up, down = bool((signs > 0).any()), bool((signs < 0).any())
                if up and down:
                    self.found.crossed.add((need, key))
                elif up or down:
                    directions[need, key] = 1 if up else -1
            self._check_oblique(need, directions[need], steps, clear)
        for need, key in self.found.crossed:
            directions[need, key] = 0
        return directions

    def _check_oblique(self, need: int, directions: IntArray, steps: IntArray, clear: FloatArray) -> None:
        """Look for pairs that are better in every key and yet have the smaller margin."""
        along = steps * directions
        better = (along >= 0).all(axis=2) & ((steps == 0) | (along != 0)).all(axis=2)
        wrong = better & (np.abs(steps).sum(axis=2) > 1) & (clear < 0.0)
        for first, second in np.argwhere(wrong).tolist():
            self.found.crossed.update((need, key) for key in np.flatnonzero(steps[first, second]).tolist())

    def _ruled_out(self, directions: IntArray) -> NDArray[np.bool_]:
        """(N,) designs that are no better in a need than one that missed it."""
        out = np.zeros(len(self.places), dtype=bool)
        for index, margins in self.found.margins.items():
            if margins is None:
                continue
            for need in np.flatnonzero(margins < 0.0).tolist():
                out |= self._worse(index, directions[need])
        return out

    def _worse(self, index: int, directions: IntArray) -> NDArray[np.bool_]:
        steps = np.sign(self.places - self.places[index])
        worse: NDArray[np.bool_] = ((steps == 0) | ((steps * directions) < 0)).all(axis=1)
        return worse

    def _left(self) -> IntArray:
        """Designs that may be cheaper than the best, cheapest first."""
        indices, _ = self._runs()
        open_ = np.ones(len(self.places), dtype=bool)
        if len(indices):
            open_ &= ~self._ruled_out(self._directions())
        open_[list(self.found.margins)] = False
        if self.found.best is not None:
            open_ &= self._rank < self._rank[self.found.best]
        left: IntArray = self._by_rank[open_[self._by_rank]]
        return left

    def _next(self, left: IntArray) -> int:
        surface = self._predict()
        if surface is None:
            return int(left[len(left) // 2])
        scaled = surface[left] / self._spread()
        worst = scaled.min(axis=1)
        if (worst >= 0.0).any():
            return int(left[np.flatnonzero(worst >= 0.0)[0]])
        if self.found.best is None and worst.max() > -0.02:
            return int(left[worst.argmax()])
        # None is expected to do: the design whose miss rules out most of those left.
        directions = self._directions()
        failing = scaled.argmin(axis=1)
        inside = np.zeros(len(self.places), dtype=bool)
        inside[left] = True
        ruled = [
            int((self._worse(int(index), directions[need]) & inside).sum())
            for index, need in zip(left, failing, strict=True)
        ]
        most = max(ruled)
        best = [place for place, count in enumerate(ruled) if count == most]
        return int(left[max(best, key=lambda place: -worst[place])])

    def _predict(self) -> FloatArray | None:
        """(N, R) margins of all designs, by a surface through those known."""
        indices, margins = self._runs()
        if len(indices) == 0:
            return None
        points = self._surface[indices]
        flat = np.column_stack((np.ones(len(points)), points))
        if len(indices) > points.shape[1] and np.linalg.matrix_rank(flat) == flat.shape[1]:
            from scipy.interpolate import RBFInterpolator  # noqa: PLC0415 - slow to load

            surface: FloatArray = RBFInterpolator(points, margins, kernel="thin_plate_spline", degree=1)(
                self._surface
            )
            return surface
        plane = np.linalg.lstsq(flat, margins, rcond=None)[0]
        return np.column_stack((np.ones(len(self._surface)), self._surface)) @ plane


def _even(numbers: FloatArray) -> FloatArray:
    """Scale every key to 0 ... 1, by ratios where all its values are above 0: effects fade with size."""
    columns = []
    for column in numbers.T:
        values = np.log(column) if column.min() > 0.0 else column
        span = float(np.ptp(values))
        columns.append((values - values.min()) / span if span > 0.0 else np.zeros_like(values))
    return np.column_stack(columns)
