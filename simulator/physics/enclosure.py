"""Long-wave exchange inside an enclosure through one radiant node."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def radiant_areas(area: ArrayLike, emissivity: ArrayLike) -> NDArray[np.float64]:
    """Area through which each wall of an enclosure exchanges radiation with the radiant node.

    The heat from wall i to the node is radiant_area_i sigma (T_i^4 - T_node^4), and the node holds none:

        radiant_area = A / (1/F + (1 - e)/e),    F_i = 1 / (1 - A_i F_i / sum of A F)

    J. A. Carroll, An "MRT method" of computing radiant energy exchange in rooms, Proceedings of the second
    systems simulation and economic analysis conference, San Diego (1980) (formula from memory). Flat walls do
    not see themselves, which F > 1 makes up for. Exact for two parallel planes, for a small body in a large
    enclosure, and for equal walls that see each other equally. A wall larger than all others together must
    be folded round them: it sees itself and is taken as the node itself behind its surface resistance, as in
    the formula of a convex body in an enclosure.

    Parameters
    ----------
    area : (n,) array_like [m2]
        Above 0; n at least 2.
    emissivity : (n,) array_like [-]
        Above 0 and up to 1.

    Returns
    -------
    (n,) float [m2]
        Infinite (1e12) for a black wall that encloses all others.

    Raises
    ------
    ValueError
        For fewer than two walls, or a number out of range.
    """
    areas = np.asarray(area, dtype=np.float64)
    grey = np.asarray(emissivity, dtype=np.float64)
    if areas.ndim != 1 or areas.size < 2 or not np.all(areas > 0.0):
        message = "an enclosure needs two walls or more, with areas above 0"
        raise ValueError(message)
    if not np.all((grey > 0.0) & (grey <= 1.0)):
        message = "emissivities are above 0 and up to 1"
        raise ValueError(message)
    shares = _shares(areas)
    # 1/F = 1 - share.
    resistance = (1.0 - shares + (1.0 - grey) / grey) / areas
    return 1.0 / np.maximum(resistance, 1e-12)


def _shares(areas: NDArray[np.float64]) -> NDArray[np.float64]:
    """Solve share (1 - share) = A / S with shares that add up to 1."""
    largest = int(np.argmax(areas))
    rest = float(areas.sum() - areas[largest])
    if areas[largest] >= rest * (1.0 - 1e-9):
        shares = np.zeros_like(areas)
        shares[largest] = 1.0
        return shares

    def at(total: float, *, upper: bool) -> NDArray[np.float64]:
        root = np.sqrt(np.maximum(1.0 - 4.0 * areas / total, 0.0))
        found: NDArray[np.float64] = 0.5 * (1.0 - root)
        if upper:
            found[largest] = 0.5 * (1.0 + root[largest])
        return found

    low = 4.0 * float(areas[largest])
    upper = bool(at(low, upper=False).sum() < 1.0)
    high = low
    while (at(high, upper=upper).sum() < 1.0) == upper:
        high *= 2.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if (at(middle, upper=upper).sum() < 1.0) == upper:
            low = middle
        else:
            high = middle
    return at(0.5 * (low + high), upper=upper)
