"""Say where a state has left the finite numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.run.stage_kernels import ROOM

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.run.stage_kernels import Moving

__all__ = ["where_not_finite"]


def where_not_finite(section: NDArray[np.float64], moving: Moving) -> str:
    """Name the place, as far as it has not spread: one step carries it through the room to every station.

    Parameters
    ----------
    section : (S, R) float
        State of the section solver at every station.
    moving : Moving

    Returns
    -------
    str
        For instance " in the ground at station 3"; stations count from 1. Empty when all is finite.
    """
    ground = ~np.isfinite(section).all(axis=1)
    air = ~(np.isfinite(moving.air_in) & np.isfinite(moving.air_out)).all(axis=1)
    for wrong, name in ((ground, "the ground"), (air, "the duct air")):
        if wrong.any() and not wrong.all():
            return f" in {name} at station {int(np.argmax(wrong)) + 1}"
    room = not np.isfinite(moving.scalars[ROOM])
    places = [
        name for wrong, name in ((ground.any(), "ground"), (air.any(), "duct air"), (room, "room")) if wrong
    ]
    return f" in {', '.join(places)}" if places else ""
