"""Closed solutions of the heat equation in a section, for observed orders of accuracy.

Both are built by separation of variables (H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, 2nd
ed. 1959, sections 2.1 and 7.1) and checked against their own equation in `test_exact.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

Array = NDArray[np.float64]


@dataclass(frozen=True)
class LayeredMode:
    """One decaying mode of two layers under a film, over a bottom at zero, between adiabatic sides.

    T = exp(-rate t) cos(wave y) Z(z), with Z made of sines so that temperature and heat flow are continuous,
    k Z' = film Z at the surface, and Z = 0 at the bottom. `wave` [1/m] is a multiple of pi over the width.
    """

    conductivity: tuple[float, float]
    heat_capacity: tuple[float, float]
    edge: float
    depth: float
    film: float
    wave: float
    number: int = 2

    def _waves(self, rate: float) -> tuple[float, float]:
        return tuple(
            math.sqrt(rate * c / k - self.wave**2)
            for k, c in zip(self.conductivity, self.heat_capacity, strict=True)
        )  # type: ignore[return-value]

    def _mismatch(self, rate: float) -> float:
        first, second = self._waves(rate)
        k_1, k_2 = self.conductivity
        lower = self.depth - self.edge
        top, slope = self._top(first, self.edge)
        return top * k_2 * second * math.cos(second * lower) + k_1 * slope * math.sin(second * lower)

    def _top(self, wave: float, z: float) -> tuple[float, float]:
        lift = self.film / (self.conductivity[0] * wave)
        return (
            math.cos(wave * z) + lift * math.sin(wave * z),
            wave * (lift * math.cos(wave * z) - math.sin(wave * z)),
        )

    @property
    def rate(self) -> float:
        """Decay rate [1/s]."""
        low = max(k / c for k, c in zip(self.conductivity, self.heat_capacity, strict=True)) * self.wave**2
        grid = low + np.linspace(1e-3, 1.0, 4000) * 2e-4
        values = np.array([self._mismatch(rate) for rate in grid])
        places = np.nonzero(np.diff(np.sign(values)))[0]
        place = places[self.number]
        return float(brentq(self._mismatch, grid[place], grid[place + 1], xtol=1e-18, rtol=1e-14))

    def at(self, y: Array, z: Array) -> Array:
        """Temperature at time zero [K]."""
        first, second = self._waves(self.rate)
        lift = self.film / (self.conductivity[0] * first)
        above = np.cos(first * z) + lift * np.sin(first * z)
        share = self._top(first, self.edge)[0] / math.sin(second * (self.depth - self.edge))
        below = share * np.sin(second * (self.depth - z))
        return np.cos(self.wave * y) * np.where(z < self.edge, above, below)


@dataclass(frozen=True)
class RoundDuct:
    """A duct that gives off heat unevenly, its field faded out before it meets anything else.

    T = fade(r) (level - flow / (2 pi k) ln(r / r0) + tilt (r / r0 + b r0 / r) cos(angle - direction)).
    The round part carries `flow` [W/m]; the tilted part obeys k dT/dr = T / levelling at the pipe, which
    gives b = (1 - Bi) / (1 + Bi) with Bi = r0 / (levelling k). `fade` falls from 1 at r0 to 0 at `reach`.
    """

    radius: float
    reach: float
    conductivity: float
    flow: float
    level: float
    tilt: float
    direction: float
    levelling: float

    def _parts(self, r: Array, angle: Array) -> tuple[Array, Array]:
        biot = self.radius / (self.levelling * self.conductivity)
        b = (1.0 - biot) / (1.0 + biot)
        slope = -self.flow / (2.0 * math.pi * self.conductivity)
        turn = self.tilt * np.cos(angle - self.direction)
        field = self.level + slope * np.log(r / self.radius)
        field = field + turn * (r / self.radius + b * self.radius / r)
        return field, slope / r + turn * (1.0 / self.radius - b * self.radius / r**2)

    def _fade(self, r: Array) -> tuple[Array, Array, Array]:
        """Fade with its first and second derivative; flat to the third order at both ends."""
        width = self.reach - self.radius
        s = np.clip((r - self.radius) / width, 0.0, 1.0)
        value = 1.0 - s**4 * (35.0 - 84.0 * s + 70.0 * s**2 - 20.0 * s**3)
        first = -140.0 * s**3 * (1.0 - s) ** 3 / width
        second = -420.0 * s**2 * (1.0 - s) ** 2 * (1.0 - 2.0 * s) / width**2
        return value, first, second

    def at(self, y: Array, z: Array) -> Array:
        """Temperature [K] at places relative to the duct's centre."""
        r, angle = np.hypot(y, z), np.arctan2(z, y)
        return self._fade(r)[0] * self._parts(r, angle)[0]

    def source(self, y: Array, z: Array) -> Array:
        """Heat to be put in for this field to stay [W/m3]: -k times its Laplacian."""
        r, angle = np.hypot(y, z), np.arctan2(z, y)
        field, slope = self._parts(r, angle)
        _, first, second = self._fade(r)
        return -self.conductivity * (2.0 * first * slope + field * (second + first / r))
