"""Both systems of units side by side: what a second scale shows and how a value is written."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axes._secondary_axes import SecondaryAxis
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
Units = Literal["SI", "US"]
Change = Callable[[ArrayLike], ArrayLike]

__all__ = [
    "AIR_FLOW",
    "ENERGY",
    "FLOW_LARGE",
    "FLOW_SMALL",
    "FLUX",
    "LENGTH",
    "PRESSURE",
    "TEMPERATURE",
    "PairOfScales",
    "Units",
    "length_text",
    "pair_across",
    "pair_up",
    "sides",
    "temperature_text",
]

FOOT = 0.3048  # [m], exact: international yard and pound agreement, 1959
JOULES_PER_BTU = 1055.05585262  # [J], International Table BTU, exact by its definition (ISO 31-4)
BTU_PER_KILOWATT_HOUR = 3.6e6 / JOULES_PER_BTU


@dataclass(frozen=True)
class PairOfScales:
    """A quantity with its name in both systems; `factor` and `offset` lead from the first to the second."""

    si: str
    us: str
    factor: float
    offset: float = 0.0

    def to_us(self, value: ArrayLike) -> FloatArray:
        """Second scale from first."""
        return np.asarray(value, dtype=np.float64) * self.factor + self.offset

    @property
    def functions(self) -> tuple[Change, Change]:
        """Both ways, as a second axis takes them."""
        return self.to_us, self.to_si

    def to_si(self, value: ArrayLike) -> FloatArray:
        """First scale from second."""
        return (np.asarray(value, dtype=np.float64) - self.offset) / self.factor


TEMPERATURE = PairOfScales("°C", "°F", 1.8, 32.0)
LENGTH = PairOfScales("m", "ft", 1.0 / FOOT)
ENERGY = PairOfScales("kWh", "thousand BTU", BTU_PER_KILOWATT_HOUR / 1e3)
FLOW_SMALL = PairOfScales("W", "BTU/h", BTU_PER_KILOWATT_HOUR / 1e3)
FLOW_LARGE = PairOfScales("kW", "thousand BTU/h", BTU_PER_KILOWATT_HOUR / 1e3)
AIR_FLOW = PairOfScales("m³/h", "cfm", 1.0 / (60.0 * FOOT**3))
PRESSURE = PairOfScales("Pa", "in wg", 1.0 / (1000.0 * 9.80665 * 0.0254))  # conventional inch of water
FLUX = PairOfScales("W/m", "BTU/(h·ft)", BTU_PER_KILOWATT_HOUR / 1e3 * FOOT)


def sides(units: Units) -> tuple[Literal["bottom", "top"], Literal["bottom", "top"]]:
    """Sides of a level axis for the first and the second scale; the system asked for stands below."""
    return ("bottom", "top") if units == "SI" else ("top", "bottom")


def _name(word: str, unit: str) -> str:
    return f"{word} [{unit}]" if word else unit


def pair_up(axes: Axes, scales: PairOfScales, word: str, *, units: Units = "SI") -> SecondaryAxis:
    """Label the upright axis in both systems; the system asked for stands on the left.

    Parameters
    ----------
    axes : Axes
        Its data are in the first scale of `scales`.
    scales : PairOfScales
    word : str
        Name of the quantity.
    units : {"SI", "US"}

    Returns
    -------
    SecondaryAxis
        The axis of the second scale.
    """
    near: Literal["left", "right"] = "left" if units == "SI" else "right"
    far: Literal["left", "right"] = "right" if units == "SI" else "left"
    axes.yaxis.set_label_position(near)
    axes.tick_params(axis="y", left=near == "left", right=near == "right")
    axes.tick_params(axis="y", labelleft=near == "left", labelright=near == "right")
    axes.set_ylabel(_name(word, scales.si))
    second = axes.secondary_yaxis(far, functions=scales.functions)
    second.set_ylabel(_name(word, scales.us))
    return second


def pair_across(axes: Axes, scales: PairOfScales, word: str, *, units: Units = "SI") -> SecondaryAxis:
    """Label the level axis in both systems; the system asked for stands below. See `pair_up`."""
    near, far = sides(units)
    axes.xaxis.set_label_position(near)
    axes.tick_params(axis="x", bottom=near == "bottom", top=near == "top")
    axes.tick_params(axis="x", labelbottom=near == "bottom", labeltop=near == "top")
    axes.set_xlabel(_name(word, scales.si))
    second = axes.secondary_xaxis(far, functions=scales.functions)
    second.set_xlabel(_name(word, scales.us))
    return second


def _number(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def temperature_text(
    celsius: float, *, units: Units = "SI", both: bool = True, decimals: int | None = None
) -> str:
    """Write a temperature, in both systems unless told otherwise; `no reading` where there is none.

    Parameters
    ----------
    celsius : float [degC]
    units : {"SI", "US"}
        The system that comes first.
    both : bool
    decimals : int, optional
        Digits after the point; one in degC and none in degF when left out.
    """
    if not math.isfinite(celsius):
        return "no reading"
    fahrenheit = float(TEMPERATURE.to_us(celsius))
    in_si = f"{_number(celsius, 1 if decimals is None else decimals)} °C"
    in_us = f"{_number(fahrenheit, 0 if decimals is None else decimals)} °F"
    first, second = (in_si, in_us) if units == "SI" else (in_us, in_si)
    return f"{first} ({second})" if both else first


def length_text(metres: float, *, units: Units = "SI", both: bool = True, decimals: int | None = None) -> str:
    """Write a length, in both systems unless told otherwise, the one asked for first.

    Parameters
    ----------
    metres : float
    units : {"SI", "US"}
    both : bool
    decimals : int, optional
        Digits after the point in metres; two when left out. Feet always have one.
    """
    in_si = f"{_number(metres, 2 if decimals is None else decimals)} m"
    in_us = f"{_number(float(LENGTH.to_us(metres)), 1)} ft"
    first, second = (in_si, in_us) if units == "SI" else (in_us, in_si)
    return f"{first} ({second})" if both else first
