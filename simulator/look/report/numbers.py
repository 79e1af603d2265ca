"""Numbers of a report: written in both systems of units, each carrying the dataset it was taken from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from markupsafe import Markup

from simulator.case.units import ShownUnit, System, shown_unit
from simulator.store.catalogue import CATALOGUE, KELVIN_AT_0_DEGC

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

__all__ = ["HOW", "SYSTEMS", "How", "Number", "in_both", "pretty", "said", "text_of"]

SYSTEMS: Final[tuple[System, System]] = ("SI", "US")
How = Literal["at", "lowest", "lowest while air moves", "highest", "change", "rises", "falls"]
HOW: Final[dict[How, str]] = {
    "at": "at {end}",
    "lowest": "lowest from {begin} to {end}",
    "lowest while air moves": "lowest while air moves, from {begin} to {end}",
    "highest": "highest from {begin} to {end}",
    "change": "change from {begin} to {end}",
    "rises": "sum of its rises from {begin} to {end}",
    "falls": "sum of its falls from {begin} to {end}",
}
"""What was done with a dataset to get the number, in words."""
_DIMENSIONS: Final = {
    "degC": "temperature", "J": "energy", "W": "power", "m": "length", "kg": "mass", "Pa": "pressure",
    "kg/s": "mass flow", "m3/s": "volume flow", "s": "time", "W/m": "heat flow per length",
}  # fmt: skip
_THREE_FIGURES: Final = frozenset({"energy", "power"})
_LETTERS: Final = (("degC", "°C"), ("degF", "°F"), ("m3", "m³"), ("ft3", "ft³"), ("m2", "m²"), ("ft2", "ft²"))


@dataclass(frozen=True)
class Number:
    """A number out of a results file.

    Attributes
    ----------
    value : float
        In the unit that the dataset is stored in.
    dataset : str
    how : str
        A key of `HOW`: what was done between `begin` and `end`.
    begin, end : float [s]
        Since the start of the case; the same for one moment.
    words : (str, str)
        Begin and end in words.
    size_only : bool
        Whether to write it without its sign, where words around it tell the direction.
    """

    value: float
    dataset: str
    how: How
    begin: float
    end: float
    words: tuple[str, str] = ("", "")
    size_only: bool = False

    @property
    def unit(self) -> str:
        """Unit as stored."""
        return CATALOGUE[self.dataset].unit

    def text(self, system: System) -> str:
        """Write the number in one system of units."""
        return text_of(abs(self.value) if self.size_only else self.value, self.unit, system)

    @property
    def source(self) -> str:
        """Say in words where the number comes from."""
        begin, end = self.words
        return f"{self.dataset}, {HOW[self.how].format(begin=begin, end=end)}"

    def __html__(self) -> Markup:
        """Write both systems with the source, for pages; only one of the systems shows."""
        return Markup(
            '<span class="number" title="{source}" data-dataset="{dataset}" data-how="{how}" '
            'data-begin="{begin!r}" data-end="{end!r}" data-value="{value!r}" data-unit="{unit}">{both}'
            "</span>"
        ).format(
            source=self.source, dataset=self.dataset, how=self.how, begin=self.begin, end=self.end,
            value=self.value, unit=self.unit, both=in_both(self.text),
        )  # fmt: skip


def text_of(value: float, unit: str, system: System) -> str:
    """Write a value held in a stored unit; heat and power to three figures."""
    if not math.isfinite(value):
        return "no reading"
    if unit == "1":
        return f"{value:.3g}"
    dimension = _DIMENSIONS.get(unit)
    if dimension is None:
        return f"{value:.4g} {unit}"
    si = value + KELVIN_AT_0_DEGC if dimension == "temperature" else value
    chosen = shown_unit(dimension, system, abs(si))
    return pretty(_three_figures(chosen, si) if dimension in _THREE_FIGURES else chosen.text(si))


def _three_figures(unit: ShownUnit, value: float) -> str:
    number = unit.number(value)
    if abs(number) < 5e-4:
        return f"0 {unit.label}"
    decimals = min(2 - math.floor(math.log10(abs(number))), 3)
    return f"{round(number, decimals):,.{max(decimals, 0)}f} {unit.label}"


def pretty(text: str) -> str:
    """Write units and signs with the letters that print uses, such as °F and m³."""
    for plain, letter in _LETTERS:
        text = text.replace(plain, letter)
    return text.replace("-", "\N{MINUS SIGN}") if text[:1] == "-" else text


def in_both(write: Callable[[System], str]) -> Markup:
    """Mark up what a function writes for each system, so that the page can show one of them."""
    texts = {system: write(system) for system in SYSTEMS}
    if texts["SI"] == texts["US"]:
        return Markup("{}").format(texts["SI"])
    return Markup("").join(
        Markup('<span class="{}">{}</span>').format(system.lower(), text) for system, text in texts.items()
    )


def said(parts: Iterable[str | Number | Markup]) -> Markup:
    """Join words and numbers to a sentence for the page."""
    return Markup("").join(Markup("{}").format(part) for part in parts)
