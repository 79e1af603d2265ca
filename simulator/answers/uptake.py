"""Uptake: the share of the heat put in that the ground takes, hour of fire by hour of fire."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Uptake", "stays_below", "uptake_of"]

HOUR: Final = 3600.0
FIRE: Final = 1.0
"""A heater that gives more than this burns [W]."""


@dataclass(frozen=True, eq=False)
class Uptake:
    """Share of the heat put in that the ground takes, over stretches in which a fire burns.

    Attributes
    ----------
    moments : (N,) float [s]
        Ends of the stretches, an hour each, since the start.
    share : (N,) float [1]
        Above 1 where the ground also takes heat that the room air brought along.
    """

    moments: FloatArray
    share: FloatArray

    @property
    def first(self) -> float | None:
        """In the first hour of fire."""
        return float(self.share[0]) if self.share.size else None

    @property
    def last(self) -> float | None:
        """In the last hour of fire."""
        return float(self.share[-1]) if self.share.size else None


def uptake_of(results: Results, begin: float = 0.0) -> Uptake:
    """Work out the uptake for every hour of fire from `begin` [s] on.

    Hours are counted from the moment the heat comes on; what is left of the last one, when it is half an hour
    or more, counts as well.
    """
    seconds = np.asarray(results.read("time"), dtype=np.float64)
    power = np.asarray(results.read("heater_power"), dtype=np.float64)
    taken = np.asarray(results.read("ledger_duct"), dtype=np.float64)
    given = np.asarray(results.read("ledger_heater"), dtype=np.float64) + np.asarray(
        results.read("ledger_fan"), dtype=np.float64
    )
    if "ledger_flue" in results and "flue_mass_flow" in results:
        # Gas heats the ground beside the air: it was offered, too.
        given = given + np.asarray(results.read("ledger_flue"), dtype=np.float64)
    moments: list[float] = []
    shares: list[float] = []
    for first, last in _fires(seconds, power, begin):
        edge = first
        while last - edge >= 0.5 * HOUR:
            end = min(edge + HOUR, last)
            into, offered = (
                float(np.diff(np.interp([edge, end], seconds, course))[0]) for course in (taken, given)
            )
            if offered > 0.0:
                moments.append(end)
                shares.append(into / offered)
            edge = end
    return Uptake(np.array(moments), np.array(shares))


def _fires(seconds: FloatArray, power: FloatArray, begin: float) -> list[tuple[float, float]]:
    """Stretches in which the heater gives heat; a row tells of the time that led to it."""
    found: list[tuple[float, float]] = []
    for row in np.flatnonzero(power[1:] > FIRE).tolist():
        first, last = max(float(seconds[row]), begin), float(seconds[row + 1])
        if last <= begin:
            continue
        if found and found[-1][1] == first:
            first = found.pop()[0]
        found.append((first, last))
    return found


def stays_below(uptake: Uptake, mark: float, now: float) -> float | None:
    """Time [s] from `now` on until the uptake is below a mark and stays there; None when it ends above it."""
    above = np.flatnonzero(uptake.share >= mark)
    if not above.size:
        return 0.0
    last = int(above[-1])
    return None if last == uptake.share.size - 1 else float(uptake.moments[last]) - now
