"""Free convection of air over upright surfaces, for numbers and arrays; formulas in the kernels, once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.physics import free_convection_kernels as kernels

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def upright_film(
    surface: ArrayLike, air: ArrayLike, height: ArrayLike, pressure: ArrayLike = 101325.0
) -> NDArray[np.float64]:
    """Film coefficient of free convection over an upright surface (S. W. Churchill and H. H. S. Chu, 1975).

    Parameters
    ----------
    surface, air : (...) array_like [K]
    height : (...) array_like [m]
        Above 0.
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [W/(m2.K)]
        Without radiation. Under a few kelvin the stir of the room's air adds, see `STIR` in the kernels.

    Raises
    ------
    ValueError
        For a temperature, height or pressure not above 0.
    """
    every = np.broadcast_arrays(
        *(np.asarray(each, dtype=np.float64) for each in (surface, air, height, pressure))
    )
    if not all(np.all(each > 0.0) for each in every):
        message = "temperatures, height and pressure must be above 0"
        raise ValueError(message)
    values = [
        kernels.upright_film(*map(float, each))
        for each in zip(*(part.ravel() for part in every), strict=True)
    ]
    return np.array(values, dtype=np.float64).reshape(every[0].shape)
