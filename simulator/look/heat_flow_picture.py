"""The way of the heat as ribbons: from what is burnt, let in or taken from stores to where it stays."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Outline
from matplotlib.patheffects import withStroke

from simulator.answers.heat_flows import SURFACES, heat_flows
from simulator.errors import DuctfloorError
from simulator.look.heat_flow_layout import Arrangement, Part, Ribbon, arrange
from simulator.look.picking import When, instants, pick_time, shown_units, titles
from simulator.look.scales import ENERGY, Units
from simulator.look.theme import COLOURS, INK, MUTED, SIZE_NOTE, SIZE_TEXT, new_figure, themed
from simulator.look.wording import (
    POINTS_PER_INCH,
    add_heading,
    elapsed_text,
    fit,
    heading_height,
    moment_text,
)

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["draw_heat_flows", "heat_flow_picture", "heat_flow_picture_of_results"]

LEFT, RIGHT, BOTTOM = 2.45, 2.5, 0.3  # [in]
ALL_HEAT: Final = 3.2
"""Thickness of all the heat put in [in]."""
BAR: Final = 0.14
LINE: Final = 1.35 * SIZE_NOTE / POINTS_PER_INCH
WORDS: Final = 1.3 * SIZE_TEXT / POINTS_PER_INCH + LINE
JOULES_PER_KILOWATT_HOUR: Final = 3.6e6
#: What belongs together has one colour in every picture; others take turns.
HUES: Final = {
    "fuel": COLOURS[1], "heater": COLOURS[1], "stove": COLOURS[1], "flue run": COLOURS[1],
    "sun": COLOURS[5], "duct air": COLOURS[6], "warm air": COLOURS[6], "tank": COLOURS[0],
    "floor and ground": COLOURS[2], "the ground": COLOURS[2], "room": COLOURS[3], "water": COLOURS[0],
}  # fmt: skip
OTHER_HUES: Final = (COLOURS[4], COLOURS[0], COLOURS[5], COLOURS[2], COLOURS[3])


@themed
def heat_flow_picture(
    flows: Sequence[tuple[str, str, float]],
    title: str = "The way of the heat",
    lines: Sequence[str] = (),
    *,
    units: Units = "SI",
    share_of: str | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw heat flows between named parts as ribbons, widths to scale.

    Parameters
    ----------
    flows : sequence of (source, target, heat [J])
        Heat below zero runs the other way. A store is a target "kept in ..."; when it gives heat it is told
        as "taken from ...". Rings are cut open.
    title : str
    lines : sequence of str
        Told below the title.
    units : {"SI", "US"}
        Of the numbers.
    share_of : str, optional
        Part whose heat is 100 %; all the heat put in when left out.
    figure : Figure, optional
        An empty figure to draw on.

    Returns
    -------
    Figure
    """
    laid_out = arrange(flows, ALL_HEAT, WORDS)
    base, whose = _base(laid_out, share_of)
    told = [*lines]
    if laid_out.ribbons:
        amount = _amount(base, units)
        other = _amount(base, "US" if units == "SI" else "SI")
        told.append(f"Shares are of {whose}, {amount} ({other}). Ribbons are to scale.")
    if laid_out.left_out:
        told[-1:] = [f"{told[-1]} Left out as too thin: {laid_out.left_out}."] if told else []
    top = heading_height(len(told)) + 0.25
    sheet = new_figure(top + max(laid_out.height, 0.8) + BOTTOM, figure)
    wide, tall = map(float, sheet.get_size_inches())
    axes = sheet.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, wide)
    axes.set_ylim(tall, 0.0)
    axes.set_axis_off()
    draw_heat_flows(axes, laid_out, top, base, units)
    if not laid_out.ribbons:
        axes.text(0.5 * wide, top + 0.4, "no heat moved", ha="center", va="center", color=MUTED)
    add_heading(sheet, title, told)
    return sheet


def heat_flow_picture_of_results(
    results: Results,
    begin: When = 0,
    end: When = -1,
    *,
    units: Units | None = None,
    figure: Figure | None = None,
) -> Figure:
    """Draw the way of the heat between two times of a run.

    Parameters
    ----------
    results : Results
    begin, end : int, str, datetime or datetime64
        First and last row, as index or as local date and time.
    units : {"SI", "US"}, optional
        Those of the case when left out.
    figure : Figure, optional
        An empty figure to draw on.

    Returns
    -------
    Figure

    Raises
    ------
    DuctfloorError
        When there is no such time, or the end is not after the beginning.
    """
    first, last = pick_time(results, begin, "time"), pick_time(results, end, "time")
    if last <= first:
        raise DuctfloorError("the end of the flows must lie after their beginning")
    from_second, to_second = (float(results.read("time", row)) for row in (first, last))
    moments = instants(results)
    lines = titles(results)
    span = elapsed_text(to_second - from_second)
    lines.append(f"{moment_text(moments[first])} to {moment_text(moments[last])}, {span}.")
    flows = heat_flows(results, from_second, to_second)
    if any(SURFACES in (flow.source, flow.target) for flow in flows):
        lines[-1] += " Walls and glass, net: their loss to air and sky less the sun that they take up."
    return heat_flow_picture(
        flows,
        lines=lines,
        units=shown_units(results, units),
        share_of="fuel" if "whole_fuel" in results else None,
        figure=figure,
    )


