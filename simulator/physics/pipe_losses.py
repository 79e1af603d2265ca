"""Loss coefficients of fittings: the share of the velocity pressure that each one costs.

Pressure lost is K rho v^2 / 2 with the velocity in the pipe named. Handbook values for turbulent flow;
makers' figures come first. They scatter by some 20 % between handbooks, and two fittings close together do
not simply add up.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class Loss:
    """Loss coefficient [-] of a fitting and where it comes from."""

    coefficient: float
    source: str


FITTINGS: Final[Mapping[str, Loss]] = MappingProxyType(
    {
        "flush entry": Loss(0.5, "I. E. Idelchik, Handbook of Hydraulic Resistance, from memory"),
        "protruding entry": Loss(0.78, "Crane, Technical Paper 410, from memory; 1.0 for a thin-walled pipe"),
        "rounded entry": Loss(0.06, "Idelchik, radius 0.15 D, from memory"),
        "exit": Loss(1.0, "the velocity pressure is lost in the room; exact for flat profiles"),
        "rounded bend": Loss(
            0.28, "90 degrees, middle radius 1.5 D, smooth: H. Ito, J. Basic Engineering 82 (1960) 131-143"
        ),
        "tight bend": Loss(0.39, "90 degrees, middle radius 1 D: Rennels and Hudson, Pipe Flow (2012)"),
        "mitred bend": Loss(1.2, "90 degrees, one cut: Idelchik, diagram 6-5, from memory"),
        "half bend": Loss(0.18, "45 degrees, middle radius 1.5 D: H. Ito (1960)"),
        "mitred half bend": Loss(0.32, "45 degrees, one cut: Idelchik, diagram 6-5, from memory"),
        "return bend": Loss(0.35, "180 degrees, middle radius 1.5 D: H. Ito (1960)"),
    }
)
"""Fittings by name, each referred to the velocity in its own pipe."""


def widening(small: ArrayLike, large: ArrayLike) -> NDArray[np.float64]:
    """Loss coefficient of a sudden widening, on the velocity in the small pipe: (1 - (d/D)^2)^2.

    Borda-Carnot, exact for flat velocity profiles.

    Parameters
    ----------
    small, large : (...) array_like [m]
        Diameters.

    Returns
    -------
    (...) float [-]
    """
    share = (np.asarray(small, dtype=np.float64) / np.asarray(large, dtype=np.float64)) ** 2
    return np.asarray((1.0 - share) ** 2)


def narrowing(large: ArrayLike, small: ArrayLike) -> NDArray[np.float64]:
    """Loss coefficient of a sudden narrowing, on the velocity in the small pipe: 0.5 (1 - (d/D)^2)^(3/4).

    Idelchik, diagram 4-9 (from memory); 0.5 out of a large space, the flush entry.

    Parameters
    ----------
    large, small : (...) array_like [m]
        Diameters.

    Returns
    -------
    (...) float [-]
    """
    share = (np.asarray(small, dtype=np.float64) / np.asarray(large, dtype=np.float64)) ** 2
    return np.asarray(0.5 * (1.0 - share) ** 0.75)


def grille(free_share: ArrayLike) -> NDArray[np.float64]:
    """Loss coefficient of a thin grille or perforated plate in a duct, on the velocity before it.

    (0.707 sqrt(1 - a) + 1 - a)^2 / a^2 with the share a of the area that is free (Idelchik, diagram 8-1, from
    memory), sharp-edged; up to 0.8 free within 25 % of the measured values in R. D. Blevins, Applied Fluid
    Dynamics Handbook.

    Parameters
    ----------
    free_share : (...) array_like [-]
        Above 0 and up to 1.

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For a share out of range.
    """
    free = np.asarray(free_share, dtype=np.float64)
    if not np.all((free > 0.0) & (free <= 1.0)):
        message = "the free share of a grille must be above 0 and up to 1"
        raise ValueError(message)
    return np.asarray(((0.707 * np.sqrt(1.0 - free) + 1.0 - free) / free) ** 2)


def referred(coefficient: ArrayLike, own: ArrayLike, other: ArrayLike) -> NDArray[np.float64]:
    """Loss coefficient of a fitting on the velocity in a pipe of another diameter: K (other / own)^4.

    Follows from equal volume flow.

    Parameters
    ----------
    coefficient : (...) array_like [-]
        On the velocity in a pipe of diameter `own`.
    own, other : (...) array_like [m]

    Returns
    -------
    (...) float [-]
    """
    ratio = np.asarray(other, dtype=np.float64) / np.asarray(own, dtype=np.float64)
    return np.asarray(np.asarray(coefficient, dtype=np.float64) * ratio**4)
