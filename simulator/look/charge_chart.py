"""How full the floor is: charge and uptake over time, and warmth over depth."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.figure import Figure

from simulator.look.bands import BOTTOM, LEFT, band, frame
from simulator.look.line_labels import draw_line, end_of, write_at_ends
from simulator.look.scales import (
    ENERGY,
    LENGTH,
    FloatArray,
    PairOfScales,
    Units,
    length_text,
    pair_across,
    pair_up,
)
from simulator.look.theme import COLOURS, FAINT, INK, LINE_STYLES, MUTED, SIZE_NOTE, new_figure, themed
from simulator.look.time_axis import as_days, with_room_at_right, write_dates
from simulator.look.wording import add_heading, elapsed_text, heading_height

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from simulator.answers.charge import Charge

__all__ = ["charge_chart"]

NAME_ROOM: Final = 1.5  # [in] for names at the ends of lines
DIFFERENCE: Final = PairOfScales("K", "°F", 1.8)
PROFILE_WIDTH: Final = 4.1  # [in]
JOULES_PER_KILOWATT_HOUR: Final = 3.6e6


@themed
def charge_chart(charge: Charge, *, units: Units = "SI", figure: Figure | None = None) -> Figure:
    """Draw charge and uptake over the run, and how deep the heat has gone.

    Parameters
    ----------
    charge : Charge
    units : {"SI", "US"}
        The system that comes first.
    figure : Figure, optional
        An empty figure to draw on; one of the usual width is made when left out.

    Returns
    -------
    Figure
    """
    title = charge.case.title
    lines = [title] if title.strip() else []
    lines.append(f"Above {charge.reference}. Looked at: {charge.when:%Y-%m-%d %H:%M}.")
    top = heading_height(len(lines)) + 0.45
    sheet = new_figure(8.0, figure)
    wide, high = map(float, sheet.get_size_inches())
    tall = high - top - BOTTOM
    held = band(sheet, BOTTOM + 0.44 * tall, 0.56 * tall)
    taken = band(sheet, BOTTOM, 0.38 * tall, held)
    right = (wide - PROFILE_WIDTH - 1.5 - LEFT) / wide
    for axes in (held, taken):
        box = axes.get_position()
        axes.set_position((box.x0, box.y0, right, box.height))
    deep = sheet.add_axes(
        ((wide - PROFILE_WIDTH) / wide, BOTTOM / high, (PROFILE_WIDTH - 0.95) / wide, tall / high)
    )
    _draw_held(held, charge, units)
    _draw_uptake(taken, charge)
    held.tick_params(axis="x", labelbottom=False)
    days = _days(charge, charge.moments)
    write_dates(taken, float(days[0]), float(days[-1]))
    _draw_depths(deep, charge, units)
    add_heading(sheet, "How full the floor is", lines)
    return sheet


def _days(charge: Charge, seconds: FloatArray) -> FloatArray:
    start = np.datetime64(charge.case.site.start, "ms")
    return as_days(start + np.rint(np.asarray(seconds) * 1000.0).astype("timedelta64[ms]"))


def _draw_held(axes: Axes, charge: Charge, units: Units) -> None:
    days = _days(charge, charge.moments)
    data_end = with_room_at_right(axes, float(days[0]), float(days[-1]), NAME_ROOM)
    ends, drawn = [], []
    courses = (("under the floor", charge.under_floor), ("all ground", charge.all_ground))
    for (name, values), colour, style in zip(courses, COLOURS, LINE_STYLES, strict=False):
        heat = values / JOULES_PER_KILOWATT_HOUR
        draw_line(axes, days, heat, colour, style, name=name)
        ends.append(end_of(name, days, heat, colour))
        drawn.append(heat)
    frame(axes, drawn, with_zero=True, least=0.1)
    axes.hlines(0.0, axes.get_xlim()[0], data_end, color=MUTED, linewidth=0.8)
    axes.axvline(float(_days(charge, np.array([charge.now]))[0]), color=INK, linewidth=0.9)
    pair_up(axes, ENERGY, "charge", units=units)
    write_at_ends(axes, ends, data_end, NAME_ROOM)


def _draw_uptake(axes: Axes, charge: Charge) -> None:
    axes.set_ylim(0.0, 100.0 * max(1.0, *charge.uptake.share.tolist(), *charge.cold_uptake.share.tolist()))
    axes.set_ylabel("uptake [% of the heat put in]")
    days = _days(charge, charge.uptake.moments)
    axes.plot(
        days, 100.0 * charge.uptake.share, marker="o", markersize=4.0, linestyle="none", color=COLOURS[1],
        gid="uptake",
    )  # fmt: skip
    hour = charge.hour
    cold = charge.cold_uptake.first if hour is None else hour.cold_uptake
    left, right = axes.get_xlim()
    if cold is not None:
        for share, words, style in (
            (1.0, "cold floor", "solid"),
            (charge.share, "saturated below", (0.0, (5.0, 3.0))),
        ):
            axes.hlines(100.0 * share * cold, left, right, color=MUTED, linewidth=1.0, linestyle=style)
            axes.annotate(
                f"{words} {100.0 * share * cold:.0f} %", (right, 100.0 * share * cold), xytext=(-5.0, 3.0),
                textcoords="offset points", ha="right", fontsize=SIZE_NOTE, color=MUTED,
            )  # fmt: skip
    if not days.size:
        axes.annotate("no fire in this run", (0.5, 0.5), xycoords="axes fraction", ha="center", color=MUTED)


def _draw_depths(axes: Axes, charge: Charge, units: Units) -> None:
    depths = charge.depths
    axes.grid(visible=True, color=FAINT)
    axes.set_axisbelow(True)
    bottom = min(float(depths.depth[-1]), 2.0 * max(depths.reached or 0.0, 0.5))
    shown = depths.depth <= bottom
    for moment, profile, colour, style in zip(
        depths.moments, depths.profiles, COLOURS, LINE_STYLES, strict=False
    ):
        label = f"{elapsed_text(moment)} in" if moment else "at the start"
        axes.plot(profile[shown], depths.depth[shown], color=colour, linestyle=style, label=label, gid=label)
    axes.set_ylim(bottom, 0.0)
    for depth, words in ((depths.reached, "a tenth left"), (depths.ninety, "nine tenths of the heat above")):
        if depth is not None and depth <= bottom:
            axes.axhline(depth, color=MUTED, linewidth=0.9)
            axes.annotate(
                f"{words}: {length_text(depth, units=units, both=False)}", (1.0, depth),
                xycoords=("axes fraction", "data"), xytext=(-4.0, 3.0), textcoords="offset points",
                ha="right", fontsize=SIZE_NOTE, color=MUTED,
            )  # fmt: skip
    axes.axvline(0.0, color=MUTED, linewidth=0.8)
    pair_up(axes, LENGTH, "depth", units=units)
    pair_across(axes, DIFFERENCE, "warmer than the reference", units=units)
    axes.legend(loc="lower right", fontsize=SIZE_NOTE, frameon=True, framealpha=0.9, edgecolor=FAINT)