def draw_heat_flows(axes: Axes, laid_out: Arrangement, top: float, base: float, units: Units) -> None:
    """Draw an arrangement on axes in inches, with its upper edge at `top`."""
    wide = float(axes.get_xlim()[1])
    steps = max(laid_out.columns - 1, 1)
    lefts = LEFT + (wide - LEFT - RIGHT - BAR) * np.arange(laid_out.columns) / steps
    colours = _colours(laid_out.parts)
    for ribbon in sorted(laid_out.ribbons, key=lambda one: -one.heat):
        source = laid_out.names[ribbon.source]
        # Heat from outside has the colour of what it goes into.
        colour = colours[ribbon.target if source.column == 0 and ribbon.source not in HUES else ribbon.source]
        axes.add_patch(_shape(ribbon, lefts, top, colour))
    for part in laid_out.parts:
        bar = Rectangle(
            (lefts[part.column], top + part.top), BAR, part.thickness,
            facecolor=colours[part.name], edgecolor=colours[part.name], linewidth=0.6,
            gid=f"part {part.name}",
        )  # fmt: skip
        axes.add_patch(bar)
        _name(axes, part, laid_out.columns, float(lefts[part.column]), top, base, units)


def _shape(ribbon: Ribbon, lefts: np.ndarray, top: float, colour: str) -> PathPatch:
    """Draw one ribbon as a closed outline: along its upper edge and back along its lower one."""
    half = 0.5 * ribbon.thickness
    there: list[tuple[float, float]] = []
    for piece in ribbon.pieces:
        begin, end = lefts[piece.column] + (BAR if not there else 0.0), lefts[piece.column + 1]
        middle = 0.5 * (begin + end)
        curve = [(begin, piece.begin), (middle, piece.begin), (middle, piece.end), (end, piece.end)]
        if there:
            # Straight across the column that it passes.
            there += [there[-1], (begin, piece.begin), (begin, piece.begin)]
            there += curve[1:]
        else:
            there += curve
    upper = [(x, top + y - half) for x, y in there]
    lower = [(x, top + y + half) for x, y in there[::-1]]
    codes = [Outline.MOVETO, *[Outline.CURVE4] * (len(upper) - 1), Outline.LINETO]
    codes += [*[Outline.CURVE4] * (len(lower) - 1), Outline.CLOSEPOLY]
    outline = Outline([*upper, *lower, upper[0]], codes)
    return PathPatch(
        outline, facecolor=colour, alpha=0.5, edgecolor=colour, linewidth=0.7,
        gid=f"{ribbon.source} to {ribbon.target}",
    )  # fmt: skip


def _name(axes: Axes, part: Part, columns: int, left: float, top: float, base: float, units: Units) -> None:
    """Write a part's name, heat and share: beside it at the edges, above it between them."""
    numbers = _amount(part.through, units)
    if base > 0.0:
        numbers += f", {_percent(part.through / base)}"
    first, last = part.column == 0, part.column == columns - 1
    if first or last:
        x, align = (left - 0.1, "right") if first else (left + BAR + 0.1, "left")
        y, room = top + part.middle - 0.5 * WORDS, (LEFT if first else RIGHT) - 0.2
    else:
        x, align = left + 0.5 * BAR, "center"
        y, room = top + part.top - WORDS - 0.03, 1.9
    halo = [withStroke(linewidth=2.5, foreground="white")]
    for words, size, colour, weight, down in (
        (part.name, SIZE_TEXT, INK, "bold", 0.0),
        (numbers, SIZE_NOTE, INK, "normal", WORDS - LINE),
    ):
        axes.text(
            x, y + down, fit(words, room, size, bold=weight == "bold"), fontsize=size, color=colour,
            fontweight=weight, ha=align, va="top", path_effects=halo, zorder=5.0, gid=f"words {part.name}",
        )  # fmt: skip


def _colours(parts: list[Part]) -> dict[str, str]:
    found: dict[str, str] = {}
    spare = 0
    for part in parts:
        stem = next((word for word in HUES if part.name.endswith(word)), None)
        if stem is not None:
            found[part.name] = HUES[stem]
        elif part.comes == 0.0 or part.goes == 0.0:
            found[part.name] = MUTED
        else:
            found[part.name] = OTHER_HUES[spare % len(OTHER_HUES)]
            spare += 1
    return found


def _base(laid_out: Arrangement, share_of: str | None) -> tuple[float, str]:
    """Return the heat that is 100 %, and its name."""
    part = None if share_of is None else laid_out.names.get(share_of)
    if part is not None:
        return part.through, f"the heat of the {part.name}" if part.name != "fuel" else "the heat of the fuel"
    return laid_out.put_in, "all heat put in"


def _percent(share: float) -> str:
    number = 100.0 * share
    return f"{number:.0f} %" if number >= 9.95 else f"{number:.1f} %" if number >= 0.095 else "under 0.1 %"


def _amount(joules: float, units: Units) -> str:
    """Write an amount of heat to about three figures, with its unit."""
    kilowatt_hours = joules / JOULES_PER_KILOWATT_HOUR
    value, unit = kilowatt_hours, ENERGY.si
    if units == "US":
        value, unit = float(ENERGY.to_us(kilowatt_hours)), ENERGY.us
        if abs(value) < 1.0:
            value, unit = 1e3 * value, "BTU"
    digits = int(np.floor(np.log10(max(abs(value), 1e-9))))
    rounded = round(value, 2 - digits)
    return f"{rounded:,.{int(np.clip(2 - digits, 0, 3))}f} {unit}".replace(",", " ")
