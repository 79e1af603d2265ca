"""Weights that turn the temperatures of cells into those of a section map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.section.map_kernels import draw_map

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["MapWeights"]


@dataclass(frozen=True)
class MapWeights:
    """A sparse matrix by rows: G rectangles of a map, column by column from the top, from N cells.

    Attributes
    ----------
    weights : (Z,) float
    cells : (Z,) int
        Which cell each weight is for.
    begin : (G + 1,) int
        Where the weights of each rectangle begin; a rectangle without ground has none.
    """

    weights: NDArray[np.float64]
    cells: NDArray[np.int32]
    begin: NDArray[np.int32]

    def draw(
        self, temperature: NDArray[np.float64], shape: tuple[int, int], *, mirrored: bool = False
    ) -> NDArray[np.float64]:
        """Turn (S, N) temperatures into a map.

        Parameters
        ----------
        temperature : (S, N) float
        shape : (int, int)
            Rectangles across and down that the weights are for.
        mirrored : bool
            Continue it to the left by its mirror image.

        Returns
        -------
        (S, Z, Y) float
            NaN where there is no ground.
        """
        across, down = shape
        ground = np.empty((temperature.shape[0], down, 2 * across if mirrored else across))
        draw_map(
            np.ascontiguousarray(temperature), self.weights, self.cells, self.begin, mirrored, ground
        )
        return ground
