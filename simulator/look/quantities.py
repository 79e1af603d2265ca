"""Axes for any quantity: its scales in both systems, and the way from SI values to the first of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from matplotlib.axes import Axes

from simulator.answers.outputs import unit_of
from simulator.case.units import shown_unit
from simulator.look.scales import (
    AIR_FLOW,
    ENERGY,
    FLOW_LARGE,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    FloatArray,
    PairOfScales,
    Units,
    pair_across,
    pair_up,
)
from simulator.look.theme import SIZE_NOTE
from simulator.look.wording import fit, text_width

__all__ = ["Quantity", "label_across", "label_outside", "label_up", "quantity_of"]

_KELVIN_AT_0_DEGC = 273.15
_FLOW_LARGE_IN_WATTS = FLOW_LARGE.factor  # thousand BTU/h in a kW are BTU/h in a W
LARGE_FLOW = 3000.0  # [W] from here on in kW
_SIGNS = {"degC": "°C", "degF": "°F", "m2": "m²", "ft2": "ft²", "m3": "m³", "ft3": "ft³"}
_KNOWN: dict[str, tuple[PairOfScales, float, float]] = {
    "temperature": (TEMPERATURE, 1.0, _KELVIN_AT_0_DEGC),
    "temperature difference": (PairOfScales("K", "°F", 1.8), 1.0, 0.0),
    "energy": (ENERGY, 3.6e6, 0.0),
    "power": (FLOW_LARGE, 1e3, 0.0),
    "volume flow": (AIR_FLOW, 1.0 / 3600.0, 0.0),
    "pressure": (PRESSURE, 1.0, 0.0),
}


@dataclass(frozen=True)
class Quantity:
    """How a quantity is drawn.

    Attributes
    ----------
    scales : PairOfScales or None
        None where both systems write it alike.
    scale, zero : float
        Value in SI = drawn number * scale + zero.
    unit : str
        Of the drawn number; empty for plain numbers.
    """

    scales: PairOfScales | None
    scale: float
    zero: float
    unit: str

    def drawn(self, values: FloatArray) -> FloatArray:
        """Numbers to draw, from values in SI."""
        return (values - self.zero) / self.scale


def quantity_of(dimension: str | None, values: FloatArray) -> Quantity:
    """Choose how to draw a quantity.

    Parameters
    ----------
    dimension : str or None
        Of a key or an output; None for plain numbers.
    values : (N,) float
        In SI; the largest chooses between units of different size.
    """
    if dimension is None or dimension in ("count", "number", "words"):
        return Quantity(None, 1.0, 0.0, "")
    if dimension == "share":
        return Quantity(None, 0.01, 0.0, "%")
    if dimension in ("electricity", "time"):
        unit, scale, zero = unit_of(dimension)
        return Quantity(None, scale, zero, unit)
    known = np.abs(values[np.isfinite(values)])
    largest = float(known.max()) if known.size else None
    if dimension == "power" and largest is not None and largest < LARGE_FLOW:
        return Quantity(PairOfScales("W", "BTU/h", _FLOW_LARGE_IN_WATTS), 1.0, 0.0, "W")
    if dimension in _KNOWN:
        scales, scale, zero = _KNOWN[dimension]
        return Quantity(scales, scale, zero, scales.si)
    if dimension == "length":
        if largest is None or largest >= 1.0:
            return Quantity(LENGTH, 1.0, 0.0, "m")
        return Quantity(PairOfScales("cm", "in", 0.01 / 0.0254), 0.01, 0.0, "cm")
    si, us = shown_unit(dimension, "SI", largest), shown_unit(dimension, "US", largest)
    pair = PairOfScales(_signs(si.label), _signs(us.label), si.scale / us.scale)
    same = pair.si == pair.us
    return Quantity(None if same else pair, si.scale, si.zero, pair.si)


def label_up(axes: Axes, quantity: Quantity, word: str, units: Units, room: float) -> None:
    """Label the upright axis in both systems; a word that is too long for `room` [in] is cut.

    The word stands at the left only, where the system asked for is.
    """
    near = quantity.unit if quantity.scales is None or units == "SI" else quantity.scales.us
    unit = f" [{near}]" if near else ""
    label = fit(word, room - text_width(unit, SIZE_NOTE), SIZE_NOTE) + unit
    if quantity.scales is None:
        axes.set_ylabel(label, fontsize=SIZE_NOTE)
        return
    second = pair_up(axes, quantity.scales, "", units=units)
    first, other = (axes, second) if units == "SI" else (second, axes)
    first.set_ylabel(label, fontsize=SIZE_NOTE)
    far = quantity.scales.us if units == "SI" else quantity.scales.si
    other.set_ylabel(f"[{far}]", fontsize=SIZE_NOTE)


def label_across(axes: Axes, quantity: Quantity, word: str, units: Units) -> None:
    """Label the level axis in both systems."""
    if quantity.scales is None:
        axes.set_xlabel(f"{word} [{quantity.unit}]" if quantity.unit else word)
    else:
        pair_across(axes, quantity.scales, word, units=units)


def label_outside(lowest: Axes, uppermost: Axes, quantity: Quantity, word: str, units: Units) -> None:
    """Label the level axis of stacked bands: one system below the lowest, the other above the uppermost."""
    for axes in (lowest, uppermost):
        axes.tick_params(axis="x", bottom=False, labelbottom=False, top=False, labeltop=False)
    if quantity.scales is None:
        lowest.tick_params(axis="x", bottom=True, labelbottom=True)
        lowest.set_xlabel(f"{word} [{quantity.unit}]" if quantity.unit else word)
        return
    main, other = (lowest, uppermost) if units == "SI" else (uppermost, lowest)
    side: Literal["bottom", "top"] = "bottom" if units == "SI" else "top"
    main.xaxis.set_label_position(side)
    main.tick_params(axis="x", **{side: True, f"label{side}": True})
    main.set_xlabel(f"{word} [{quantity.scales.si}]")
    second = other.secondary_xaxis("top" if units == "SI" else "bottom", functions=quantity.scales.functions)
    second.set_xlabel(f"{word} [{quantity.scales.us}]")


def _signs(unit: str) -> str:
    return _SIGNS.get(unit, unit)
