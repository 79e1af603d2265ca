"""Fan curves from what a maker or a gauge gives: points, a polynomial, or two numbers.

Whatever was given becomes polynomial pieces for `fan_kernels`, which evaluates them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.physics import fan_kernels

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

STANDARD_DENSITY: Final = 1.2
"""Density of the air that fan curves are given for [kg/m3] (ISO 5801, standard air)."""


@dataclass(frozen=True, eq=False)
class FanCurve:
    """Pressure rise of a fan over its flow, at full speed.

    Attributes
    ----------
    breaks : (P + 1,) float [m3/s]
        Rising, from 0.
    coefficients : (P, N) float [Pa/(m3/s)^n]
        In rising powers of the flow past each piece's beginning.
    end_slope : float [Pa.s/m3]
        Past the last break; below 0.
    density : float [kg/m3]
        Of the air the curve was taken with.
    """

    breaks: NDArray[np.float64]
    coefficients: NDArray[np.float64]
    end_slope: float
    density: float = STANDARD_DENSITY

    def pressure(
        self, flow: ArrayLike, speed: float = 1.0, density: float | None = None
    ) -> NDArray[np.float64]:
        """Pressure rise at a flow, by the fan laws.

        Parameters
        ----------
        flow : (...) array_like [m3/s]
        speed : float [-]
            Share of full speed; 0 gives no pressure.
        density : float [kg/m3]
            Of the air in the fan; that of the curve if left out.

        Returns
        -------
        (...) float [Pa]
        """
        flows = np.asarray(flow, dtype=np.float64)
        ratio = 1.0 if density is None else density / self.density
        values = [
            fan_kernels.fan_pressure(
                float(each), speed, ratio, self.breaks, self.coefficients, self.end_slope
            )
            for each in flows.ravel()
        ]
        return np.array(values, dtype=np.float64).reshape(flows.shape)

    @property
    def free_delivery(self) -> float:
        """Flow against no resistance at full speed [m3/s]."""
        # The first fall through zero, between samples fine enough for any curve a fan has.
        flows = np.sort(np.concatenate([np.linspace(a, b, 65) for a, b in self._pieces()]))
        pressures = self.pressure(flows)
        below = np.flatnonzero(pressures <= 0.0)
        if below.size == 0:
            return float(flows[-1] - pressures[-1] / self.end_slope)
        if below[0] == 0:
            return float(flows[0])
        low, high = float(flows[below[0] - 1]), float(flows[below[0]])
        for _ in range(80):
            middle = 0.5 * (low + high)
            if float(self.pressure(middle)) > 0.0:
                low = middle
            else:
                high = middle
        return high

    @property
    def rising_stretches(self) -> tuple[tuple[float, float], ...]:
        """Flows [m3/s] between which the pressure rises with flow: humps, where a fan may hunt."""
        found: list[tuple[float, float]] = []
        for begin, end in self._pieces():
            flows = np.linspace(begin, end, 65)
            rises = np.diff(self.pressure(flows)) > 1e-12 * abs(float(self.coefficients[0, 0]))
            for low, high in zip(flows[:-1][rises], flows[1:][rises], strict=True):
                if found and np.isclose(found[-1][1], low, rtol=1e-12, atol=0.0):
                    found[-1] = (found[-1][0], float(high))
                else:
                    found.append((float(low), float(high)))
        return tuple(found)

    def _pieces(self) -> list[tuple[float, float]]:
        return list(zip(self.breaks[:-1].tolist(), self.breaks[1:].tolist(), strict=True))


def curve_through_points(
    flows: ArrayLike, pressures: ArrayLike, density: float = STANDARD_DENSITY
) -> FanCurve:
    """Fan curve through measured or catalogue points, by monotone cubic pieces.

    Between the points it neither over- nor undershoots them; slopes at the points by F. N. Fritsch and
    J. Butland, SIAM J. Scientific and Statistical Computing 5 (1984) 300-304. Under the lowest flow the
    pressure stays level down to no flow; past the highest it falls on straight: with the last slope, or with
    that of the line from shut-off to no pressure at the highest flow, whichever is steeper.

    Parameters
    ----------
    flows : (N,) array_like [m3/s]
        Two or more, 0 or more, rising.
    pressures : (N,) array_like [Pa]
        The last one under the first, or under the one before it.
    density : float [kg/m3]
        Of the air the points were taken with.

    Returns
    -------
    FanCurve

    Raises
    ------
    ValueError
        For points that are not finite, too few, out of order, without any pressure, or that end rising.
    """
    q = np.atleast_1d(np.asarray(flows, dtype=np.float64))
    p = np.atleast_1d(np.asarray(pressures, dtype=np.float64))
    if q.ndim != 1 or q.shape != p.shape or q.size < 2:
        message = f"a fan curve needs as many pressures as flows, two or more; got {q.size} and {p.size}"
        raise ValueError(message)
    if not (np.all(np.isfinite(q)) and np.all(np.isfinite(p))):
        message = "flows and pressures of a fan curve must be finite"
        raise ValueError(message)
    if q[0] < 0.0 or np.any(np.diff(q) <= 0.0):
        message = "flows of a fan curve must be 0 or more and rise from point to point"
        raise ValueError(message)
    slopes = _monotone_slopes(q, p)
    h = np.diff(q)
    secant = np.diff(p) / h
    coefficients = np.column_stack(
        [
            p[:-1],
            slopes[:-1],
            (3.0 * secant - 2.0 * slopes[:-1] - slopes[1:]) / h,
            (slopes[:-1] + slopes[1:] - 2.0 * secant) / (h * h),
        ]
    )
    if q[0] > 0.0:
        q = np.concatenate(([0.0], q))
        coefficients = np.vstack([[p[0], 0.0, 0.0, 0.0], coefficients])
    return _finished(q, coefficients, float(p[-1]), min(float(slopes[-1]), float(secant[-1])), density)


def curve_from_polynomial(
    coefficients: ArrayLike, highest_flow: float, density: float = STANDARD_DENSITY
) -> FanCurve:
    """Fan curve from a polynomial in the flow.

    Parameters
    ----------
    coefficients : (N,) array_like [Pa/(m3/s)^n]
        In rising powers; the first one is the shut-off pressure.
    highest_flow : float [m3/s]
        Where the polynomial ends; from there the pressure falls on straight, see `curve_through_points`.
    density : float [kg/m3]
        Of the air it was taken with.

    Returns
    -------
    FanCurve

    Raises
    ------
    ValueError
        For numbers that are not finite, or a polynomial without pressure or that ends rising.
    """
    c = np.atleast_1d(np.asarray(coefficients, dtype=np.float64))
    if c.ndim != 1 or not np.all(np.isfinite(c)) or not 0.0 < highest_flow < float("inf"):
        message = "a fan polynomial needs finite coefficients and a highest flow above 0"
        raise ValueError(message)
    powers = np.arange(c.size)
    end = float(np.sum(c * highest_flow**powers))
    slope = float(np.sum(c[1:] * powers[1:] * highest_flow ** (powers[1:] - 1)))
    return _finished(np.array([0.0, highest_flow]), c[np.newaxis, :], end, slope, density)


def curve_from_pair(
    free_delivery: float,
    shut_off: float,
    shape: str = "parabola",
    density: float = STANDARD_DENSITY,
) -> FanCurve:
    """Fan curve from the flow against no resistance and the pressure at no flow.

    The parabola shut_off (1 - (q/free)^2) is flat near shut-off, much like a wheel with backward blades; the
    straight line is the cautious guess for a small axial fan. Which one is nearer only the maker's curve can
    tell (common practice, no source).

    Parameters
    ----------
    free_delivery : float [m3/s]
    shut_off : float [Pa]
    shape : {"parabola", "line"}
    density : float [kg/m3]
        Of the air both were taken with.

    Returns
    -------
    FanCurve

    Raises
    ------
    ValueError
        For a number that is not above 0 and finite, or another shape.
    """
    if not (0.0 < free_delivery < float("inf") and 0.0 < shut_off < float("inf")):
        message = "free delivery and shut-off pressure of a fan must be above 0 and finite"
        raise ValueError(message)
    if shape == "line":
        coefficients = [shut_off, -shut_off / free_delivery]
    elif shape == "parabola":
        coefficients = [shut_off, 0.0, -shut_off / free_delivery**2]
    else:
        message = f"shape of a fan curve must be 'parabola' or 'line', got {shape!r}"
        raise ValueError(message)
    return curve_from_polynomial(coefficients, free_delivery, density)


def _finished(
    breaks: NDArray[np.float64],
    coefficients: NDArray[np.float64],
    end: float,
    slope: float,
    density: float,
) -> FanCurve:
    """Check how the curve ends and give it the straight line on which it goes on."""
    if not 0.0 < density < float("inf"):
        message = f"density of a fan curve must be above 0 and finite, got {density:g}"
        raise ValueError(message)
    if float(coefficients[0, 0]) <= 0.0:
        message = f"a fan curve must give pressure at no flow, got {float(coefficients[0, 0]):g} Pa"
        raise ValueError(message)
    start = float(coefficients[0, 0])
    if slope > 1e-9 * start / float(breaks[-1]):
        message = "a fan curve must fall at its highest flow: a pressure that rises for ever is no fan's"
        raise ValueError(message)
    # A curve that ends level still has to fall: at least as steeply as to no pressure at its end.
    return FanCurve(breaks, coefficients, min(slope, (min(end, 0.0) - start) / float(breaks[-1])), density)


def _monotone_slopes(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Slopes at points for cubic pieces that keep the points' rise and fall."""
    h = np.diff(x)
    secant = np.diff(y) / h
    if x.size == 2:
        return np.array([secant[0], secant[0]])
    slopes = np.zeros_like(x)
    before, after = secant[:-1], secant[1:]
    same = before * after > 0.0
    w1 = 2.0 * h[1:] + h[:-1]
    w2 = h[1:] + 2.0 * h[:-1]
    inner = np.zeros_like(before)
    inner[same] = (w1 + w2)[same] / (w1[same] / before[same] + w2[same] / after[same])
    slopes[1:-1] = inner
    slopes[0] = _end_slope(float(h[0]), float(h[1]), float(secant[0]), float(secant[1]))
    slopes[-1] = _end_slope(float(h[-1]), float(h[-2]), float(secant[-1]), float(secant[-2]))
    return slopes


def _end_slope(near: float, far: float, near_secant: float, far_secant: float) -> float:
    """Slope at an end by the parabola through three points, held to keep the rise and fall there."""
    slope = ((2.0 * near + far) * near_secant - near * far_secant) / (near + far)
    if slope * near_secant <= 0.0:
        return 0.0
    if near_secant * far_secant < 0.0 and abs(slope) > 3.0 * abs(near_secant):
        return 3.0 * near_secant
    return slope
