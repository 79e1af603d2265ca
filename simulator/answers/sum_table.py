"""What a sum gives back: every quantity of it with its error, and whether it is a rate or an amount."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from simulator.answers.measured import COVERAGE, Measured
from simulator.case.rates import kind_of
from simulator.case.units import scale_and_zero
from simulator.store.table_html import table_html

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.case.units import System

__all__ = ["RATES_AND_AMOUNTS", "Quantity", "Sum"]

RATES_AND_AMOUNTS: Final = (
    "kW and BTU/h are rates: heat in each hour. kWh and BTU are amounts: a rate times the time for which it "
    "lasts. 1 kW is 3,412 BTU/h; 1 kWh is 3,412 BTU."
)
_DIGITS: Final = 4
_ERROR_DIGITS: Final = 2
_MOST_DIGITS: Final = 5
#: What a quantity is written in, in either system. Flows depend on what flows.
_UNITS: Final[dict[str, tuple[str, str]]] = {
    "temperature": ("degC", "degF"),
    "temperature difference": ("K", "degF"),
    "power": ("kW", "BTU/h"),
    "energy": ("kWh", "BTU"),
    "volume flow": ("m3/h", "cfm"),
    "water flow": ("L/min", "gpm"),
    "mass flow": ("kg/h", "lb/h"),
    "mass": ("kg", "lb"),
    "volume": ("L", "gal"),
    "time": ("h", "h"),
    "energy per mass": ("MJ/kg", "BTU/lb"),
    "specific heat": ("J/(kg.K)", "BTU/(lb.F)"),
}
_ALIKE: Final = {"water flow": "volume flow"}


@dataclass(frozen=True)
class Quantity:
    """One number of a sum.

    Attributes
    ----------
    name : str
        For other programs.
    label : str
        For people.
    measured : Measured
        In SI.
    dimension : str
        What it is: a dimension of the case file, ``"water flow"``, ``"energy per mass"`` or ``"share"``.
    solved : bool
        Whether it was left blank and solved for.
    """

    name: str
    label: str
    measured: Measured
    dimension: str
    solved: bool = False

    @property
    def value(self) -> float:
        """The number itself, in SI."""
        return self.measured.value

    @property
    def kind(self) -> str:
        """Whether it is a rate, an amount, or neither of them (empty)."""
        return kind_of(_ALIKE.get(self.dimension, self.dimension)) or ""

    def text(self, system: System = "SI", *, error: bool = True) -> str:
        """Write number, error and unit."""
        if self.dimension == "share":
            return _written(self.measured, 0.01, 0.0, "%", error=error)
        unit = _UNITS[self.dimension][0 if system == "SI" else 1]
        if self.dimension == "energy per mass":
            scale, zero = (1e6, 0.0) if system == "SI" else (1055.05585262 / 0.45359237, 0.0)
        else:
            scale, zero = scale_and_zero(unit, _ALIKE.get(self.dimension, self.dimension))
        return _written(self.measured, scale, zero, unit, error=error)

    def both(self, first: System = "SI") -> str:
        """Write it in one system, and in brackets in the other one."""
        second: System = "US" if first == "SI" else "SI"
        one, other = self.text(first), self.text(second, error=False)
        return one if self.text(first, error=False) == other else f"{one} ({other})"

    def as_dict(self) -> dict[str, Any]:
        """Hand over for other programs."""
        return {
            "label": self.label,
            "value": self.measured.value,
            "within": self.measured.within,
            "unit": _SI_UNITS[self.dimension],
            "kind": self.kind or None,
            "solved": self.solved,
            "si": self.text("SI"),
            "us": self.text("US"),
        }


_SI_UNITS: Final = {
    "temperature": "K", "temperature difference": "K", "power": "W", "energy": "J", "volume flow": "m3/s",
    "water flow": "m3/s", "mass flow": "kg/s", "mass": "kg", "volume": "m3", "time": "s",
    "energy per mass": "J/kg", "specific heat": "J/(kg K)", "share": "1",
}  # fmt: skip


@dataclass(frozen=True)
class Sum:
    """A sum that was done.

    Attributes
    ----------
    title : str
    quantities : tuple of Quantity
        In the order in which they are told.
    notes : tuple of str
        What to mind about the answer.
    shares_of_error : mapping of str to float
        How much of the squared error of the answer each input brings; empty when everything counts as exact.
    """

    title: str
    quantities: tuple[Quantity, ...]
    notes: tuple[str, ...] = ()
    shares_of_error: Mapping[str, float] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Quantity:
        for quantity in self.quantities:
            if quantity.name == name:
                return quantity
        raise KeyError(name)

    def __contains__(self, name: object) -> bool:
        return any(quantity.name == name for quantity in self.quantities)

    @property
    def answer(self) -> Quantity:
        """The quantity that was solved for."""
        return next(quantity for quantity in self.quantities if quantity.solved)

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers and texts, ready for JSON."""
        return {
            "sum": self.title,
            "solved_for": self.answer.name,
            "quantities": {quantity.name: quantity.as_dict() for quantity in self.quantities},
            "shares_of_error": dict(self.shares_of_error),
            "coverage": COVERAGE if self.shares_of_error else None,
            "notes": list(self.notes),
        }

    def as_rows(self, units: System = "SI") -> list[tuple[str, str]]:
        """Return lines to print: what, and how much in both systems, those asked for first."""
        rows = []
        for quantity in self.quantities:
            marks = [quantity.kind] if quantity.kind else []
            marks += ["solved"] if quantity.solved else []
            text = quantity.both(units)
            rows.append((quantity.label, f"{text} - {', '.join(marks)}" if marks else text))
        return rows

    def _repr_html_(self) -> str:
        """Write the sum as a table for notebooks."""
        rows = [
            (one.label, one.text("SI"), one.text("US"), one.kind, "solved" if one.solved else "")
            for one in self.quantities
        ]
        return table_html(self.title, ("", "SI", "US", "", ""), rows, self.remarks())

    def remarks(self) -> list[str]:
        """Return what is to be said below the numbers: errors, rates and amounts, notes."""
        told = []
        if self.shares_of_error:
            parts = ", ".join(
                f"{name} {100.0 * share:.0f} %"
                for name, share in sorted(self.shares_of_error.items(), key=lambda part: -part[1])
            )
            told.append(f"Where the +/- comes from (shares of its square): {parts}. Here {COVERAGE}.")
        if any(quantity.dimension in ("power", "energy") for quantity in self.quantities):
            told.append(RATES_AND_AMOUNTS)
        return [*told, *self.notes]


def _written(measured: Measured, scale: float, zero: float, unit: str, *, error: bool) -> str:
    number = (measured.value - zero) / scale
    off = measured.within / scale
    if not error or off == 0.0:
        decimals = 1 if zero != 0.0 else _decimals(number, _DIGITS)
        return f"{_plain(number, decimals)} {unit}"
    decimals = min(_decimals(off, _ERROR_DIGITS), _decimals(number, _DIGITS) + 1)
    return f"{_plain(number, decimals)} +/- {_plain(off, decimals)} {unit}"


def _decimals(number: float, digits: int) -> int:
    if number == 0.0 or not math.isfinite(number):
        return 0
    return min(max(digits - 1 - math.floor(math.log10(abs(number))), 0), 6)


def _plain(number: float, decimals: int) -> str:
    if decimals == 0 and abs(number) >= 10.0**_MOST_DIGITS:
        number = float(f"{number:.{_MOST_DIGITS}g}")
    text = f"{number:,.{decimals}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.,") else text
