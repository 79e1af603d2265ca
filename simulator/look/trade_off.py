"""What more money, pipe or fire buys: every need over what is to be small, one band for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from simulator.answers.costs import Measure
from simulator.look.bands import BOTTOM, band, frame
from simulator.look.line_labels import draw_line
from simulator.look.quantities import Quantity, label_outside, label_up, quantity_of
from simulator.look.scales import FloatArray, Units
from simulator.look.theme import COLOURS, INK, LINE_STYLES, MUTED, SIZE_NOTE, new_figure, themed
from simulator.look.vary_words import capital
from simulator.look.wording import add_heading, fit, heading_height

if TYPE_CHECKING:
    from simulator.answers.needs import Need
    from simulator.answers.size import Design, Sized

__all__ = ["trade_off_chart"]

GAP = 0.3  # [in] between bands
ABOVE = 0.7  # [in] for the scale above the uppermost band
EACH, ALONE = 2.5, 3.6  # [in] height of a band
MOST_BANDS = 5


@themed
def trade_off_chart(sized: Sized, title: str, *, units: Units = "SI") -> Figure | None:
    """Draw how every need is met over what is to be small.

    Parameters
    ----------
    sized : Sized
    title : str
        Of the case.
    units : {"SI", "US"}

    Returns
    -------
    Figure or None
        None when no design was run.
    """
    needs = [need for need in sized.question.needs if not isinstance(need.subject, Measure)][:MOST_BANDS]
    designs = [design for design in sized.designs if design.margins]
    if not designs or not needs:
        return None
    costs = np.array([design.cost for design in designs])
    across = _cost_quantity(sized, costs)
    lines = [title] if title.strip() else []
    lines.append(
        "Filled: meets every need. Hollow: misses one. Line: best known for its cost. Ring: the answer."
    )
    lines.append("Grey: where a need is missed.")
    height = ALONE if len(needs) == 1 else EACH
    sheet = new_figure(
        BOTTOM
        + len(needs) * (height + GAP)
        + heading_height(len(lines))
        + (ABOVE if across.scales else 0.3)
        - GAP
    )
    bands: list[Axes] = []
    for place, need in enumerate(needs):
        bottom = BOTTOM + (len(needs) - 1 - place) * (height + GAP)
        axes = band(sheet, bottom, height, bands[0] if bands else None)
        bands.append(axes)
        _draw(axes, sized, designs, need, across, COLOURS[place % len(COLOURS)], units, height)
        axes.tick_params(axis="x", bottom=False, labelbottom=False)
    label_outside(bands[-1], bands[0], across, sized.question.smallest, units)
    add_heading(sheet, f"What more {_thing(sized)} buys", lines)
    return sheet


def _thing(sized: Sized) -> str:
    return {"price": "money", "ducts": "ducts"}.get(sized.question.smallest, sized.question.smallest)


def _cost_quantity(sized: Sized, costs: FloatArray) -> Quantity:
    smallest = sized.question.smallest
    if smallest == "price":
        return Quantity(None, 1.0, 0.0, sized.question.prices.currency)
    if smallest in ("pipe", "trench"):
        return quantity_of("length", costs)
    kinds = {variation.name: variation.kind.dimension for variation in sized.question.variations}
    return quantity_of(kinds.get(smallest), costs)


def _draw(
    axes: Axes,
    sized: Sized,
    designs: list[Design],
    need: Need,
    across: Quantity,
    colour: str,
    units: Units,
    height: float,
) -> None:
    reached = [design.value(need) for design in designs]
    values = np.array([np.nan if value is None else value for value in reached])
    quantity = quantity_of(need.dimension, np.append(values, need.bound))
    x = across.drawn(np.array([design.cost for design in designs]))
    y = quantity.drawn(values)
    bound = float(quantity.drawn(np.array([need.bound]))[0])
    meets = np.array([design.meets_all for design in designs])
    axes.plot(
        x[~meets], y[~meets], color=colour, marker="o", markersize=5.0, markerfacecolor="white",
        linestyle="none", gid="misses",
    )  # fmt: skip
    axes.plot(x[meets], y[meets], color=colour, marker="o", markersize=5.0, linestyle="none", gid="meets")
    if len(sized.curve) > 1:
        known_values = [design.value(need) for design in sized.curve]
        curve = np.array([np.nan if known is None else known for known in known_values])
        cost = np.array([design.cost for design in sized.curve])
        draw_line(axes, across.drawn(cost), quantity.drawn(curve), colour, LINE_STYLES[0], name="curve")
    best = None if sized.best is None else sized.best.value(need)
    if sized.best is not None and best is not None:
        spot = across.drawn(np.array([sized.best.cost])), quantity.drawn(np.array([best]))
        axes.plot(*spot, color=INK, marker="o", markersize=12.0, markerfacecolor="none", markeredgewidth=1.4,
                  gid="best")  # fmt: skip
    known = np.append(y[np.isfinite(y)], bound)
    frame(axes, [known], least=max(0.02 * float(np.abs(known).max()), 1e-9))
    low, high = axes.get_ylim()
    axes.axhspan(
        low if need.sense > 0 else bound, bound if need.sense > 0 else high, color="#efefef", zorder=0.3
    )
    axes.axhline(bound, color=MUTED, linewidth=1.0, dashes=(5.0, 3.0), zorder=0.6)
    inside = (bound - low) / (high - low)
    axes.annotate(
        fit(need.text, 4.5, SIZE_NOTE), (1.0, bound), xycoords=("axes fraction", "data"),
        xytext=(-6.0, 4.0 if inside < 0.85 else -4.0), textcoords="offset points", ha="right",
        va="bottom" if inside < 0.85 else "top", fontsize=SIZE_NOTE, color=MUTED,
    )  # fmt: skip
    axes.set_ylim(low, high)
    label_up(axes, quantity, capital(need.name), units, height)
