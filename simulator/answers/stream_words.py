"""A stream's sum in words: rows with labels, and what to mind about them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from simulator.answers.measured import Measured
from simulator.answers.stream_balance import ZERO
from simulator.answers.sum_table import Quantity, Sum

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["told"]

SCALDING: Final = 322.0
"""Water that burns skin within minutes, some 49 degC [K] (common practice, no source)."""
PLASTIC: Final = 333.15
"""Usual rating of plastic duct [K]."""


def told(
    medium: str,
    blank: str,
    flow_dimension: str,
    found: Mapping[str, Measured],
    shares: Mapping[str, float],
) -> Sum:
    """Put the numbers into words."""
    called = medium.capitalize()
    taken = found["heat"].value >= 0.0
    volume = "water flow" if medium == "water" else "volume flow"
    size = found["difference"].value

    def row(name: str, label: str, dimension: str, key: str | None = None) -> Quantity:
        return Quantity(name, label, found[key or name], dimension, solved=(key or name) == blank)

    rows = [
        row("entering", f"{called} entering", "temperature"),
        row("leaving", f"{called} leaving", "temperature"),
        Quantity(
            "difference", "Warmer by" if size >= 0.0 else "Cooler by",
            Measured(abs(size), found["difference"].within), "temperature difference",
        ),
    ]  # fmt: skip
    by_volume = Quantity(
        "volume_flow",
        "Flow",
        found["volume_flow"],
        volume,
        flow_dimension == "volume flow" and blank == "flow",
    )
    by_mass = Quantity(
        "mass_flow",
        "Flow by mass",
        found["mass_flow"],
        "mass flow",
        flow_dimension == "mass flow" and blank == "flow",
    )
    rows += [by_volume, by_mass]
    heat = Measured(abs(found["heat"].value), found["heat"].within)
    rows.append(
        Quantity("heat", "Heat taken up" if taken else "Heat given off", heat, "power", blank == "heat")
    )
    if "settled" in found and found["settled"].value > 0.0:
        rows.append(row("settled", "Water settling", "mass flow"))
        rows.append(
            Quantity(
                "latent",
                "Heat of that water",
                Measured(abs(found["latent"].value), found["latent"].within),
                "power",
            )
        )
    if "amount" in found:
        amount = Measured(abs(found["amount"].value), found["amount"].within)
        rows.append(Quantity("amount", "In the time given", amount, "energy"))
    if "share" in found:
        rows.append(row("share", "Share of the whole", "share"))
    title = f"Heat in a stream of {medium}"
    return Sum(title, tuple(rows), tuple(_notes(medium, found, shares, blank)), dict(shares))


def _notes(medium: str, found: Mapping[str, Measured], shares: Mapping[str, float], blank: str) -> list[str]:
    remarks = []
    difference = found["difference"]
    if blank in ("heat", "flow") and difference.within > 0.3 * abs(difference.value):
        remarks.append(
            "The two temperatures differ by little more than they may be off, so this tells the size only. "
            "Read both with one thermometer, or slow the flow until they lie further apart."
        )
    elif shares and abs(found[blank].within) > 0.3 * abs(found[blank].value) and blank in ("heat", "flow"):
        remarks.append("Errors this large are told by their first order only.")
    hottest = max(found["entering"].value, found["leaving"].value)
    if medium == "water" and hottest >= SCALDING:
        remarks.append(
            "Caution: water at 49 degC (120 degF) burns skin within minutes, at 60 degC (140 degF) within "
            "seconds (common practice, no source). Never shut a coil that fire heats: it boils and bursts."
        )
    if medium == "air" and hottest > PLASTIC:
        remarks.append(
            "Caution: plastic duct is usually rated to 60 degC (140 degF); the maker's figure decides."
        )
    if "settled" in found and found["settled"].value > 0.0 and found["leaving"].value < ZERO:
        remarks.append(
            "Water that settles below freezing is counted as water; as frost it gives an eighth more."
        )
    return remarks
