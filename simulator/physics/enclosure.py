"""Inside an enclosure: long waves through one radiant node, and sun that passes out again through glazing."""

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


def share_kept(reflectance: float, inside_area: float, glazed_area: float, transmittance: float) -> float:
    """Share of the sun let into a house that stays there; the rest passes out again through the glazing.

    What falls on floor and walls is thrown back evenly, some of it onto the glazing, which lets its share out
    and throws the rest back in, and so on for ever:

        kept = a / (1 - r (1 - F) - r F q),    q = (1 - t) G / (1 - (1 - t) (1 - G))

    with r the reflectance inside, a = 1 - r, t the transmittance of the glazing for even light, and as in a
    hollow of two faces F = min(1, glazed / inside) the view from inside onto the glazing, G = min(1, inside /
    glazed) that from the glazing. For a window, a / (a + r t F), this is the absorptance of rooms, and for
    glazing as large as the floor, a / (1 - r (1 - t)), that under a cover, in J. A. Duffie and W. A. Beckman,
    Solar Engineering of Thermal Processes, chapter 5 (from memory). What the sheet itself would take up of it
    on its way counts as kept.

    Parameters
    ----------
    reflectance : float [-]
        0 to below 1.
    inside_area : float [m2]
        Of floor and walls; above 0.
    glazed_area : float [m2]
    transmittance : float [-]
        Mean of the glazing.

    Returns
    -------
    float [-]

    Raises
    ------
    ValueError
        For a number out of range.
    """
    if not (0.0 <= reflectance < 1.0 and 0.0 <= transmittance <= 1.0):
        message = "inside reflectance is 0 to below 1, transmittance 0 to 1"
        raise ValueError(message)
    if not (inside_area > 0.0 and glazed_area >= 0.0):
        message = "the area inside is above 0, the glazed area 0 or more"
        raise ValueError(message)
    onto_glazing = min(1.0, glazed_area / inside_area)
    from_glazing = min(1.0, inside_area / glazed_area) if glazed_area > 0.0 else 1.0
    back = 1.0 - transmittance
    returned = back * from_glazing / (1.0 - back * (1.0 - from_glazing))
    return (1.0 - reflectance) / (1.0 - reflectance * (1.0 - onto_glazing * (1.0 - returned)))


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
