"""The ledger as bars: what came in, what the ground took and gave back, what was lost and what was kept."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.figure import Figure

from simulator.look.picking import When, instants, pick_span, shown_units, titles
from simulator.look.scales import ENERGY, Units, pair_across
from simulator.look.theme import COLOURS, FAINT, INK, MUTED, SIZE_NOTE, SIZE_TEXT, new_figure, themed
from simulator.look.wording import add_heading, elapsed_text, heading_height, moment_text, text_width

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["ledger_bars"]

# Accounts across the boundary of room and ground: dataset, +1 when it counts heat coming in and -1 when it
# counts heat going out, words for heat coming in and for heat going out.
BOUNDARY: tuple[tuple[str, int, str, str], ...] = (
    ("ledger_heater", 1, "heater", "heater"),
    ("ledger_fan", 1, "fan", "fan"),
    ("ledger_flue", 1, "gas in the flue run", "gas in the flue run"),
    ("ledger_latent", 1, "water settling in the ducts", "water drying in the ducts"),
    ("ledger_sun", 1, "sun", "sun"),
    ("ledger_other_gain", 1, "people and equipment", "people and equipment"),
    ("ledger_envelope", -1, "through the room's envelope", "through the room's envelope"),
    ("ledger_infiltration", -1, "exchanged room air", "exchanged room air"),
    ("ledger_outside_ground", -1, "outside air to ground", "ground to outside air"),
    ("ledger_exhaust", -1, "duct air from outside", "duct air thrown out"),
    ("ledger_bottom", 1, "from below the ground", "to below the ground"),
    ("ledger_sides", 1, "from the sides of the ground", "to the sides of the ground"),
)
INSIDE: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (
    ("into the ground", (("from the air in the ducts", "ledger_duct"),)),
    (
        "to the room",
        (("given back by the floor", "ledger_floor"), ("brought by the duct air", "ledger_return")),
    ),
)
KEPT = (("in floor and ground", "ledger_stored_ground"), ("in the room", "ledger_stored_room"))
SMALLEST_SHARE = 5e-4  # of the largest account; smaller ones are left out, and that is said
JOULES_PER_KILOWATT_HOUR = 3.6e6
ROW = 0.34  # [in]
GROUP_GAP = 0.18
LEFT, RIGHT, BOTTOM = 3.9, 0.6, 0.75


@themed
def ledger_bars(
    results: Results,
    begin: When = 0,
    end: When = -1,
    *,
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw the accounts of heat between two times as bars, in kWh and BTU.

    Parameters
    ----------
    results : Results
    begin, end : int, str, datetime or datetime64
        First and last row, as index or as local date and time.
    units : {"SI", "US"}, optional
        The system below and in the numbers; that of the case when left out.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such time, or the end is not after the beginning.
    """
    shown = shown_units(results, units)
    first, last = pick_span(results, begin, end, "ledger")

    def between(name: str) -> float:
        if name not in results:
            return 0.0
        return float(results.read(name, last) - results.read(name, first)) / JOULES_PER_KILOWATT_HOUR

    groups = _groups(between)
    moments = instants(results)
    span = float(results.read("time", last) - results.read("time", first))
    lines = titles(results)
    lines.append(f"{moment_text(moments[first])} to {moment_text(moments[last])}, {elapsed_text(span)}.")
    lines.append(
        _unaccounted(between("ledger_residual"), between("ledger_handled"))
        + " Accounts of nearly nothing are left out."
    )
    rows = sum(len(group) for _, group in groups)
    needed = ROW * max(rows, 2) + GROUP_GAP * (len(groups) + 1)
    top = heading_height(len(lines)) + 0.7
    sheet = new_figure(top + needed + BOTTOM, figure)
    wide, tall = map(float, sheet.get_size_inches())
    axes = sheet.add_axes(
        (LEFT / wide, BOTTOM / tall, (wide - LEFT - RIGHT) / wide, (tall - top - BOTTOM) / tall)
    )
    axes.grid(visible=True, axis="x")
    axes.set_axisbelow(True)
    values = [value for _, group in groups for _, _, value in group] or [0.0]
    low, high = min(*values, 0.0), max(*values, 0.0)
    width = max(high - low, 1e-6)
    # Room for the numbers at the ends of the longest bars.
    number = max(text_width(_amount(value, shown), SIZE_NOTE) for value in values) + 0.25
    sides = (number if low < 0.0 else 0.0, number if high > 0.0 else 0.0)
    per_inch = width / max(wide - LEFT - RIGHT - sum(sides), 1.0)
    axes.set_xlim(low - sides[0] * per_inch, high + sides[1] * per_inch)
    axes.set_ylim(needed, 0.0)
    axes.set_yticks([])
    height = GROUP_GAP
    for (word, group), colour in zip(groups, COLOURS, strict=False):
        middle = height + ROW * len(group) / 2.0
        axes.annotate(
            word, (0.0, middle), xycoords=("axes fraction", "data"), xytext=(-LEFT * 72.0 + 14.0, 0.0),
            textcoords="offset points", ha="left", va="center", fontsize=SIZE_TEXT, fontweight="bold",
            color=colour,
        )  # fmt: skip
        for name, line, value in group:
            axes.barh(height + ROW / 2.0, value, height=0.7 * ROW, color=colour, gid=name)
            axes.annotate(
                line, (0.0, height + ROW / 2.0), xycoords=("axes fraction", "data"), xytext=(-8.0, 0.0),
                textcoords="offset points", ha="right", va="center", fontsize=SIZE_TEXT, color=INK,
            )  # fmt: skip
            axes.annotate(
                _amount(value, shown), (value, height + ROW / 2.0),
                xytext=(5.0 if value >= 0.0 else -5.0, 0.0), textcoords="offset points",
                ha="left" if value >= 0.0 else "right", va="center",
                fontsize=SIZE_NOTE, color=INK,
            )  # fmt: skip
            height += ROW
        height += GROUP_GAP
        axes.axhline(height - GROUP_GAP / 2.0, color=FAINT, linewidth=0.8)
    if not groups:
        axes.text(width / 2.0, needed / 2.0, "no heat moved", ha="center", va="center", color=MUTED)
    axes.axvline(0.0, color=MUTED, linewidth=1.0)
    pair_across(axes, ENERGY, "heat", units=shown)
    add_heading(sheet, "Where the heat came from and went", lines)
    return sheet


Group = tuple[str, list[tuple[str, str, float]]]


def _groups(between: Callable[[str], float]) -> list[Group]:
    """Sort the accounts that matter into groups: (word, [(dataset, line, kWh), ...])."""
    coming: list[tuple[str, str, float]] = []
    going: list[tuple[str, str, float]] = []
    for name, sign, word_in, word_out in BOUNDARY:
        value = sign * between(name)
        # Heat that goes against the usual way is shown where it belongs, not as a negative bar.
        (coming if value >= 0.0 else going).append((name, word_in if value >= 0.0 else word_out, abs(value)))
    inside = [(word, [(name, line, between(name)) for line, name in group]) for word, group in INSIDE]
    kept = [(name, line, between(name)) for line, name in KEPT]
    groups: list[Group] = [("heat in", coming), *inside, ("lost", going), ("kept", kept)]
    largest = max(abs(value) for _, group in groups for _, _, value in group)
    shown = [
        (word, [entry for entry in group if abs(entry[2]) > SMALLEST_SHARE * largest])
        for word, group in groups
    ]
    return [(word, group) for word, group in shown if group]


def _unaccounted(residual: float, handled: float) -> str:
    """Say how well the ledger closes."""
    share = abs(residual) / handled if handled > 0.0 else 0.0
    if share < 1e-9:
        return "Unaccounted: less than a billionth of the heat handled."
    return f"Unaccounted: {abs(residual):.2g} kWh, {100.0 * share:.1g} % of the heat handled."


def _amount(kilowatt_hours: float, units: Units) -> str:
    """Write an amount of heat to about three figures, with its unit."""
    value = kilowatt_hours if units == "SI" else float(ENERGY.to_us(kilowatt_hours))
    decimals = int(np.clip(2 - np.floor(np.log10(max(abs(value), 1e-9))), 0, 3))
    text = f"{value:,.{decimals}f}".replace(",", " ").replace("-", "−")
    return f"{text} {ENERGY.si if units == 'SI' else ENERGY.us}"
